"""The same three yards come out of every format with the same ids and areas."""

import shutil
import sqlite3
from contextlib import closing

import pandas as pd
import pytest
import rasterio.shutil
import shapely

from habitat.commands.check.account import check_study
from tests.layers import builders as make
from tests.layers.virtual import SOURCE, virtual


def to_gpkg(folder):
    make.yards().to_file(folder / "y.gpkg", layer="yards")
    return "y.gpkg"


def to_geojson(folder):
    make.yards().to_crs(4326).to_file(folder / "y.geojson")
    return "y.geojson"


def to_lines_of_json(folder):
    make.yards().to_crs(4326).to_file(folder / "y.geojsonl", driver="GeoJSONSeq", COORDINATE_PRECISION=10)
    return "y.geojsonl"


def to_shapefile(folder):
    make.shapefile(folder)
    return "yards.shp"


def to_upper_case_shapefile(folder):
    make.shapefile(folder)
    for part in list(folder.glob("yards.*")):
        part.rename(folder / f"YARDS{part.suffix.upper()}")
    return "YARDS.SHP"


def to_zip_in_folder(folder):
    (folder / "in").mkdir()
    make.shapefile(folder / "in")
    make.zipped(folder, sorted((folder / "in").iterdir()))
    shutil.rmtree(folder / "in")
    return "layer.zip"


def to_folder(folder):
    (folder / "parcels").mkdir()
    make.shapefile(folder / "parcels")
    return "parcels"


def to_flatgeobuf(folder):
    make.yards().to_file(folder / "y.fgb")
    return "y.fgb"


def to_parquet(folder):
    make.yards().to_parquet(folder / "y.parquet")
    return "y.parquet"


def to_native_parquet(folder):
    make.yards().to_parquet(folder / "y.parquet", geometry_encoding="geoarrow")
    return "y.parquet"


def to_kml(folder):
    return make.kml(folder).name


def to_kmz(folder):
    path = make.kml(folder, "doc.kml")
    make.zipped(folder, [path], "y.kmz", inside="")
    path.unlink()
    return "y.kmz"


def to_file_geodatabase(folder):
    make.yards().to_file(folder / "y.gdb", driver="OpenFileGDB", layer="yards")
    return "y.gdb"


def to_wkt(folder):
    frame = make.yards().to_crs(4326)
    pd.DataFrame({"yard_id": frame["yard_id"], "wkt": frame.geometry.to_wkt(rounding_precision=12)}).to_csv(
        folder / "y.csv", index=False
    )
    return "y.csv"


def to_ewkt(folder):
    frame = make.yards()
    shape = [f"SRID=32617;{s.wkt}" for s in frame.geometry]
    pd.DataFrame({"yard_id": frame["yard_id"], "shape": shape}).to_csv(folder / "y.csv", index=False)
    return "y.csv"


def to_hex(folder):
    frame = make.yards()
    shape = shapely.to_wkb(shapely.set_srid(frame.geometry.to_numpy(), 32617), hex=True, include_srid=True)
    pd.DataFrame({"yard_id": frame["yard_id"], "geom": shape}).to_csv(folder / "y.tsv", index=False, sep="\t")
    return "y.tsv"


def to_sheet(folder):
    frame = make.yards().to_crs(4326)
    make.workbook(
        folder,
        [
            ("yard_id", "geometry"),
            *zip(frame["yard_id"], frame.geometry.to_wkt(rounding_precision=12), strict=True),
        ],
    )
    return "table.xlsx"


FORMATS = [write for name, write in sorted(globals().items()) if name.startswith("to_")]


@pytest.mark.parametrize("write", FORMATS, ids=lambda f: f.__name__)
def test_every_format_gives_the_same_yards(write, tmp_path):
    result = check_study(make.study(tmp_path, {"yards": write(tmp_path)}))
    assert result["error"] is None
    assert make.areas(result) == pytest.approx(make.EXPECTED, rel=1e-4)
    assert result["crs"] == "EPSG:32617"
    assert result["ground_area_m2"] == pytest.approx(2600, rel=1e-4)


def test_gpx_waypoints_that_a_device_numbered_go_by_their_description(tmp_path):
    said = [("003", "desc", "swamp milkweed"), ("WPT12", "cmt", "turtlehead")]
    said += [("Zizia aurea", "desc", "by the gate"), ("Waypoint 7", "desc", "12")]
    points = "".join(
        f'<wpt lat="{make.degrees(30, 40)[1]}" lon="{make.degrees(30, 40)[0]}"><name>{name}</name>'
        f"<{tag}>{words}</{tag}></wpt>"
        for name, tag, words in said
    )
    space = "http://www.topografix.com/GPX/1/1"
    (tmp_path / "w.gpx").write_text(f'<gpx version="1.1" creator="x" xmlns="{space}">{points}</gpx>', "utf-8")
    make.yards().to_file(tmp_path / "y.fgb")
    result = check_study(make.study(tmp_path, {"yards": "y.fgb", "plants": "w.gpx"}))
    plants = [row["attributes"]["plant"] for row in result["layers"]["plants"]["rows"]]
    assert plants == ["swamp milkweed", "turtlehead", "Zizia aurea", "Waypoint 7"]


def test_gpx_waypoints_are_plants_and_a_track_is_an_outline_only_when_the_study_says_so(tmp_path):
    name = make.gpx(tmp_path).name
    told = {
        "yards": {"path": name, "layer": "tracks"},
        "plants": {"path": name, "columns": {"plant": "name"}},
    }
    result = check_study(make.study(tmp_path, told))
    assert make.areas(result) == pytest.approx({"W1": 1200.0}, rel=1e-4)
    assert "closed into an outline" in make.notes(result)
    assert [p["yard_id"] for p in result["plants"]] == ["W1", "W1", None, None]
    result = check_study(make.study(tmp_path, {"yards": name}))
    assert result["exit"] == 2
    assert "an outline only if the study says so" in result["error"]["message"]
    hint = 'layer = "tracks" under layers.yards; it holds waypoints (4), tracks (1)'
    assert hint in result["error"]["message"]
    said = check_study(make.study(tmp_path, {"yards": {"path": name, "layer": "routes"}}))["error"]["message"]
    assert "it holds no routes" in said
    assert "tracks (1)" in said


def test_the_layer_named_like_ours_is_taken_and_several_others_are_refused(tmp_path):
    make.yards().to_file(tmp_path / "y.gpkg", layer="Yards")
    make.yards().to_file(tmp_path / "y.gpkg", layer="blocks")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg"}))
    assert result["exit"] == 0
    assert "'Yards' is read" in make.notes(result)
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "buildings": "y.gpkg"}))
    assert result["exit"] == 2
    assert "several layers: Yards, blocks" in result["error"]["message"]
    result = check_study(make.study(tmp_path, {"yards": {"path": "y.gpkg", "layer": "lots"}}))
    assert "no layer 'lots'" in result["error"]["message"]


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("y.geojson", b"<html>404</html>", "does not begin with {"),
        (
            "y.geojson",
            b'{"type": "FeatureCollection", "features": [',
            "breaks off or is damaged in line 1, column 44",
        ),
        ("y.gpkg", b"hello world, this is no database", "*.gpkg"),
        ("y.shp", b"SQLite format 3\0 and so on and so on", "*.shp"),
        ("y.csv", b"PK\x03\x04 a spreadsheet by another name", "*.csv"),
        ("y.xls", b"\xd0\xcf\x11\xe0 old spreadsheet", ".xlsx"),
        ("y.dwg", b"AC1032 a drawing", "*.dwg are not read"),
        ("y.csv", b"", "empty"),
        ("y.kml", b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "b">]><kml/>', "entities"),
    ],
)
def test_files_that_are_not_what_they_say_are_refused_in_plain_words(tmp_path, name, data, words):
    (tmp_path / name).write_bytes(data)
    result = check_study(make.study(tmp_path, {"yards": name}))
    assert result["exit"] == 2
    assert words in result["error"]["message"]
    assert str(tmp_path) not in result["error"]["message"]


def test_empty_layer_and_layer_of_points_are_refused(tmp_path):
    make.yards().iloc[:0].to_file(tmp_path / "y.gpkg")
    assert "no rows" in check_study(make.study(tmp_path, {"yards": "y.gpkg"}))["error"]["message"]
    frame = make.yards()
    frame.geometry = frame.geometry.centroid
    frame.to_file(tmp_path / "p.gpkg")
    assert "none of its 3 rows" in check_study(make.study(tmp_path, {"yards": "p.gpkg"}))["error"]["message"]


def empty_package(folder):
    make.yards().to_file(folder / "y.gpkg", layer="a")
    with closing(sqlite3.connect(folder / "y.gpkg")) as base:
        base.executescript("DELETE FROM gpkg_contents; DELETE FROM gpkg_geometry_columns; DROP TABLE a")
    return "y.gpkg"


def package_of_pictures(folder):
    make.raster(folder, make.slope(), "g.tif")
    rasterio.shutil.copy(folder / "g.tif", folder / "y.gpkg", driver="GPKG")
    return "y.gpkg"


def empty_archive(folder):
    make.zipped(folder, [], "y.zip")
    return "y.zip"


def packed_otherwise(folder):
    (folder / "y.csv.gz").write_bytes(b"\x1f\x8b" + b"0" * 50)
    return "y.csv.gz"


def spreadsheet_of_another_kind(folder):
    (folder / "y.ods").write_bytes(b"PK\x03\x04" + b"0" * 50)
    return "y.ods"


def only_the_table_of_a_shapefile(folder):
    make.shapefile(folder, stem="y").unlink()
    return "y.shp"


@pytest.mark.parametrize(
    ("write", "words"),
    [
        (empty_package, "holds no layer of shapes or rows"),
        (package_of_pictures, "a raster goes under [rasters]"),
        (empty_archive, "the archive is empty"),
        (packed_otherwise, "files named *.gz are not read. Unpack it"),
        (spreadsheet_of_another_kind, "files named *.ods are not read. Save it as one of"),
        (only_the_table_of_a_shapefile, "not the .shp, which holds its shapes"),
    ],
)
def test_files_that_hold_nothing_to_read_say_what_they_hold(tmp_path, write, words):
    result = check_study(make.study(tmp_path, {"yards": write(tmp_path)}))
    assert words in result["error"]["message"]


def test_addresses_in_descriptions_do_no_harm(tmp_path):
    make.raster(tmp_path, make.slope(), "a.tif")
    (tmp_path / "a.tif.aux.xml").write_text(
        '<PAMDataset><Metadata domain="IMD"><MDI key="PUBLISHER">https://example.invalid</MDI></Metadata></PAMDataset>',
        encoding="utf-8",
    )
    told = '<Metadata><MDI key="x">http://example.invalid</MDI></Metadata>'
    assert virtual(tmp_path, told + SOURCE.format(relative=1, name="a.tif"))["error"] is None


def test_links_in_kml_are_not_followed_and_told(tmp_path):
    link = "<NetworkLink><Link><href>http://example.invalid/more.kml</href></Link></NetworkLink><Style id='s'><IconStyle><Icon><href>http://example.invalid/i.png</href></Icon></IconStyle></Style>"
    result = check_study(make.study(tmp_path, {"yards": make.kml(tmp_path, extra=link).name}))
    assert result["error"] is None
    assert len(result["yards"]) == 3
    assert "not followed" in make.notes(result)


def test_json_that_is_a_recipe_is_refused(tmp_path):
    (tmp_path / "y.json").write_text(
        '{"type": "gdal_streamed_alg", "command_line": "gdal vector read http://example.invalid"}',
        encoding="utf-8",
    )
    assert "recipe" in check_study(make.study(tmp_path, {"yards": "y.json"}))["error"]["message"]
