"""Compiled least-cost search: buckets for a heap, tiles as they are met, searches that meet half way."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from habitat.arrays import Flags, Floats, Ints, Short

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


# Compiled parts of the least cost of many pairs: searches that meet half way, and who searches how far.

STEP = 1.15
"""How many times as far a search goes before it looks again whether it has gone far enough: judgement."""


@njit(cache=True, nogil=True)
def meet(
    starts: Ints, until: float, cost: Floats, width: float, limit: float, places: Short, values: Floats,
    first: Ints, last: Ints, reach: Floats, later: Flags, best: Floats, room: Room,
) -> tuple[float, Short, Floats]:  # fmt: skip
    """Search from a patch until every pair it must settle is settled; return its reach and its border.

    Parameters
    ----------
    starts
        Flat cells of the patch.
    until
        How far to go at first [cells].
    cost, width, limit
        (rows, cols) crossing cost, the least of them, and the greatest cost of a pair that counts [cells].
    places, values, first, last
        Borders: places, and what it takes to get there from the patch that has searched; (pairs,) stretch of
        each partner. One that has not searched has its own cells for a border, at no cost.
    reach
        (pairs,) the cost below which the partner's search settled every cell.
    later
        (pairs,) whether the partner still searches, so that the pair may be left to it.
    best
        (pairs,) the least cost known, changed to what is known now [cells].

    Notes
    -----
    The border of a search are the cells that it has reached and not settled. A pair whose cost is more than
    the reach of one of them has a cheapest way over that one's border; the border cell's cost from there is
    exact, since the cell before it on the way is settled. So the pair's cost is the least sum of both sides
    over the border, once the other has settled all that costs up to the rest: once the sum known is no more
    than both reaches together. If the cost is within the reach, the search has met the other patch itself.
    """
    beyond, mine, wanted = np.nextafter(limit, np.inf), 0.0, True
    names, after = begin(starts, cost, beyond, room)
    while wanted:
        names, after = grow(until, cost, width, beyond, room, names, after)
        before, mine, need = mine, settled(width, room), 0.0
        for p in range(len(best)):
            if best[p] <= before + reach[p]:
                continue
            stretch = slice(first[p], last[p])
            best[p] = least_sum(places[stretch], values[stretch], room, limit, best[p])
            if best[p] > mine + reach[p] and not later[p]:
                need = max(need, min(best[p], limit) - reach[p])
        wanted = need > mine
        until = min(need, max(STEP * mine, mine + 4.0 * width))
    here, there = np.empty(0, np.int32), np.empty(0)
    if np.any(later & (np.minimum(best, limit) > mine + reach)):
        here, there = _border(room, names, after)
    clear(room)
    return mine, here, there


@njit(cache=True, nogil=True)
def _border(room: Room, names: Names, after: Names) -> tuple[Short, Floats]:
    """Return what is reached and not settled, and what it takes to get there; marks it as settled."""
    places, values, at = np.empty(room.at[WAITING], np.int32), np.empty(room.at[WAITING]), 0
    for head in room.head:
        e = np.int64(head)
        while e != 0:
            k, e = np.int64(names[e]), np.int64(after[e])
            if room.field[2 * k + 1] < np.inf:
                room.field[2 * k + 1] = np.inf
                places[at], values[at] = room.tile_of[k >> 12] * AREA + (k & 4095), room.field[2 * k]
                at += 1
    return places[:at].copy(), values[:at].copy()


@njit(cache=True)
def radii(count: int, i: Ints, j: Ints, cost: Floats, rounds: int) -> Floats:
    """Return how far each node searches so that each pair's two radii make up its cost.

    The sum of the radii's squares, as the ground that is searched, is made small: Hildreth's method for a
    quadratic program, a pair at a time. A node among many that have no pairs else goes all the way alone.
    """
    radius, load = np.zeros(count), np.zeros(len(cost))
    for _ in range(rounds):
        for p in range(len(cost)):
            more = max(0.5 * (cost[p] - radius[i[p]] - radius[j[p]]), -load[p])
            load[p] += more
            radius[i[p]] += more
            radius[j[p]] += more
    return radius


@njit(cache=True)
def classes(first: Ints, other: Ints, apart: Flags, order: Ints) -> Ints:
    """Return a class of each node, the first that is free, so that no pair apart has both nodes in one.

    first, other, apart : (nodes + 1,) stretches of each node's partners, the partners, and whether the two
    are to be in classes of their own. order : in which the nodes choose.
    """
    found, taken = np.full(len(order), -1), np.full(len(order) + 1, -1)
    for node in order:
        for m in range(first[node], first[node + 1]):
            if apart[m] and found[other[m]] >= 0:
                taken[found[other[m]]] = node
        c = 0
        while taken[c] == node:
            c += 1
        found[node] = c
    return found


@njit(cache=True)
def coarser(cost: Floats, by: int) -> Floats:
    """Return a cost per block of ``by`` x ``by`` cells: squared mean root of those that are open.

    On ground that changes from cell to cell it comes nearer to what ways cost than the mean, since they keep
    to what is easy: judgement, for an estimate.
    """
    rows, cols = (cost.shape[0] + by - 1) // by, (cost.shape[1] + by - 1) // by
    out = np.full((rows, cols), np.inf)
    for r in range(rows):
        for c in range(cols):
            total, count = 0.0, 0
            for value in cost[r * by : r * by + by, c * by : c * by + by].flat:
                if value < np.inf:
                    total += math.sqrt(value)
                    count += 1
            if count > 0:
                out[r, c] = (total / count) ** 2
    return out


@njit(cache=True)
def extremes(cost: Floats) -> tuple[float, float, float]:
    """Return the least and the greatest finite cost, and one that is not more than 0 (1 if all are)."""
    least, most, wrong = np.inf, 0.0, 1.0
    for value in cost.flat:
        if not value > 0.0:
            wrong = value
        least = min(least, value)
        if value < np.inf:
            most = max(most, value)
    return least, most, wrong
