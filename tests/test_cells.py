"""Shapes and cells by hand arithmetic; more cases stand in tests/reference/test_zonal_cases.py."""

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import Polygon, box

from habitat.cells import cover_weights, rasterize_index, zonal_table
from habitat.grid import Grid

GRID = Grid.from_bounds((0, 0, 4, 2), 1.0, "EPSG:32617")


def shapes(*polygons):
    return gpd.GeoSeries(list(polygons), crs=32617)


def test_the_later_of_two_shapes_holds_a_cell():
    got = rasterize_index(shapes(box(0, 0, 3, 2), Polygon(), box(2, 1, 4, 2)), GRID)
    assert got.tolist() == [[0, 0, 2, 2], [0, 0, 0, -1]]
    assert (rasterize_index(shapes(), GRID) == -1).all()


def test_covered_shares_add_up_to_the_area_inside_the_grid():
    triangle = Polygon([(0, 0), (5, 0), (0, 2)])
    weights = cover_weights(shapes(Polygon(), triangle), GRID)
    assert set(weights["shape"]) == {1}
    assert weights["share"].sum() == pytest.approx(triangle.intersection(box(0, 0, 4, 2)).area)
    assert cover_weights(shapes(Polygon()), GRID).empty


def test_means_leave_out_what_is_unknown_and_say_how_much():
    values = np.array([[1, 2, np.nan, 4], [1, 2, np.nan, 4]], np.float32)
    table = zonal_table(shapes(box(0, 0, 3, 2), box(2, 0, 3, 2)), {"v": values}, GRID)
    assert table["v_mean"].tolist() == pytest.approx([1.5, np.nan], nan_ok=True)
    assert table["v_known"].tolist() == pytest.approx([2 / 3, 0])
    assert zonal_table(shapes(box(0, 0, 1, 1)), {}, GRID).columns.empty
