"""Places as people write them: notations, pairs, columns."""

import math

import pytest

from habitat.layers.cells.places import parse_angle
from tests.layers import builders as make
from tests.layers.table_cases import PLACES, comma, holds_the_four_plants


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
