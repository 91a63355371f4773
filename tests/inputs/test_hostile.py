"""Files made to do harm end in one sentence, in this very process: nothing hangs, nothing is looked up."""

import socket

import pytest

from habitat.commands.check.account import check_study
from habitat.layers.formats import ogr, spreadsheet
from habitat.layers.rasters import file as raster_file
from tests.layers import builders as make
from tests.support.hard_files import HOSTILE, SOURCE, VRT, web_sidecar


def said(folder, name, size):
    result = check_study(HOSTILE[name][0](folder, size))
    assert result["exit"] == 2, name
    return result["error"]["message"]


@pytest.mark.parametrize(
    ("name", "size", "words"),
    [
        ("nested_wkt", 5_000, "too deep inside each other"),
        ("nested_hex_wkb", 5_000, "too deep inside each other"),
        ("nested_parquet", 5_000, "its shape holds more than 64 collections inside each other"),
        ("nested_geopackage", 5_000, "its shape holds more than 64 collections inside each other"),
        ("nested_geojson_shapes", 5_000, "its lists stand more than 200 deep"),
        ("nested_geojson_lists", 5_000, "its lists stand more than 200 deep"),
        ("geojson_of_many_digits", 20_000, "it cannot be read"),
        ("nested_geojson_in_cell", 5_000, "too deep inside each other"),
        ("kml_of_links", 5_000, "its elements stand more than 100 deep"),
        ("deep_kml", 5_000, "its elements stand more than 100 deep"),
        ("kml_with_entities", 30, "document type or entities"),
        ("xlsx_deep", 5_000, "its elements stand more than 100 deep"),
        ("xlsx_entities", 30, "it declares entities"),
        ("xlsx_long_text", 40_000, "a cell holds a text of 40,000 letters"),
        ("vrt_deep", 5_000, "its elements stand more than 100 deep"),
        ("vrt_entities_utf16", 30, "declares entities"),
    ],
)
def test_what_nests_or_grows_without_end_is_refused(tmp_path, name, size, words):
    assert words in said(tmp_path, name, size)


def test_a_length_of_very_many_digits_is_no_length(tmp_path):
    result = check_study(HOSTILE["lengths_of_many_digits"][0](tmp_path, 20_000))
    said = [note["what"] for note in result["layers"]["trees"]["notes"]]
    assert any("height_m" in what and what.endswith(" letters more)") for what in said)
    assert max(map(len, said)) < 2_100


@pytest.mark.parametrize("name", [n for n in HOSTILE if n.startswith("parquet_geo_")])
def test_metadata_of_a_wrong_type_is_told_or_passed_over(tmp_path, name):
    result = check_study(HOSTILE[name][0](tmp_path, 1))
    assert result["exit"] in (0, 2)
    if result["exit"] == 2:
        assert "yards.parquet" in result["error"]["message"] or "no shapes" in result["error"]["message"]


def test_a_projection_that_nobody_knows_is_told(tmp_path):
    assert "CRS" in said(tmp_path, "unknown_projection", 1) or "coordinate" in said(
        tmp_path, "unknown_projection", 1
    )


def test_rows_that_take_no_room_on_disk_are_counted_first(tmp_path, monkeypatch):
    monkeypatch.setattr(ogr, "MOST_CELLS", 100_000)
    assert "it holds 60,000 rows of 2 columns" in said(tmp_path, "parquet_of_equal_rows", 60_000)
    monkeypatch.setattr(ogr, "MOST_BYTES", 50_000)
    assert "MB unpacked" in said(tmp_path, "parquet_of_big_cell", 400_000)
    monkeypatch.setattr(ogr, "MOST_ROW_BYTES", 300_000)
    assert "its rows hold 0 MB each" in said(tmp_path, "parquet_of_big_cell", 400_000)


def test_elements_without_an_end_are_looked_for_once(tmp_path):
    from habitat.layers.formats.vector import _without

    text = "<kml><Style id='a'><b/></Style><Style/><x:Style >c</x:Style ><StyleMap/><Style>" + "<Style>" * 9
    kept, count = _without(text, "Style")
    assert (kept, count) == ("<kml><StyleMap/><Style>" + "<Style>" * 9, 3)


def test_formulas_are_found_without_going_back(tmp_path):
    assert (
        len(spreadsheet.FORMULA.findall(b"<c><f a='1'>A1</f><v/></c><c><f>B</f></c><c><f>C</f><v>1</v></c>"))
        == 2
    )
    assert spreadsheet.FORMULA.findall(b"<f " * 50_000) == []


def test_each_source_of_a_virtual_raster_is_opened_once(tmp_path, monkeypatch):
    opened = []
    whole = raster_file.check_sidecars
    monkeypatch.setattr(raster_file, "check_sidecars", lambda p: opened.append(p.name) or whole(p))
    assert check_study(HOSTILE["vrt_fan_out"][0](tmp_path, 6))["exit"] in (0, 2)
    assert opened.count("leaf.tif") == 1


def test_a_virtual_raster_of_too_many_sources_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(raster_file, "MAX_NAMED", 50)
    assert "it names more than 50 sources" in said(tmp_path, "vrt_of_many_sources", 60)
    monkeypatch.setattr(raster_file, "MAX_SOURCES", 3)
    for k in range(6):
        make.raster(tmp_path, make.slope(), f"t{k}.tif")
    many = "".join(SOURCE.format(f"t{k}.tif") for k in range(6))
    (tmp_path / "v.vrt").write_text(VRT.format(many), encoding="utf-8")
    assert "more than 3 files" in check_study(tmp_path / "study.toml")["error"]["message"]


@pytest.fixture
def listener():
    with socket.socket() as server:
        server.bind(("127.0.0.1", 0))
        server.listen()
        server.settimeout(0.2)
        yield server


@pytest.mark.parametrize("raster", ["ph.tif", "ph.asc"])
@pytest.mark.parametrize("suffix", [".msk", ".ovr"])
def test_a_sidecar_that_is_a_web_map_is_refused_and_asks_nobody(tmp_path, listener, raster, suffix):
    path = web_sidecar(tmp_path, suffix, raster, listener.getsockname()[1])
    assert f"{raster}{suffix}" in check_study(path)["error"]["message"]
    with pytest.raises(TimeoutError):
        listener.accept()


def test_the_libraries_ask_nobody_even_where_a_web_map_gets_through(tmp_path, listener, monkeypatch):
    """The second lock: a proxy that is not there."""
    monkeypatch.setattr(raster_file, "check_sidecars", lambda _path: None)
    path = web_sidecar(tmp_path, ".msk", "ph.tif", listener.getsockname()[1])
    check_study(path)
    with pytest.raises(TimeoutError):
        listener.accept()
