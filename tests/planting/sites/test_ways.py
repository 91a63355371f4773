"""Ways: walls, doors, fronts and passages that beds keep free."""

import pytest
import shapely
from shapely import LineString, Point, box

from habitat.planting.sites.ways import PLAY_RADIUS_M, front_way, passable, read_ways
from tests.support.tape_yard import HOUSE, STREET, tape_yard
from tests.support.yards import random_yard, scene


def test_a_bed_across_a_passage_blocks_the_way():
    feet = shapely.union_all([box(0, 0, 10, 10), box(10, 4, 20, 6), box(20, 0, 30, 10)])
    assert passable(feet, box(0, 0, 8, 2))
    assert not passable(feet, box(12, 4, 16, 5.8))
    assert passable(feet, box(12, 4, 16, 5.0))  # 1.0 m are left


def test_the_front_is_the_side_to_the_street():
    way = front_way(HOUSE, STREET)
    assert way.intersects(Point(10, 10.5))
    assert way.intersects(Point(10, -5))
    turned = front_way(HOUSE, LineString([(40, -50), (40, 60)]))
    assert turned.intersects(Point(20, 15.5))


def test_where_paving_meets_the_house_is_a_door():
    one = tape_yard()
    ways = read_ways(one.yard["geometry"], one.context, one.ground("herb"))
    assert ways.known
    porch = shapely.affinity.translate(Point(10, 9.0), *one.yard["geometry"].bounds[:2])
    assert ways.doors.intersects(porch)


def test_without_paving_and_street_nothing_tells_the_door():
    one = scene(*random_yard(3))
    ways = read_ways(one.yard["geometry"], one.context, one.ground("herb"))
    assert not ways.known
    assert ways.doors.is_empty


def test_the_round_of_lawn_is_in_the_open_and_no_larger_than_wanted():
    one = tape_yard()
    ways = read_ways(one.yard["geometry"], one.context, one.ground("herb"), keep_lawn=True)
    assert one.ground("herb").covers(ways.play)
    assert ways.play.area <= 3.15 * PLAY_RADIUS_M[1] ** 2


def test_where_nobody_tells_of_the_drive_the_whole_front_is_kept_for_it():
    way, front = front_way(HOUSE, STREET), front_way(HOUSE, STREET, whole_front=True)
    west, _, east, _ = HOUSE.bounds
    assert front.bounds[0] == pytest.approx(west)
    assert front.bounds[2] == pytest.approx(east)
    assert front.covers(way.buffer(-1e-6))
