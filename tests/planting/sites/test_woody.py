"""Trees keep published distances by their mature height, over random yards, parcels and the tape yard."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.planting.household import Household
from habitat.planting.sites.bed_sites import crown_room
from habitat.planting.sites.ways import read_ways
from habitat.planting.sites.woody import (
    PAIR_M,
    SMALL_TREE_M,
    TREE_TO_PAVING_M,
    TREE_TO_WALL_M,
    Surroundings,
    least_distance_m,
    tree_spots,
)
from tests.support.planting_rules import least
from tests.support.prague import parcels
from tests.support.tape_yard import FAMILY, tape_yard
from tests.support.yards import KNOWLEDGE, PLANTS, random_yard, scene

HEIGHT = KNOWLEDGE.plants.loc[list(PLANTS), "height_m"].to_numpy(float)
SPREAD = KNOWLEDGE.plants.loc[list(PLANTS), "spread_m"].to_numpy(float)
FORM = KNOWLEDGE.plants.loc[list(PLANTS), "form"].to_numpy(str)
WOODY = ~np.isin(FORM, ("forb", "graminoid"))


def wall_distance_m(height_m):
    """Urban forestry council guide: to 30 ft, 30 to 50 ft, over 50 ft of height, as the table prints."""
    if height_m <= 9.144:
        return least("tree_wall_30")
    return least("tree_wall_50") if height_m <= 15.24 else least("tree_wall_50plus")


def trees_of(sites):
    return [s for s in sites if s.growth_form == "tree"]


def check_trees(one, sites):
    ways = read_ways(one.yard["geometry"], one.context, one.ground("herb"))
    trees = trees_of(sites)
    for site in trees:
        trunk = site.polygon.centroid
        able = np.flatnonzero(site.capacity * WOODY)  # low herbs have the ring around the trunk
        assert (FORM[able] == "tree").all()
        for p in able:
            if not ways.walls.is_empty:
                room = trunk.distance(ways.walls)
                assert room >= wall_distance_m(HEIGHT[p]) - 1e-6
                assert room >= SPREAD[p] / 2 - 0.02
            assert trunk.distance(one.yard["geometry"].boundary) >= SPREAD[p] / 2 - 0.02
        for hard in (ways.paving, ways.fences):
            assert hard.is_empty or trunk.distance(hard) >= least("tree_walk") - 0.02
    assert sum((HEIGHT[np.flatnonzero(s.capacity)] > SMALL_TREE_M).any() for s in trees) <= 1
    for k, a in enumerate(trees):
        assert all(a.polygon.intersection(b.polygon).area < 0.05 for b in trees[:k])


@settings(max_examples=25, deadline=None, derandomize=True)
@given(seed=st.integers(0, 100_000))
def test_trees_of_random_yards(seed):
    one = scene(*random_yard(seed))
    check_trees(one, one.sites())


def test_trees_of_real_parcels():
    yards, houses = parcels()
    tree = shapely.STRtree(houses.geometry.to_numpy())
    roomy = yards[(yards.area > 200) & (yards.area < 3000)].reset_index(drop=True)
    found = 0
    for yard in roomy.geometry.iloc[5::24]:
        hard = shapely.union_all(houses.geometry.to_numpy()[tree.query(yard)]).intersection(yard)
        one = scene(yard, hard)
        sites = one.sites()
        check_trees(one, sites)
        found += len(trees_of(sites))
    assert found > 0


def test_trees_of_the_tape_yard_keep_off_the_oak():
    one = tape_yard()
    sites = one.sites(household=FAMILY)
    check_trees(one, sites)
    oak = one.context.existing.geometry.iloc[0]
    for site in trees_of(sites):
        assert site.polygon.centroid.distance(oak) >= 3.0


def test_who_wants_no_trees_gets_none():
    for one in (scene(*random_yard(1)), tape_yard()):
        assert trees_of(one.sites())
        assert not trees_of(one.sites(household=Household(trees=False)))
        assert not trees_of(one.sites(trees_max=0))
        small = one.sites(large_trees_max=0)
        assert all((HEIGHT[np.flatnonzero(s.capacity)] <= SMALL_TREE_M).all() for s in trees_of(small))


def test_distances_are_those_of_the_table():
    assert least("tree_walk") == TREE_TO_PAVING_M
    for height in (5.0, 9.0, 9.3, 15.0, 15.3, 30.0):
        assert least_distance_m(np.array([height]), TREE_TO_WALL_M)[0] == wall_distance_m(height)


@pytest.mark.parametrize("spread", [0.9, 1.8, 3.0])
def test_shrubs_stand_half_their_spread_and_a_foot_from_walls(spread):
    """The table prints the rule as a formula: half the mature spread and 1 to 2 ft more."""
    yard, wall = shapely.box(0, 0, 20, 20), shapely.box(8, 8, 12, 12)
    room = crown_room(yard, wall, "shrub", spread)
    assert room.distance(wall) == pytest.approx(spread / 2 + 0.3, abs=0.03)


NOTHING = shapely.Polygon()


def spots_of(lawn, beds=(), most=1):
    around = Surroundings(lawn, NOTHING, NOTHING, NOTHING, NOTHING, tuple(beds))
    return tree_spots(lawn, lawn, around, np.array([0.0, 1.0]), most=most, shrubs=2)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    across=st.floats(8.0, 40.0), deep=st.floats(8.0, 40.0), turn=st.floats(0.0, 90.0), most=st.integers(0, 2)
)
def test_two_shrubs_far_from_every_bed_share_one_island(across, deep, turn, most):
    lawn = shapely.affinity.rotate(shapely.box(0, 0, across, deep), turn)
    spots = spots_of(lawn, most=most)
    shrubs = spots[most:]
    for one, other in enumerate(shrubs):
        if other.beside is not None:
            first = spots[other.beside]
            assert other.beside >= most
            assert first.at.distance(other.at) == pytest.approx(PAIR_M)
            assert first.radius_m >= 1.5 <= other.radius_m
            assert other.at.distance(lawn.boundary) >= other.radius_m - 1e-6
        for spot in spots[: most + one]:
            if other.beside is None or spot is not spots[other.beside]:
                assert spot.at.distance(other.at) >= spot.radius_m + other.radius_m - 1e-6
    if len(shrubs) == 2 and min(across, deep) > 12.0 and most == 0:
        assert shrubs[1].beside == 0


def test_two_shrubs_of_a_narrow_lawn_stand_in_a_row_along_it():
    """Crowns of 1.5 m leave no way but along a lawn 3.6 m wide: a sixteenth of a turn off is 0.84 m aside."""
    one, other = spots_of(shapely.box(0, 0, 20, 3.6), most=0)
    assert other.beside == 0
    assert other.at.y == pytest.approx(one.at.y)


def test_a_shrub_rather_joins_a_bed_than_another_shrub():
    lawn = shapely.box(0, 0, 30, 20)
    beds = [shapely.box(4, 4, 12, 6), shapely.box(18, 4, 26, 6)]
    spots = spots_of(lawn, beds, most=0)
    assert [spot.joins is not None for spot in spots] == [True, True]
    assert all(spot.beside is None for spot in spots)
