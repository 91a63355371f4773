"""Compiled elimination: an order in which nodes go, and the shortcuts that keep best passages whole.

Nodes go one by one; the neighbours that one leaves behind count as linked to each other from then on. Taking
those with few neighbours first keeps these shortcuts few. After that every best path has a twin that leads
from its ends only to nodes that go later: see ``_sweep_kernels``. Plain arrays in and out, nothing raises.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from habitat.arrays import Floats, Ints, Short


@njit(cache=True)
def _unlink(v: int, degree: Short, head: Short, after: Short, prior: Short) -> None:
    """Take a node out of the list of its degree."""
    if prior[v] >= 0:
        after[prior[v]] = after[v]
    else:
        head[degree[v]] = after[v]
    if after[v] >= 0:
        prior[after[v]] = prior[v]


@njit(cache=True)
def _link(v: int, degree: Short, head: Short, after: Short, prior: Short) -> None:
    """Put a node at the front of the list of its degree."""
    first = head[degree[v]]
    prior[v], after[v], head[degree[v]] = -1, first, v
    if first >= 0:
        prior[first] = v


@njit(cache=True)
def _left_behind(
    v: int, start: Ints, bags: Short, bag_count: Short, links: Short, link_count: Short, first: Ints,
    length: Short, pool: Short, at: int, mark: Short,
) -> int:  # fmt: skip
    """List what v leaves behind at ``pool[at:]`` and return its end; the bags that v was in are used up."""
    mark[v] = v
    for m in range(start[v], start[v] + bag_count[v]):
        bag = bags[m]
        for k in range(first[bag], first[bag] + length[bag]):
            u = pool[k]
            if mark[u] != v:
                mark[u], pool[at] = v, u
                at += 1
        length[bag] = 0
    for m in range(start[v], start[v] + link_count[v]):
        u = links[m]
        if mark[u] != v:
            mark[u], pool[at] = v, u
            at += 1
    return at


@njit(cache=True)
def _tidy(
    u: int, v: int, start: Ints, bags: Short, bag_count: Short, links: Short, link_count: Short,
    length: Short, mark: Short, seen: Short, outside: Short,
) -> None:  # fmt: skip
    """Drop what the new bag v stands for from u's bags and links; count the rest of u's bags outside v."""
    at = start[u]
    for m in range(start[u], start[u] + bag_count[u]):
        bag = bags[m]
        if length[bag] > 0:
            bags[at] = bag
            at += 1
            if seen[bag] != v:
                seen[bag], outside[bag] = v, length[bag]
            outside[bag] -= 1
    bags[at] = v
    bag_count[u] = at + 1 - start[u]
    at = start[u]
    for m in range(start[u], start[u] + link_count[u]):
        if mark[links[m]] != v:
            links[at] = links[m]
            at += 1
    link_count[u] = at - start[u]


@njit(cache=True)
def contraction_order(start: Ints, to: Ints, most: int) -> tuple[Ints, Ints, Short, Short]:
    """Return an order in which nodes go, and what each leaves behind (approximate least degree first).

    order : (nodes,) nodes as they go. first, count : (nodes,) where in ``pool`` the nodes begin that a node
    leaves behind, and how many. pool : those nodes; of no length if there would be more than ``most``.

    Notes
    -----
    What a node leaves behind is kept as one bag, not as all its pairs, and a degree is a sum over bags, so
    an upper limit of the true one: Amestoy, Davis & Duff 1996, SIAM J. Matrix Anal. Appl. 17:886-905.
    """
    n = len(start) - 1
    links, bags = to.astype(np.int32), np.empty(len(to), np.int32)
    link_count, bag_count = np.empty(n, np.int32), np.zeros(n, np.int32)
    head, after, prior = np.full(n + 1, -1, np.int32), np.empty(n, np.int32), np.empty(n, np.int32)
    degree = np.empty(n, np.int32)
    for v in range(n - 1, -1, -1):
        link_count[v] = degree[v] = start[v + 1] - start[v]
        _link(v, degree, head, after, prior)
    mark, seen = np.full(n, -1, np.int32), np.full(n, -1, np.int32)
    outside, length, left = np.empty(n, np.int32), np.zeros(n, np.int32), np.zeros(n, np.int32)
    order, first = np.empty(n, np.int64), np.empty(n, np.int64)
    pool, at, least = np.empty(2 * len(to) + n, np.int32), 0, 0
    for step in range(n):
        while head[least] < 0:
            least += 1
        v = head[least]
        _unlink(v, degree, head, after, prior)
        if at + n - step > most:
            return order, first, left, pool[:0]
        if at + n - step > len(pool):
            grown = np.empty(2 * len(pool) + n, np.int32)
            grown[:at] = pool[:at]
            pool = grown
        order[step], first[v] = v, at
        at = _left_behind(v, start, bags, bag_count, links, link_count, first, length, pool, at, mark)
        length[v] = left[v] = at - first[v]
        for u in pool[first[v] : at]:
            _tidy(u, v, start, bags, bag_count, links, link_count, length, mark, seen, outside)
        for u in pool[first[v] : at]:
            _unlink(u, degree, head, after, prior)
            about = left[v] - 1 + link_count[u]
            for m in range(start[u], start[u] + bag_count[u] - 1):
                about += outside[bags[m]]
            degree[u] = min(about, n - step - 2)
            least = min(least, degree[u])
            _link(u, degree, head, after, prior)
    return order, first, left, pool


@njit(cache=True)
def elimination_tree(order: Ints, first: Ints, left: Short, pool: Short) -> tuple[Short, Short, Short]:
    """Return (nodes,) rank, and by rank the parent (-1 for a root) and how many lie in the subtree.

    A node's parent is the first to go of those that it leaves behind. Ranks put children before parents and
    every subtree into one stretch that its root ends.
    """
    n = len(order)
    place, above, below = np.empty(n, np.int32), np.full(n, -1, np.int32), np.ones(n, np.int32)
    for k in range(n):
        place[order[k]] = k
    for v in order:
        soonest = n
        for u in pool[first[v] : first[v] + left[v]]:
            soonest = min(soonest, place[u])
        if soonest < n:
            above[v] = order[soonest]
            below[above[v]] += below[v]
    rank, free = np.empty(n, np.int32), np.empty(n, np.int32)
    parent, size = np.full(n, -1, np.int32), np.empty(n, np.int32)
    end = n
    for v in order[::-1]:
        if above[v] < 0:
            rank[v] = end - 1
            end -= below[v]
        else:
            rank[v] = free[above[v]]
            free[above[v]] -= below[v]
            parent[rank[v]] = rank[above[v]]
        free[v] = rank[v] - 1
        size[rank[v]] = below[v]
    return rank, parent, size


@njit(cache=True)
def rows_up(
    order: Ints, first: Ints, left: Short, pool: Short, rank: Short, graph_start: Ints, graph_to: Ints,
    weight: Floats,
) -> tuple[Ints, Short, Floats]:  # fmt: skip
    """Return compressed rows, by rank, of what each node leaves behind and the passages there at first."""
    n = len(order)
    start = np.zeros(n + 1, np.int64)
    for v in range(n):
        start[rank[v] + 1] = left[v]
    for r in range(n):
        start[r + 1] += start[r]
    to, passage = np.empty(start[n], np.int32), np.zeros(start[n])
    slot = np.empty(n, np.int64)
    for v in range(n):
        at = start[rank[v]]
        for u in pool[first[v] : first[v] + left[v]]:
            to[at] = rank[u]
            slot[u] = at
            at += 1
        for e in range(graph_start[v], graph_start[v + 1]):
            if rank[graph_to[e]] > rank[v]:
                passage[slot[graph_to[e]]] = np.exp(-weight[e])
    return start, to, passage


@njit(cache=True)
def add_shortcuts(start: Ints, to: Short, passage: Floats) -> None:
    """Raise the passage between any two that a node leaves behind to what leads through it, in rank order."""
    near = np.zeros(len(start) - 1)
    for r in range(len(start) - 1):
        for m in range(start[r], start[r + 1]):
            near[to[m]] = passage[m]
        for m in range(start[r], start[r + 1]):
            x, p = to[m], passage[m]
            if p > 0.0:
                for k in range(start[x], start[x + 1]):
                    passage[k] = np.maximum(passage[k], p * near[to[k]])
        for m in range(start[r], start[r + 1]):
            near[to[m]] = 0.0


@njit(cache=True)
def needed(start: Ints, to: Short, passage: Floats) -> tuple[Ints, Short, Floats]:
    """Return the rows without what a way over later nodes beats: no best path needs it.

    Dibbelt, Strasser & Wagner 2016, ACM J. Exp. Algorithmics 21:1.5.
    """
    n = len(start) - 1
    best, slot = passage.copy(), np.full(n, -1, np.int64)
    keep = np.zeros(n + 1, np.int64)
    for r in range(n - 1, -1, -1):
        first, last = start[r], start[r + 1]
        for m in range(first, last):
            slot[to[m]] = m
        for m in range(first, last):
            x = to[m]
            for k in range(start[x], start[x + 1]):
                other = slot[to[k]]
                if other >= 0:
                    best[m] = max(best[m], passage[other] * best[k])
                    best[other] = max(best[other], passage[m] * best[k])
        for m in range(first, last):
            slot[to[m]] = -1
            keep[r + 1] += passage[m] > 0.0 and passage[m] >= best[m]
    for r in range(n):
        keep[r + 1] += keep[r]
    kept_to, kept, at = np.empty(keep[n], np.int32), np.empty(keep[n]), 0
    for m in range(len(to)):
        if passage[m] > 0.0 and passage[m] >= best[m]:
            kept_to[at], kept[at] = to[m], passage[m]
            at += 1
    return keep, kept_to, kept
