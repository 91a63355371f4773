"""Ways square off a straight edge."""

import numpy as np
import pytest
import shapely

from habitat.report.sheets.squares import NEAR_M, by_a_wall

HOUSE = shapely.box(0.0, 0.0, 10.0, 6.0)
CORNERS = [shapely.Point(xy) for xy in ((0, 0), (0, 6), (10, 6), (10, 0))]


@pytest.mark.parametrize(
    ("target", "start", "end", "along", "off", "side"),
    [
        ((4.0, 7.0), 1, 2, 4.0, 1.0, ""),  # before the north wall
        ((30.0, 8.0), 2, 1, 20.0, 2.0, "left"),  # going on east along the north wall: north is left
        ((-20.0, 8.0), 1, 2, 20.0, 2.0, "right"),  # going on west
        ((11.0, -25.0), 3, 2, 25.0, 1.0, "left"),  # going on south along the east wall: east is left
    ],
)
def test_what_two_tapes_do_not_fix_is_measured_square_off_a_wall(target, start, end, along, off, side):
    """Worked by head on a house of 10 m by 6 m; a shed in the line of sight leaves the other walls."""
    way = by_a_wall(shapely.Point(target), CORNERS, [HOUSE], [HOUSE])
    assert (way.start, way.end, way.side) == (start, end, side)
    assert (way.along_m, way.off_m) == pytest.approx((along, off))
    if side:
        foot = (way.foot.x, way.foot.y)
        shed = shapely.Point((np.array(foot) + np.array(target)) / 2).buffer(0.5)
        other = by_a_wall(shapely.Point(target), CORNERS, [HOUSE], [HOUSE, shed])
        assert other is None or other.foot.distance(way.foot) > 1.0


def test_a_way_without_a_long_measure_comes_before_one_that_is_nearer_the_edge():
    """A wall that ends 18 m beside the point, and a fence 4 m off whose end is 3 m along."""
    wall, fence = shapely.box(0.0, 0.0, 40.0, 1.0), shapely.LineString([(17.0, 6.0), (30.0, 6.0)])
    spots = [shapely.Point(xy) for xy in ((0, 1), (40, 1), (17, 6), (30, 6))]
    way = by_a_wall(shapely.Point(20.0, 2.0), spots, [wall, fence], [wall])
    assert (way.start, way.end) == (2, 3)
    assert (way.along_m, way.off_m) == pytest.approx((3.0, 4.0))
    assert max(way.along_m, way.off_m) <= NEAR_M
