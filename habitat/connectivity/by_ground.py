"""Distance by ground: what the cheapest way between two patches costs, in metres of the easiest ground."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from rasterio.features import rasterize

from habitat.connectivity import _ground_kernels
from habitat.connectivity.links import Hops, hops_between, straight_hops
from habitat.errors import ParameterError
from habitat.grid import Grid

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Shapes = NDArray[np.object_]


def cells_of(shapes: Shapes, grid: Grid) -> tuple[Ints, Ints]:
    """Return (patches + 1,) limits and flat cells that each patch touches; a patch off the grid has none."""
    start, found = [0], []
    for shape in shapes:
        rows, cols = grid.window(shape.bounds)
        rows, cols = (
            slice(max(rows.start - 1, 0), rows.stop + 1),
            slice(max(cols.start - 1, 0), cols.stop + 1),
        )
        rows, cols = (
            slice(rows.start, min(rows.stop, grid.shape[0])),
            slice(cols.start, min(cols.stop, grid.shape[1])),
        )
        part = grid.crop(rows, cols)
        hit = rasterize(
            [(shape, 1)], out_shape=part.shape, transform=part.transform, all_touched=True, dtype="uint8"
        )
        r, c = np.nonzero(hit)
        found.append((r + rows.start) * grid.shape[1] + c + cols.start)
        start.append(start[-1] + len(r))
    return np.array(start, np.int64), np.concatenate(found).astype(np.int64) if found else np.zeros(
        0, np.int64
    )


def ground_hops(shapes: Shapes, hop_m: float, cost: Floats, grid: Grid) -> Hops:
    """Return all hops whose cheapest way costs at most ``hop_m``.

    Parameters
    ----------
    shapes
        (patches,) breeding ground.
    hop_m
        Longest hop, in metres of ground of cost 1.
    cost
        (rows, cols) cost of crossing each cell, more than 0; infinity shuts it.
    grid
        Where the cells lie.

    Returns
    -------
    Hops
        ``distance_m`` is the least sum of length x mean cost of the two cells of each step, over steps to the
        8 neighbours between cell centres: exact on the grid, up to 8 % more than the straight line on even
        ground. Touching and overlapping patches have distance 0.

    Raises
    ------
    ParameterError
        If a cost is not more than 0.
    """
    near = straight_hops(shapes, _reach(hop_m, cost, grid))
    return hops_by_cost(shapes, near, hop_m, cost, grid)


def ground_between(new: Shapes, old: Shapes, hop_m: float, cost: Floats, grid: Grid) -> Hops:
    """Return the hops from new shapes (i) to old ones (j) by ground; see ``ground_hops``."""
    near = hops_between(new, old, _reach(hop_m, cost, grid))
    both = np.concatenate([new, old])
    found = hops_by_cost(both, Hops(near.i, near.j + len(new), near.distance_m), hop_m, cost, grid)
    return Hops(found.i, found.j - len(new), found.distance_m)


def _reach(hop_m: float, cost: Floats, grid: Grid) -> float:
    """Return how far apart in a straight line patches within a hop can be [m]."""
    if np.any(~(cost > 0.0)):
        raise ParameterError("cost", float(cost[~(cost > 0.0)][0]), "more than 0 (infinity shuts a cell)")
    west, south, east, north = grid.bounds
    least = float(cost.min())
    across = math.hypot(east - west, north - south)
    return min(hop_m / least + 3.0 * grid.cell_m, across) if math.isfinite(least) else 0.0


def hops_by_cost(shapes: Shapes, near: Hops, hop_m: float, cost: Floats, grid: Grid) -> Hops:
    """Return the hops among some pairs (sorted by i) whose cheapest way costs at most ``hop_m``."""
    start, cells = cells_of(shapes, grid)
    first = np.concatenate([[0], np.cumsum(np.bincount(near.i, minlength=len(shapes)))]).astype(np.int64)
    best = np.full(len(near.i), np.inf)
    open_ = cost[np.isfinite(cost)]
    if len(near.i) and len(open_):
        limit = hop_m / grid.cell_m * (1.0 + 1e-12)
        _ground_kernels.all_sources(
            np.ascontiguousarray(cost, np.float64), start, cells, first, near.j, float(open_.min()),
            float(open_.max()), limit, best,
        )  # fmt: skip
    distance = np.where(near.distance_m <= 0.0, 0.0, best * grid.cell_m)
    keep = distance <= hop_m
    return Hops(near.i[keep], near.j[keep], distance[keep])


def way_between(one: object, two: object, cost: Floats, grid: Grid) -> shapely.LineString | None:
    """Return the cheapest way between two shapes, None if they share a cell or none leads."""
    start, cells = cells_of(np.array([one, two], object), grid)
    first, second = cells[: start[1]], cells[start[1] :]
    if not len(first) or not len(second) or not np.isfinite(cost.min()):
        return None
    way = _ground_kernels.cheapest_way(
        np.ascontiguousarray(cost, np.float64),
        first,
        second,
        float(cost.min()),
        float(cost[np.isfinite(cost)].max()),
    )[::-1]
    if len(way) < 2:
        return None
    return shapely.LineString(np.column_stack([grid.x[way % grid.shape[1]], grid.y[way // grid.shape[1]]]))
