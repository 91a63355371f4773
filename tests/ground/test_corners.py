"""Sight triangles by hand arithmetic."""

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import LineString, box

from habitat.ground.corners import corner_triangles, drive_triangles
from tests.support.small_layers import SOUTH, WEST, Small, frame_of, square_yards, yards_of

ZERO = {"site": {"setbacks": {"all.all": 0.0}}}


def at(*coordinates):
    return [(WEST + x, SOUTH + y) for x, y in coordinates]


def square(x0, y0, x1, y1):
    return box(WEST + x0, SOUTH + y0, WEST + x1, SOUTH + y1)


def ground_of(sections=None, yards=None, rasters=None, **vectors):
    made = Small(square_yards(2, 20.0) if yards is None else yards, vectors=vectors, rasters=rasters or {})
    made.sections = sections or {}
    return made.ground(), made


def test_sight_triangles_at_a_crossing():
    """Streets of 6 m crossing at the corner of four yards: legs of 7.6 m along the edges, 28.88 m2 each."""
    shapes = [square(x, y, x + 20, y + 20) for x in (-23, 3) for y in (-23, 3)]
    streets = frame_of(
        [LineString(at((-60, 0), (60, 0))), LineString(at((0, -60), (0, 60)))], width_m=[6.0, 6.0]
    )
    ground, _ = ground_of(
        None, yards_of(shapes), buildings=frame_of([square(90, 90, 91, 91)]), streets=streets
    )
    limit = ground.height_limits
    assert sorted(limit["yard_id"]) == ["y0", "y1", "y2", "y3"]
    assert limit.area.tolist() == pytest.approx([7.6**2 / 2] * 4, rel=1e-6)
    assert set(limit["height_max_m"]) == {0.76}
    assert limit.geometry.iloc[3].bounds == pytest.approx((WEST + 3, SOUTH + 3, WEST + 10.6, SOUTH + 10.6))
    off, _ = ground_of(ZERO, yards_of(shapes), buildings=frame_of([square(90, 90, 91, 91)]), streets=streets)
    assert off.height_limits.empty


def test_a_junction_has_two_corners_and_a_bend_none():
    tee = [LineString([(-50, 0), (50, 0)]), LineString([(0, 0), (0, 50)])]
    assert len(corner_triangles(tee, np.array([6.0, 6.0]), 7.6)) == 2
    bend = [LineString([(-50, 0), (0, 0)]), LineString([(0, 0), (0, 50)])]
    assert corner_triangles(bend, np.array([6.0, 6.0]), 7.6) == []
    assert corner_triangles([], np.array([]), 7.6) == []


def test_sight_triangles_beside_a_drive():
    """A drive of 3 m that meets a street's edge: legs of 3 m on either side of it."""
    drive = frame_of([square(8, 3, 11, 18)], kind=["drive"])
    street = frame_of([LineString(at((-50, 0), (50, 0)))], width_m=[6.0])
    yards = yards_of([square(0, 3, 20, 23)])
    ground, _ = ground_of(
        None, yards, buildings=frame_of([square(90, 90, 91, 91)]), paving=drive, streets=street
    )
    beside = ground.height_limits[ground.height_limits["reason"] == "sight triangle beside a drive"]
    assert beside.area.sum() == pytest.approx(2 * 4.5, rel=1e-6)
    assert beside.total_bounds.tolist() == pytest.approx([WEST + 5, SOUTH + 3, WEST + 14, SOUTH + 6])


def test_a_street_that_runs_in_a_ring_meets_nobody_where_it_closes():
    """Two arms leave the place where a ring is closed, at a right angle; they are one street."""
    ring = [LineString([(0, 0), (50, 0), (50, 50), (0, 50), (0, 0)])]
    assert corner_triangles(ring, np.array([6.0]), 7.6) == []


@pytest.mark.parametrize(("gap_m", "triangles"), [(3.9, 2), (4.1, 0), (20.0, 0)])
def test_a_drive_reaches_a_street_over_a_footway_only(gap_m, triangles):
    """Common practice: a footway with its verge takes less than 4 m (13 ft)."""
    drive = gpd.GeoSeries([box(8, 3 + gap_m, 11, 30)])
    street = gpd.GeoSeries([LineString([(-50, 0), (50, 0)])])
    assert len(drive_triangles(drive, street, np.array([6.0]), 3.0)) == triangles
