"""Compiled least-cost search over a raster of crossing costs: buckets for a heap, tiles as they are met.

A step costs the mean of its two cells times its length in cells (1 or the root of 2). Cells of infinite cost
are never entered. A step between two cells that touch at a corner is open, whatever the two others are.

The search holds only the tiles of 64 x 64 cells that it has met, so its window grows with it and no detour is
cut off. Within the tiles held a cell is ``slot * 4096 + row * 64 + col``; ``field[2 * cell]`` is what it
takes to get there and the entry after it what it costs to cross, side by side since they are read together. A
cell that is settled costs infinity from then on, so that no step into it looks cheaper. The *place* of a cell
is the same sum with its tile for the slot, so it means the same cell in every search.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Short = NDArray[np.int32]
Names = NDArray[np.uint32]
ROOT2 = 1.4142135623730951
SIDE = 64
AREA = SIDE * SIDE
DOWN, OVER = np.array([-1, 0, 0, 1, -1, -1, 1, 1]), np.array([0, -1, 1, 0, -1, 1, -1, 1])
BESIDE = DOWN * SIDE + OVER
HALF_STEP = np.array([0.5] * 4 + [0.5 * ROOT2] * 4)
UNKNOWN, OFF = -1, -2
SLOTS, TURN, FREE, WAITING = 0, 1, 2, 3
WAIT = 512
"""Cells that can wait at first beside the start cells; more are made room for."""


class Room(NamedTuple):
    """What one search works in; it can be used again once it is cleared.

    field : (2 * cells,) tiles held. slot_of, tile_of : (tiles,) slot of a tile (-1 if it is not held) and
    tile of a slot. beside : (9 * tiles,) slots around a slot. head : (buckets,) first entry of each, 0 for
    none. at : tiles held, bucket in turn, first free entry, entries that wait.
    """

    field: Floats
    slot_of: Short
    tile_of: Short
    beside: Short
    head: Names
    at: Ints


def room_for(cost: Floats, width: float, most: float) -> Room:
    """Return room for a search, with all tiles in reach; what is not used takes no memory.

    Parameters
    ----------
    cost
        (rows, cols) crossing cost per cell, more than 0, infinity where shut.
    width, most
        The least and the greatest finite cost.
    """
    tiles = -(-cost.shape[0] // SIDE) * -(-cost.shape[1] // SIDE)
    buckets = 1 << int(np.ceil(np.log2(most * ROOT2 / width + 3.0)))
    return Room(
        np.empty(2 * tiles * AREA), np.full(tiles, -1, np.int32), np.empty(tiles, np.int32),
        np.empty(9 * tiles, np.int32), np.zeros(buckets, np.uint32), np.zeros(4, np.int64),
    )  # fmt: skip


def places_of(cells: Ints, cols: int) -> Short:
    """Return the places of flat cells of a raster with so many columns."""
    row, col = cells // cols, cells % cols
    tile = row // SIDE * -(-cols // SIDE) + col // SIDE
    return np.asarray(tile * AREA + row % SIDE * SIDE + col % SIDE, np.int32)


@njit(cache=True, nogil=True)
def _hold(tile: int, cost: Floats, beyond: float, room: Room) -> int:
    """Return the slot of a tile; if it is not held, load it: unreached, and shut outside the raster."""
    if room.slot_of[tile] >= 0:
        return room.slot_of[tile]
    slot, field = room.at[SLOTS], room.field
    rows, cols = cost.shape
    across = (cols + SIDE - 1) // SIDE
    r0, c0 = tile // across * SIDE, tile % across * SIDE
    for r in range(SIDE):
        base, wide = 2 * (slot * AREA + r * SIDE), min(SIDE, cols - c0) if r0 + r < rows else 0
        for c in range(wide):
            field[base + 2 * c], field[base + 2 * c + 1] = beyond, cost[r0 + r, c0 + c]
        for c in range(wide, SIDE):
            field[base + 2 * c], field[base + 2 * c + 1] = beyond, np.inf
    room.slot_of[tile], room.tile_of[slot] = slot, tile
    for side in range(9):
        room.beside[9 * slot + side] = UNKNOWN
    room.at[SLOTS] = slot + 1
    return slot


@njit(cache=True, nogil=True)
def _find(slot: int, side: int, cost: Floats, beyond: float, room: Room) -> int:
    """Return the slot on one side of a slot, ``OFF`` beside the raster, and note it."""
    across, down = (cost.shape[1] + SIDE - 1) // SIDE, (cost.shape[0] + SIDE - 1) // SIDE
    r, c = room.tile_of[slot] // across + side // 3 - 1, room.tile_of[slot] % across + side % 3 - 1
    other = OFF
    if 0 <= r < down and 0 <= c < across:
        other = _hold(r * across + c, cost, beyond, room)
    room.beside[9 * slot + side] = other
    return other


@njit(cache=True, nogil=True)
def _near_edge(k: int, cost: Floats, beyond: float, room: Room, near: Ints) -> None:
    """List the neighbours of a cell at the edge of its tile, itself for none."""
    slot, row, col = k >> 12, (k >> 6) & 63, k & 63
    for d in range(8):
        r, c = row + DOWN[d], col + OVER[d]
        side = ((r >> 6) + 1) * 3 + (c >> 6) + 1
        if side == 4:
            near[d] = k + BESIDE[d]
            continue
        other = room.beside[9 * slot + side]
        if other == UNKNOWN:
            other = _find(slot, side, cost, beyond, room)
        near[d] = other * AREA + (r & 63) * SIDE + (c & 63) if other >= 0 else k


@njit(cache=True, nogil=True)
def _more_entries(names: Names, after: Names) -> tuple[Names, Names]:
    """Return arrays of entries twice as long; the new ones are free and chained."""
    size = len(names)
    longer, chain = np.empty(2 * size, np.uint32), np.empty(2 * size, np.uint32)
    longer[:size], chain[:size] = names, after
    for e in range(size, 2 * size):
        chain[e] = e + 1
    return longer, chain


@njit(cache=True, nogil=True)
def begin(starts: Ints, cost: Floats, beyond: float, room: Room) -> tuple[Names, Names]:
    """Reach flat start cells at no cost; return the entries: cell named and entry after it (0 for none)."""
    names = np.zeros(WAIT + len(starts), np.uint32)
    after = np.arange(1, len(names) + 1).astype(np.uint32)
    cols, free = cost.shape[1], 1
    room.head[:], room.at[:] = 0, 0
    for cell in starts:
        r, c = cell // cols, cell % cols
        slot = _hold(r // SIDE * ((cols + SIDE - 1) // SIDE) + c // SIDE, cost, beyond, room)
        k = slot * AREA + r % SIDE * SIDE + c % SIDE
        if room.field[2 * k + 1] < np.inf and room.field[2 * k] > 0.0:
            room.field[2 * k] = 0.0
            names[free], after[free], room.head[0] = k, room.head[0], free
            free += 1
    room.at[FREE], room.at[WAITING] = free, free - 1
    return names, after


@njit(cache=True, nogil=True)
def grow(
    until: float, cost: Floats, width: float, beyond: float, room: Room, names: Names, after: Names
) -> tuple[Names, Names]:
    """Settle all cells that cost less than ``until`` to get to; return the entries.

    Parameters
    ----------
    until
        Where to stop [cells]; what comes before it is settled, and all its neighbours have been reached.
    cost
        (rows, cols) crossing cost per cell.
    width
        The least finite cost.
    beyond
        What cells cost that are not reached: the least number above the limit, so none is passed.
    room, names, after
        The search as ``begin`` or an earlier call left it.

    Notes
    -----
    Buckets are as wide as the least possible step, so nothing in a bucket can be reached more cheaply
    through another cell of it: buckets need no order inside (Dial's algorithm). A cell that got cheaper is
    put in once more; what is left of the first time is passed over.
    """
    field, head, near, inverse = room.field, room.head, np.empty(8, np.int64), 1.0 / width
    mask, turn, free, waiting = len(head) - 1, room.at[TURN], room.at[FREE], room.at[WAITING]
    while waiting > 0 and turn * width < until:
        e = np.int64(head[turn & mask])
        head[turn & mask] = 0
        while e != 0:
            k, following = np.int64(names[e]), np.int64(after[e])
            after[e], free, e, waiting = free, e, following, waiting - 1
            dist, held = field[2 * k], field[2 * k + 1]
            if held == np.inf:
                continue
            field[2 * k + 1] = np.inf
            if waiting + 9 >= len(names):
                names, after = _more_entries(names, after)
            row, col = (k >> 6) & 63, k & 63
            inside = 0 < row < SIDE - 1 and 0 < col < SIDE - 1
            if not inside:
                _near_edge(k, cost, beyond, room, near)
            for d in range(8):
                n = k + BESIDE[d] if inside else near[d]
                far = dist + HALF_STEP[d] * (held + field[2 * n + 1])
                if far < field[2 * n]:
                    field[2 * n] = far
                    at, new = np.int64(far * inverse) & mask, free
                    free, waiting = np.int64(after[new]), waiting + 1
                    names[new], after[new], head[at] = n, head[at], new
        turn += head[turn & mask] == 0
    room.at[TURN], room.at[FREE], room.at[WAITING] = turn, free, waiting
    return names, after


@njit(cache=True, nogil=True)
def settled(width: float, room: Room) -> float:
    """Return the cost below which every cell is settled, infinity if there is nothing left to settle."""
    return np.inf if room.at[WAITING] == 0 else room.at[TURN] * width


@njit(cache=True, nogil=True)
def clear(room: Room) -> None:
    """Let go of all tiles."""
    for s in range(room.at[SLOTS]):
        room.slot_of[room.tile_of[s]] = -1


@njit(cache=True, nogil=True)
def least_sum(places: Short, values: Floats, room: Room, limit: float, least: float) -> float:
    """Return ``least`` or the least sum of a value and what it takes to its place, if within the limit."""
    for m in range(len(places)):
        slot = room.slot_of[places[m] >> 12]
        if slot >= 0:
            found = room.field[2 * (slot * AREA + (places[m] & 4095))] + values[m]
            if found < least and found <= limit:
                least = found
    return least


@njit(cache=True, nogil=True)
def cheapest_way(cost: Floats, starts: Ints, ends: Ints, end_places: Short, width: float, room: Room) -> Ints:
    """Return the flat cells of a cheapest way from start cells to end cells, end first (empty if none)."""
    names, after = begin(starts, cost, np.inf, room)
    none, best, until = np.zeros(len(ends)), np.inf, width
    while best > settled(width, room):
        until = min(best, 1.25 * until + width)
        names, after = grow(until, cost, width, np.inf, room, names, after)
        best = least_sum(end_places, none, room, np.inf, best)
    way, count, cell, cols = np.empty(cost.size, np.int64), 0, -1, cost.shape[1]
    if best < np.inf:
        for e in ends:
            if _reached(e, cols, room) == best:
                cell = e
    while cell >= 0:
        way[count] = cell
        count += 1
        cell = _back(cell, cost, room)
    clear(room)
    return way[:count].copy()


@njit(cache=True, nogil=True)
def _reached(cell: int, cols: int, room: Room) -> float:
    """Return what it takes to get to a flat cell, infinity if its tile is not held."""
    r, c = cell // cols, cell % cols
    slot = room.slot_of[r // SIDE * ((cols + SIDE - 1) // SIDE) + c // SIDE]
    return room.field[2 * (slot * AREA + r % SIDE * SIDE + c % SIDE)] if slot >= 0 else np.inf


@njit(cache=True, nogil=True)
def _back(cell: int, cost: Floats, room: Room) -> int:
    """Return the flat cell from which a reached cell was reached, -1 for a start."""
    rows, cols = cost.shape
    dist = _reached(cell, cols, room)
    if dist > 0.0:
        for d in range(9):
            r, c = cell // cols + d // 3 - 1, cell % cols + d % 3 - 1
            if d != 4 and 0 <= r < rows and 0 <= c < cols:
                length = 0.5 if d % 2 else 0.5 * ROOT2
                before = _reached(r * cols + c, cols, room)
                # the very sum that made the step, so it is equal to the bit
                if before + length * (cost[r, c] + cost[cell // cols, cell % cols]) == dist:
                    return r * cols + c
    return -1
