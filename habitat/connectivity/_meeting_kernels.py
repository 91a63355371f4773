"""Compiled parts of the least cost of many pairs: searches that meet half way, and who searches how far."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from habitat.connectivity._ground_kernels import (
    AREA,
    WAITING,
    Floats,
    Ints,
    Names,
    Room,
    Short,
    begin,
    clear,
    grow,
    least_sum,
    settled,
)

Bools = NDArray[np.bool_]
STEP = 1.15
"""How many times as far a search goes before it looks again whether it has gone far enough: judgement."""


@njit(cache=True, nogil=True)
def meet(
    starts: Ints, until: float, cost: Floats, width: float, limit: float, places: Short, values: Floats,
    first: Ints, last: Ints, reach: Floats, later: Bools, best: Floats, room: Room,
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
def classes(first: Ints, other: Ints, apart: Bools, order: Ints) -> Ints:
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
