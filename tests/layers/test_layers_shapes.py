"""Shapes are repaired without losing ground; overlaps, copies and slivers have a rule, a note and a place."""

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.commands.check.account import check_study
from habitat.layers.join.overlaps import find_overlaps
from habitat.layers.join.points import yards_at
from habitat.layers.shapes import repair_polygon
from tests.layers import builders as make

BOX = shapely.box(0, 0, 10, 10)


def shift(shape):
    return shapely.transform(shape, lambda c: c + np.array([make.WEST, make.SOUTH]))


@pytest.mark.parametrize(
    ("shape", "area"),
    [
        (shapely.Polygon([(0, 0), (24, 30), (24, 0), (0, 10)]), 300.0),  # two lobes, 30 and 270
        (shapely.Polygon([(0, 0), (10, 0), (10, 10), (0, 10)] * 2), 100.0),  # wound twice
        (shapely.Polygon([(0, 0), (0, 36), (10, 36), (10, 51), (10, 36), (25, 36), (25, 0)]), 900.0),  # spike
        (
            shapely.Polygon([(0, 0), (10, 0), (10, 10), (5, 10), (5, -5), (8, -5), (8, 5), (0, 5)]),
            90.0,
        ),  # 15 twice
        (shapely.Polygon(BOX.exterior, [[(20, 0), (22, 0), (22, 2), (20, 2)]]), 104.0),  # a "hole" elsewhere
        (shapely.Polygon(BOX.exterior, [[(8, 8), (12, 8), (12, 12), (8, 12)]]), 96.0),  # a hole over the edge
        (shapely.Polygon(BOX.exterior, [[(2, 2), (4, 2), (3, 2), (2, 2)]]), 100.0),  # a hole on a line
        (
            shapely.Polygon(BOX.exterior, [[(1, 1), (4, 4), (4, 1), (1, 4)]]),
            95.5,
        ),  # a hole that crosses itself
        (shapely.MultiPolygon([BOX, shapely.box(5, 0, 15, 10)]), 150.0),  # parts over each other
        (shapely.MultiPolygon([BOX, shapely.box(2, 2, 4, 4)]), 100.0),  # a part in a part
    ],
)
def test_repair_keeps_all_ground(shape, area):
    mended = repair_polygon(shape)
    assert mended.is_valid
    assert mended.geom_type in ("Polygon", "MultiPolygon")
    assert mended.area == pytest.approx(area)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=3, max_size=12))
def test_repair_covers_every_place_that_the_outline_winds_around(corners):
    """Random closed outlines: a place is inside after the repair exactly if its winding number is not 0."""
    mended = repair_polygon(shapely.Polygon(corners))
    ring = np.array([*corners, corners[0]], float)
    places = np.random.default_rng(0).uniform(-0.5, 12.5, (60, 2))
    angle = np.arctan2(ring[:, 1, None] - places[:, 1], ring[:, 0, None] - places[:, 0])
    turn = np.diff(angle, axis=0)
    winding = np.rint(((turn + np.pi) % (2 * np.pi) - np.pi).sum(axis=0) / (2 * np.pi))
    clear = shapely.distance(shapely.LineString(ring), shapely.points(places)) > 1e-6
    inside = np.zeros(len(places), bool) if mended is None else shapely.contains_xy(mended, places)
    assert mended is None or mended.is_valid
    np.testing.assert_array_equal(inside[clear], winding[clear] != 0)


def check(tmp_path, shapes, **columns):
    frame = gpd.GeoDataFrame(
        {"yard_id": list(shapes), **columns},
        geometry=[shift(s) if s is not None else None for s in shapes.values()],
        crs=make.CRS,
    )
    frame.to_parquet(tmp_path / "y.parquet")
    return check_study(make.study(tmp_path, {"yards": "y.parquet"}))


def test_what_holds_no_area_is_set_aside_and_what_does_is_used(tmp_path):
    ring = shapely.LineString([(0, 20), (10, 20), (10, 30), (0, 30), (0, 20)])
    shapes = {
        "good": BOX,
        "null": None,
        "empty": shapely.Polygon(),
        "point": shapely.Point(1, 1),
        "line": shapely.LineString([(0, 0), (5, 5)]),
        "closed": ring,
        "flat": shapely.Polygon([(0, 0), (10, 0), (5, 0), (0, 0)]),
        "mixed": shapely.GeometryCollection([shapely.box(20, 0, 30, 10), shapely.Point(0, 0)]),
        "raised": shapely.box(40, 0, 50, 10),
        "island": shapely.box(60, 0, 70, 10)
        .difference(shapely.box(62, 2, 68, 8))
        .union(shapely.box(64, 4, 66, 6)),
    }
    frame = make.yards({name: None if s is None else shift(s) for name, s in shapes.items()})
    frame.loc[8, "geometry"] = shapely.force_3d(frame.geometry[8], 230.0)
    frame.to_parquet(tmp_path / "y.parquet")
    result = check_study(make.study(tmp_path, {"yards": "y.parquet"}))
    used = {"good": 100, "closed": 100, "mixed": 100, "raised": 100, "island": 68}
    assert make.areas(result) == pytest.approx(used)
    layer = result["layers"]["yards"]
    assert (layer["rows_in"], layer["used"], layer["repaired"], layer["set_aside"]) == (10, 3, 2, 5)
    why = {r["attributes"]: r["reason"] for r in layer["set_aside_rows"]}
    for name, word in (
        ("null", "no geometry"),
        ("empty", "empty"),
        ("point", "point"),
        ("line", "linestring"),
        ("flat", "no area"),
    ):
        assert any(name in row and word in reason for row, reason in why.items()), (name, why)
    assert "heights" in make.notes(result)


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


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(*[st.integers(0, 20)] * 4), min_size=1, max_size=8))
def test_overlaps_add_up_like_unions_worked_out_one_by_one(corners):
    boxes = np.array(
        [shapely.box(min(a, c), min(b, d), max(a, c) + 1, max(b, d) + 1) for a, b, c, d in corners],
        dtype=object,
    )
    found = find_overlaps(boxes)
    assert found.ground_m2 == pytest.approx(shapely.union_all(boxes).area)
    for i, box in enumerate(boxes):
        rest = shapely.union_all(np.delete(boxes, i))
        assert found.yard_m2[i] == pytest.approx(box.intersection(rest).area, abs=1e-6)


def test_a_point_belongs_to_exactly_one_yard():
    yards = gpd.GeoDataFrame(
        {"yard_id": ["d", "c", "b", "a"]},
        geometry=[shapely.box(x, y, x + 10, y + 10) for x in (0, 10) for y in (0, 10)],
    )
    points = shapely.points([[10, 10], [10, 5], [5, 10], [5, 5], [20.04, 5], [20.06, 5], [10 - 0.01, 3]])
    assert yards_at(points, yards) == ["a", "b", "c", "d", "b", None, "d"]
    assert yards_at(np.array([None, shapely.Point()], dtype=object), yards) == [None, None]


def test_plants_of_any_shape_become_one_point_and_those_without_a_place_stand_in_their_yard(tmp_path):
    make.yards().to_file(tmp_path / "y.fgb")
    frame = gpd.GeoDataFrame(
        {"plant": ["Aster"] * 4, "count": [2, 1, 1, 1], "yard_id": [None, None, "TB-02", "TB-99"]},
        geometry=[shift(shapely.MultiPoint([(4, 8), (6, 8)])), shift(shapely.box(42, 2, 44, 4)), None, None],
        crs=make.CRS,
    )
    frame.to_parquet(tmp_path / "p.parquet")
    result = check_study(make.study(tmp_path, {"yards": "y.fgb", "plants": "p.parquet"}))
    assert [p["yard_id"] for p in result["plants"]] == ["TB-01", "TB-02", "TB-02"]
    layer = result["layers"]["plants"]
    assert (layer["rows_in"], layer["used"], layer["repaired"], layer["set_aside"]) == (4, 0, 3, 1)
    assert "middle of yard TB-02" in make.notes(result)
    assert "no yard has the id 'TB-99'" in make.notes(result)


def test_a_plant_without_a_place_stands_in_no_house(tmp_path):
    house = make.box(44, 4, 61, 32)  # over the middle of TB-02
    make.yards().to_file(tmp_path / "y.fgb")
    gpd.GeoDataFrame(geometry=[house], crs=make.CRS).to_file(tmp_path / "b.fgb")
    (tmp_path / "p.csv").write_text("plant,yard_id\nZizia aurea,TB-02\n", encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.fgb", "buildings": "b.fgb", "plants": "p.csv"}))
    (plant,) = result["plants"]
    at = shapely.transform(shapely.Point(plant["lon"], plant["lat"]), make.TO_METRES, interleaved=False)
    assert make.box(*make.YARDS["TB-02"]).contains(at)
    assert not house.intersects(at)


def test_plants_that_name_their_yard_or_address_join_as_the_sheet_does(tmp_path):
    make.yards(address=["12 Oak St", "14 Oak St", "7 Elm Ave"]).to_file(tmp_path / "y.gpkg")
    rows = "species,yard_id,address\nZizia aurea,tb-1,\nZizia aurea,,14 OAK Street\nZizia aurea,,9 Elm Ave\n"
    (tmp_path / "p.csv").write_text(rows, encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "plants": "p.csv"}))
    assert [p["yard_id"] for p in result["plants"]] == ["TB-01", "TB-02"]
    assert "no yard has the address '9 Elm Ave'; nearest: TB-03: 7 Elm Ave" in make.notes(result)


def test_plants_in_two_yards_and_plants_noted_twice_count_as_said(tmp_path):
    make.yards({"B": make.box(0, 0, 30, 40), "A": make.box(20, 0, 60, 40)}).to_file(tmp_path / "y.gpkg")
    lines = ["plant_id,species,lat,lon,count"]
    for name, x, y in (("P1", 25, 20), ("P2", 5, 5), ("P2", 5, 5), ("P3", 6, 5)):
        lon, lat = make.degrees(x, y)
        lines.append(f"{name},Zizia aurea,{lat:.9f},{lon:.9f},2")
    (tmp_path / "p.csv").write_text("\n".join(lines), encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "plants": "p.csv"}))
    assert [p["yard_id"] for p in result["plants"]] == ["A", "B", "B", "B"]
    assert sum(p["count"] for p in result["plants"]) == 8
    assert "1 row(s) lie in several yards that overlap: P1;" in make.notes(result)
    assert "P2: 2 rows say the same of the same place (rows 2, 3): all are kept" in make.notes(result)
