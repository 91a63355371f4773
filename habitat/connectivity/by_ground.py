"""Distance by ground: what the cheapest way between two patches costs, in metres of the easiest ground."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from habitat.connectivity import _ground_kernels, _meeting_kernels, _touch_kernels
from habitat.connectivity.links import Hops, hops_between, polygons_of, straight_hops
from habitat.connectivity.meeting import Pairs, least_costs
from habitat.errors import ParameterError
from habitat.grid import Grid

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Shapes = NDArray[np.object_]


def cells_of(shapes: Shapes, grid: Grid) -> tuple[Ints, Ints]:
    """Return (patches + 1,) limits and the flat cells that each patch has ground in; none off the grid.

    Points and lines count as ground of 0.1 m around them, as in straight distances.
    """
    parts, owner = shapely.get_parts(polygons_of(shapes), return_index=True)
    rings, part = shapely.get_rings(parts, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    x, y = (xy[:, 0] - grid.bounds[0]) / grid.cell_m, (grid.bounds[3] - xy[:, 1]) / grid.cell_m
    inner = ring[1:] == ring[:-1]
    seg = np.column_stack([x[:-1], y[:-1], x[1:], y[1:]])[inner]
    first = np.concatenate(
        [[0], np.cumsum(np.bincount(owner[part[ring[:-1][inner]]], minlength=len(shapes)))]
    )
    return _touch_kernels.touched(seg, first.astype(np.int64), *grid.shape)


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
    least, _, wrong = _meeting_kernels.extremes(cost)
    if not wrong > 0.0:
        raise ParameterError("cost", wrong, "more than 0 (infinity shuts a cell)")
    west, south, east, north = grid.bounds
    across = math.hypot(east - west, north - south)
    return min(hop_m / least + 3.0 * grid.cell_m, across) if math.isfinite(least) else 0.0


def hops_by_cost(shapes: Shapes, near: Hops, hop_m: float, cost: Floats, grid: Grid) -> Hops:
    """Return the hops among some pairs whose cheapest way costs at most ``hop_m``."""
    start, cells = cells_of(shapes, grid)
    limit = hop_m / grid.cell_m * (1.0 + 1e-12)
    pairs = Pairs(near.i, near.j, near.distance_m / grid.cell_m, start, cells, limit)
    distance = np.where(near.distance_m <= 0.0, 0.0, least_costs(cost, pairs) * grid.cell_m)
    keep = distance <= hop_m
    return Hops(near.i[keep], near.j[keep], distance[keep])


def way_between(one: object, two: object, cost: Floats, grid: Grid) -> shapely.LineString | None:
    """Return the cheapest way between two shapes, None if they share a cell or none leads."""
    start, cells = cells_of(np.array([one, two], object), grid)
    first, second = cells[: start[1]], cells[start[1] :]
    least, most, _ = _meeting_kernels.extremes(cost)
    if not len(first) or not len(second) or not math.isfinite(least):
        return None
    way = _ground_kernels.cheapest_way(
        np.ascontiguousarray(cost), first, second, _ground_kernels.places_of(second, grid.shape[1]), least,
        _ground_kernels.room_for(cost, least, most),
    )[::-1]  # fmt: skip
    if len(way) < 2:
        return None
    return shapely.LineString(np.column_stack([grid.x[way % grid.shape[1]], grid.y[way // grid.shape[1]]]))
