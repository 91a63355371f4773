"""Parcels joined and split by a small table; areas by plain arithmetic of the rectangles drawn."""

import geopandas as gpd
import pytest

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
