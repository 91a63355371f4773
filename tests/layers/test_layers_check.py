"""The object, the tables and the map of a check: complete, plain, and of one accord with the layers."""

import io
import json

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from rich.console import Console

from habitat.commands.check.account import check_study, check_tables, draw_check_map
from habitat.commands.terminal import print_rows
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.layers import builders as make

KEYS = {"exit", "error", "crs", "layers", "yards", "ground_area_m2", "plants", "tables", "rasters"}


@pytest.fixture
def messy(tmp_path):
    shapes = {name: make.box(*corners) for name, corners in make.YARDS.items()}
    shapes["bow"] = shapely.transform(
        shapely.Polygon([(0, 50), (24, 80), (24, 50), (0, 60)]),
        lambda c: c + np.array([make.WEST, make.SOUTH]),
    )
    shapes["nul"] = None
    shapes["over"] = make.box(20, 0, 42, 10)
    make.yards(shapes).to_parquet(tmp_path / "y.parquet")
    extra = f"P5,Aster,{make.degrees(300, 0)[1]},{make.degrees(300, 0)[0]},1\nP6,Aster,0,0,1\n"
    (tmp_path / "p.csv").write_text(make.plants_text() + extra, encoding="utf-8")
    make.raster(tmp_path, make.slope(), "ph.tif")
    return make.study(tmp_path, {"yards": "y.parquet", "plants": "p.csv"}, {"ph": "ph.tif"})


def test_the_object_has_the_agreed_keys_and_is_json(messy):
    result = check_study(messy)
    assert set(result) >= KEYS
    assert json.loads(json.dumps(result, allow_nan=False)) == result
    for layer in result["layers"].values():
        assert layer["used"] + layer["repaired"] + layer["set_aside"] == layer["rows_in"]
        assert {"crs", "encoding", "notes", "rows"} <= set(layer)
        assert all({"row", "what"} <= set(n) for n in layer["notes"])
        assert len(layer["rows"]) == layer["used"] + layer["repaired"]
    assert result["exit"] == 1
    assert result["error"] is None
    assert result["crs"] == "EPSG:32617"
    assert {"yard_id", "area_m2", "overlap_m2"} <= set(result["yards"][0])
    assert {"row", "plant", "count", "yard_id", "lon", "lat"} <= set(result["plants"][0])
    assert {"yard_id", "mean", "known_share"} <= set(result["rasters"]["ph"]["yards"][0])
    areas = sum(y["area_m2"] for y in result["yards"])
    assert areas - result["ground_area_m2"] == pytest.approx(result["overlap_m2"]) == pytest.approx(100 + 20)


def test_errors_go_into_the_object(tmp_path):
    for path in (tmp_path / "none.toml", make.study(tmp_path, {"yards": "none.gpkg"})):
        result = check_study(path)
        assert result["exit"] == 2
        assert set(result["error"]) == {"kind", "message"}
        assert set(result) >= KEYS


def printed(result, width):
    """Return the tables of a check as a window of a width shows them."""
    out = io.StringIO()
    for title, rows in check_tables(result):
        print_rows(title, rows, Console(file=out, width=width))
    return out.getvalue()


def test_tables_tell_the_worst_first(messy):
    text = printed(check_study(messy), 160)
    for words in (
        "yards",
        "plants",
        "ph",
        "set aside",
        "ground covered, overlaps once",
        "bow: invalid",
        "P6: set aside",
    ):
        assert words in text
    assert text.index("P6: set aside") < text.index("bow: invalid")


@pytest.mark.parametrize("width", [40, 60, 80])
def test_tables_fit_a_window_and_break_no_word(messy, width):
    result = check_study(messy)
    text = printed(result, width)
    assert max(map(len, text.splitlines())) <= width
    assert "…" not in text
    shown = set(text.split())
    for title, rows in check_tables(result):
        words = " ".join([title, *(str(cell) for row in rows for cell in row.values())]).split()
        assert {w for w in words if len(w) < 24} <= shown | {w + ";" for w in shown} | {
            w.rstrip(";") for w in shown
        }


def test_rows_of_which_the_same_is_said_share_a_line(messy):
    result = check_study(messy)
    result["layers"]["plants"]["notes"] = [
        {"row": row, "what": f"plants row {row + 1}: 'Aster laevis' is an older name", "harm": 1}
        for row in (1, 4, 6)
    ] + [{"row": 7, "what": "plants row 8: 'asterr' is not in the tables", "harm": 1}]
    text = printed(result, 120)
    assert "plants rows 2, 5, 7: 'Aster laevis' is an older name" in text
    assert "plants row 8: 'asterr'" in text


def test_the_map_marks_what_was_repaired_or_set_aside(messy, tmp_path):
    layers = read_layers(read_study(messy))
    path = draw_check_map(layers, tmp_path / "map.png", "Messy street")
    picture = np.asarray(Image.open(path).convert("RGB")).astype(int)
    orange = (np.abs(picture - [217, 95, 2]).sum(axis=2) < 30).sum()
    assert orange > 200
    assert picture.shape[0] > 600
    again = draw_check_map(layers, tmp_path / "again.png", "Messy street")
    assert again.read_bytes() == path.read_bytes()


def test_progress_is_told_and_ends(messy):
    seen = []
    check_study(messy, lambda words, done, total: seen.append((words, done, total)))
    assert seen[-1][1] == seen[-1][2]
    assert [d for _, d, _ in seen] == sorted(d for _, d, _ in seen)


SHAPES = st.sampled_from(
    ["box", "bow", "null", "empty", "point", "line", "ring", "flat", "collection", "far", "spike", "nan"]
)


def drawn(kind, x):
    if kind == "box":
        return make.box(x, 0, x + 12, 10)
    points = {
        "bow": [(0, 0), (10, 10), (10, 0), (0, 5)],
        "flat": [(0, 0), (5, 5), (0, 0), (5, 5)],
        "spike": [(0, 0), (0, 10), (5, 10), (5, 20), (5, 10), (10, 10), (10, 0)],
        "nan": [(0, 0), (0, np.nan), (5, 5), (5, 0)],
    }
    at = np.array([make.WEST + x, make.SOUTH])
    if kind in points:
        with np.errstate(invalid="ignore"):
            return shapely.Polygon(np.array(points[kind]) + at)
    return {
        "null": None,
        "empty": shapely.Polygon(),
        "point": shapely.Point(at),
        "line": shapely.LineString([at, at + 5]),
        "ring": shapely.LineString(at + np.array([(0, 0), (8, 0), (8, 8), (0, 0)])),
        "collection": shapely.GeometryCollection([shapely.Point(at), shapely.box(*at, *(at + 6))]),
        "far": shapely.box(0, 0, 10, 10),
    }[kind]


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(SHAPES, st.sampled_from(["a", "b", "c", "d", None, " ", "e", "f"]), st.integers(0, 12)),
        min_size=1,
        max_size=14,
    )
)
def test_every_row_is_used_repaired_or_set_aside_with_a_reason(tmp_path, rows):
    """Conservation on generated messes: rows in = used + repaired + set aside, ids unique, ground kept."""
    shapes = [drawn(kind, 15 * place) for kind, _, place in rows]
    frame = gpd.GeoDataFrame({"yard_id": [name for _, name, _ in rows]}, geometry=shapes, crs=make.CRS)
    frame.to_parquet(tmp_path / "y.parquet")
    result = check_study(make.study(tmp_path, {"yards": "y.parquet"}))
    if result["error"] is not None:
        words = ("can be used", "all over the map", "look like longitude")  # the last: all lie at 0, 0
        assert any(w in result["error"]["message"] for w in words)
        return
    layer = result["layers"]["yards"]
    assert layer["rows_in"] == len(rows)
    assert layer["used"] + layer["repaired"] + layer["set_aside"] == len(rows)
    aside = {r["row"] for r in layer["set_aside_rows"]}
    assert len(aside) == layer["set_aside"]
    assert all(r["reason"] for r in layer["set_aside_rows"])
    assert not aside & {r["row"] for r in layer["rows"]}
    ids = [y["yard_id"] for y in result["yards"]]
    assert len(set(ids)) == len(ids) == len(layer["rows"])
    good = [drawn(k, 15 * p) for i, (k, _, p) in enumerate(rows) if k == "box" and i not in aside]
    if good and result["crs"] == "EPSG:32617":
        assert result["ground_area_m2"] >= shapely.union_all(good).area - 1e-6
    told = "\n".join(n["what"] for n in layer["notes"])
    assert told.count("set aside:") == layer["set_aside"]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.permutations(range(6)), st.integers(-3, 3))
def test_order_of_rows_and_place_change_nothing(tmp_path, order, move):
    shapes = [drawn(k, 15 * i) for i, k in enumerate(["box", "bow", "spike", "ring", "box", "collection"])]
    shapes = gpd.GeoSeries(shapes).translate(1000.0 * move, 1000.0 * move).tolist()
    frame = gpd.GeoDataFrame({"yard_id": list("abcdef")}, geometry=shapes, crs=make.CRS).iloc[list(order)]
    frame.to_parquet(tmp_path / "y.parquet")
    result = check_study(make.study(tmp_path, {"yards": "y.parquet"}))
    expected = {"a": 120, "b": 62.5, "c": 100, "d": 32, "e": 120, "f": 36}
    assert make.areas(result) == pytest.approx(
        {k: expected[k] if k != "b" else make.areas(result)["b"] for k in expected}
    )
    layer = result["layers"]["yards"]
    assert (layer["used"], layer["repaired"]) == (2, 4)
