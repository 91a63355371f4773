"""Parcels joined and split by a small table; areas by plain arithmetic of the rectangles drawn."""

import time

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import CRS

from habitat.layers.formats.raw import Draft
from habitat.layers.join.parcel_changes import change_parcels
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.layers import builders as make
from tests.layers.join.test_more_yards import LOT, at, sketch

SHAPES = {"00417": (0, 0, 20, 30), "00418": (20, 0, 40, 30), "00421": (60, 0, 90, 30)}


def read(folder, changes, signed="yard_id,address,role\n00418,,yes\n", **extra):
    frame = make.yards({n: make.box(*c) for n, c in SHAPES.items()}, address=make.ADDRESSES)
    frame.to_file(folder / "yards.gpkg")
    (folder / "changes.csv").write_text(changes, encoding="utf-8")
    (folder / "people.csv").write_text(signed, encoding="utf-8")
    files = {"yards": "yards.gpkg", "parcel_changes": "changes.csv", "participants": "people.csv", **extra}
    return read_layers(read_study(make.study(folder, files)))


def areas(layers):
    return dict(zip(layers.yards["yard_id"], layers.yards["area_m2"].round(0), strict=True))


def line(*ends):
    return ",".join(f"{v:.8f}" for x, y in ends for v in make.degrees(x, y))


def test_parcels_become_one_yard_and_the_sheet_finds_it_by_any_of_them(tmp_path):
    signed = "yard_id,address,role\n00418,,yes\n,7 N Kiln St,yes\n"
    layers = read(tmp_path, "change,yard_ids\njoin,00417; 00418\n", signed)
    assert areas(layers) == {"00417": 1200, "00421": 900}
    assert layers.yards["role"].tolist() == ["member", "other"]
    assert len(layers.vectors["participants"].set_aside) == 0
    yards = layers.vectors["yards"]
    assert yards.rows_in == yards.used + yards.repaired + len(yards.set_aside) == 3


def test_a_sliver_between_two_parcels_is_closed(tmp_path):
    SHAPES["00418"] = (20.4, 0, 40, 30)
    try:
        layers = read(tmp_path, "change,yard_ids,new_ids\njoin,00417; 00418,home\n")
    finally:
        SHAPES["00418"] = (20, 0, 40, 30)
    assert layers.yards.geometry.iloc[0].geom_type == "Polygon"
    assert areas(layers)["home"] == pytest.approx(1200, abs=1)


def test_an_id_written_twice_is_one_yard(tmp_path):
    layers = read(tmp_path, "change,yard_ids\njoin,00417; 00417; 00418\n")
    assert areas(layers) == {"00417": 1200, "00421": 900}


@pytest.mark.parametrize(
    ("changes", "signed_for", "finds"),
    [
        ("join,00417; 00418,a,\njoin,a; 00421,b,\n", "00418", "b"),
        ("join,00417; 00418,a,\njoin,a; 00421,b,\n", "00417", "b"),
        ("join,00417; 00418,a,\njoin,a; 00421,00417,\n", "00418", "00417"),
        ("split,00421,e;f,{line}\njoin,e;f,g,\n", "00421", "g"),
        ("split,00421,e;f,{line}\n", "00421", None),
        ("join,00418; 00421,a,\nsplit,a,c;d,{line}\n", "00421", None),
    ],
)
def test_an_id_of_long_ago_finds_what_it_is_in_now(tmp_path, monkeypatch, changes, signed_for, finds):
    """Parcels side by side, changed more than once; where an id is in several yards nobody can tell."""
    monkeypatch.setitem(SHAPES, "00421", (40, 0, 70, 30))
    text = changes.format(line=line((60, 1), (60, 29))).replace(",\n", ",,,,\n")
    head = "change,yard_ids,new_ids,lon_1,lat_1,lon_2,lat_2\n"
    layers = read(tmp_path, head + text, f"yard_id,address,role\n{signed_for},,yes\n")
    yards = layers.yards
    assert yards.loc[yards["role"] == "member", "yard_id"].tolist() == ([finds] if finds else [])
    people = layers.vectors["participants"]
    assert len(people.set_aside) == (finds is None)
    if finds is None:
        assert "fits several yards" in people.set_aside["reason"].iloc[0]
    assert yards["area_m2"].sum() == pytest.approx(2100, abs=1)


def test_five_hundred_changes_among_forty_thousand_parcels(tmp_path):
    """A change costs what its own yards do: looking through all parcels each time took 14 s."""
    names = [f"{k:05d}" for k in range(40_000)]
    west, south = 20.0 * (np.arange(40_000) % 200), 30.0 * (np.arange(40_000) // 200)
    table = pd.DataFrame({"yard_id": names})
    yards = Draft("yards", "x", table, shapely.box(west, south, west + 20, south + 30), rows_in=40_000)
    pairs = [f"{a};{b}" for a, b in zip(names[:1000:2], names[1:1000:2], strict=True)]
    changes = Draft("parcel_changes", "x", pd.DataFrame({"change": "join", "yard_ids": pairs}), rows_in=500)
    began = time.process_time()
    change_parcels(yards, changes, CRS.from_epsg(32617), {})
    assert time.process_time() - began < 2.5
    assert len(yards.table) == len(yards.shapes) == 39_500
    assert {round(s.area) for s in yards.shapes[:500]} == {1200}


def test_a_line_splits_a_yard(tmp_path):
    text = f"change,yard_ids,lon_1,lat_1,lon_2,lat_2\nsplit,00421,{line((70, 1), (70, 29))}\n"
    layers = read(tmp_path, text)
    assert areas(layers) == {"00417": 600, "00418": 600, "00421": 600, "00421-b": 300}
    assert isinstance(layers.yards, gpd.GeoDataFrame)


def test_a_drawn_lot_splits_a_yard(tmp_path):
    sketch(tmp_path, "plot", ("yard", "garden", LOT), **at(70, 25))
    layers = read(
        tmp_path, "change,yard_ids,new_ids,by\nsplit,00421,00421;garden,garden\n", more_yards="more"
    )
    assert areas(layers)["garden"] == pytest.approx(160, abs=1)
    assert areas(layers)["00421"] == pytest.approx(740, abs=1)


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("join,00417,,,,,,", "two yard_ids or more"),
        ("split,00421,e;e,,,,,", "the new id 'e' is there twice"),
        ("join,00417; 00421,,,,,,", "do not touch"),
        ("join,00417; 00999,,,,,,", "no yard '00999'"),
        ("join,00417; 00418,00421,,,,,", "another yard's"),
        ("split,00421,,,,,,", "lon_1, lat_1"),
        ("split,00421,,,,,,shed", "no lot of more_yards"),
        ("split,00421,a;b;c,{cross},", "two new_ids"),
        ("split,00421,,{beside},", "does not cross"),
        ("swap,00421,,,,,,", "write join or split"),
    ],
)
def test_rows_that_cannot_be_followed_change_nothing_and_are_named(tmp_path, row, reason):
    ends = {"cross": line((70, 0), (70, 30)), "beside": line((100, 0), (100, 30))}
    head = "change,yard_ids,new_ids,lon_1,lat_1,lon_2,lat_2,by\n"
    layers = read(tmp_path, head + row.format(**ends) + "\n")
    assert areas(layers) == {"00417": 600, "00418": 600, "00421": 900}
    changes = layers.vectors["parcel_changes"]
    assert reason in changes.set_aside["reason"].iloc[0]
    assert changes.notes[0].what.startswith("row 1: set aside")
