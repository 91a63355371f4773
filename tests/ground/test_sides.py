"""Front, back, left and right of a house, by hand: turned with the street, whatever way it runs."""

import pytest
import shapely
from shapely import affinity, box

from habitat.ground.sides import DRIVE_M, SIDES, drive_strip, play_round, sides

YARD, HOUSE, STREET = box(0, 0, 20, 40), box(4, 10, 14, 22), box(-9, -8, 99, -2)
AREAS = {"front": 200, "back": 360, "left": 160, "right": 240}


@pytest.mark.parametrize("turn", [0, 37, 90, 180, 271])
def test_sides_turn_with_the_street(turn):
    yard, house, street = (affinity.rotate(s, turn, origin=(0, 0)) for s in (YARD, HOUSE, STREET))
    found = sides(yard, house, street)
    assert {n: round(found[n].area) for n in SIDES} == AREAS
    assert drive_strip(yard, house, street, "right").area == pytest.approx(DRIVE_M * 22)
    assert drive_strip(yard, house, street, "left").area == pytest.approx(DRIVE_M * 22)


def test_a_house_off_square_with_the_street_keeps_its_own_front():
    found = sides(YARD, affinity.rotate(HOUSE, 20), STREET)
    assert found["front"].centroid.y < found["back"].centroid.y


def test_without_a_house_the_middle_parts_front_and_back():
    found = sides(YARD, YARD, STREET)
    assert [round(found[n].area) for n in ("front", "back", "left", "right")] == [400] * 4


def test_a_narrow_side_keeps_what_there_is_and_no_more():
    assert drive_strip(YARD, box(1, 10, 19, 22), STREET, "right").bounds[2] == 20


def test_play_takes_the_largest_round_that_fits():
    assert play_round(box(0, 0, 6, 30)).area == pytest.approx(shapely.Point(0, 0).buffer(3).area, rel=0.05)
    assert play_round(box(0, 0, 30, 30)).area == pytest.approx(shapely.Point(0, 0).buffer(4).area, rel=1e-6)
    assert play_round(shapely.Polygon()).is_empty
    for part in (box(0, 0, 6, 30), box(0, 0, 30, 30), shapely.Polygon([(0, 0), (20, 0), (0, 12)])):
        assert part.buffer(0.1).contains(play_round(part))
