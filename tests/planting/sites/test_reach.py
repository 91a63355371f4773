"""Reach: 0.6 m from one side, 1.2 m between two, or stepping places, over random yards and the tape yard."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import box

from habitat.planting.sites.reach import (
    CLEAR_M,
    LEFT_M2,
    REACH_M,
    STAND_M,
    out_of_reach,
    standing_room,
    stepping_places,
)
from habitat.planting.sites.ways import read_ways
from tests.support.planting_rules import least, most
from tests.support.tape_yard import FAMILY, tape_yard
from tests.support.yards import random_yard, scene

NONE = np.empty((0, 2))


def test_reach_and_path_are_the_published_ones():
    assert most("reach_one") == REACH_M
    assert most("reach_two") == 2 * REACH_M
    assert least("path_min") == STAND_M


@pytest.mark.parametrize(
    ("wide", "sides", "needs"),
    [(0.6, 1, 0), (1.2, 2, 0), (1.2, 1, 1), (1.8, 2, 1), (2.4, 2, 1), (1.8, 1, 1)],
)
def test_a_straight_bed_needs_stones_where_it_is_wider_than_reach(wide, sides, needs):
    bed = box(0, 0, 8, wide)
    feet = [box(0, -1, 8, 0)] + [box(0, wide, 8, wide + 1)] * (sides == 2)
    stones = stepping_places(bed, shapely.union_all(feet))
    assert (len(stones) > 0) == bool(needs)
    assert out_of_reach(bed, shapely.union_all(feet), stones).area <= LEFT_M2
    assert len(stones) <= 2 * 8  # two a metre


def test_a_strip_too_narrow_to_stand_in_is_no_side():
    bed, lawn = box(0, 0, 8, 1.2), shapely.union(box(0, -0.4, 8, 0), box(0, 1.2, 8, 3))
    feet = standing_room(lawn, bed)
    assert feet.intersection(box(0, -0.4, 8, 0)).area < 1e-6
    assert out_of_reach(bed, feet, NONE).area == pytest.approx(8 * 0.6, rel=0.05)


def check_reach(one, sites):
    ways = read_ways(one.yard["geometry"], one.context, one.ground("herb"))
    beds = [s for s in sites if s.growth_form == "herb"]
    feet = standing_room(ways.feet, shapely.union_all([s.polygon for s in beds]))
    for site in beds:
        assert out_of_reach(site.polygon, feet, site.stepping).area <= 0.15
        stones = shapely.buffer(shapely.points(site.stepping), CLEAR_M - 0.02)
        assert site.ground["herb"].intersection(shapely.union_all(stones)).area < 1e-6


@settings(max_examples=15, deadline=None, derandomize=True)
@given(seed=st.integers(0, 100_000))
def test_all_ground_of_beds_is_within_reach(seed):
    one = scene(*random_yard(seed))
    check_reach(one, one.sites())


def test_all_ground_of_the_tape_yards_beds_is_within_reach():
    one = tape_yard()
    check_reach(one, one.sites(household=FAMILY))
