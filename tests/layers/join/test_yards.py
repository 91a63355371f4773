"""Yards: parts, copies, doubles, overlaps and slivers have a rule, a note and a place."""

import warnings

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import CRS

from habitat.commands.check.account import check_study
from habitat.layers.formats.raw import Draft
from habitat.layers.join.yards import drop_far_yards
from tests.layers import builders as make

BOX = shapely.box(0, 0, 10, 10)


def shift(shape):
    return shapely.transform(shape, lambda c: c + np.array([make.WEST, make.SOUTH]))


def check(tmp_path, shapes, **columns):
    frame = gpd.GeoDataFrame(
        {"yard_id": list(shapes), **columns},
        geometry=[shift(s) if s is not None else None for s in shapes.values()],
        crs=make.CRS,
    )
    frame.to_parquet(tmp_path / "y.parquet")
    return check_study(make.study(tmp_path, {"yards": "y.parquet"}))


def test_rows_of_one_id_are_one_yard_of_parts_and_copies_are_set_aside(tmp_path):
    frame = gpd.GeoDataFrame(
        {"yard_id": ["A", "B", "A", "B", " ", "C"]},
        geometry=[shift(shapely.box(x, 0, x + 10, 10)) for x in (0, 40, 10, 40, 60, 80)], crs=make.CRS,
    )  # fmt: skip
    frame.to_parquet(tmp_path / "y.parquet")
    result = check_study(make.study(tmp_path, {"yards": "y.parquet"}))
    assert make.areas(result) == pytest.approx({"A": 200, "B": 100, "row 5": 100, "C": 100})
    layer = result["layers"]["yards"]
    assert (layer["used"], layer["repaired"], layer["set_aside"]) == (2, 3, 1)
    assert "A: duplicate id" in make.notes(result)
    assert "duplicate id B" in layer["set_aside_rows"][0]["reason"]


def test_different_yards_of_one_id_are_told_apart_and_nothing_joins_to_it(tmp_path):
    frame = make.yards(label=["Plum Alley", "Kiln Street", "Mill Green"])
    frame["yard_id"] = ["A", "B", "B"]
    frame.to_parquet(tmp_path / "y.parquet")
    (tmp_path / "t.csv").write_text("yard_id,ph\nA,6\nB,7\n", encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.parquet", "soil_tests": "t.csv"}))
    assert make.areas(result) == pytest.approx({"A": 1200, "B": 900, "B (2)": 500})
    assert "2 different yards carry the same id B" in make.notes(result)
    assert (result["tables"]["soil_tests"]["matched"], result["tables"]["soil_tests"]["unmatched"]) == (1, 1)
    assert "its id fits several yards: B, B (2)" in make.notes(result)


def test_stacked_nested_overlapping_and_narrow_yards_are_kept_and_told(tmp_path):
    shapes = {"A": BOX, "B": BOX, "C": BOX, "D": shapely.box(20, 0, 40, 10), "E": shapely.box(22, 2, 24, 4),
              "F": shapely.box(39, 0, 50, 10), "G": shapely.box(60, 0, 60.02, 40)}  # fmt: skip
    result = check(tmp_path, shapes)
    assert len(result["yards"]) == 7
    over = {y["yard_id"]: y["overlap_m2"] for y in result["yards"]}
    assert over == pytest.approx({"A": 100, "B": 100, "C": 100, "D": 14, "E": 4, "F": 10, "G": 0}, abs=1e-6)
    assert result["ground_area_m2"] == pytest.approx(100 + 200 + 110 - 10 + 0.8)
    assert result["overlap_m2"] == pytest.approx(200 + 4 + 10)
    for words in (
        "3 yards are stacked on the same ground (A, B, C)",
        "E lies inside D",
        "D: overlaps F by 10.00 m2",
        "G: a sliver",
    ):
        assert words in make.notes(result)


def test_a_yard_that_lies_nowhere_is_set_aside_without_a_warning_of_numbers():
    shapes = [*make.yards().geometry, shapely.box(1e300, 1e300, 2e300, 2e300)]
    table = pd.DataFrame({"yard_id": list("abcd")})
    draft = Draft("yards", "x", table, np.array(shapes, dtype=object), CRS.from_epsg(32617), rows_in=4)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        drop_far_yards(draft)
    assert draft.table["yard_id"].tolist() == ["a", "b", "c"]
    assert [row for row, *_ in draft.aside] == [3]
