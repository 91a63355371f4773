"""Least cost over a grid: closed forms, hand-made cases, and agreement with scikit-image's geometric search.

A step costs the mean of its two cells times its length; 8 neighbours. scikit-image: ``MCP_Geometric``.
"""

import math

import numpy as np
import pytest
import rasterio
import shapely
from affine import Affine
from pyproj import CRS
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from skimage.graph import MCP_Geometric

from habitat.connectivity.distance import least_cost as meeting
from habitat.connectivity.distance.crossing import CROSSING_COSTS, ground_of
from habitat.connectivity.distance.least_cost import (
    Pairs,
    cells_of,
    least_cost_links,
    least_cost_links_between,
    least_cost_path,
    least_costs,
)
from habitat.errors import ParameterError
from habitat.grid import Grid
from habitat.layers.rasters.opening import open_raster
from habitat.layers.types import Layers
from habitat.pipeline.corridor import ground_maps
from habitat.study.files import sources_of
from tests.connectivity.invented_town import study

CRS_M = CRS.from_epsg(32617)


def grid_of(cost, cell_m=1.0):
    rows, cols = cost.shape
    return Grid.from_bounds((0, 0, cols * cell_m, rows * cell_m), cell_m, CRS_M)


def cell(grid, row, col):
    """Return a small square inside a cell."""
    return shapely.box(grid.x[col] - 0.1, grid.y[row] - 0.1, grid.x[col] + 0.1, grid.y[row] + 0.1)


def least(cost, one, two, cell_m=1.0):
    grid = grid_of(cost, cell_m)
    links = least_cost_links(np.array([cell(grid, *one), cell(grid, *two)], object), 1e9, cost, grid)
    return float(links.distance_m[0]) if len(links.i) else math.inf


@pytest.mark.parametrize(("dx", "dy"), [(7, 0), (0, 5), (4, 4), (9, 4), (3, 8)])
def test_even_ground(dx, dy):
    want = max(dx, dy) + (math.sqrt(2) - 1) * min(dx, dy)
    assert least(np.ones((12, 12)), (0, 0), (dy, dx)) == pytest.approx(want, rel=1e-12)


def test_even_ground_is_never_more_than_8_percent_longer_than_straight():
    worst = max(
        least(np.ones((13, 13)), (0, 0), (r, c)) / math.hypot(r, c)
        for r in range(13)
        for c in range(13)
        if r + c > 1
    )
    assert 1.0 < worst <= 1.0823922


@pytest.mark.parametrize(("col", "want"), [(1, 1), (2, 4), (3, 9), (4, 12)])
def test_one_row_of_costs(col, want):
    assert least(np.array([[1.0, 1, 5, 5, 1]]), (0, 0), (0, col)) == pytest.approx(want)


def test_wall_with_one_gap():
    cost = np.ones((11, 11))
    cost[:10, 5] = np.inf
    want = 2 * (10 + 5 * (math.sqrt(2) - 1))
    assert want == pytest.approx(24.142136, abs=5e-7)
    assert least(cost, (0, 0), (0, 10)) == pytest.approx(want, rel=1e-12)


def test_squeezing_through_a_corner_is_allowed():
    """Two shut cells that touch at a corner leave the diagonal open, as in scikit-image."""
    cost = np.array([[1.0, np.inf], [np.inf, 1.0]])
    assert least(cost, (0, 0), (1, 1)) == pytest.approx(math.sqrt(2))


def test_oblong_cells_are_refused():
    with pytest.raises(ParameterError, match="square cells"):
        Grid((3, 3), Affine(2.0, 0.0, 0.0, 0.0, -5.0, 15.0), CRS_M)


def test_land_cover_of_oblong_cells_is_laid_on_square_ones(tmp_path):
    """Cells of 2 m by 5 m, 3 x 3: corner to corner 10.7703 m, two steps of sqrt(29), by scikit-image.

    Our search wants square cells, so the raster is read on a grid of 1 m: there the way is at most 8.24 %
    longer than straight, and the straight line between these corners is just those two steps.
    """
    want = MCP_Geometric(np.ones((3, 3)), sampling=(2, 5)).find_costs([(0, 0)])[0][2, 2]
    assert want == pytest.approx(10.7703, abs=5e-5)
    with rasterio.open(
        tmp_path / "cover.tif", "w", driver="GTiff", width=3, height=3, count=1, dtype="uint8",
        crs="EPSG:32617", transform=Affine(5.0, 0.0, 1000.0, 0.0, -2.0, 6.0),
    ) as data:  # fmt: skip
        data.write(np.array([[1, 2, 1], [1, 1, 1], [1, 1, 1]], np.uint8), 1)
    made = study(
        tmp_path / "study.toml",
        rasters={"landcover": {"path": "cover.tif", "classes": {"1": "meadow", "2": "wood"}}},
    )
    raster = open_raster(sources_of(made), "landcover")
    bounds = (1000.0, 0.0, 1015.0, 6.0)
    layers = Layers(CRS_M, Grid.from_bounds(bounds, 1.0, CRS_M), {}, {"landcover": raster})
    ground = ground_of(ground_maps(layers, layers.grid), layers.grid)
    names = np.array(ground.names)[ground.kind]
    assert (names[:2, 5:10] == "woodland").all()
    assert (names == "woodland").sum() == 10
    assert (names == "grass").sum() == 80
    corners = [shapely.Point(x, y).buffer(0.1) for x, y in ((1002.5, 5.0), (1012.5, 1.0))]
    cost = ground.cost(CROSSING_COSTS, "woodland")
    even = least_cost_links(np.array(corners, object), 1e9, np.ones_like(cost), ground.grid).distance_m
    assert want - 1.0 <= even[0] <= want * 1.0823922
    hindered = least_cost_links(np.array(corners, object), 1e9, cost, ground.grid).distance_m
    assert hindered[0] > even[0]


def test_cells_of_another_size_scale():
    cost = np.random.default_rng(0).uniform(1, 9, (20, 20))
    assert least(cost, (2, 3), (17, 11), 5.0) == pytest.approx(5 * least(cost, (2, 3), (17, 11)), rel=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_random_ground_with_walls_equals_scikit_image(seed):
    rng = np.random.default_rng(seed)
    shape = tuple(rng.integers(70, 150, 2))  # more than one tile of the search either way
    cost = rng.uniform(1, 20, shape) if seed % 2 else rng.choice([1.0, 3.0, 8.0, 100.0], shape)
    cost[rng.random(shape) < 0.15] = np.inf
    grid = grid_of(cost)
    corner = rng.uniform(0, np.array(shape)[::-1] - 3, (7, 2))
    size = rng.uniform(0.2, 3, (7, 2))
    shapes = np.array([shapely.box(*c, *(c + s)) for c, s in zip(corner, size, strict=True)], object)
    start, cells = cells_of(shapes, grid)
    own = [cells[start[k] : start[k + 1]] for k in range(7)]
    for link in (60.0, 1e9):
        links = least_cost_links(shapes, link, cost, grid)
        got = {(a, b): d for a, b, d in zip(links.i, links.j, links.distance_m, strict=True)}
        for i in range(7):
            starts = [(k // shape[1], k % shape[1]) for k in own[i] if np.isfinite(cost.flat[k])]
            found = np.full(cost.size, np.inf)
            if starts:
                search = MCP_Geometric(np.where(np.isinf(cost), -1.0, cost))
                found = search.find_costs(starts)[0].ravel()
            for j in range(i + 1, 7):
                want = 0.0 if shapes[i].intersects(shapes[j]) else float(found[own[j]].min())
                assert got.get((i, j), math.inf) == pytest.approx(
                    want if want <= link else math.inf, rel=1e-12
                )


def test_a_patch_of_many_cells_equals_scikit_image():
    """Thousands of start cells, many cells waiting at once, and a limit that leaves some goals out."""
    rng = np.random.default_rng(3)
    cost = rng.uniform(1, 9, (150, 260))
    grid = grid_of(cost)
    spots = [cell(grid, r, c) for r, c in ((5, 240), (140, 200), (75, 170), (149, 259))]
    shapes = np.array([shapely.box(1, 1, 149, 149), *spots], object)
    start, cells = cells_of(shapes, grid)
    found = MCP_Geometric(cost).find_costs([(k // 260, k % 260) for k in cells[: start[1]]])[0].ravel()
    want = np.array([found[cells[start[k]]] for k in range(1, 5)])
    link = float(np.sort(want)[2])
    links = least_cost_links(shapes, link, cost, grid)
    near = links.i == 0
    assert links.j[near].tolist() == (1 + np.flatnonzero(want <= link)).tolist()
    assert links.distance_m[near] == pytest.approx(want[want <= link], rel=1e-12)


def test_random_ground_equals_dijkstra_on_a_hand_built_graph():
    rng = np.random.default_rng(9)
    cost = rng.uniform(1, 10, (15, 17))
    cost[rng.random(cost.shape) < 0.15] = np.inf
    links = []
    for r in range(15):
        for c in range(17):
            for dr, dc in ((0, 1), (1, 0), (1, 1), (1, -1)):
                rr, cc = r + dr, c + dc
                if rr < 15 and 0 <= cc < 17 and np.isfinite(cost[r, c] + cost[rr, cc]):
                    links.append(
                        (r * 17 + c, rr * 17 + cc, math.hypot(dr, dc) * (cost[r, c] + cost[rr, cc]) / 2)
                    )
    i, j, w = (np.array(v) for v in zip(*links, strict=True))
    want = dijkstra(coo_array((w, (i.astype(int), j.astype(int))), shape=(255, 255)).tocsr(), directed=False)
    for one, two in ((0, 254), (3, 120), (40, 200), (16, 238)):
        if not np.isfinite(cost.flat[[one, two]]).all():
            continue
        got = least(cost, divmod(one, 17), divmod(two, 17))
        assert got == pytest.approx(float(want[one, two]), rel=1e-12)


def test_a_detour_far_outside_the_box_around_both_is_found():
    """The wall ends 150 cells away from two cells that lie three apart."""
    cost = np.ones((160, 11))
    cost[:150, 5] = np.inf
    assert least(cost, (0, 4), (0, 6)) == pytest.approx(2 * 150 + 2 * (math.sqrt(2) - 1), rel=1e-12)


def test_new_ground_against_old_equals_all_pairs():
    rng = np.random.default_rng(4)
    cost = rng.uniform(1, 6, (90, 90))
    grid = grid_of(cost)
    shapes = np.array(
        [shapely.Point(*rng.uniform(3, 87, 2)).buffer(rng.uniform(0.5, 2)) for _ in range(9)], object
    )
    whole, part = (
        least_cost_links(shapes, 120.0, cost, grid),
        least_cost_links_between(shapes[:4], shapes[4:], 120.0, cost, grid),
    )
    want = {(a, b - 4): d for a, b, d in zip(whole.i, whole.j, whole.distance_m, strict=True) if a < 4 <= b}
    got = {(a, b): d for a, b, d in zip(part.i, part.j, part.distance_m, strict=True)}
    assert got.keys() == want.keys()
    assert all(got[k] == pytest.approx(want[k], rel=1e-12) for k in want)


def test_the_way_drawn_costs_what_the_link_says():
    rng = np.random.default_rng(5)
    cost = rng.choice([1.0, 4.0, 20.0], (80, 80))
    grid = grid_of(cost)
    one, two = cell(grid, 5, 6), cell(grid, 71, 66)
    way = shapely.get_coordinates(least_cost_path(one, two, cost, grid))
    rows, cols = grid.rowcol(way[:, 0], way[:, 1])
    steps = (
        np.hypot(np.diff(rows), np.diff(cols)) * (cost[rows[1:], cols[1:]] + cost[rows[:-1], cols[:-1]]) / 2
    )
    assert steps.sum() == pytest.approx(least(cost, (5, 6), (71, 66)), rel=1e-12)
    assert (rows[0], cols[0], rows[-1], cols[-1]) == (5, 6, 71, 66)


def test_costs_of_nothing_are_refused():
    grid = grid_of(np.ones((3, 3)))
    with pytest.raises(ParameterError, match="more than 0"):
        least_cost_links(np.array([cell(grid, 0, 0), cell(grid, 2, 2)], object), 10.0, np.zeros((3, 3)), grid)


def by_scikit_image(cost, start, cells, i, j):
    """Return the least costs of pairs of patches, one search from each i."""
    out = np.empty(len(i))
    for a in np.unique(i):
        own = cells[start[a] : start[a + 1]]
        starts = [divmod(int(k), cost.shape[1]) for k in own if np.isfinite(cost.flat[k])]
        found = MCP_Geometric(np.where(np.isinf(cost), -1.0, cost)).find_costs(starts)[0].ravel()
        for p in np.flatnonzero(i == a):
            out[p] = found[cells[start[j[p]] : start[j[p] + 1]]].min()
    return out


def some_patches(seed):
    """Return costs with walls and 14 small patches, as pairs of all of them within 400 cells."""
    rng = np.random.default_rng(seed)
    cost = rng.choice([1.0, 3.0, 8.0, 40.0, np.inf], (140, 210), p=[0.3, 0.3, 0.2, 0.1, 0.1])
    cost[:100, 70] = cost[40:, 140] = np.inf
    row, col = rng.integers(0, 136, 14), rng.integers(0, 206, 14)
    cells = np.concatenate([[r * 210 + c, (r + 1) * 210 + c] for r, c in zip(row, col, strict=True)])
    cost.flat[cells] = 1.0
    i, j = np.triu_indices(14, 1)
    straight = np.hypot(row[i] - row[j], col[i] - col[j])
    return cost, np.arange(0, 29, 2), cells, i, j, straight


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("limit", [90.0, math.inf])
def test_searches_that_meet_equal_scikit_image_however_far_each_goes(seed, limit, monkeypatch):
    """With estimates by blocks and threads, with none, and with radii that are no more than noise."""
    cost, start, cells, i, j, straight = some_patches(seed)
    want = by_scikit_image(cost, start, cells, i, j)
    want[want > limit] = np.inf
    pairs = Pairs(i, j, straight, start, cells, limit)
    plain = least_costs(cost, pairs)
    monkeypatch.setattr(meeting, "SMALL_WORK", 0.0)
    monkeypatch.setattr(meeting, "BLOCK", 5)
    blocks = least_costs(cost, pairs)
    rng = np.random.default_rng(seed)
    monkeypatch.setattr(
        meeting.kernels, "radii", lambda n, *_: rng.uniform(0, 150, n) * (rng.random(n) < 0.7)
    )
    for got in (plain, blocks, least_costs(cost, pairs)):
        assert got == pytest.approx(want, rel=1e-12)


def test_threads_change_no_bit(monkeypatch):
    cost, start, cells, i, j, straight = some_patches(7)
    pairs = Pairs(i, j, straight, start, cells, math.inf)
    monkeypatch.setattr(meeting, "SMALL_WORK", 0.0)
    found = []
    for threads in (1, 2, 2):
        monkeypatch.setattr(meeting.numba, "get_num_threads", lambda n=threads: n)
        found.append(least_costs(cost, pairs).tobytes())
    assert found[0] == found[1] == found[2]


def test_the_borders_of_few_searches_are_kept_at_a_time(monkeypatch):
    """Patches in a long row, blocks of a few: a border goes once its patch's partners are done."""
    cost, at = np.ones((9, 2700)), np.arange(270)
    pairs = Pairs(at[:-1], at[1:], np.full(269, 10.0), np.arange(271), 4 * 2700 + 10 * at, 20.0)
    put, drop, written, held = meeting.Borders.put, meeting.Borders.drop, [], []
    monkeypatch.setattr(meeting, "BLOCK", 6)
    monkeypatch.setattr(
        meeting.Borders, "put", lambda own, p, found: written.append(len(found.places)) or put(own, p, found)
    )
    monkeypatch.setattr(meeting.Borders, "drop", lambda own, p: drop(own, p) or held.append(len(own.places)))
    assert least_costs(cost, pairs) == pytest.approx(np.full(269, 10.0))
    assert sum(written) > 3000
    assert max(held) < sum(written) / 3
    assert held[-1] == 0


def test_a_patch_takes_the_cells_that_it_has_ground_in():
    """Against shapely, cell by cell; rings with holes, parts, slivers, and ground beside the raster."""
    rng = np.random.default_rng(1)
    grid = Grid((20, 30), Affine(2.0, 0.0, 100.0, 0.0, -2.0, 540.0), CRS_M)
    shapes = [shapely.box(104, 506, 110, 512), shapely.box(50, 510, 90, 520), shapely.box(159, 499, 170, 503)]
    for _ in range(25):
        hull = shapely.MultiPoint(rng.uniform((95, 495), (165, 545), (4, 2))).convex_hull
        hole = shapely.MultiPoint(rng.uniform((95, 495), (165, 545), (4, 2))).convex_hull
        shapes.append(hull.difference(hole))
    shapes = np.array([s for s in shapes if not s.is_empty], object)
    start, cells = cells_of(shapes, grid)
    boxes = [shapely.box(x - 1, y - 1, x + 1, y + 1) for y in grid.y for x in grid.x]
    for k, shape in enumerate(shapes):
        want = np.flatnonzero(shapely.area(shapely.intersection(boxes, shape)) > 1e-9)
        assert cells[start[k] : start[k + 1]].tolist() == want.tolist()
    sliver, point = shapely.box(104 - 1e-8, 504, 104 + 1e-8, 504.5), shapely.Point(121.0, 533.0)
    start, cells = cells_of(np.array([sliver, point], object), grid)
    assert np.diff(start).tolist() == [1, 1]
    assert cells[1] == 3 * 30 + 10
