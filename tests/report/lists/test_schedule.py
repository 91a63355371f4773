"""The plant schedule by size, read back, against the tables of the plan."""

import geopandas as gpd
import pandas as pd
import pytest

from habitat.report.lists.schedule import SIZES, write_schedule
from habitat.report.package.geopackage import write_geopackage
from habitat.site.types import GROWTH_FORM
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"))


@pytest.fixture(scope="module")
def schedule(plan, tmp_path_factory):
    path = write_schedule(plan, tmp_path_factory.mktemp("lists") / "plant-schedule.csv")
    return pd.read_csv(path, encoding="utf-8-sig", dtype={"yard_id": str, "beds": str})


def test_every_plant_of_the_package_is_in_the_schedule(plan, schedule, tmp_path):
    write_geopackage(plan, tmp_path / "plan.gpkg")
    points = gpd.read_file(tmp_path / "plan.gpkg", layer="plant_points", ignore_geometry=True)
    drawn = points.groupby(["yard_id", "plant"]).size()
    told = schedule.groupby(["yard_id", "plant"])["count"].sum()
    pd.testing.assert_series_equal(told.sort_index(), drawn.sort_index(), check_names=False)
    spread = points.groupby(["yard_id", "plant", "key_number"])["crown_m"].first()
    for row in schedule.itertuples():
        assert spread[row.yard_id, row.plant, row.key_number] == pytest.approx(row.spread_m)
        assert row.spacing_m > 0


def test_sizes_come_in_order_and_say_how_plants_grow(plan, schedule):
    known = plan.knowledge.plants
    assert {"shrub", "tall", "low"} <= set(schedule["size"])
    for _, rows in schedule.groupby("yard_id", sort=False):
        places = [SIZES.index(size) for size in rows["size"]]
        assert places == sorted(places)
        for _, same in rows.groupby("size"):
            assert list(same["height_m"]) == sorted(same["height_m"], reverse=True)
    for row in schedule.itertuples():
        growth = GROWTH_FORM[known.loc[row.plant, "form"]]
        assert (row.size if row.size in ("tree", "shrub") else "herb") == growth
        if growth == "herb":
            assert (row.size == "tall") == (row.height_m >= 1.0)


def test_beds_are_those_of_the_sheet(plan, schedule):
    numbers = dict(zip(plan.beds["bed_id"], plan.beds["bed_number"], strict=True))
    for row in schedule.itertuples():
        mine = plan.plantings.query("yard_id == @row.yard_id and plant == @row.plant and form == @row.form")
        assert row.beds == "; ".join(str(n) for n in sorted({int(numbers[b]) for b in mine["bed_id"]}))
