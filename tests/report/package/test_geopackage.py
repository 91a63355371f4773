"""The GIS package and the folder: what they hold, in which units, whole or not at all, the same each time."""

import json
import math
import sqlite3
from contextlib import closing
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely

from habitat.report.package.geopackage import plain_json, write_geopackage, write_run_json
from habitat.report.package.tables import TABLES
from tests.report.small_plan import agreed, small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    folder = tmp_path_factory.mktemp("study")
    return small_plan(folder, suitability={"rasters": ["swamp milkweed", "Zizia aurea"]})


@pytest.fixture(scope="module")
def package(plan, tmp_path_factory):
    path = tmp_path_factory.mktemp("package") / "plan.gpkg"
    write_geopackage(plan, path)
    return path


def query(path, text):
    with closing(sqlite3.connect(path)) as base:
        return base.execute(text).fetchall()


@pytest.mark.parametrize("table", TABLES, ids=lambda t: t.name)
def test_every_layer_holds_its_columns_and_rows(plan, package, table):
    frame = pyogrio.read_dataframe(package, layer=table.name)
    given = getattr(plan, table.source)
    assert [c[0] for c in table.columns] == list(frame.columns)[: len(table.columns)]
    assert set(given.columns) - {"geometry"} <= set(frame.columns)
    assert len(frame) == len(given)
    assert ("geometry" in frame) == bool(table.geometry)
    if table.geometry:
        assert frame.crs == plan.layers.crs
    for name, kind, _, _ in table.columns:
        if kind == "float" and name in given:
            np.testing.assert_array_equal(frame[name].astype(float), given[name].astype(float))
        if kind == "text" and name in given:
            assert frame[name].isna().tolist() == given[name].isna().tolist()
            assert frame[name].dropna().tolist() == given[name].dropna().astype(str).tolist()


def test_shapes_are_those_of_the_plan(plan, package):
    for name in ("yards", "beds", "plant_points", "plantings", "links"):
        read = gpd.read_file(package, layer=name)
        assert shapely.equals(read.geometry.array, getattr(plan, name).geometry.array).all()


def test_unknown_is_null_not_zero(plan, package):
    assert plan.yards["depth_cm_mean"].isna().all()
    assert query(package, "SELECT count(depth_cm_mean) FROM yards") == [(0,)]
    assert query(package, "SELECT plant FROM existing_plants WHERE name_given = 'mystery bush'") == [(None,)]


def test_the_file_is_a_sound_geopackage(package):
    """OGC 12-128r18, requirements 2, 6, 7: application id, integrity, foreign keys."""
    raw = package.read_bytes()
    assert raw[:16] == b"SQLite format 3\x00"
    assert raw[68:72] == b"GPKG"
    assert query(package, "PRAGMA integrity_check") == [("ok",)]
    assert query(package, "PRAGMA foreign_key_check") == []
    listed = {name for (name,) in query(package, "SELECT table_name FROM gpkg_contents")}
    assert listed == {t.name for t in TABLES}


def test_layers_and_columns_say_what_they_are(package):
    told = dict(query(package, "SELECT table_name, description FROM gpkg_contents"))
    assert told == {t.name: t.title for t in TABLES}
    columns = query(package, "SELECT table_name, column_name, title, description FROM gpkg_data_columns")
    there = {(t.name, row[1]) for t in TABLES for row in query(package, f"PRAGMA table_info({t.name})")} - {
        (t.name, c) for t in TABLES for c in ("fid", "geom")
    }
    assert {(t, c) for t, c, _, _ in columns} == there
    titles = {(t, c): title for t, c, title, _ in columns}
    assert titles["yards", "area_m2"] == "area m2 [m2]"
    assert titles["links", "distance_m"] == "distance m [m]"
    for layer, column, _, what in columns:
        assert what
        assert column in {row[1] for row in query(package, f"PRAGMA table_info({layer})")}
    extensions = {row[0] for row in query(package, "SELECT extension_name FROM gpkg_extensions")}
    assert "gpkg_schema" in extensions


def test_time_stamps_are_the_study_date(package):
    stamps = {s for (s,) in query(package, "SELECT last_change FROM gpkg_contents")}
    assert stamps == {"2026-03-01T00:00:00.000Z"}


def test_equal_plans_give_equal_bytes(plan, package, tmp_path):
    write_geopackage(plan, tmp_path / "again.gpkg")
    assert (tmp_path / "again.gpkg").read_bytes() == package.read_bytes()


def test_a_plan_without_plants_still_has_every_layer(plan, tmp_path):
    bare = replace(
        plan,
        beds=plan.beds.iloc[:0],
        plantings=plan.plantings.iloc[:0],
        plant_points=plan.plant_points.iloc[:0],
        links=gpd.GeoDataFrame(geometry=[], crs=plan.layers.crs),
        chain=plan.chain.iloc[:0],
        breeding=None,
    )
    write_geopackage(bare, tmp_path / "bare.gpkg")
    kinds = dict(pyogrio.list_layers(tmp_path / "bare.gpkg"))
    assert set(kinds) == {t.name for t in TABLES}
    assert kinds["links"] == "MultiLineString"
    assert len(pyogrio.read_dataframe(tmp_path / "bare.gpkg", layer="links")) == 0


def test_awkward_text_comes_back(plan, tmp_path):
    odd = ["<script>", "=1+1", "a'b\"c", "\u05d0\u200fbc", "line\nbreak", "nul\x00ed", "lone\ud800"]
    yards = plan.yards.assign(drainage_mode=pd.Series(odd, dtype=object))
    write_geopackage(replace(plan, yards=yards), tmp_path / "odd.gpkg")
    read = pyogrio.read_dataframe(tmp_path / "odd.gpkg", layer="yards")["drainage_mode"].tolist()
    assert read == [*odd[:4], "line break", "nul ed", "lone "]


def test_mixed_shapes_keep_the_parts_a_layer_takes(plan, tmp_path):
    ground = plan.open_ground.copy()
    area = ground.geometry.iloc[0]
    line = shapely.LineString([(0, 0), (1, 1)])
    ground.loc[0, "geometry"] = shapely.GeometryCollection([area, line])
    write_geopackage(replace(plan, open_ground=ground), tmp_path / "mixed.gpkg")
    read = gpd.read_file(tmp_path / "mixed.gpkg", layer="open_ground").geometry.iloc[0]
    assert read.area == pytest.approx(area.area)


def test_run_json_holds_headline_and_no_nan(plan, tmp_path):
    odd = replace(plan, headline={**plan.headline, "odd": math.nan, "array": np.array([1.0, np.inf])})
    write_run_json(odd, tmp_path / "run.json")
    read = json.loads((tmp_path / "run.json").read_text(encoding="utf-8"), parse_constant=pytest.fail)
    assert read["headline"]["odd"] is None
    assert read["headline"]["array"] == [1.0, None]
    assert read["headline"]["counts"]["plants"] == int(plan.plantings["count"].sum())
    assert read["date"] == "2026-03-01"
    assert read["audience"] == "group"


def test_plain_json_takes_what_numpy_and_pandas_have():
    given = {"a": np.int64(3), 2: pd.NA, "c": {1.5, 0.5}, "d": np.bool_(True)}
    assert plain_json(given) == {"a": 3, "2": None, "c": [0.5, 1.5], "d": True}


def test_places_and_stops_of_hidden_yards_are_in_no_public_package(plan, tmp_path):
    write_geopackage(agreed(plan, [True, False] * 3 + [True]), tmp_path / "public.gpkg")
    hidden = plan.layers.yards.geometry.iloc[[1, 3, 5]].buffer(-0.2).union_all()
    for layer in ("nectar_stops", "bed_sites"):
        frame = gpd.read_file(tmp_path / "public.gpkg", layer=layer)
        assert len(frame) > 0
        assert not frame.geometry.intersects(hidden).any()
