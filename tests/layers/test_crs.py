"""Coordinate reference systems: never assumed; missing, lying, swapped ones are found and said."""

import json

import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely

from habitat.commands.check.account import check_study
from habitat.errors import CrsError
from habitat.layers.crs import choose_metric_crs, length_error, parse_crs
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.layers import builders as make
from tests.layers.crs_cases import result_of, saved


@pytest.mark.parametrize(
    "crs", [4326, 3857, 3735, 2253, 32123, 26917, 32616, 5070, "ESRI:102008", 26717, "OGC:CRS84"]
)
def test_areas_are_true_in_whatever_crs_they_come(tmp_path, crs):
    """3735 is in US survey feet, 2253 in international feet, 3857 stretched, 26717 on another datum."""
    result = result_of(tmp_path, make.yards().to_crs(crs))
    assert make.areas(result) == pytest.approx(make.EXPECTED, rel=1e-3)


@pytest.mark.parametrize(
    ("coordinates", "label", "words"),
    [
        (32617, None, "no coordinate reference system"),
        (4326, 3857, "look like longitude and latitude"),
        (32617, 4326, "out of range for longitude"),
        (3735, 32617, "outside the area"),
        (32123, 3735, "look like metres"),
        (32617, 3735, "outside the area"),
        (3857, 32617, "outside the area"),
    ],
)
def test_crs_that_cannot_be_is_refused_and_the_true_one_works_when_stated(
    tmp_path, coordinates, label, words
):
    frame = make.yards().to_crs(coordinates)
    result = result_of(tmp_path, frame, label)
    assert result["exit"] == 2
    assert result["error"]["kind"] == "crs"
    assert words in result["error"]["message"]
    result = result_of(tmp_path, frame, label, crs=f"EPSG:{coordinates}")
    assert make.areas(result) == pytest.approx(make.EXPECTED, rel=1e-3)


def test_local_and_undefined_systems_count_as_missing(tmp_path):
    local = pyproj.CRS.from_wkt('LOCAL_CS["somewhere",UNIT["metre",1]]')
    assert "no coordinate reference system" in result_of(tmp_path, make.yards(), local)["error"]["message"]


def swapped(frame):
    out = frame.to_crs(4326)
    out.geometry = shapely.transform(out.geometry.to_numpy(), lambda c: c[:, ::-1])
    return out


def test_swapped_yards_are_found_with_and_without_other_layers(tmp_path):
    message = result_of(tmp_path, swapped(make.yards()))["error"]["message"]
    assert "swapped" in message
    (tmp_path / "p.csv").write_text(make.plants_text(), encoding="utf-8")
    layers = {"yards": saved(tmp_path, swapped(make.yards())), "plants": "p.csv"}
    message = check_study(make.study(tmp_path, layers))["error"]["message"]
    assert "swapped" in message


def test_two_layers_that_agree_put_the_blame_on_the_yards(tmp_path):
    """Near 36 N, 40 E both orders are legal degrees: only the company tells."""

    def move(frame):
        return frame.set_geometry(frame.geometry.translate(0, 0).to_crs(4326).translate(122.9, -4.0))

    trees = gpd.GeoDataFrame({"height_m": [3.0]}, geometry=[make.box(2, 2, 3, 3).centroid], crs=make.CRS)
    saved(tmp_path, move(trees), name="t.parquet")
    saved(tmp_path, move(make.yards()), name="b.parquet")
    frame = move(make.yards())
    frame.geometry = shapely.transform(frame.geometry.to_numpy(), lambda c: c[:, ::-1])
    layers = {"yards": saved(tmp_path, frame), "trees": "t.parquet", "paving": "b.parquet"}
    assert (
        "swapped (in the wrong order) in yards"
        in check_study(make.study(tmp_path, layers))["error"]["message"]
    )


def test_longitudes_beyond_180_and_across_the_date_line(tmp_path):
    frame = make.yards().to_crs(4326)
    frame.geometry = frame.geometry.translate(360, 0)
    result = result_of(tmp_path, frame)
    assert make.areas(result) == pytest.approx(make.EXPECTED, rel=1e-3)
    assert "0 to 360" in make.notes(result)
    ring = [(179.9999, -17), (-179.9999, -17), (-179.9999, -16.9998), (179.9999, -16.9998)]
    line = gpd.GeoDataFrame({"yard_id": ["A"]}, geometry=[shapely.Polygon(ring)], crs=4326)
    side = 2e-4 * np.pi / 180 * 6378137  # about, at 17 S the meridian is 0.6 % shorter
    area = make.areas(result_of(tmp_path, line))["A"]
    assert area == pytest.approx(side**2 * np.cos(np.radians(17)), rel=0.01)


def test_yards_on_both_sides_of_the_date_line_are_neighbours(tmp_path):
    """One yard lies across it, drawn from 179.9998 to -179.9998; its neighbours lie east and west of it."""
    corners = {"west": (179.9995, 179.9998), "over": (179.9998, -179.9998), "east": (-179.9998, -179.9995)}
    shapes = [
        shapely.Polygon([(a, -17), (b, -17), (b, -16.9998), (a, -16.9998)]) for a, b in corners.values()
    ]
    result = result_of(tmp_path, gpd.GeoDataFrame({"yard_id": list(corners)}, geometry=shapes, crs=4326))
    assert result["error"] is None
    metre = np.pi / 180 * 6378137 * np.cos(np.radians(17))  # of a degree of longitude; about, 0.3 %
    sizes = {name: abs((b - a) % 360) * metre * 2e-4 * 110_660 for name, (a, b) in corners.items()}
    assert make.areas(result) == pytest.approx(sizes, rel=0.01)
    assert result["exit"] == 0


def test_one_other_layer_alone_does_not_tell_which_is_swapped(tmp_path):
    """Near 49.65 N, 9 E both orders are legal degrees; a layer in metres was checked, and is believed."""
    box = shapely.box(5e5, 55e5, 5e5 + 30, 55e5 + 40)
    frame = gpd.GeoDataFrame({"yard_id": ["a"]}, geometry=[box], crs=25832)
    bad = saved(tmp_path, swapped(frame))
    place = frame.geometry.centroid.to_crs(4326).iloc[0]
    (tmp_path / "p.csv").write_text(f"plant,lat,lon\nAster,{place.y},{place.x}\n", encoding="utf-8")
    said = check_study(make.study(tmp_path, {"yards": bad, "plants": "p.csv"}))["error"]["message"]
    assert "swapped (in the wrong order) in plants or in yards" in said
    said = check_study(make.study(tmp_path, {"yards": bad}, head='crs = "EPSG:25832"'))["error"]["message"]
    assert "they would lie in it if latitude and longitude are swapped" in said
    paving = saved(tmp_path, frame, name="b.parquet")
    said = check_study(make.study(tmp_path, {"yards": bad, "paving": paving}))["error"]["message"]
    assert "swapped (in the wrong order) in yards" in said


def test_northing_before_easting_is_told(tmp_path):
    (tmp_path / "p.csv").write_text("plant,x,y\nAster,4418208,337505\n", encoding="utf-8")
    layers = {"yards": saved(tmp_path, make.yards()), "plants": {"path": "p.csv", "crs": "EPSG:32617"}}
    said = check_study(make.study(tmp_path, layers))["error"]["message"]
    assert "easting and northing may be swapped" in said


@pytest.mark.parametrize(
    ("text", "code"),
    [("WGS 84", 4326), ("wgs84", 4326), ("UTM zone 17N", None), ("lat/lon", None), ("NAD83", 4269),
     ("WGS 84 / UTM zone 17N", 32617), ("32617", 32617), ("epsg:32617", 32617)],
)  # fmt: skip
def test_a_crs_is_known_by_code_or_by_its_own_name_only(text, code):
    """PROJ's search takes 'lat/lon' for the nearest name in its list, quite another one."""
    if code is None:
        with pytest.raises(CrsError, match="PROJ does not know"):
            parse_crs(text, "crs")
    else:
        assert parse_crs(text, "crs").to_epsg() == code


def test_stated_metric_crs_must_suit_the_place(tmp_path):
    result = result_of(tmp_path, make.yards(), head='crs = "EPSG:32615"')
    assert result["crs"] == "EPSG:32615"
    assert "stretches lengths by 0." in result["notes"][0]["what"]
    result = result_of(tmp_path, make.yards(), head='crs = "EPSG:32633"')
    assert "EPSG:32617" in result["error"]["message"]


def test_the_metric_crs_is_the_yards_own_or_their_zone_and_is_named(tmp_path):
    assert (
        read_layers(
            read_study(make.study(tmp_path, {"yards": saved(tmp_path, make.yards().to_crs(26917))}))
        ).crs.to_epsg()
        == 26917
    )
    for foreign in (4326, 3857, 3735):
        layers = read_layers(
            read_study(make.study(tmp_path, {"yards": saved(tmp_path, make.yards().to_crs(foreign))}))
        )
        assert layers.crs.to_epsg() == 32617
        assert "EPSG:32617" in layers.notes[0].what
    assert choose_metric_crs(np.array([5.0]), np.array([60.0])).to_epsg() == 32631


def test_length_error_is_the_scale_factor_of_the_projection():
    """EPSG Guidance Note 7-2: the scale factor on a UTM zone's central meridian is 0.9996."""
    assert length_error(pyproj.CRS.from_epsg(32617), -81.0, 0.01) == pytest.approx(0.0004, abs=1e-5)
    assert length_error(pyproj.CRS.from_epsg(3857), -82.9, 60.0) == pytest.approx(1.0, abs=0.01)


def test_codes_that_proj_does_not_know_are_refused():
    assert parse_crs("32617", "k").to_epsg() == 32617
    with pytest.raises(CrsError, match="which PROJ does not know"):
        parse_crs("EPSG:999999", "layers.yards.crs")


def test_no_datum_grid_is_ever_fetched():
    assert not pyproj.network.is_network_enabled()


@pytest.mark.parametrize(
    ("member", "exit_code"),
    [
        ({"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::99999"}}, 2),
        ({"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}, 0),
        ({"type": "EPSG", "properties": {"code": 4326}}, 0),
    ],
)
def test_a_crs_member_that_nobody_knows_is_not_taken_for_degrees(tmp_path, member, exit_code):
    collection = json.loads(make.yards().to_crs(4326).to_json()) | {"crs": member}
    (tmp_path / "y.geojson").write_text(json.dumps(collection), encoding="utf-8")
    assert check_study(make.study(tmp_path, {"yards": "y.geojson"}))["exit"] == exit_code
