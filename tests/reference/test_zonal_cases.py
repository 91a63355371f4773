"""Coverage-weighted summaries against closed arithmetic; C1-C7 (``zonal_cases.json``)."""

import json
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import shapely

from habitat.cells import cover_weights, rasterize_index, zonal_table
from habitat.grid import Grid
from tests.support.small_layers import UTM17

CASES = json.loads((Path(__file__).parent / "zonal_cases.json").read_text())
GRID = Grid.from_bounds((0, 0, 5, 5), 1.0, UTM17)
VALUES = np.arange(1, 26, dtype=np.float32).reshape(5, 5)


def shapes_of(wkts):
    return gpd.GeoSeries([shapely.from_wkt(w) for w in wkts], crs=UTM17)


@pytest.mark.parametrize("void", [False, True])
def test_c1_c2_means_and_known_shares(void):
    zones = CASES["zones"]
    names = [n for n in zones if not void or n in CASES["with_centre_cell_13_as_nodata"]]
    shapes = shapes_of([zones[n]["wkt"] for n in names])
    values = np.where((VALUES == 13) & void, np.nan, VALUES).astype(np.float32)
    table = zonal_table(shapes, {"v": values}, GRID)
    expected = CASES["with_centre_cell_13_as_nodata"] if void else zones
    for name, mean, known, shape in zip(names, table["v_mean"], table["v_known"], shapes, strict=True):
        want = expected[name]
        assert known * shape.area == pytest.approx(want["count"], abs=1e-6)
        if want["mean"] is None:
            assert np.isnan(mean)
        else:
            assert mean == pytest.approx(want["mean"], abs=1e-6)


def test_c3_coverage_of_each_cell():
    case = CASES["zones"]["box_half_cells"]
    weights = cover_weights(shapes_of([case["wkt"]]), GRID)
    assert weights["cell"].tolist() == case["cell_ids"]
    assert weights["share"].tolist() == pytest.approx(case["coverage"])


def test_c5_the_class_that_covers_most():
    case = CASES["categorical"]
    grid = Grid.from_bounds((0, 0, 4, 4), 1.0, UTM17)
    raster = np.array(case["raster"], np.float32)
    table = zonal_table(shapes_of([case["zone_wkt"]]), {"k": raster}, grid, classes=("k",))
    assert table["k_mode"].tolist() == [case["majority"]]
    assert table["k_known"].tolist() == pytest.approx([1.0])


def test_c6_linear_field_is_its_value_at_the_centroid():
    case = CASES["linear_field"]
    grid = Grid.from_bounds((0, 0, 10, 10), 0.05, UTM17)
    x, y = np.meshgrid(grid.x, grid.y)
    table = zonal_table(shapes_of([case["polygon"]]), {"f": (2 * x + 3 * y + 1).astype(np.float32)}, grid)
    assert table["f_mean"][0] == pytest.approx(case["mean"], abs=case["mean_tol"])
    weights = cover_weights(shapes_of([case["polygon"]]), grid)
    assert weights["share"].sum() == pytest.approx(13_600, abs=1e-3)


def test_every_shape_gets_a_row():
    shapes = gpd.GeoSeries(
        [
            shapely.box(0, 0, 1, 1),
            shapely.Polygon(),
            None,
            shapely.box(90, 90, 91, 91),
            shapely.box(0.1, 0.1, 0.2, 0.2),
        ],
        index=["a", "b", "c", "d", "e"],
        crs=UTM17,
    )
    rasters = {"v": VALUES, "w": VALUES * 2, "k": VALUES % 3}
    table = zonal_table(shapes, rasters, GRID, classes=("k",))
    assert table.index.tolist() == ["a", "b", "c", "d", "e"]
    assert table["v_known"].tolist() == pytest.approx([1, 0, 0, 0, 1])
    assert table["v_mean"].isna().tolist() == [False, True, True, True, False]
    assert table["w_mean"]["e"] == 42
    nothing = zonal_table(shapes[["b", "c"]], {"v": VALUES}, GRID)
    assert nothing["v_known"].tolist() == [0, 0]


def test_c4_cells_by_their_centres():
    """By centres the triangle is 15 cells with a mean of 15.6667, the sliver none (rasterstats, rasterio).

    Its coverage-weighted mean is 16.2: the two rules are not to be mixed up.
    """
    zones = CASES["zones"]
    names = [n for n in zones if "triangle" in n or "sliver" in n]
    burnt = {n: rasterize_index(shapes_of([zones[n]["wkt"]]), GRID) >= 0 for n in names}
    triangle = next(n for n in names if "triangle" in n)
    assert burnt[triangle].sum() == 15
    assert VALUES[burnt[triangle]].mean() == pytest.approx(15.6667, abs=1e-4)
    assert zonal_table(shapes_of([zones[triangle]["wkt"]]), {"v": VALUES}, GRID)["v_mean"].iloc[0] == (
        pytest.approx(16.2, abs=1e-6)
    )
    assert burnt[next(n for n in names if "sliver" in n)].sum() == 0


def test_c7_a_centre_on_a_shared_edge_belongs_to_one_yard():
    """Which of two neighbours gets it is the rasteriser's choice; both or none would be wrong."""
    halves = gpd.GeoSeries([shapely.box(0, 0, 2.5, 5), shapely.box(2.5, 0, 5, 5)], crs=UTM17)
    each = [rasterize_index(halves.iloc[[i]], GRID) >= 0 for i in range(2)]
    assert (each[0] ^ each[1]).all()
    assert (rasterize_index(halves, GRID) >= 0).all()
