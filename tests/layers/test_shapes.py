"""Shapes are repaired without losing ground."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.commands.check.account import check_study
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
