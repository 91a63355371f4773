"""What stands already: kept beds and plants count, and are scored where they stand."""

from dataclasses import replace
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from shapely import Point, box

from habitat.planting.standing import existing_plants, standing_fit, yards_with_trees
from habitat.report.words.en import english
from habitat.settings.suitability import SuitabilitySettings
from habitat.suitability import compile_needs
from tests.support.yards import (
    KNOWLEDGE,
    UTM,
    existing,
    random_choice,
    scene,
)

YARD = box(500_000, 4_400_000, 500_020, 4_400_030)


MILKWEED = "Asclepias syriaca"


def found(**frames):
    yards = gpd.GeoDataFrame({"yard_id": ["Y1"]}, geometry=[YARD], crs=UTM)
    return existing_plants(yards, KNOWLEDGE, **frames)


def layer(rows):
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=UTM)


def test_a_kept_bed_counts_as_full_at_its_spacing_and_no_wider_than_itself():
    bed = shapely.transform(YARD, lambda xy: np.clip(xy, (500_001, 4_400_001), (500_004, 4_400_003)))
    got, _ = found(keep=layer([{"plant": MILKWEED, "geometry": bed}]))
    spacing = KNOWLEDGE.plants.loc[MILKWEED, "spacing_m"]
    assert got["count"].tolist() == [np.floor(6.0 / (np.sqrt(0.75) * spacing**2))]
    assert got["crown_m2"].iloc[0] <= 6.0 + 1e-9
    assert got["yard_id"].tolist() == ["Y1"]


def test_kept_plants_count_one_each_and_beds_without_a_plant_count_for_nothing():
    keep = layer(
        [
            {"plant": MILKWEED, "geometry": Point(500_005, 4_400_005)},
            {"plant": None, "geometry": box(500_010, 4_400_010, 500_012, 4_400_012)},
        ]
    )
    got, _ = found(keep=keep)
    spread = KNOWLEDGE.plants.loc[MILKWEED, "spread_m"]
    assert got["count"].tolist() == [1.0]
    assert got["crown_m2"].iloc[0] == pytest.approx(np.pi / 4 * spread**2)
    plants = layer([{"plant": MILKWEED, "count": 7, "geometry": Point(500_005, 4_400_005)}])
    both, _ = found(plants=plants, keep=keep)
    assert both["count"].tolist() == [7.0, 1.0]


def test_the_rest_is_planned_around_what_is_kept():
    """The plants of a first plan, kept: a second plan puts no bed on them."""
    one = scene(YARD, None)
    sites = one.sites()
    first = one.draw(random_choice(sites, 2), sites)
    lock = first.beds.geometry.iloc[:1]
    points = first.points.geometry[first.points["bed_id"] == first.beds["bed_id"].iloc[0]]
    kept = gpd.GeoDataFrame(geometry=pd.concat([lock, points], ignore_index=True), crs=UTM)
    locked = replace(one, context=replace(one.context, keep=kept))
    again = locked.sites()
    second = locked.draw(random_choice(again, 2), again)
    assert len(second.beds)
    assert (second.beds.geometry.distance(shapely.union_all(kept.geometry.to_numpy())) > 0.25).all()


def test_standing_plants_are_scored_where_they_stand():
    """In the shade strip a full-sun plant scores 0, in the sun 1; one not planned with counts as 1."""
    yard = box(500_000, 4_400_000, 500_020, 4_400_030)
    one = scene(yard, box(500_004, 4_400_005, 500_014, 4_400_012))
    needs = compile_needs(KNOWLEDGE, SuitabilitySettings(), ("sun_h",))
    site = SimpleNamespace(grid=one.window.grid, rasters=dict(one.window.values))
    places = ((500_010.0, 4_400_014.0), (500_010.0, 4_400_025.0))
    grown = existing([(MILKWEED, 1, 1.0, *place) for place in places])
    assert standing_fit(grown, site, needs).tolist() == [0.0, 1.0]
    assert standing_fit(grown, site, needs.subset([MILKWEED])).tolist() == [0.0, 1.0]
    other = grown.assign(plant="Quercus alba")
    assert standing_fit(other, site, needs.subset([MILKWEED])).tolist() == [1.0, 1.0]


def test_trees_stand_in_the_yard_that_holds_their_trunk():
    """Points and crowns; a crown reaching over a fence stands where its middle is."""
    squares = gpd.GeoDataFrame(
        {"yard_id": ["A", "B", "C"]}, geometry=[box(10 * k, 0, 10 * k + 10, 10) for k in range(3)], crs=UTM
    )
    trees = gpd.GeoDataFrame(geometry=[Point(5, 5), Point(12, 5).buffer(4)], crs=UTM)
    assert yards_with_trees(squares, trees).tolist() == [True, True, False]
    assert yards_with_trees(squares, None).tolist() == [False] * 3


def test_what_is_told_of_a_genus_says_whether_it_counts_and_nothing_against_it():
    """An old oak feeds what all oaks feed; each dogwood of the tables feeds kinds that the others do not."""
    names = ["old oak", "dogwood", "zzz"]
    rows = [{"plant": name, "geometry": Point(500_005 + k, 4_400_005)} for k, name in enumerate(names)]
    got, notes = found(plants=layer(rows))
    oak, dogwood, unknown = (english()(note) for note in notes)
    assert [bool(eaters) for eaters in got["butterflies"]] == [True, False, False]
    assert "counts as a host of what eats all of them" in oak
    assert "counts for no butterfly" not in oak
    assert "is not counted as a host" in dogwood
    assert "counts for no butterfly" in unknown
