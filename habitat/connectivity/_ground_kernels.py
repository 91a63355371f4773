"""Compiled least-cost search over a raster of crossing costs: buckets for a heap, tiles as they are met.

A step costs the mean of its two cells times its length in cells (1 or the root of 2). Cells of infinite cost
are never entered. A step between two cells that touch at a corner is open, whatever the two others are.

The search holds only the tiles of 64 x 64 cells that it has met, so its window grows with it and no detour is
cut off. A cell is ``slot * 4096 + row * 64 + col`` within the tiles held; ``field[cell]`` is what it takes to
get there and what it costs to cross, side by side since they are read together. A cell that is settled costs
infinity from then on, so that no step into it looks cheaper.
"""

from __future__ import annotations

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Short = NDArray[np.int32]
Marks = NDArray[np.uint64]
CHUNKS = 32
ROOT2 = 1.4142135623730951
SIDE = 64
AREA = SIDE * SIDE
DOWN, OVER = np.array([-1, 0, 0, 1, -1, -1, 1, 1]), np.array([0, -1, 1, 0, -1, 1, -1, 1])
BESIDE = DOWN * SIDE + OVER
HALF_STEP = np.array([0.5] * 4 + [0.5 * ROOT2] * 4)
UNKNOWN, OFF = -1, -2
ROOM = 256
"""Cells that can wait at first beside the start cells; more are made room for."""


@njit(cache=True)
def _load(
    tile: int, slot: int, cost: Floats, across: int, field: Floats, marks: Marks, goal_cells: Ints,
    goal_first: Ints,
) -> None:  # fmt: skip
    """Put a tile into a slot: costs (shut outside the raster), nothing reached yet, marks on goal cells."""
    rows, cols = cost.shape
    r0, c0 = tile // across * SIDE, tile % across * SIDE
    for r in range(SIDE):
        base = slot * AREA + r * SIDE
        marks[slot * SIDE + r] = 0
        for c in range(SIDE):
            field[base + c, 0] = np.inf
            field[base + c, 1] = np.inf
        if r0 + r < rows:
            for c in range(min(SIDE, cols - c0)):
                field[base + c, 1] = cost[r0 + r, c0 + c]
    for m in range(goal_first[tile], goal_first[tile + 1]):
        r, c = goal_cells[m] // cols - r0, goal_cells[m] % cols - c0
        marks[slot * SIDE + r] |= np.uint64(1) << np.uint64(c)


@njit(cache=True)
def _met(
    k: int, dist: float, cols: int, tile_of: Short, goal_cells: Ints, goal_of: Ints, goal_first: Ints,
    best: Floats, box: Ints,
) -> int:  # fmt: skip
    """Note the goals that a settled cell belongs to; return how many of them are met for the first time."""
    new, tile, across = 0, tile_of[k // AREA], (cols + SIDE - 1) // SIDE
    r, c = tile // across * SIDE + k // SIDE % SIDE, tile % across * SIDE + k % SIDE
    for m in range(goal_first[tile], goal_first[tile + 1]):
        if goal_cells[m] == r * cols + c:
            new += best[goal_of[m]] == np.inf
            best[goal_of[m]] = min(best[goal_of[m]], dist)
    if new > 0:
        _enclose(goal_cells, goal_of, best, cols, box)
    return new


@njit(cache=True)
def _enclose(goal_cells: Ints, goal_of: Ints, best: Floats, cols: int, box: Ints) -> None:
    """Set the first and last row and column of the goals that are not met yet."""
    box[:] = 1 << 40, -1, 1 << 40, -1
    for m in range(len(goal_cells)):
        if best[goal_of[m]] == np.inf:
            r, c = goal_cells[m] // cols, goal_cells[m] % cols
            box[0], box[1] = min(box[0], r), max(box[1], r)
            box[2], box[3] = min(box[2], c), max(box[3], c)


@njit(cache=True)
def _apart(tile: int, across: int, box: Ints) -> float:
    """Return a lower limit of the steps' length from a tile to a box (row, row, col, col, ends included)."""
    r0, c0 = tile // across * SIDE, tile % across * SIDE
    down = max(0, box[0] - r0 - SIDE + 1, r0 - box[1])
    over = max(0, box[2] - c0 - SIDE + 1, c0 - box[3])
    return max(down, over) + (ROOT2 - 1.0) * min(down, over)


@njit(cache=True)
def _latest(
    first: int, last: int, tile_of: Short, box: Ints, cols: int, width: float, limit: float, latest: Floats
) -> int:
    """Fill per slot the cost past which no way through it gets to a goal in time; return ``last``."""
    for slot in range(first, last):
        latest[slot] = limit - width * _apart(tile_of[slot], (cols + SIDE - 1) // SIDE, box)
    return last


@njit(cache=True)
def _more_room(names: Short, after: Short) -> tuple[Short, Short]:
    """Return arrays of entries twice as long; the new ones are free and chained."""
    size = len(names)
    longer, chain = np.empty(2 * size, np.int32), np.empty(2 * size, np.int32)
    longer[:size], chain[:size] = names, after
    for e in range(size, 2 * size):
        chain[e] = e + 1
    return longer, chain


@njit(cache=True)
def _hold(
    tile: int, slots: int, cost: Floats, slot_of: Short, tile_of: Short, beside: Short, field: Floats,
    marks: Marks, goal_cells: Ints, goal_first: Ints,
) -> int:  # fmt: skip
    """Hold a tile if it is not held yet; return how many are held."""
    if slot_of[tile] >= 0:
        return slots
    across = (cost.shape[1] + SIDE - 1) // SIDE
    _load(tile, slots, cost, across, field, marks, goal_cells, goal_first)
    slot_of[tile], tile_of[slots] = slots, tile
    beside[slots, :] = UNKNOWN
    return slots + 1


@njit(cache=True)
def _find(
    slot: int, side: int, dist: float, slots: int, cost: Floats, width: float, limit: float, box: Ints,
    goal_cells: Ints, goal_first: Ints, slot_of: Short, tile_of: Short, beside: Short, field: Floats,
    marks: Marks,
) -> int:  # fmt: skip
    """Find the tile beside a slot and note its slot, if the way may lead there; return the tiles held."""
    across, down = (cost.shape[1] + SIDE - 1) // SIDE, (cost.shape[0] + SIDE - 1) // SIDE
    r, c = tile_of[slot] // across + side // 3 - 1, tile_of[slot] % across + side % 3 - 1
    if not (0 <= r < down and 0 <= c < across):
        beside[slot, side] = OFF
        return slots
    tile = r * across + c
    if slot_of[tile] < 0 and dist + width * _apart(tile, across, box) > limit:
        return slots
    slots = _hold(tile, slots, cost, slot_of, tile_of, beside, field, marks, goal_cells, goal_first)
    beside[slot, side] = slot_of[tile]
    return slots


@njit(cache=True)
def _near_edge(
    k: int, dist: float, slots: int, cost: Floats, width: float, limit: float, box: Ints, goal_cells: Ints,
    goal_first: Ints, slot_of: Short, tile_of: Short, beside: Short, field: Floats, marks: Marks, near: Marks,
) -> int:  # fmt: skip
    """List the neighbours of a cell at the edge of its tile, itself for none; return the tiles held."""
    for d in range(8):
        r, c = ((k >> 6) & 63) + DOWN[d], (k & 63) + OVER[d]
        slot, side = k >> 12, ((r >> 6) + 1) * 3 + (c >> 6) + 1
        near[d] = k + BESIDE[d]
        if side != 4:
            if beside[slot, side] == UNKNOWN:
                slots = _find(
                    slot, side, dist, slots, cost, width, limit, box, goal_cells, goal_first, slot_of,
                    tile_of, beside, field, marks,
                )  # fmt: skip
            other = beside[slot, side]
            near[d] = other * AREA + (r & 63) * SIDE + (c & 63) if other >= 0 else k
    return slots


@njit(cache=True)
def _start(
    cell: int, slots: int, cost: Floats, slot_of: Short, tile_of: Short, beside: Short, field: Floats,
    marks: Marks, goal_cells: Ints, goal_first: Ints,
) -> tuple[int, int]:  # fmt: skip
    """Reach a flat cell at no cost; return the tiles held, and the cell there (-1 if shut or reached)."""
    r, c = cell // cost.shape[1], cell % cost.shape[1]
    tile = r // SIDE * ((cost.shape[1] + SIDE - 1) // SIDE) + c // SIDE
    slots = _hold(tile, slots, cost, slot_of, tile_of, beside, field, marks, goal_cells, goal_first)
    k = slot_of[tile] * AREA + r % SIDE * SIDE + c % SIDE
    if field[k, 1] == np.inf or field[k, 0] == 0.0:
        return slots, -1
    field[k, 0] = 0.0
    return slots, k


@njit(cache=True)
def spread(
    cost: Floats, width: float, most: float, limit: float, starts: Ints, goal_cells: Ints, goal_of: Ints,
    goal_first: Ints, slot_of: Short, tile_of: Short, beside: Short, field: Floats, marks: Marks,
    best: Floats,
) -> int:  # fmt: skip
    """Spread from the start cells until all goals are met or the limit is passed; return the tiles held.

    Parameters
    ----------
    cost
        (rows, cols) crossing cost per cell, more than 0, infinity where shut.
    width, most
        The least and the greatest finite cost.
    limit
        Greatest cost [cells].
    starts
        Flat start cells of the raster.
    goal_cells, goal_of, goal_first
        Flat goal cells sorted by tile, the goal of each, and (tiles + 1,) where each tile's begin.
    slot_of
        (tiles,) -1 everywhere; reset by the caller.
    tile_of, beside, field, marks
        Room for all tiles; what comes in does not matter.
    best
        (goals,) filled with the least cost to each goal, infinity if it was not met.

    Notes
    -----
    Buckets are as wide as the least possible step, so nothing in a bucket can be reached more cheaply
    through another cell of it: buckets need no order inside (Dial's algorithm). A cell that got cheaper is
    put in once more; what is left of the first time is passed over. No way is followed that would pass the
    limit before it got to a goal that is not met, even over the easiest ground.
    """
    cols = cost.shape[1]
    buckets = 1 << int(np.ceil(np.log2(most * ROOT2 / width + 3.0)))
    mask, inverse, latest = buckets - 1, 1.0 / width, np.empty(len(slot_of))
    head, names = np.full(buckets, -1, np.int32), np.empty(ROOM + len(starts), np.int32)
    after, free, waiting = np.arange(1, len(names) + 1).astype(np.int32), 0, 0
    best[:], near, box = np.inf, np.empty(8, np.uint64), np.empty(4, np.int64)
    _enclose(goal_cells, goal_of, best, cols, box)
    slots, unmet, turn, known = 0, len(best), 0, 0
    for s in starts:
        slots, k = _start(s, slots, cost, slot_of, tile_of, beside, field, marks, goal_cells, goal_first)
        if k >= 0:
            e, free, waiting = free, after[free], waiting + 1
            names[e], after[e], head[0] = k, head[0], e
    while waiting > 0 and unmet > 0 and turn * width <= limit:
        b = turn & mask
        while head[b] >= 0:
            e, k = head[b], names[head[b]]
            dist, held = field[k, 0], field[k, 1]
            head[b], after[e], free, waiting = after[e], free, e, waiting - 1
            if held == np.inf:
                continue
            field[k, 1] = np.inf
            row, col = (k >> 6) & 63, k & 63
            if (marks[k >> 6] >> np.uint64(col)) & np.uint64(1):
                new = _met(k, dist, cols, tile_of, goal_cells, goal_of, goal_first, best, box)
                unmet, known = unmet - new, 0 if new > 0 else known
            if known < slots:
                known = _latest(known, slots, tile_of, box, cols, width, limit, latest)
            if dist > latest[k >> 12]:
                continue
            if waiting + 9 >= len(names):
                names, after = _more_room(names, after)
            if 0 < row < SIDE - 1 and 0 < col < SIDE - 1:
                for d in range(8):
                    near[d] = k + BESIDE[d]
            else:
                slots = _near_edge(
                    k, dist, slots, cost, width, limit, box, goal_cells, goal_first, slot_of, tile_of, beside,
                    field, marks, near,
                )  # fmt: skip
            for d in range(8):
                n = near[d]
                far = dist + HALF_STEP[d] * (held + field[n, 1])
                if far < field[n, 0] and far <= limit:
                    field[n, 0] = far
                    at, e = int(far * inverse) & mask, free
                    free, waiting = after[e], waiting + 1
                    names[e], after[e], head[at] = n, head[at], e
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
    n, cols = len(pair_start) - 1, cost.shape[1]
    across, down = (cols + SIDE - 1) // SIDE, (cost.shape[0] + SIDE - 1) // SIDE
    tiles, used = across * down, np.zeros(n, np.int64)
    for chunk in prange(CHUNKS):
        size = tiles if chunk < n else 0
        field, marks = np.empty((size * AREA, 2)), np.empty(size * SIDE, np.uint64)
        slot_of, tile_of = np.full(tiles, -1, np.int32), np.empty(tiles, np.int32)
        beside = np.empty((size, 9), np.int32)
        for i in range(chunk, n, CHUNKS):
            first, last = pair_start[i], pair_start[i + 1]
            if first == last:
                continue
            total = 0
            for m in range(first, last):
                total += cell_start[pair_to[m] + 1] - cell_start[pair_to[m]]
            goal_cells, goal_of, at = np.empty(total, np.int64), np.empty(total, np.int64), 0
            for m in range(first, last):
                for c in cells[cell_start[pair_to[m]] : cell_start[pair_to[m] + 1]]:
                    goal_cells[at], goal_of[at] = c, m - first
                    at += 1
            order, goal_first = _by_tile(goal_cells, cols, across, tiles)
            used[i] = spread(
                cost, width, most, limit, cells[cell_start[i] : cell_start[i + 1]], goal_cells[order],
                goal_of[order], goal_first, slot_of, tile_of, beside, field, marks,
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
    tiles, best = across * down, np.empty(1)
    field, marks = np.empty((tiles * AREA, 2)), np.empty(tiles * SIDE, np.uint64)
    slot_of, tile_of = np.full(tiles, -1, np.int32), np.empty(tiles, np.int32)
    beside = np.empty((tiles, 9), np.int32)
    order, goal_first = _by_tile(ends, cols, across, tiles)
    spread(
        cost, width, most, np.inf, starts, ends[order], np.zeros(len(ends), np.int64), goal_first, slot_of,
        tile_of, beside, field, marks, best,
    )  # fmt: skip
    way, count, cell = np.empty(cost.size, np.int64), 0, -1
    if best[0] < np.inf:
        for e in ends:
            if _reached(e, cols, slot_of, field) == best[0]:
                cell = e
    while cell >= 0:
        way[count] = cell
        count += 1
        cell = _back(cell, cost, slot_of, field)
    return way[:count].copy()


@njit(cache=True)
def _reached(cell: int, cols: int, slot_of: Short, field: Floats) -> float:
    """Return what it takes to get to a flat cell, infinity if its tile is not held."""
    r, c = cell // cols, cell % cols
    slot = slot_of[r // SIDE * ((cols + SIDE - 1) // SIDE) + c // SIDE]
    return field[slot * AREA + r % SIDE * SIDE + c % SIDE, 0] if slot >= 0 else np.inf


@njit(cache=True)
def _back(cell: int, cost: Floats, slot_of: Short, field: Floats) -> int:
    """Return the flat cell from which a reached cell was reached, -1 for a start."""
    rows, cols = cost.shape
    dist = _reached(cell, cols, slot_of, field)
    if dist > 0.0:
        for d in range(9):
            r, c = cell // cols + d // 3 - 1, cell % cols + d % 3 - 1
            if d != 4 and 0 <= r < rows and 0 <= c < cols:
                length = 0.5 if d % 2 else 0.5 * ROOT2
                before = _reached(r * cols + c, cols, slot_of, field)
                # the very sum that made the step, so it is equal to the bit
                if before + length * (cost[r, c] + cost[cell // cols, cell % cols]) == dist:
                    return r * cols + c
    return -1
