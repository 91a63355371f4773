"""Nectar over fences: months with bloom within reach, own and shared, and what neighbours offer."""

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import Point, box

from habitat.planting.nectar import felt_by, month_masks, nectar_map, neighbour_nectar
from tests.support.yards import KNOWLEDGE, UTM

PLANTS = KNOWLEDGE.plants
ASTER = "Symphyotrichum novae-angliae"
NO_NECTAR = str(PLANTS.index[PLANTS["nectar_value"] == 0][0])
ASTER_MONTHS = set(
    range(int(PLANTS.loc[ASTER, "bloom_start_month"]), int(PLANTS.loc[ASTER, "bloom_end_month"]) + 1)
)


def bits(mask):
    return {m for m in range(1, 13) if mask >> m & 1}


def grown(*rows):
    """Return a table of plants from (yard_id, plant, x, y)."""
    frame = pd.DataFrame(rows, columns=["yard_id", "plant", "x", "y"])
    return gpd.GeoDataFrame(frame, geometry=gpd.points_from_xy(frame["x"], frame["y"]), crs=UTM)


def test_months_of_bloom_are_those_of_the_table_and_none_without_nectar():
    masks = month_masks(pd.Series([ASTER, NO_NECTAR, None], dtype=object), KNOWLEDGE)
    assert [bits(m) for m in masks] == [ASTER_MONTHS, set(), set()]


def test_own_bloom_counts_and_that_of_others_only_where_it_is_shared():
    table = grown(("own", ASTER, 0, 0), ("other", ASTER, 10, 0))
    ground = Point(0, 0).buffer(1.0)
    mine = nectar_map(table, pd.Series([False, False]), KNOWLEDGE)
    assert bits(mine.within(ground, "own", 5.0)) == ASTER_MONTHS
    assert mine.within(ground, "third", 50.0) == 0
    shared = nectar_map(table, pd.Series([False, True]), KNOWLEDGE)
    assert bits(shared.within(ground, "third", 9.1)) == ASTER_MONTHS
    assert shared.within(ground, "third", 8.9) == 0


def test_an_empty_map_has_no_bloom():
    none = nectar_map(grown(("own", NO_NECTAR, 0, 0)), pd.Series([True]), KNOWLEDGE)
    assert none.within(Point(0, 0), "own", 100.0) == 0


@pytest.mark.parametrize(("reach_m", "neighbours"), [(14.9, {"far"}), (15.1, {"near", "far"})])
def test_neighbours_offer_what_blooms_outside_the_fence_and_within_reach(reach_m, neighbours):
    """The aster stands in "home", 15 m from the fence of "near"; its own yard is no neighbour of itself."""
    yards = gpd.GeoDataFrame(
        {"yard_id": ["home", "near", "far"]},
        geometry=[box(0, 0, 20, 20), box(25, 0, 45, 20), box(12, 20, 30, 40)],
        crs=UTM,
    )
    points, nothing = grown(("home", ASTER, 10, 19)), grown().iloc[:0]
    found = neighbour_nectar(points, nothing, yards, KNOWLEDGE, reach_m)
    assert set(found) == neighbours
    assert all(set(months) == ASTER_MONTHS for months in found.values())
    assert neighbour_nectar(nothing, points, yards, KNOWLEDGE, reach_m) == found
    assert neighbour_nectar(nothing, nothing, yards, KNOWLEDGE, reach_m) == {}


def test_yards_feel_their_own_plants_and_those_in_reach_of_their_ground():
    table = grown(
        ("a", ASTER, 500, 500), ("b", ASTER, 10, 29.9), ("c", ASTER, 10, 30.1), ("d", ASTER, -19.9, 0)
    )
    assert felt_by(table, {"a"}, [box(0, 0, 10, 10)], 20.0).tolist() == [True, True, False, True]
    assert felt_by(table, {"a"}, [], 20.0).tolist() == [True, False, False, False]
