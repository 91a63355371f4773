"""Few, large, connected beds: published widths and gaps hold over random yards, parcels and the tape yard."""

from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.planting.household import Household
from habitat.planting.sites.borders import (
    BED_LEAST_M2,
    BEDS_MOST,
    DEEP_M,
    DEPTHS_M,
    GAP_M,
    ISLAND_LEAST_M2,
    ISLAND_WIDTH_M,
    WIDEST_M,
    Candidate,
    _chosen,
    _worthiest,
)
from habitat.planting.sites.outline import outline_corners
from habitat.planting.sites.ways import passable, read_ways
from tests.support.planting_rules import most
from tests.support.prague import parcels
from tests.support.tape_yard import FAMILY, tape_yard
from tests.support.yards import random_yard, scene


def beds_of(sites):
    return [s for s in sites if s.growth_form == "herb"]


def check_beds(one, beds):
    """Assert what holds of the beds of any yard: size, shape, distance, way."""
    ways = read_ways(one.yard["geometry"], one.context, one.ground("herb"))
    assert len(beds) <= BEDS_MOST
    for site in beds:
        assert site.area_m2 >= (BED_LEAST_M2 if site.back != (0.0, 0.0) else ISLAND_LEAST_M2) - 1e-6
        widest = 2 * shapely.maximum_inscribed_circle(site.polygon, tolerance=0.01).length
        assert 1.2 - 0.03 <= widest <= WIDEST_M + 0.1
        check_corners(site.polygon, one.ground("herb"))
        assert site.polygon.distance(ways.walls) >= 0.6 - 1e-6 or ways.walls.is_empty  # wall_gap
        assert site.polygon.intersection(ways.doors).area < 1e-6
    assert passable(ways.feet, shapely.union_all([s.polygon for s in beds]))
    for k, a in enumerate(beds):
        assert all(a.polygon.distance(b.polygon) >= GAP_M - 1e-6 for b in beds[:k])


def check_corners(polygon, ground):
    """No corner of a bed is under 90 degrees, nor a nook of the lawn beside it."""
    corners, degrees = outline_corners(polygon)
    assert degrees.min() >= 89.0 - 1e-6
    for k in np.flatnonzero(degrees > 271.0):
        nook = shapely.Point(corners[k]).buffer(0.3).difference(polygon)
        assert nook.intersection(ground).area <= 0.5 * nook.area


@settings(max_examples=25, deadline=None, derandomize=True)
@given(seed=st.integers(0, 100_000))
def test_beds_of_random_yards(seed):
    one = scene(*random_yard(seed))
    check_beds(one, beds_of(one.sites()))


def test_beds_of_real_parcels():
    yards, houses = parcels()
    tree = shapely.STRtree(houses.geometry.to_numpy())
    roomy = yards[(yards.area > 80) & (yards.area < 3000)].reset_index(drop=True)
    counts = []
    for yard in roomy.geometry.iloc[3::24]:
        hard = shapely.union_all(houses.geometry.to_numpy()[tree.query(yard)]).intersection(yard)
        one = scene(yard, hard)
        beds = beds_of(one.sites())
        check_beds(one, beds)
        counts.append(len(beds))
    assert max(counts) > 0
    assert np.median(counts) <= 4


def test_beds_of_the_tape_yard():
    """Beds keep off drive, walk, porch and the round of lawn where the children play."""
    one = tape_yard()
    beds = beds_of(one.sites(household=FAMILY))
    check_beds(one, beds)
    assert 2 <= len(beds) <= 3
    ways = read_ways(one.yard["geometry"], one.context, one.ground("herb"), keep_lawn=True)
    assert ways.known  # the walk meets the porch
    assert ways.play.area >= np.pi * 3.0**2
    for site in beds:
        assert site.polygon.distance(ways.play) > 0
        assert site.polygon.distance(ways.paving) >= 0.15 - 1e-6
        assert site.area_m2 >= 8.0


def test_depths_are_no_more_than_published():
    """Six feet against a wall, eight where people reach in from two sides; the table prints 1.8 and 2.4 m."""
    assert DEPTHS_M[0] <= most("bed_wall")
    assert max(DEEP_M, ISLAND_WIDTH_M) <= most("bed_two_sided")


@pytest.mark.parametrize("wish", [{"bed_m2": 10.0}, {"hours_a_month": 0.3}, {"keep_lawn": True}])
def test_beds_stay_within_what_the_household_bears(wish):
    household = Household(**wish)
    for seed in range(4):
        one = scene(*random_yard(seed))
        room = household.bed_room_m2(one.ground("herb").area, 0.25)
        total = sum(s.area_m2 for s in beds_of(one.sites(household=household)))
        assert total <= room + 1e-6
        assert total < sum(s.area_m2 for s in beds_of(one.sites())) or total == 0


def test_nothing_to_care_for_no_beds():
    one = scene(*random_yard(1))
    assert not beds_of(one.sites(household=Household(hours_a_month=0.0)))


def test_ten_good_plants_make_a_better_place_than_one_very_good_one():
    """Fit 0.8 for ten beside 0.9 for one and 0.1 for nine: means 0.8 and 0.18; none is better than before."""
    square, line = shapely.box(0, 0, 4, 4), shapely.LineString([(0, 0), (4, 0)])
    places = [Candidate(square, line, np.array(fit)) for fit in ([0.9] + [0.1] * 9, [0.8] * 10)]
    assert _worthiest(places, np.ones(10), 16.0) == 1


def test_one_place_with_less_room_than_a_bed_wants_is_left_alone():
    square, line = shapely.box(0, 0, 4, 4), shapely.LineString([(0, 0), (4, 0)])
    ground = SimpleNamespace(room_m2=BED_LEAST_M2 / 2)
    assert _chosen([Candidate(square, line, np.ones(3))], ground, 3.0) == []
