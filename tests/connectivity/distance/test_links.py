"""Edge-to-edge distances against shapely, on shapes that touch, overlap, nest and have holes."""

import numpy as np
import pytest
import shapely
import shapely.affinity
from pyproj import CRS
from shapely import Polygon, box

from habitat.connectivity.distance.least_cost import cells_of, least_cost_path
from habitat.connectivity.distance.links import links_between, straight_links
from habitat.errors import ParameterError
from habitat.grid import Grid


def some_shapes(rng, n):
    out = []
    for _ in range(n):
        c = rng.uniform(0, 100, 2)
        kind = rng.integers(4)
        if kind == 0:
            spots = shapely.points(c + rng.normal(0, 10, (4, 2)))
            out.append(shapely.union_all(shapely.buffer(spots, rng.uniform(0.5, 6, 4))))
        elif kind == 1:
            out.append(shapely.Point(c).buffer(30).difference(shapely.Point(c).buffer(20)))
        else:
            out.append(shapely.box(*c, *(c + rng.uniform(1, 15, 2))))
    return np.array(out, object)


@pytest.mark.parametrize("seed", range(25))
def test_equal_to_shapely(seed):
    rng = np.random.default_rng(seed)
    shapes = some_shapes(rng, int(rng.integers(2, 40)))
    link = float(rng.choice([5.0, 30.0, 200.0]))
    got = straight_links(shapes, link)
    i, j = np.triu_indices(len(shapes), 1)
    want = shapely.distance(shapes[i], shapes[j])
    near = want <= link
    assert np.array_equal(got.i, i[near])
    assert np.array_equal(got.j, j[near])
    assert got.distance_m == pytest.approx(want[near], abs=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_between_two_sets_equal_to_shapely(seed):
    rng = np.random.default_rng(100 + seed)
    new, old = some_shapes(rng, 9), some_shapes(rng, 17)
    got = links_between(new, old, 40.0)
    want = shapely.distance(new[:, None], old[None, :])
    assert np.array_equal(np.column_stack([got.i, got.j]), np.argwhere(want <= 40.0))
    assert got.distance_m == pytest.approx(want[got.i, got.j], abs=1e-9)


@pytest.mark.parametrize(
    ("one", "two", "want"),
    [
        (shapely.box(0, 0, 10, 10), shapely.box(2, 2, 3, 3), 0.0),
        (shapely.box(0, 0, 10, 10), shapely.box(10, 4, 12, 6), 0.0),
        (shapely.box(0, 4, 10, 6), shapely.box(4, 0, 6, 10), 0.0),
        (shapely.box(0, 0, 10, 10), shapely.box(0, 0, 10, 10), 0.0),
        (
            shapely.Point(0, 0).buffer(30).difference(shapely.box(-9, -9, 9, 9)),
            shapely.box(-2, -2, 2, 2),
            7.0,
        ),
        (shapely.box(0, 0, 1, 1), shapely.box(4, 5, 6, 6), 5.0),
    ],
    ids=[
        "nested",
        "touching",
        "crossing without a corner inside",
        "the same",
        "in a hole",
        "corner to corner",
    ],
)
def test_cases_for_head_arithmetic(one, two, want):
    for pair in ((one, two), (two, one)):
        assert straight_links(np.array(pair, object), 50.0).distance_m.tolist() == pytest.approx([want])


def test_a_link_of_just_the_longest_length_counts():
    pair = np.array([shapely.box(0, 0, 1, 1), shapely.box(31, 0, 32, 1)], object)
    assert len(straight_links(pair, 30.0).i) == 1
    assert len(straight_links(pair, 29.999999).i) == 0


def test_far_from_the_origin_nothing_is_lost():
    shapes = some_shapes(np.random.default_rng(7), 20)
    moved = shapely.transform(shapes, lambda xy: xy + np.array([436_000.0, 4_417_000.0]))
    here, there = straight_links(shapes, 60.0), straight_links(moved, 60.0)
    assert np.array_equal(here.i, there.i)
    assert there.distance_m == pytest.approx(here.distance_m, abs=1e-6)


def test_wide_patches_among_small_ones():
    rng = np.random.default_rng(8)
    small = shapely.buffer(shapely.points(rng.uniform(0, 400, (60, 2))), 1.0)
    wide = [shapely.box(-10, 50, 410, 60), shapely.box(200, -10, 210, 410)]
    shapes = np.array([*small, *wide], object)
    got = straight_links(shapes, 12.0)
    i, j = np.triu_indices(len(shapes), 1)
    assert len(got.i) == (shapely.distance(shapes[i], shapes[j]) <= 12.0).sum()


@pytest.mark.parametrize("count", [0, 1])
def test_too_few_for_a_link(count):
    assert len(straight_links(np.array([shapely.box(0, 0, 1, 1)] * count, object), 5.0).i) == 0


def test_a_patch_without_ground_is_refused():
    with pytest.raises(ParameterError, match="not empty"):
        straight_links(np.array([shapely.Polygon(), shapely.box(0, 0, 1, 1)], object), 5.0)


@pytest.mark.parametrize("seed", range(4))
def test_cells_of_a_patch_are_those_that_hold_ground_of_it(seed):
    """Against shapely: squares of the grid whose inside meets a random triangle."""
    rng = np.random.default_rng(seed)
    grid = Grid.from_bounds((0.0, 0.0, 12.0, 9.0), 1.0, CRS.from_epsg(32617))
    shapes = np.array([Polygon(rng.uniform((0, 0), (12, 9), (3, 2))) for _ in range(5)], object)
    first, cells = cells_of(shapes, grid)
    rows, cols = grid.shape
    west, north = grid.bounds[0], grid.bounds[3]
    squares = [
        box(west + c, north - r - 1, west + c + 1, north - r) for r in range(rows) for c in range(cols)
    ]
    for k, shape in enumerate(shapes):
        held = [n for n, square in enumerate(squares) if square.intersection(shape).area > 1e-9]
        assert cells[first[k] : first[k + 1]].tolist() == held


def test_the_cheapest_way_over_even_ground_is_the_straight_one():
    """From the third to the tenth cell of a row of twelve, by their centres."""
    grid = Grid.from_bounds((0.0, 0.0, 12.0, 5.0), 1.0, CRS.from_epsg(32617))
    one, two = box(2.2, 2.2, 2.8, 2.8), box(9.2, 2.2, 9.8, 2.8)
    way = least_cost_path(one, two, np.ones(grid.shape), grid)
    assert [tuple(xy) for xy in way.coords] == [(x + 0.5, 2.5) for x in range(2, 10)]


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_a_patch_whose_edges_run_between_cells_touches_none_beyond_them(turn):
    """An angle of three squares of 2 m, whose inner corner has cells beside it that are not its own."""
    grid = Grid.from_bounds((0.0, 0.0, 8.0, 8.0), 1.0, CRS.from_epsg(32617))
    angle = box(2, 2, 6, 6).difference(box(4, 4, 6, 6))
    turned = shapely.set_precision(shapely.affinity.rotate(angle, turn, origin=(4, 4)), 1.0)
    _, cells = cells_of(np.array([turned], object), grid)
    x, y = grid.x[cells % grid.shape[1]], grid.y[cells // grid.shape[1]]
    assert len(cells) == 12
    assert shapely.contains_xy(turned, x, y).all()


def test_a_sliver_along_an_edge_between_cells_has_one_cell():
    grid = Grid.from_bounds((0.0, 0.0, 8.0, 8.0), 1.0, CRS.from_epsg(32617))
    _, cells = cells_of(np.array([box(3, 2.2, 3 + 1e-7, 2.8)], object), grid)
    assert len(cells) == 1
