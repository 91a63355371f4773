"""Beds by tape: the corner that two distances mean is the bed's corner; the schedule adds up."""

import math

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon, box

from habitat.planting.dimensions import (
    TAPE_M,
    bed_dimensions,
    corner_from_tapes,
    fixed_points,
    plant_schedule,
)
from tests.support.yards import KNOWLEDGE, UTM, random_choice, random_yard, scene

YARD, HOUSE = box(0, 0, 20, 30), box(6, 10, 14, 18)
FENCE = LineString([(0, 0), (0, 30), (20, 30)])


def bed(polygon, name="Y1-b1"):
    return gpd.GeoDataFrame({"yard_id": ["Y1"], "bed_id": [name]}, geometry=[polygon], crs=UTM)


def test_a_bed_before_the_house_by_head():
    """Bed 2 x 1 m, 3 m south of a house front of 8 m: distances by Pythagoras."""
    points = fixed_points(YARD, HOUSE, Polygon())
    assert list(points["name"]) == [f"house corner {k}" for k in range(1, 5)]
    table = bed_dimensions(bed(box(9, 6, 11, 7)), points, HOUSE).set_index("corner")
    assert len(table) == 4
    near = {(round(r.x), round(r.y)): r for r in table.itertuples()}
    top_left = near[9, 7]
    assert {round(top_left.distance_1_m, 6), round(top_left.distance_2_m, 6)} == {
        round(math.hypot(3, 3), 6),
        round(math.hypot(5, 3), 6),
    }


@settings(max_examples=15, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10_000))
def test_tapes_read_to_a_centimetre_find_the_corner_again(seed):
    yard, house = random_yard(seed)
    one = scene(yard, house)
    sites = one.sites()
    beds = one.draw(random_choice(sites, seed), sites).beds
    fence = LineString(yard.exterior.coords)
    points = fixed_points(yard, house, fence)
    places = dict(zip(points["name"], shapely.get_coordinates(points.geometry.to_numpy()), strict=True))
    table = bed_dimensions(beds, points, house)
    assert set(table["bed_id"]) == set(beds["bed_id"])
    measured = table[table["point_1"] != ""]
    for row in measured.itertuples():
        ends = places[row.point_1], places[row.point_2]
        tapes = round(row.distance_1_m, 2), round(row.distance_2_m, 2)
        found = corner_from_tapes(*(tuple(e) for e in ends), *tapes, row.side)
        assert math.dist(found, (row.x, row.y)) <= 0.05
        assert max(tapes) <= TAPE_M
    outlines = {b.bed_id: b.geometry for b in beds.itertuples()}
    for bed_id, rows in measured[measured["corner"] != "centre"].groupby("bed_id"):
        rebuilt = Polygon(rows[["x", "y"]].to_numpy())
        assert rebuilt.symmetric_difference(outlines[bed_id]).area <= 0.05 * outlines[bed_id].area


def test_tapes_do_not_go_through_walls():
    """A bed north of the house is measured from its north corners and the fence, not from the south."""
    points = fixed_points(YARD, HOUSE, FENCE)
    table = bed_dimensions(bed(box(8, 22, 12, 24)), points, HOUSE)
    places = dict(zip(points["name"], points.geometry, strict=True))
    for row in table.itertuples():
        for name in (row.point_1, row.point_2):
            assert not LineString([places[name], (row.x, row.y)]).crosses(HOUSE.buffer(-0.1))


def test_a_bed_that_nothing_fixes_says_so():
    table = bed_dimensions(bed(box(1, 1, 3, 2)), fixed_points(YARD, Polygon(), Polygon()))
    assert table["point_1"].tolist() == [""] * 4
    assert table["distance_1_m"].isna().all()


def test_fence_posts_at_house_corners_are_told_once():
    points = fixed_points(YARD, HOUSE, LineString([(6, 10), (0, 10), (0, 0)]))
    assert list(points["name"]) == [f"house corner {k}" for k in range(1, 5)] + [
        "fence post 1",
        "fence post 2",
    ]


def test_schedule_adds_up_and_lists_larger_stock_first():
    one = scene(box(500_000, 4_400_000, 500_020, 4_400_030), None)
    sites = one.sites()
    drawn = one.draw(random_choice(sites, 5), sites)
    table = plant_schedule(drawn.plantings, drawn.points, KNOWLEDGE)
    assert table["count"].sum() == len(drawn.points)
    assert table["plant"].is_unique
    assert (np.diff(table["height_m"]) <= 1e-9).all()  # all are plugs here
    key = drawn.points.drop_duplicates("plant").set_index("plant")["key_number"]
    assert table.set_index("plant")["key_number"].to_dict() == key.to_dict()
    mixed = drawn.plantings.assign(form=["pot"] + ["plug"] * (len(drawn.plantings) - 1))
    assert plant_schedule(mixed, drawn.points, KNOWLEDGE)["form"].iloc[0] == "pot"
    assert len(plant_schedule(drawn.plantings.iloc[:0], drawn.points, KNOWLEDGE)) == 0


def test_side_tells_the_two_crossings_apart():
    left = corner_from_tapes((0, 0), (6, 0), 5, 5, "left")
    right = corner_from_tapes((0, 0), (6, 0), 5, 5, "right")
    assert left == pytest.approx((3, 4))
    assert right == pytest.approx((3, -4))
