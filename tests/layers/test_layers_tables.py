"""Tables as people write them: separators, encodings, notations of places, headers, numbers, dates, ids."""

import datetime as dt
import math

import numpy as np
import pandas as pd
import pytest

from habitat.commands.check.account import check_study
from habitat.errors import LayerError
from habitat.layers.cells import values
from habitat.layers.cells.places import parse_angle
from habitat.layers.formats import csv_table, text
from habitat.layers.formats.shapefile import choose, decode_cell
from tests.layers import builders as make

PLACES = {name: make.degrees(x, y) for name, _, x, y, _ in make.PLANTS}


@pytest.fixture
def with_plants(tmp_path):
    make.yards().to_file(tmp_path / "yards.fgb")

    def check(data, name="plants.csv", **keys):
        (tmp_path / name).write_bytes(data if isinstance(data, bytes) else data.encode("utf-8"))
        return check_study(make.study(tmp_path, {"yards": "yards.fgb", "plants": {"path": name, **keys}}))

    return check


def holds_the_four_plants(result):
    assert result["error"] is None, result["error"]
    rows = {r["attributes"]["plant_id"]: r for r in result["layers"]["plants"]["rows"]}
    for name, (lon, lat) in PLACES.items():
        assert rows[name]["lon"] == pytest.approx(lon, abs=1e-5)
        assert rows[name]["lat"] == pytest.approx(lat, abs=1e-5)
    assert sum(p["count"] for p in result["plants"]) == 14
    assert [p["yard_id"] for p in result["plants"]] == ["TB-01", "TB-01", "TB-02", "TB-03"]


def comma(value):
    return f"{value:.7f}".replace(".", ",")


def dms(value):
    value = abs(value)
    minutes = (value % 1) * 60
    return f"{int(value)}°{int(minutes)}′{(minutes % 1) * 60:.3f}″"


@pytest.mark.parametrize(
    "data",
    [
        make.plants_text(";"),
        make.plants_text("\t"),
        make.plants_text("|"),
        "sep=;\n" + make.plants_text(";"),
        make.plants_text(";", comma, comma),
        make.plants_text(",", lambda v: f'"{comma(v)}"', lambda v: f'"{comma(v)}"'),
        make.plants_text(";", lambda v: dms(v) + "W", lambda v: dms(v) + "N"),
        make.plants_text(",", lambda v: f"W {-v:.7f}", lambda v: f"{v:.7f} N"),
        make.plants_text(",", lambda v: f"−{-v:.7f}°"),
        make.plants_text(",", lambda v: f"–{-v:.7f}"),
        "\n\n" + make.plants_text().replace("\n", "\r\n") + ",,,,\n\n",
        "Plants of Tallow Bend\nseen in May, 2024\n\n" + make.plants_text(),
        "# a note\n# another, longer\n" + make.plants_text(),
        make.plants_text(header=" Plant_ID , Species ,LATITUDE, Longitude ,Count"),
        make.plants_text().encode("utf-8-sig"),
        make.plants_text().encode("utf-16"),
        make.plants_text().encode("utf-16-le"),
        make.plants_text().replace("Zizia", "Zizia “é”").encode("cp1252"),
    ],
)
def test_the_same_plants_come_out_of_every_way_to_write_them(with_plants, data):
    result = with_plants(data)
    if "Plant_ID" in str(data):
        result["layers"]["plants"]["rows"] = [
            {**r, "attributes": {**r["attributes"], "plant_id": r["attributes"].get("Plant_ID")}}
            for r in result["layers"]["plants"]["rows"]
        ]
    holds_the_four_plants(result)


def test_one_column_of_pairs_and_projected_columns(with_plants):
    lines = ["plant_id,species,coordinates,count"]
    lines += [f'{n},{s},"{PLACES[n][1]:.7f}, {PLACES[n][0]:.7f}",{c}' for n, s, _, _, c in make.PLANTS]
    holds_the_four_plants(with_plants("\n".join(lines)))
    lines = ["plant_id,species,easting,northing,count"]
    lines += [f'{n},{s},"{make.WEST + x:,.1f}","{make.SOUTH + y:,.1f}",{c}' for n, s, x, y, c in make.PLANTS]
    holds_the_four_plants(with_plants("\n".join(lines), crs="EPSG:32617"))
    result = with_plants("\n".join(lines))
    assert "no coordinate reference system" in result["error"]["message"]


@pytest.mark.parametrize(
    ("heading", "cell"),
    [
        ("lon_lat", lambda lon, lat: f"{lon:.7f}, {lat:.7f}"),
        ("LatLong", lambda lon, lat: f"({lat:.7f} {lon:.7f})"),
        ("location", lambda lon, lat: f"{dms(lat)}N {dms(lon)}W"),
        ("location", lambda lon, lat: f"{dms(lon)}W, {dms(lat)}N"),
    ],
)
def test_a_column_of_pairs_says_its_order_by_name_or_letters(with_plants, heading, cell):
    lines = [f"plant_id;species;{heading}"]
    places = {name: make.degrees(x, y) for name, _, x, y, _ in make.PLANTS}
    lines += [f"{name};Aster;{cell(*place)}" for name, place in places.items()]
    result = with_plants("\n".join(lines))
    found = {r["attributes"]["plant_id"]: (r["lon"], r["lat"]) for r in result["layers"]["plants"]["rows"]}
    assert found == {name: pytest.approx(place, abs=2e-6) for name, place in places.items()}


def test_places_in_words_are_no_coordinates_and_the_columns_are_named(with_plants):
    result = with_plants("species,location,laenge\nAster,by the gate,-82.9\nAster,under the oak,-82.9\n")
    assert "does not say where its rows belong" in result["error"]["message"]
    assert "laenge" in result["error"]["message"]


def test_columns_may_be_named_by_the_study(with_plants):
    data = make.plants_text(header="plant_id,what,b,a,how many").replace("how many", "num ber")
    result = with_plants(data, x="a", y="b", crs="EPSG:4326", columns={"plant": "what", "count": "num ber"})
    holds_the_four_plants(result)
    result = with_plants(data, x="a", y="b", crs="EPSG:4326", columns={"plant": "wat"})
    assert "did you mean 'what'?" in result["error"]["message"].lower()
    assert "states only one of x and y" in with_plants(data, x="a")["error"]["message"]
    assert "no column plant" in with_plants(data, x="a", y="b", crs="EPSG:4326")["error"]["message"]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (make.plants_text(",", comma, comma), "separator"),
        (make.plants_text().split("\n", 1)[1], "does not name the columns"),
        (make.plants_text(",", lambda v: f"{-v:.7f}"), "minus sign"),
        (make.plants_text(header="plant_id,species,lon,lat,count"), "swapped"),
        (
            make.plants_text(",", lambda v: f"{-v} W", lambda v: f"{v} N", "plant_id,species,lon,lat,count"),
            "swapped",
        ),
        (make.plants_text().replace("P2,", '"P2,'), "quote"),
        ("plant,count\nAster,2\nRudbeckia,1\n", "does not say where its rows belong"),
    ],
)
def test_tables_that_would_be_read_wrong_are_refused(with_plants, data, words):
    result = with_plants(data)
    assert result["exit"] == 2
    assert words in result["error"]["message"]


def test_bad_rows_are_set_aside_with_their_reason_and_the_rest_is_used(with_plants):
    data = make.plants_text() + (
        "P5,Aster,0,0,1\nP6,Aster,,,1\nP7,Aster,north,-82.9,1\nP8,Aster,398.98,-82.9,1\nP9,Aster,-82.9,39.9,1\nP10,A,b,39.898,-82.9,1\n"
    )
    result = with_plants(data)
    assert result["exit"] == 1
    assert len(result["plants"]) == 4
    why = {r["row"]: r["reason"] for r in result["layers"]["plants"]["set_aside_rows"]}
    for row, word in (
        (4, "0, 0"),
        (5, "blank"),
        (6, "north"),
        (7, "out of range"),
        (8, "order"),
        (9, "6 cells"),
    ):
        assert word in why[row]
    assert "P9: set aside" in make.notes(result)


def test_odd_numbers_are_read_or_told(with_plants):
    rows = ['1,"1,200","5\'6"""', "2,a few,80 cm", "3,-3,2 ft", "4,,tall"]
    lines = ["species,lat,lon,plant_id,count,height_m"]
    lines += [
        f"Aster,{PLACES[n][1]:.7f},{PLACES[n][0]:.7f},{row}" for n, row in zip(PLACES, rows, strict=True)
    ]
    result = with_plants("\n".join(lines))
    assert [p["count"] for p in result["plants"]] == [1200, 1, 1, 1]
    heights = [r["attributes"]["height_m"] for r in result["layers"]["plants"]["rows"]]
    assert heights[:3] == pytest.approx([1.6764, 0.8, 0.6096])
    assert heights[3] is None
    for words in ("'a few' is no number", "'-3' is outside", "'tall' is no number", "no count"):
        assert words in make.notes(result)


def test_spreadsheet_dates_and_padded_ids(tmp_path):
    ids = ("00417", "00418", "01002")
    make.yards(dict(zip(ids, make.yards().geometry, strict=True))).to_file(tmp_path / "y.fgb")
    make.workbook(
        tmp_path, [("yard_id", "ph"), (417, 6.4), (418, 7.1), (1002, 5.9)], "soil.xlsx", {1: "00000"}
    )
    rows = [("plant", "lat", "lon", "planted")]
    days = (dt.date(2024, 5, 12), dt.datetime(2023, 11, 3), 45_000, None)
    rows += [(s, PLACES[n][1], PLACES[n][0], day) for (n, s, *_), day in zip(make.PLANTS, days, strict=True)]
    make.workbook(tmp_path, rows, "plants.xlsx")
    layers = {"yards": "y.fgb", "soil_tests": "soil.xlsx", "plants": "plants.xlsx"}
    result = check_study(make.study(tmp_path, layers))
    assert {r["yard_id"]: r["attributes"]["ph"] for r in result["layers"]["soil_tests"]["rows"]} == dict(
        zip(ids, (6.4, 7.1, 5.9), strict=True)
    )
    planted = [r["attributes"]["planted"] for r in result["layers"]["plants"]["rows"]]
    assert planted == ["2024-05-12", "2023-11-03", "2023-03-15", None]  # day 45,000 counted from 1899-12-30


def test_where_keeps_rows_of_any_format_and_can_do_nothing_else(tmp_path):
    make.yards(acres=[0.3, 0.2, 0.1], zone=["01", "1", "01"]).to_file(tmp_path / "y.fgb")

    def keep(where):
        return check_study(make.study(tmp_path, {"yards": {"path": "y.fgb", "where": where}}))

    result = keep("acres >= 0.2 AND yard_id <> 'TB-02'")
    assert list(make.areas(result)) == ["TB-01"]
    assert result["layers"]["yards"]["rows_in"] == 1
    assert len(keep("zone = '01'")["yards"]) == 2
    for bad in (
        "1); ATTACH 'x.db' AS y; --",
        "load_extension('x')",
        "yard_id = (SELECT 1 FROM sqlite_master",
        "ACRE > 1",
    ):
        assert "which does not work" in keep(bad)["error"]["message"]
    assert "keeps none" in keep("acres > 9")["error"]["message"]


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("39.5", 39.5),
        ("39 30", 39.5),
        ("39 30 0", 39.5),
        ("39°30'N", 39.5),
        ("S 39:30:00", -39.5),
        ("39d30m", 39.5),
        ("-39° 30'", -39.5),
        ("39,5 S", -39.5),
        ("39d30m36s", 39.51),
        ("39d30m36sS", -39.51),
        ("82D30M36S W", -82.51),
        ("39°30´36´´N", 39.51),
        ("39°30`36``", 39.51),
        ("W 82º 30’ 36”", -82.51),
        ("–82.5", -82.5),
        ("82.5-", math.nan),
        ("39.5 degrees north", 39.5),
        ("39 75", math.nan),
        ("north", math.nan),
        ("39.5.1", math.nan),
        ("1 2 3 4", math.nan),
    ],
)
def test_angles(written, value):
    assert parse_angle(written)[0] == pytest.approx(value, nan_ok=True)


@pytest.mark.parametrize(
    ("column", "expected", "kept"),
    [
        (["13/02/2024", "01/03/2024"], ["2024-02-13", "2024-03-01"], 0),
        (["02/13/2024", "03/01/2024"], ["2024-02-13", "2024-03-01"], 0),
        (["01/03/2024", "02/03/2024"], ["01/03/2024", "02/03/2024"], 2),
        (
            ["3.11.2023", "2024-5-2", "20240512", "12 May 2024"],
            ["2023-11-03", "2024-05-02", "2024-05-12", "2024-05-12"],
            0,
        ),
        (["00000000", "  ", "0000-00-00", None], [None] * 4, 0),
        (["2015", "2015-06", "spring", "31/02/2024"], ["2015", "2015-06", "spring", "31/02/2024"], 2),
    ],
)
def test_dates(column, expected, kept):
    out, odd, _ = values.dates(pd.Series(column, dtype=object))
    assert out == expected
    assert len(odd) == kept


def test_ids_keep_every_digit_and_say_when_they_cannot(tmp_path):
    ids = [12345678901234561, None, 12345678901234563]
    frame = make.yards()
    frame["yard_id"] = pd.array(ids, dtype="Int64")
    frame.to_file(tmp_path / "y.gpkg")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg"}))
    assert list(make.areas(result)) == ["12345678901234561", "row 2", "12345678901234563"]
    frame["yard_id"] = ["1.23457E+16", "a", "b"]
    frame.to_file(tmp_path / "z.gpkg")
    assert "cannot hold their digits" in make.notes(check_study(make.study(tmp_path, {"yards": "z.gpkg"})))


@pytest.mark.parametrize("codec", ["utf-8", "cp1252", "cp850", "mac_roman"])
def test_the_encoding_of_bytes_is_found(codec):
    samples = [t.encode(codec) for t in ("Café Été", "Jardín Peñón", "Grünes Eck")]
    found, told = choose(samples, None, (None, ""), "x.dbf")
    assert found == codec
    assert bool(told) == (codec != "utf-8")
    assert [decode_cell(s, found) for s in samples] == ["Café Été", "Jardín Peñón", "Grünes Eck"]


def test_stated_encodings_must_fit_and_be_known():
    assert choose(["Été".encode("cp1250")], "windows-1250", (None, ""), "x")[0] == "cp1250"
    with pytest.raises(LayerError, match="does not decode as UTF-8"):
        choose(["Été".encode("cp1252")], "utf-8", (None, ""), "x")
    for bad in ("utf-9", "rot13", "a\0b"):
        with pytest.raises(LayerError, match="is not known"):
            text.codec_of(bad, "x")
    with pytest.raises(LayerError, match="first in line 2"):
        text.decode_bytes("a\né".encode("cp1252"), "utf-8", "x")


def test_garbled_and_lost_letters_are_told(tmp_path, with_plants):
    make.yards(label=["CafÃ© Ã‰tÃ©", "b", "c"]).to_file(tmp_path / "y.gpkg")
    assert "looks garbled" in make.notes(check_study(make.study(tmp_path, {"yards": "y.gpkg"})))
    assert "letters were lost" in make.notes(with_plants(make.plants_text().replace("Zizia", "Z�zia")))


def test_mixed_text_is_decoded_cell_by_cell():
    cells = ["Été".encode(), "Grün".encode("cp1252")]
    codec, _ = choose(cells, None, (None, ""), "x")
    assert [decode_cell(c, codec, mixed=True) for c in cells] == ["Été", "Grün"]


def test_header_names_are_made_unique_and_short_rows_filled():
    grid = csv_table.parse_text("a,a,,b\n1,2,3\n4,5,6,7\n", "x.csv")
    assert grid.header == ["a", "a (2)", "column 3", "b"]
    assert grid.rows == [["1", "2", "3", None], ["4", "5", "6", "7"]]
    assert "end before the last column" in " ".join(grid.told)


def test_plain_numbers_stay_fast_arrays():
    out, faults = values.numbers(pd.Series([1.0, np.nan, np.inf]))
    assert np.isnan(out[1:]).all()
    assert out[0] == 1.0
    assert faults == {}


def test_tables_with_a_header_only_are_empty_layers(tmp_path):
    make.yards().to_file(tmp_path / "y.fgb")
    headers = {
        "participants": "yard_id,address,role,publish,budget\n",
        "plants": "plant,count,lon,lat,planted\n",
        "soil_tests": "yard_id,ph,texture,drainage,depth_cm,sun_h\n",
        "growers": "plant,form,price,quantity,months\n",
        "sightings": "date,place,x,y,butterfly,stage,count,minutes\n",
    }
    for name, header in headers.items():
        (tmp_path / f"{name}.csv").write_text(header, encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.fgb", **{n: f"{n}.csv" for n in headers}}))
    assert result["exit"] == 0, result["error"]
    assert all(result["layers"][n]["rows_in"] == 0 for n in headers)
    assert make.notes(result).count("no rows") == len(headers)
    harm = {
        n: next(t["harm"] for t in result["layers"][n]["notes"] if "no rows" in t["what"]) for n in headers
    }
    assert {n for n, h in harm.items() if h == 2} == {"participants"}  # without it nobody takes part


@pytest.mark.parametrize(
    ("written", "count", "name", "used"),
    [
        ("Monarda didyma x3", "", "Monarda didyma", 3),
        ("3 × Monarda didyma", "", "Monarda didyma", 3),
        ("Monarda didyma (12)", "", "Monarda didyma", 12),
        ("Monarda didyma x3", "5", "Monarda didyma", 5),
        ("Aesculus x carnea", "2", "Aesculus x carnea", 2),
        ("Phlox 'David' X 4", "", "Phlox 'David'", 4),
    ],
)
def test_counts_written_into_a_plant_s_name_are_read(tmp_path, written, count, name, used):
    make.yards().to_file(tmp_path / "y.fgb")
    east, north = make.degrees(5, 8)
    text = f"plant,count,lon,lat\n{written},{count},{east},{north}\nZizia aurea,1,{east},{north}\n"
    (tmp_path / "p.csv").write_text(text, encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.fgb", "plants": "p.csv"}))
    assert [(p["plant"], p["count"]) for p in result["plants"]] == [(name, used), ("Zizia aurea", 1)]
    told = [n["what"] for n in result["layers"]["plants"]["notes"] if f"{name!r}" in n["what"]]
    assert bool(told) == (name != written)


def test_filtered_tables_keep_their_account(with_plants):
    result = with_plants(make.plants_text() + "P9,Aster,far,too,many,cells\n", where="count > 2")
    layer = result["layers"]["plants"]
    assert (layer["rows_in"], layer["used"], layer["set_aside"]) == (4, 3, 1)


@pytest.mark.parametrize("written", ["12-Mar", "Mar-12", "2026-03-12"])
def test_ids_that_a_spreadsheet_made_dates_of_are_told_not_guessed(tmp_path, written):
    shapes = {name: make.box(40 * i, 0, 40 * i + 30, 40) for i, name in enumerate(("3-12", "4-7"))}
    make.yards(shapes).to_file(tmp_path / "y.gpkg")
    (tmp_path / "s.csv").write_text(f"yard_id,ph\n{written},6\n4-7,7\n", encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "soil_tests": "s.csv"}))
    assert result["tables"]["soil_tests"] | {"unmatched_rows": 0} == {
        "matched": 1,
        "unmatched": 1,
        "unmatched_rows": 0,
    }
    assert "looks like a date that a spreadsheet made of an id; nearest: 3-12" in make.notes(result)


def test_formulas_without_a_result_are_told(tmp_path):
    make.yards().to_file(tmp_path / "y.gpkg")
    make.workbook(tmp_path, [("yard_id", "ph"), ("TB-01", "=6+0.5"), ("TB-02", 6.2)], "s.xlsx")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "soil_tests": "s.xlsx"}))
    assert "1 formula(s) hold no result" in make.notes(result, "soil_tests")
    assert [r["attributes"]["ph"] for r in result["layers"]["soil_tests"]["rows"]] == [None, 6.2]
