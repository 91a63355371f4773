"""Compiled graph searches over passages: plain arrays in and out, nothing raises.

A graph is compressed rows: the links of node ``v`` are ``to[start[v]:start[v + 1]]`` with weight
``-ln(passage)`` in ascending order. Every loop over sources is cut into a fixed number of chunks, so that
sums do not depend on how many threads there are.
"""

from __future__ import annotations

import numpy as np
from numba import njit, prange

from habitat.arrays import Flags, Floats, Ints, Short

CHUNKS = 16
"""Parts that a loop over sources is cut into; fixed, so that results do not depend on the machine."""


@njit(cache=True)
def _rise(heap: Ints, place: Ints, dist: Floats, at: int) -> None:
    """Move an entry of the 4-ary heap up to where it belongs."""
    node = heap[at]
    key = dist[node]
    while at > 0:
        parent = (at - 1) >> 2
        other = heap[parent]
        if dist[other] <= key:
            break
        heap[at] = other
        place[other] = at
        at = parent
    heap[at] = node
    place[node] = at


@njit(cache=True)
def _pop(heap: Ints, place: Ints, dist: Floats, size: int) -> int:
    """Take the nearest node off the heap of ``size`` entries."""
    top = heap[0]
    node = heap[size - 1]
    size -= 1
    key = dist[node]
    at = 0
    while True:
        first = 4 * at + 1
        if first >= size:
            break
        best = first
        for child in range(first + 1, min(first + 4, size)):
            if dist[heap[child]] < dist[heap[best]]:
                best = child
        if dist[heap[best]] >= key:
            break
        heap[at] = heap[best]
        place[heap[at]] = at
        at = best
    if size > 0:
        heap[at] = node
        place[node] = at
    place[top] = -2
    return top


@njit(cache=True)
def search(
    start: Ints,
    to: Ints,
    weight: Floats,
    source: int,
    limit: float,
    dist: Floats,
    place: Ints,
    heap: Ints,
    order: Ints,
    via: Ints,
) -> int:
    """Dijkstra from one source up to ``limit``; return how many nodes were settled, in ``order``.

    ``dist`` must come in as infinity and ``place`` as -1 everywhere; ``via[v]`` is the row position of the
    link that reached v (-1 for the source).
    """
    count, size = 0, 1
    heap[0] = source
    place[source] = 0
    dist[source] = 0.0
    via[source] = -1
    while size > 0:
        v = _pop(heap, place, dist, size)
        size -= 1
        order[count] = v
        count += 1
        for e in range(start[v], start[v + 1]):
            far = dist[v] + weight[e]
            if far > limit:
                break
            u = to[e]
            if far < dist[u]:
                dist[u] = far
                via[u] = e
                if place[u] < 0:
                    heap[size] = u
                    place[u] = size
                    size += 1
                _rise(heap, place, dist, place[u])
    return count


@njit(cache=True)
def _forget(count: int, order: Ints, dist: Floats, place: Ints) -> None:
    for m in range(count):
        dist[order[m]] = np.inf
        place[order[m]] = -1


@njit(cache=True, parallel=True)
def arriving(
    start: Ints, to: Ints, weight: Floats, area: Floats, limit: float, sources: Ints
) -> tuple[Floats, Floats]:
    """Return for each source s the sum over j of area_j p*_sj (own included), and the area met at all."""
    n, total = len(area), len(sources)
    worth = np.zeros(total)
    met = np.zeros(total)
    for chunk in prange(CHUNKS):
        dist = np.full(n, np.inf)
        place = np.full(n, -1, np.int64)
        heap, order, via = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
        for at in range(chunk, total, CHUNKS):
            count = search(start, to, weight, sources[at], limit, dist, place, heap, order, via)
            for m in range(count):
                v = order[m]
                if area[v] != 0.0:
                    worth[at] += area[v] * np.exp(-dist[v])
                    met[at] += area[v]
            _forget(count, order, dist, place)
    return worth, met


@njit(cache=True, parallel=True)
def all_passages(start: Ints, to: Ints, weight: Floats, limit: float, out: Floats) -> None:
    """Fill ``out`` (n, n) with the best product of passages between all nodes, 0 beyond the limit."""
    n = len(start) - 1
    for chunk in prange(CHUNKS):
        dist = np.full(n, np.inf)
        place = np.full(n, -1, np.int64)
        heap, order, via = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
        for s in range(chunk, n, CHUNKS):
            count = search(start, to, weight, s, limit, dist, place, heap, order, via)
            for m in range(count):
                out[s, order[m]] = np.exp(-dist[order[m]])
            _forget(count, order, dist, place)


@njit(cache=True)
def used_links(start: Ints, to: Ints, weight: Floats, owner: Ints, area: Floats, limit: float) -> Flags:
    """Mark the links that lie on a best path between two nodes that hold area."""
    n = len(area)
    used = np.zeros(len(to), np.bool_)
    dist = np.full(n, np.inf)
    place = np.full(n, -1, np.int64)
    heap, order, via = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    leads = np.zeros(n, np.bool_)
    for s in range(n):
        if area[s] <= 0.0:
            continue
        count = search(start, to, weight, s, limit, dist, place, heap, order, via)
        for m in range(count):
            leads[order[m]] = area[order[m]] > 0.0
        for m in range(count - 1, 0, -1):
            v = order[m]
            if leads[v]:
                used[via[v]] = True
                leads[owner[via[v]]] = True
        _forget(count, order, dist, place)
    return used


@njit(cache=True)
def label_groups(start: Ints, to: Ints) -> Ints:
    """Return the number of each node's component, 0, 1, ... by lowest node."""
    n = len(start) - 1
    label, stack = np.full(n, -1, np.int64), np.empty(n, np.int64)
    groups = 0
    for s in range(n):
        if label[s] >= 0:
            continue
        label[s], stack[0], size = groups, s, 1
        while size > 0:
            size -= 1
            v = stack[size]
            for e in range(start[v], start[v + 1]):
                if label[to[e]] < 0:
                    label[to[e]] = groups
                    stack[size] = to[e]
                    size += 1
        groups += 1
    return label


@njit(cache=True, parallel=True)
def only_dominator(start: Ints, to: Ints, weight: Floats) -> Short:
    """Return for each link i-j the one node k with w_ik + w_kj <= w_ij, -1 if there is none, -2 if more.

    Both links must come before i-j in the order (weight, lower node, higher node): without that, links of
    equal weight beside overlapping patches would drop out for each other's sake.
    """
    n = len(start) - 1
    found = np.full(len(to), -1, np.int32)
    for chunk in prange(CHUNKS):
        near = np.full(n, np.inf)
        for i in range(chunk, n, CHUNKS):
            for e in range(start[i], start[i + 1]):
                near[to[e]] = weight[e]
            for e in range(start[i], start[i + 1]):
                j, w = to[e], weight[e]
                for f in range(start[j], start[j + 1]):
                    if weight[f] > w:
                        break
                    k = to[f]
                    if k == i or near[k] + weight[f] > w:
                        continue
                    if _before(i, k, near[k], i, j, w) and _before(k, j, weight[f], i, j, w):
                        found[e] = k if found[e] == -1 else -2
                        if found[e] == -2:
                            break
            for e in range(start[i], start[i + 1]):
                near[to[e]] = np.inf
    return found


@njit(cache=True)
def _before(a: int, b: int, w: float, c: int, d: int, v: float) -> bool:
    """Whether link a-b of weight w comes before link c-d of weight v."""
    if w != v:
        return w < v
    low, high = min(a, b), max(a, b)
    other_low, other_high = min(c, d), max(c, d)
    return low < other_low or (low == other_low and high < other_high)


@njit(cache=True)
def path_back(
    start: Ints, to: Ints, weight: Floats, owner: Ints, source: int, target: int, limit: float
) -> Ints:
    """Return the nodes of a best path from target back to source (empty if there is none)."""
    n = len(start) - 1
    dist = np.full(n, np.inf)
    place = np.full(n, -1, np.int64)
    heap, order, via = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    search(start, to, weight, source, limit, dist, place, heap, order, via)
    found = 0
    if dist[target] < np.inf:
        node = target
        order[0] = node
        found = 1
        while node != source:
            node = owner[via[node]]
            order[found] = node
            found += 1
    return order[:found].copy()
