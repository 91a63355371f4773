"""Compiled importance of nodes: what pairs of others lose when a node goes. Plain arrays, nothing raises.

From each source the tree of best paths is laid out in preorder, so that every subtree is one stretch of
plain arrays. When a node goes, only its subtree needs new paths: they enter by links from outside.
"""

from __future__ import annotations

import numpy as np
from numba import njit, prange

from habitat.arrays import Floats, Ints, Short
from habitat.connectivity.graph._kernels import CHUNKS, search

TIE = 1e-3
"""Half the width of the band, in ``-ln(passage)``, in which a pair is shared out between its two ends."""


@njit(cache=True)
def _push(keys: Floats, names: Short, size: int, key: float, name: int) -> int:
    """Put an entry into the 4-ary heap (greatest key on top); return its new size."""
    at = size
    while at > 0:
        parent = (at - 1) >> 2
        if keys[parent] >= key:
            break
        keys[at], names[at] = keys[parent], names[parent]
        at = parent
    keys[at], names[at] = key, name
    return size + 1


@njit(cache=True)
def _drop_top(keys: Floats, names: Short, size: int) -> int:
    """Take the top off the heap; return its new size."""
    size -= 1
    key, name, at = keys[size], names[size], 0
    while True:
        first = 4 * at + 1
        if first >= size:
            break
        best, top = first, keys[first]
        for child in range(first + 1, min(first + 4, size)):
            other = keys[child]
            best = child if other > top else best
            top = other if other > top else top
        if top <= key:
            break
        keys[at], names[at] = top, names[best]
        at = best
    keys[at], names[at] = key, name
    return size


@njit(cache=True)
def _preorder(
    count: int, order: Ints, owner: Ints, via: Ints, number: Short, below: Short, above: Short, free: Short
) -> None:
    """Put a tree into preorder; fill by number how many nodes lie in each subtree, and the parents."""
    for m in range(count):
        free[order[m]] = 1
    for m in range(count - 1, 0, -1):
        free[owner[via[order[m]]]] += free[order[m]]
    for m in range(count):
        v = order[m]
        if m == 0:
            number[v], above[0] = 0, -1
        else:
            u = owner[via[v]]
            number[v] = free[u]
            above[number[v]] = number[u]
            free[u] += free[v]
        below[number[v]] = free[v]
        free[v] = number[v] + 1


@njit(cache=True)
def _lay_out(
    count: int, order: Ints, start: Ints, to: Ints, crossed: Floats, number: Short, above: Short,
    depth: Short, row: Short, other: Short, passage: Floats, outer: Short, seq: Ints,
) -> None:  # fmt: skip
    """Fill rows of links by number, and per number the least depth at which a link leaves its branch."""
    for m in range(count):
        seq[number[order[m]]] = order[m]
    at = 0
    for a in range(count):
        v = seq[a]
        depth[a] = depth[above[a]] + 1 if a > 0 else 0
        row[a] = at
        for e in range(start[v], start[v + 1]):
            b = number[to[e]]
            if b >= 0:
                other[at], passage[at] = b, crossed[e]
                at += 1
    row[count] = at
    for a in range(count):
        outer[a] = depth[a]
    for a in range(count):
        for e in range(row[a], row[a + 1]):
            if other[e] < a:
                x, y = a, other[e]
                while x != y:
                    if x > y:
                        x = above[x]
                    else:
                        y = above[y]
                outer[a] = min(outer[a], depth[x])
                outer[other[e]] = min(outer[other[e]], depth[x])


@njit(cache=True)
def _share(dist: float, end: float) -> float:
    """Return how much of a pair counts from this end, by how far the other end lies before ``end``."""
    return min(1.0, (end - dist) / (2.0 * TIE)) if end < np.inf else 0.5


@njit(cache=True)
def _wanted(low: int, high: int, end: float, dist: Floats, area: Floats, best: Floats) -> tuple[int, float]:
    """Return how many nodes of a subtree count from this end when its root goes, and their worth before."""
    count, before = 0, 0.0
    for v in range(low + 1, high):
        if dist[v] < end and area[v] > 0.0:
            count += 1
            before += _share(dist[v], end) * area[v] * best[v]
    return count, before


@njit(cache=True)
def _seeds(
    low: int, high: int, row: Short, other: Short, passage: Floats, outer: Short, depth: int, best: Floats,
    least: float, again: Floats, keys: Floats, names: Short,
) -> int:  # fmt: skip
    """Start ``again`` in a subtree with what enters it by links from outside; return how many are queued."""
    size = 0
    for v in range(low + 1, high):
        again[v] = 0.0
        if outer[v] < depth:
            for e in range(row[v], row[v + 1]):
                if passage[e] <= again[v]:
                    break
                u = other[e]
                if (u < low or u >= high) and best[u] * passage[e] > again[v]:
                    again[v] = best[u] * passage[e]
            if again[v] >= least and again[v] > 0.0:
                size = _push(keys, names, size, again[v], v)
    return size


@njit(cache=True)
def _come_back(
    low: int, high: int, first: int, last: int, ends: Ints, passage: Floats, number: Short, best: Floats,
    least: float, again: Floats, keys: Floats, names: Short, size: int, inner: Short, inner_passage: Floats,
) -> tuple[int, int]:  # fmt: skip
    """Take in the links that come back; return how many are queued, and how many lie inside the subtree."""
    count = 0
    for m in range(first, last):
        i, j = number[ends[m, 0]], number[ends[m, 1]]
        if i < 0 or j < 0:
            continue
        if not low < i < high:
            i, j = j, i
        if low < i < high and low < j < high:
            inner[2 * count], inner[2 * count + 1], inner_passage[count] = i, j, passage[m]
            count += 1
        elif low < i < high and best[j] * passage[m] > again[i] and best[j] * passage[m] >= least:
            again[i] = best[j] * passage[m]
            size = _push(keys, names, size, again[i], i)
    return size, count


@njit(cache=True)
def _worth_without(
    low: int, high: int, end: float, wanted: int, row: Short, other: Short, passage: Floats, dist: Floats,
    area: Floats, least: float, again: Floats, keys: Floats, names: Short, size: int, inner: Short,
    inner_passage: Floats, inner_count: int,
) -> float:  # fmt: skip
    """Settle the subtree from what is queued until all wanted nodes are; return their worth."""
    after = 0.0
    while size > 0 and wanted > 0:
        key, v = keys[0], names[0]
        size = _drop_top(keys, names, size)
        if key < again[v]:
            continue
        if dist[v] < end and area[v] > 0.0:
            wanted -= 1
            after += _share(dist[v], end) * area[v] * key
        for e in range(row[v], row[v + 1]):
            u, through = other[e], key * passage[e]
            if low < u < high and through > again[u] and through >= least:
                again[u] = through
                size = _push(keys, names, size, through, u)
        for m in range(2 * inner_count):
            u, through = inner[m ^ 1], key * inner_passage[m >> 1]
            if inner[m] == v and through > again[u] and through >= least:
                again[u] = through
                size = _push(keys, names, size, through, u)
    return after


@njit(cache=True, parallel=True)
def passing(
    start: Ints, to: Ints, weight: Floats, owner: Ints, back_start: Ints, back_ends: Ints,
    back_passage: Floats, area: Floats, limit: float, sources: Ints, farther: bool,
) -> Floats:  # fmt: skip
    """Return per chunk and node what pairs lose when the node goes, over ordered pairs from ``sources``.

    The graph is the one without dominated links; ``back_*`` are rows of the links that come back when a node
    goes. With all sources, ``farther`` lets a pair count only from the end that is farther from the node that
    goes, where the subtree is small (in full, since both directions count there); else half from each end.
    """
    n = len(area)
    lost, room = np.zeros((CHUNKS, n)), len(to) + 2 * n + len(back_passage)
    most = np.max(np.diff(back_start)) if n > 0 else 0
    least, crossed = np.exp(-limit), np.exp(-weight)
    for chunk in prange(CHUNKS):
        dist, place = np.full(n, np.inf), np.full(n, -1, np.int64)
        heap, order, via = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
        number, below, above = np.full(n, -1, np.int32), np.empty(n, np.int32), np.empty(n, np.int32)
        free, depth, outer = np.empty(n, np.int32), np.empty(n, np.int32), np.empty(n, np.int32)
        row, other, passage = np.empty(n + 1, np.int32), np.empty(len(to), np.int32), np.empty(len(to))
        seq, far, best, held = np.empty(n, np.int64), np.empty(n), np.empty(n), np.empty(n)
        again, keys, names = np.empty(n), np.empty(room), np.empty(room, np.int32)
        inner, inner_passage = np.empty(2 * most, np.int32), np.empty(most)
        for at in range(chunk, len(sources), CHUNKS):
            s = sources[at]
            count = search(start, to, weight, s, limit, dist, place, heap, order, via)
            _preorder(count, order, owner, via, number, below, above, free)
            _lay_out(count, order, start, to, crossed, number, above, depth, row, other, passage, outer, seq)
            for a in range(count):
                far[a], held[a] = dist[seq[a]], area[seq[a]]
                best[a] = np.exp(-far[a])
            for low in range(1, count):
                high = low + below[low]
                end = 2.0 * far[low] + TIE if farther else np.inf
                wanted, before = _wanted(low, high, end, far, held, best)
                if wanted == 0:
                    continue
                k = seq[low]
                size = _seeds(
                    low, high, row, other, passage, outer, depth[low], best, least, again, keys, names
                )
                size, inside = _come_back(
                    low, high, back_start[k], back_start[k + 1], back_ends, back_passage, number, best, least,
                    again, keys, names, size, inner, inner_passage,
                )  # fmt: skip
                after = _worth_without(
                    low, high, end, wanted, row, other, passage, far, held, least, again, keys, names, size,
                    inner, inner_passage, inside,
                )  # fmt: skip
                lost[chunk, k] += 2.0 * area[s] * (before - after)
            for m in range(count):
                v = order[m]
                dist[v], place[v], number[v] = np.inf, -1, -1
    return lost
