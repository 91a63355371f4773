"""Reading a study's layers: every row accounted for, order and place change nothing, inputs untouched."""

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from habitat.commands.check.account import check_study
from habitat.grid import Grid
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.layers import builders as make

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


def test_grid_covers_the_yards_and_what_shades_them(tmp_path):
    make.yards().to_file(tmp_path / "y.fgb")
    grid = read_layers(read_study(make.study(tmp_path, {"yards": "y.fgb"}))).grid
    assert isinstance(grid, Grid)
    west, south, east, north = gpd.read_file(tmp_path / "y.fgb").total_bounds
    assert grid.bounds == (west - 50, south - 50, east + 50, north + 50)


@pytest.mark.parametrize(
    "path", ["https://example.invalid/y.geojson", "/vsicurl/http://example.invalid/y.gpkg"]
)
def test_network_paths_in_the_study_are_refused(tmp_path, path):
    result = check_study(make.study(tmp_path, {"yards": path}))
    assert result["exit"] == 2
    assert "never the network" in result["error"]["message"]


def test_nothing_is_written_beside_the_inputs(tmp_path):
    make.shapefile(tmp_path)
    (tmp_path / "yards.shx").unlink()
    make.raster(tmp_path, make.slope(), "ph.tif")
    make.yards().to_file(tmp_path / "b.gpkg")
    path = make.study(tmp_path, {"yards": "yards.shp", "paving": "b.gpkg"}, {"ph": "ph.tif"})
    before = {p.name: p.stat().st_mtime_ns for p in tmp_path.iterdir()}
    assert check_study(path)["error"] is None
    assert {p.name: p.stat().st_mtime_ns for p in tmp_path.iterdir()} == before


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
