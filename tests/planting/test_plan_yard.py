"""One yard from its polygons: the plan of the engine for many, inside its ground; errors name the fault."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from habitat.errors import ParameterError
from habitat.grid import Grid
from habitat.ground.open_ground import open_and_closed
from habitat.planting import plan_yard
from habitat.planting.plan_yards import plan_yards
from habitat.planting.standing import existing_plants
from habitat.site.types import Site
from tests.support.choice_yards import SEASON, WISHES, knowledge, needs_of
from tests.support.yards import SETTINGS, UTM

YARD, HOUSE = box(0, 0, 20, 30), box(5, 18, 15, 28)
VALUES = {"sun_h": 7.0}


def plan(yard=YARD, values=None, **more):
    asked = {"buildings": [HOUSE], "latitude_deg": 39.9, "wishes": WISHES, "season": SEASON} | more
    return plan_yard(yard, values or VALUES, knowledge=knowledge(), needs=needs_of("sun_h"), **asked)


@pytest.fixture(scope="module")
def planned():
    return plan()


def test_beds_lie_in_the_yard_and_off_the_house(planned):
    """Herbs and shrubs keep off walls by the setbacks: 0.3 m is the least of the table, common practice."""
    assert len(planned.beds) > 0
    assert planned.beds.geometry.map(YARD.buffer(1e-6).covers).all()
    assert (planned.beds.distance(HOUSE) > 0.25).all()
    assert len(planned.plant_points) == planned.plantings["count"].sum()
    assert planned.plant_points.geometry.map(YARD.covers).all()


def test_money_is_kept_and_the_bound_holds(planned):
    result = planned.yard_results.iloc[0]
    assert 0 < result["cost"] <= SETTINGS.budget
    assert result["worth"] <= result["bound"]
    assert plan(household={"budget": 0.0}).plantings.empty


def test_it_is_the_engine_of_many_yards(planned):
    """The same ground handed to plan_yards as a neighbourhood of one yard gives the same plan."""
    yards = gpd.GeoDataFrame({"yard_id": ["yard"], "role": "member"}, geometry=[YARD], crs=UTM)
    grid = Grid.from_bounds(YARD.buffer(2).bounds, 1.0, UTM)
    ground = open_and_closed(yards, {"buildings": gpd.GeoDataFrame(geometry=[HOUSE], crs=UTM)})
    tables = ("open_ground", "closed_ground", "height_limits", "host_limits")
    site = Site(
        grid=grid,
        rasters={"sun_h": np.full(grid.shape, 7.0, np.float32)},
        sun_by_month={},
        yards=yards,
        placeable=True,
        **{name: getattr(ground, name) for name in tables},
    )
    existing, _ = existing_plants(yards, knowledge())
    rules = {"knowledge": knowledge(), "needs": needs_of("sun_h"), "settings": SETTINGS}
    many = plan_yards(yards, site, existing, wishes=WISHES, season=SEASON, latitude_deg=39.9, **rules)
    for name in ("plantings", "plant_points", "yard_results"):
        one, two = (
            pd.DataFrame(getattr(p, name)).drop(columns="geometry", errors="ignore") for p in (planned, many)
        )
        pd.testing.assert_frame_equal(one, two)
    assert shapely.get_coordinates(planned.plant_points.geometry) == pytest.approx(
        shapely.get_coordinates(many.plant_points.geometry)
    )


def test_what_the_household_says_counts():
    low = plan(household={"max_height_m": 0.8, "children": True})
    classes = knowledge().hazard_classes["class_four"].reindex(low.plantings["plant"].unique()).fillna("")
    assert (low.plantings["height_m"] <= 0.8).all()
    assert not classes.str.contains("1").any()  # the most poisonous
    none = plan(household={"children": True, "poisonous": "none"})
    assert len(none.plantings)
    assert not set(none.plantings["plant"]) & set(knowledge().hazard_classes.index)


def test_what_stands_and_what_is_kept_is_left_alone():
    milkweed = gpd.GeoDataFrame({"plant": ["Asclepias syriaca"]}, geometry=[Point(10, 2)], crs=None)
    lawn = box(0, 0, 20, 9)
    got = plan(plants=milkweed, surroundings={"keep": [lawn]})
    assert (got.beds.distance(lawn) > 0.25).all()
    assert len(got.beds) > 0


def test_half_a_yard_in_shade_is_planted_for_shade():
    grid = Grid.from_bounds(YARD.buffer(2).bounds, 1.0, UTM)
    sun = np.where(grid.x[None, :] < 10, 1.0, 8.0) * np.ones(grid.shape)
    got = plan(values={"sun_h": sun}, grid=grid, crs=UTM, household={"budget": 2000.0})
    sun_min = knowledge().plants["sun_min_h"]
    shady = got.beds.loc[got.beds["sun_h_mean"] < 2, "bed_id"]
    grown = got.plantings.loc[got.plantings["bed_id"].isin(shady), "plant"]
    assert len(shady)
    assert (got.beds["sun_h_mean"] > 6).any()
    assert (sun_min[grown.to_list()] <= 2).all()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"yard": Polygon()}, "valid polygon"),
        ({"yard": Polygon([(0, 0), (9, 9), (9, 0), (0, 9)])}, "valid polygon"),
        ({"latitude_deg": None}, "latitude_deg"),
        ({"latitude_deg": 95.0}, "latitude_deg"),
        ({"values": {"ph": 6.5}}, "sun_h"),
        ({"values": {"sun_h": 7.0, "wind": 3.0}}, "wind"),
        ({"values": {"sun_h": np.zeros((3, 3))}}, "one number"),
        ({"surroundings": {"moat": [HOUSE]}}, "moat"),
    ],
)
def test_what_cannot_be_is_refused_by_name(change, says):
    with pytest.raises(ParameterError, match=says):
        plan(**change)
