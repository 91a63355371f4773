"""Compiled least-cost search over a raster of crossing costs: buckets for a heap, tiles as they are met.

A step costs the mean of its two cells times its length in cells (1 or the root of 2). Cells of infinite cost
are never entered. A step between two cells that touch at a corner is open, whatever the two others are.

The search holds only the tiles of 64 x 64 cells that it has met, so its window grows with it and no detour is
cut off. A cell is ``slot * 4096 + row * 64 + col`` within the tiles held.
"""

from __future__ import annotations

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Short = NDArray[np.int32]
CHUNKS = 32
ROOT2 = 1.4142135623730951
SIDE = 64
AREA = SIDE * SIDE


@njit(cache=True)
def _load(
    tile: int, slot: int, cost: Floats, across: int, held: Floats, dist: Floats, where: Short, mark: Short,
    came: NDArray[np.int8], goal_cells: Ints, goal_next: Short, goal_first: Ints,
) -> None:  # fmt: skip
    """Put a tile into a slot: costs (shut outside the raster), nothing reached yet, marks on goal cells."""
    rows, cols = cost.shape
    r0, c0 = tile // across * SIDE, tile % across * SIDE
    base = slot * AREA
    for k in range(base, base + AREA):
        held[k] = np.inf
        dist[k] = np.inf
        where[k] = -1
        mark[k] = -1
        came[k] = -1
    for r in range(r0, min(r0 + SIDE, rows)):
        for c in range(c0, min(c0 + SIDE, cols)):
            held[base + (r - r0) * SIDE + c - c0] = cost[r, c]
    for m in range(goal_first[tile], goal_first[tile + 1]):
        r, c = goal_cells[m] // cols, goal_cells[m] % cols
        k = base + (r - r0) * SIDE + c - c0
        goal_next[m] = mark[k]
        mark[k] = m


@njit(cache=True)
def _take(k: int, b: int, head: Short, after: Short, prior: Short) -> None:
    """Take a cell out of a bucket."""
    if prior[k] >= 0:
        after[prior[k]] = after[k]
    else:
        head[b] = after[k]
    if after[k] >= 0:
        prior[after[k]] = prior[k]


@njit(cache=True)
def _put(k: int, b: int, head: Short, after: Short, prior: Short) -> None:
    """Put a cell into a bucket."""
    prior[k] = -1
    after[k] = head[b]
    if head[b] >= 0:
        prior[head[b]] = k
    head[b] = k


@njit(cache=True)
def _hold(
    tile: int, slots: int, cost: Floats, slot_of: Short, tile_of: Short, held: Floats, dist: Floats,
    where: Short, mark: Short, came: NDArray[np.int8], goal_cells: Ints, goal_next: Short, goal_first: Ints,
) -> int:  # fmt: skip
    """Hold a tile if it is not held yet; return how many are held."""
    if slot_of[tile] >= 0:
        return slots
    across = (cost.shape[1] + SIDE - 1) // SIDE
    _load(tile, slots, cost, across, held, dist, where, mark, came, goal_cells, goal_next, goal_first)
    slot_of[tile], tile_of[slots] = slots, tile
    return slots + 1


@njit(cache=True)
def _met(k: int, mark: Short, goal_of: Ints, goal_next: Short, dist: Floats, best: Floats) -> int:
    """Note the goals that a settled cell belongs to; return how many of them are met for the first time."""
    new, entry = 0, mark[k]
    while entry >= 0:
        goal = goal_of[entry]
        new += best[goal] == np.inf
        best[goal] = min(best[goal], dist[k])
        entry = goal_next[entry]
    return new


@njit(cache=True)
def _tile_beside(tile: int, row: int, col: int, across: int, down: int) -> int:
    """Return the tile that a row and column lie in, counted from a tile's corner; -1 off the raster."""
    r, c = tile // across + (row + SIDE) // SIDE - 1, tile % across + (col + SIDE) // SIDE - 1
    return r * across + c if 0 <= r < down and 0 <= c < across else -1


@njit(cache=True)
def spread(
    cost: Floats, width: float, buckets: int, limit: float, starts: Ints, goal_cells: Ints, goal_of: Ints,
    goal_first: Ints, slot_of: Short, tile_of: Short, held: Floats, dist: Floats, where: Short, mark: Short,
    after: Short, prior: Short, came: NDArray[np.int8], best: Floats,
) -> int:  # fmt: skip
    """Spread from the start cells until all goals are met or the limit is passed; return the tiles held.

    Parameters
    ----------
    cost
        (rows, cols) crossing cost per cell, more than 0, infinity where shut.
    width, buckets
        The least finite cost, and as many buckets of that width as the longest step spans, and 3.
    limit
        Greatest cost [cells].
    starts
        Flat start cells of the raster.
    goal_cells, goal_of, goal_first
        Flat goal cells sorted by tile, the goal of each, and (tiles + 1,) where each tile's begin.
    slot_of
        (tiles,) -1 everywhere; reset by the caller.
    tile_of, held, dist, where, mark, after, prior, came
        Room for all tiles; what comes in does not matter.
    best
        (goals,) filled with the least cost to each goal, infinity if it was not met.

    Notes
    -----
    Buckets are as wide as the least possible step, so nothing in a bucket can be reached more cheaply
    through another cell of it: buckets need no order inside (Dial's algorithm).
    """
    cols = cost.shape[1]
    across, down = (cols + SIDE - 1) // SIDE, (cost.shape[0] + SIDE - 1) // SIDE
    head, goal_next = np.full(buckets, -1, np.int32), np.empty(len(goal_cells), np.int32)
    best[:] = np.inf
    slots, waiting, unmet, turn = 0, 0, len(best), 0
    for s in starts:
        tile = s // cols // SIDE * across + s % cols // SIDE
        slots = _hold(
            tile, slots, cost, slot_of, tile_of, held, dist, where, mark, came, goal_cells, goal_next,
            goal_first,
        )  # fmt: skip
        k = slot_of[tile] * AREA + s // cols % SIDE * SIDE + s % cols % SIDE
        if where[k] < 0 and held[k] < np.inf:
            dist[k], where[k] = 0.0, 0
            _put(k, 0, head, after, prior)
            waiting += 1
    while waiting > 0 and unmet > 0 and turn * width <= limit:
        b = turn % buckets
        k = head[b]
        while k >= 0:
            _take(k, b, head, after, prior)
            where[k] = -2
            waiting -= 1
            unmet -= _met(k, mark, goal_of, goal_next, dist, best)
            row, col = k % AREA // SIDE, k % SIDE
            for d in range(9):
                r, c = row + d // 3 - 1, col + d % 3 - 1
                n = k + (d // 3 - 1) * SIDE + d % 3 - 1
                if r < 0 or r >= SIDE or c < 0 or c >= SIDE:
                    tile = _tile_beside(tile_of[k // AREA], r, c, across, down)
                    if tile < 0:
                        continue
                    slots = _hold(
                        tile, slots, cost, slot_of, tile_of, held, dist, where, mark, came, goal_cells,
                        goal_next, goal_first,
                    )  # fmt: skip
                    n = slot_of[tile] * AREA + (r + SIDE) % SIDE * SIDE + (c + SIDE) % SIDE
                far = dist[k] + (0.5 if d % 2 else 0.5 * ROOT2) * (held[k] + held[n])
                if far < dist[n] and far <= limit and where[n] != -2:
                    if where[n] >= 0:
                        _take(n, where[n], head, after, prior)
                    waiting += where[n] < 0
                    dist[n], came[n], where[n] = far, d, int(far / width) % buckets
                    _put(n, where[n], head, after, prior)
            k = head[b]
        turn += 1
    return slots


@njit(cache=True)
def _by_tile(cells: Ints, cols: int, across: int, tiles: int) -> tuple[Ints, Ints]:
    """Return the order of cells by tile, and (tiles + 1,) where each tile's begin."""
    first = np.zeros(tiles + 1, np.int64)
    for c in cells:
        first[c // cols // SIDE * across + c % cols // SIDE + 1] += 1
    for t in range(tiles):
        first[t + 1] += first[t]
    at, order = first.copy(), np.empty(len(cells), np.int64)
    for m in range(len(cells)):
        t = cells[m] // cols // SIDE * across + cells[m] % cols // SIDE
        order[at[t]] = m
        at[t] += 1
    return order, first


@njit(cache=True, parallel=True)
def all_sources(
    cost: Floats, cell_start: Ints, cells: Ints, pair_start: Ints, pair_to: Ints, width: float, most: float,
    limit: float, out: Floats,
) -> Ints:  # fmt: skip
    """Fill ``out`` with the least cost of each pair (patch, ``pair_to``) [cells]; return tiles held."""
    n = len(pair_start) - 1
    cols = cost.shape[1]
    across, down = (cols + SIDE - 1) // SIDE, (cost.shape[0] + SIDE - 1) // SIDE
    tiles, buckets = across * down, int(most * ROOT2 / width) + 3
    used = np.zeros(n, np.int64)
    for chunk in prange(CHUNKS):
        size = tiles * AREA if chunk < n else 0
        held, dist, came = np.empty(size), np.empty(size), np.empty(size, np.int8)
        where, mark = np.empty(size, np.int32), np.empty(size, np.int32)
        after, prior = np.empty(size, np.int32), np.empty(size, np.int32)
        slot_of, tile_of = np.full(tiles, -1, np.int32), np.empty(tiles, np.int32)
        for i in range(chunk, n, CHUNKS):
            first, last = pair_start[i], pair_start[i + 1]
            if first == last:
                continue
            total = 0
            for m in range(first, last):
                total += cell_start[pair_to[m] + 1] - cell_start[pair_to[m]]
            goal_cells, goal_of, at = np.empty(total, np.int64), np.empty(total, np.int64), 0
            for m in range(first, last):
                for c in range(cell_start[pair_to[m]], cell_start[pair_to[m] + 1]):
                    goal_cells[at], goal_of[at] = cells[c], m - first
                    at += 1
            order, goal_first = _by_tile(goal_cells, cols, across, tiles)
            used[i] = spread(
                cost, width, buckets, limit, cells[cell_start[i] : cell_start[i + 1]], goal_cells[order],
                goal_of[order], goal_first, slot_of, tile_of, held, dist, where, mark, after, prior, came,
                out[first:last],
            )  # fmt: skip
            for s in range(used[i]):
                slot_of[tile_of[s]] = -1
    return used


@njit(cache=True)
def cheapest_way(cost: Floats, starts: Ints, ends: Ints, width: float, most: float) -> Ints:
    """Return the flat cells of a cheapest way from start cells to end cells, end first (empty if none)."""
    rows, cols = cost.shape
    across, down = (cols + SIDE - 1) // SIDE, (rows + SIDE - 1) // SIDE
    tiles = across * down
    size, buckets = tiles * AREA, int(most * ROOT2 / width) + 3
    held, dist, came = np.empty(size), np.empty(size), np.empty(size, np.int8)
    where, mark = np.empty(size, np.int32), np.empty(size, np.int32)
    after, prior = np.empty(size, np.int32), np.empty(size, np.int32)
    slot_of, tile_of = np.full(tiles, -1, np.int32), np.empty(tiles, np.int32)
    order, goal_first = _by_tile(ends, cols, across, tiles)
    best = np.empty(1)
    spread(
        cost, width, buckets, np.inf, starts, ends[order], np.zeros(len(ends), np.int64), goal_first, slot_of,
        tile_of, held, dist, where, mark, after, prior, came, best,
    )  # fmt: skip
    way = np.empty(cost.size, np.int64)
    if best[0] == np.inf:
        return way[:0].copy()
    cell = ends[0]
    for e in ends:
        slot = slot_of[e // cols // SIDE * across + e % cols // SIDE]
        if slot >= 0 and dist[slot * AREA + e // cols % SIDE * SIDE + e % cols % SIDE] == best[0]:
            cell = e
    count = 0
    while True:
        way[count] = cell
        count += 1
        slot = slot_of[cell // cols // SIDE * across + cell % cols // SIDE]
        d = np.int64(came[slot * AREA + cell // cols % SIDE * SIDE + cell % cols % SIDE])
        if d < 0:
            return way[:count].copy()
        cell -= (d // 3 - 1) * cols + d % 3 - 1
