"""One lattice for all grids of a cell size; windows and points by hand arithmetic."""

import numpy as np
import pytest
from affine import Affine
from hypothesis import given
from hypothesis import strategies as st
from pyproj import CRS

from habitat.errors import ParameterError
from habitat.grid import Grid

UTM = CRS.from_epsg(32617)


def test_edges_lie_on_multiples_of_the_cell():
    grid = Grid.from_bounds((10.3, 20.7, 12.1, 22.0), 0.5, UTM)
    assert grid.bounds == (10.0, 20.5, 12.5, 22.0)
    assert grid.shape == (3, 5)
    assert grid.x.tolist() == [10.25, 10.75, 11.25, 11.75, 12.25]
    assert grid.y.tolist() == [21.75, 21.25, 20.75]


def test_window_and_crop_agree():
    grid = Grid.from_bounds((0, 0, 10, 10), 1.0, UTM)
    rows, cols = grid.window((2.5, 3.0, 5.0, 4.5))
    assert (rows, cols) == (slice(5, 7), slice(2, 5))
    assert grid.crop(rows, cols).bounds == (2.0, 3.0, 5.0, 5.0)
    rows, cols = grid.window((20, 20, 30, 30))
    assert rows.stop == rows.start
    assert cols.stop == cols.start


def test_points_find_their_cell():
    grid = Grid.from_bounds((0, 0, 4, 3), 1.0, UTM)
    row, col = grid.rowcol([0.5, 3.9, -0.1], [2.9, 0.1, 1.5])
    assert row.tolist() == [0, 2, 1]
    assert col.tolist() == [0, 3, -1]


@given(
    st.tuples(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6)),
    st.tuples(st.floats(0.01, 500), st.floats(0.01, 500)),
    st.sampled_from([0.25, 0.5, 1.0, 2.0, 30.0]),
)
def test_a_grid_covers_its_bounds_within_a_cell(corner, size, cell):
    bounds = (corner[0], corner[1], corner[0] + size[0], corner[1] + size[1])
    west, south, east, north = Grid.from_bounds(bounds, cell, UTM).bounds
    slack = 1e-6 * cell
    assert bounds[0] - cell - slack <= west <= bounds[0] + slack
    assert bounds[1] - cell - slack <= south <= bounds[1] + slack
    assert bounds[2] - slack <= east <= bounds[2] + cell + slack
    assert bounds[3] - slack <= north <= bounds[3] + cell + slack


def test_tiles_cover_each_cell_once():
    grid = Grid.from_bounds((0, 0, 7, 5), 1.0, UTM)
    seen = np.zeros(grid.shape, int)
    for rows, cols in grid.tiles(3):
        seen[rows, cols] += 1
    assert (seen == 1).all()


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3735"])
def test_a_grid_needs_metres(crs):
    """Degrees, and the feet of a state plane, are no metres."""
    with pytest.raises(ParameterError, match="metres"):
        Grid.from_bounds((0, 0, 4, 3), 1.0, crs)


@pytest.mark.parametrize(
    "transform", [Affine(1, 0.1, 0, 0, -1, 0), Affine(1, 0, 0, 0, -2, 0), Affine(1, 0, 0, 0, 1, 0)]
)
def test_only_north_up_square_cells(transform):
    with pytest.raises(ParameterError, match="north up with square cells"):
        Grid((2, 2), transform, UTM)
