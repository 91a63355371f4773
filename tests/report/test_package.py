"""The GIS package and the folder: what they hold, in which units, whole or not at all, the same each time."""

import json
import math
import sqlite3
import struct
from contextlib import closing
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import rasterio
import shapely

from habitat.errors import OutputError, StudyError
from habitat.report import write as writing
from habitat.report.outputs import OUTPUTS
from habitat.report.package.geopackage import plain_json, write_geopackage, write_run_json
from habitat.report.package.rasters import write_rasters
from habitat.report.package.read_me import write_read_me
from habitat.report.package.tables import TABLES
from habitat.report.write import write_plan
from tests.report.small_plan import small_plan


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


# --- rasters -------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def rasters(plan, tmp_path_factory):
    folder = tmp_path_factory.mktemp("rasters")
    write_rasters(plan, folder)
    return folder


def image_directories(path):
    """Return (offset, width, tiled, first data offset, length of it) of every image directory of a TIFF."""
    raw = path.read_bytes()
    assert raw[:4] == b"II*\x00", "a classic little-endian TIFF"
    sizes = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 11: 4, 12: 8, 16: 8}
    found, offset = [], struct.unpack_from("<I", raw, 4)[0]
    while offset:
        tags = {}
        for k in range(struct.unpack_from("<H", raw, offset)[0]):
            tag, kind, count = struct.unpack_from("<HHI", raw, offset + 2 + 12 * k)
            at = offset + 2 + 12 * k + 8
            if sizes.get(kind, 1) * count > 4:
                at = struct.unpack_from("<I", raw, at)[0]
            tags[tag] = struct.unpack_from({3: "<H", 4: "<I"}.get(kind, "<B"), raw, at)[0]
        found.append((offset, tags[256], 322 in tags, tags.get(324)))
        offset = struct.unpack_from("<I", raw, offset + 2 + 12 * struct.unpack_from("<H", raw, offset)[0])[0]
    return found


def test_rasters_are_cloud_optimised(rasters):
    """OGC 21-026 (COG 1.0), clause 7: tiles, directories before the data, data of coarser levels first."""
    for path in sorted(rasters.glob("*.tif")):
        with rasterio.open(path) as source:
            assert source.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        directories = image_directories(path)
        assert all(tiled for _, _, tiled, _ in directories)
        data = [first for *_, first in directories]
        assert max(offset for offset, *_ in directories) < min(data)
        widths = [width for _, width, _, _ in directories]
        assert widths == sorted(widths, reverse=True)
        assert data == sorted(data, reverse=True)


def test_large_rasters_have_overviews(plan, tmp_path):
    from habitat.grid import Grid

    big = Grid.from_bounds((436_000, 4_417_000, 437_300, 4_417_700), 1.0, plan.site.grid.crs)
    values = np.add.outer(np.arange(700.0), np.arange(1300.0)).astype(np.float32) / 200
    site = replace(plan.site, grid=big, rasters={"sun_h": values})
    odd = replace(plan, site=site, study=plan.study.changed(suitability={"rasters": []}))
    write_rasters(odd, tmp_path)
    with rasterio.open(tmp_path / "sun_h.tif") as source:
        assert source.overviews(1)
        np.testing.assert_allclose(source.read(1), values, atol=0.0006)
    widths = [width for _, width, _, _ in image_directories(tmp_path / "sun_h.tif")]
    assert len(widths) > 1
    assert widths == sorted(widths, reverse=True)


def test_sun_raster_is_the_site_s(plan, rasters):
    with rasterio.open(rasters / "sun_h.tif") as source:
        assert source.crs == plan.site.grid.crs
        assert source.transform == plan.site.grid.transform
        assert source.units == ("h",)
        np.testing.assert_allclose(source.read(1), plan.site.rasters["sun_h"], atol=0.0006)


def test_fit_raster_holds_both_bounds(plan, rasters):
    assert sorted(p.name for p in rasters.iterdir()) == [
        "fit-asclepias-incarnata.tif",
        "fit-zizia-aurea.tif",
        "sun_h.tif",
    ]
    with rasterio.open(rasters / "fit-zizia-aurea.tif") as source:
        low, high = source.read()
    assert ((low >= 0) & (high <= 1)).all()
    assert (low <= high).all()
    hole = np.isnan(plan.site.rasters["ph"])
    np.testing.assert_array_equal(low[~hole], high[~hole])
    assert (low[hole] == 0).all()  # an unknown pH may be the worst
    assert (high[hole] > 0).any()


def test_an_unknown_plant_among_the_rasters_is_an_error(plan, tmp_path):
    odd = replace(plan, study=plan.study.changed(suitability={"rasters": ["Asclepias incarnatta"]}))
    with pytest.raises(StudyError, match="did you mean Asclepias incarnata"):
        write_rasters(odd, tmp_path)


def test_equal_rasters_give_equal_bytes(plan, rasters, tmp_path):
    write_rasters(plan, tmp_path)
    for path in rasters.iterdir():
        assert (tmp_path / path.name).read_bytes() == path.read_bytes()


# --- the folder ------------------------------------------------------------------------------------------


TOLD = [(output.name, output.words) for output in OUTPUTS]


def quick_files(text="new"):
    def write(plan, work, workers, tell):
        (work / "run.json").write_text(text, encoding="utf-8")
        write_read_me(plan, work, TOLD)

    return write


def failing_files(plan, work, workers, tell):
    (work / "run.json").write_text("half", encoding="utf-8")
    raise RuntimeError("power cut")


def test_a_run_is_written_beside_and_moved(plan, tmp_path, monkeypatch):
    monkeypatch.setattr(writing, "write_files", quick_files())
    told = []
    out = write_plan(plan, tmp_path / "deep" / "plan", progress=lambda *a: told.append(a))
    assert out == tmp_path / "deep" / "plan"
    assert {p.name for p in out.iterdir()} == {"run.json", "READ_ME.txt", "timings.json", "files.json"}
    assert [p.name for p in out.parent.iterdir()] == ["plan"]
    assert told == [("results written", 1, 1)]
    assert json.loads((out / "timings.json").read_text())["report"]["seconds"] >= 0


def test_nothing_is_replaced_unasked(plan, tmp_path, monkeypatch):
    monkeypatch.setattr(writing, "write_files", quick_files("old"))
    out = write_plan(plan, tmp_path / "plan")
    monkeypatch.setattr(writing, "write_files", quick_files("new"))
    with pytest.raises(OutputError, match="--replace"):
        write_plan(plan, out)
    assert (out / "run.json").read_text() == "old"
    write_plan(plan, out, replace=True)
    assert (out / "run.json").read_text() == "new"
    assert [p.name for p in tmp_path.iterdir()] == ["plan"]


def test_a_dying_run_leaves_the_last_good_one(plan, tmp_path, monkeypatch):
    monkeypatch.setattr(writing, "write_files", quick_files("good"))
    out = write_plan(plan, tmp_path / "plan")
    monkeypatch.setattr(writing, "write_files", failing_files)
    with pytest.raises(RuntimeError, match="power cut"):
        write_plan(plan, out, replace=True)
    assert (out / "run.json").read_text() == "good"
    assert [p.name for p in tmp_path.iterdir()] == ["plan"]


def test_leftovers_of_a_run_that_died_are_cleared(plan, tmp_path, monkeypatch):
    """A killed run cannot clear up after itself; the next one does, and puts the last good one back."""
    monkeypatch.setattr(writing, "write_files", quick_files("last good"))
    write_plan(plan, tmp_path / "plan").rename(tmp_path / ".plan.replaced")
    monkeypatch.setattr(writing, "write_files", quick_files("new"))
    (tmp_path / ".plan.writing").mkdir()
    (tmp_path / ".plan.writing" / writing.MARK).touch()
    (tmp_path / ".plan.writing" / "half.csv").write_text("half", encoding="utf-8")
    with pytest.raises(OutputError, match="already"):
        write_plan(plan, tmp_path / "plan")
    assert (tmp_path / "plan" / "run.json").read_text() == "last good"
    write_plan(plan, tmp_path / "plan", replace=True)
    assert [p.name for p in tmp_path.iterdir()] == ["plan"]


def test_somebody_s_own_folder_is_never_replaced(plan, tmp_path, monkeypatch):
    monkeypatch.setattr(writing, "write_files", quick_files())
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "wedding.jpg").write_text("x", encoding="utf-8")
    with pytest.raises(OutputError, match="something other than results"):
        write_plan(plan, tmp_path / "photos", replace=True)
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(OutputError, match="a file of this name"):
        write_plan(plan, tmp_path / "file", replace=True)
    assert (tmp_path / "photos" / "wedding.jpg").exists()


def test_a_place_that_cannot_be_written_is_an_output_error(plan, tmp_path, monkeypatch):
    monkeypatch.setattr(writing, "write_files", quick_files())
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(OutputError, match="cannot be written"):
        write_plan(plan, tmp_path / "file" / "plan")


def test_an_odd_name_of_the_study_stays_on_the_first_line_of_read_me(plan, tmp_path):
    study = plan.study.changed(study={"name": "Row\n\u202eof\x07 yards"})
    write_read_me(replace(plan, study=study), tmp_path, TOLD)
    lines = (tmp_path / "READ_ME.txt").read_text(encoding="utf-8").splitlines()
    assert lines[0].split(", 2026")[0] == "Row of yards"
    assert lines[1] == ""


def test_read_me_tells_of_what_is_there(plan, tmp_path):
    for name in ("plan.gpkg", "page.html"):
        (tmp_path / name).touch()
    write_read_me(plan, tmp_path, TOLD)
    text = (tmp_path / "READ_ME.txt").read_text(encoding="utf-8")
    assert "page.html" in text
    assert "shopping.csv" not in text
    assert "For the group only" in text
    assert "utility locating" in text
    for table in TABLES:
        assert f"\n{table.name}: {table.title}\n" in text
