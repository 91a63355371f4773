"""Compiled sweeps over nodes by rank of elimination: best passages from many sources at once.

Every best path has a twin that leads up to nodes of higher rank and down again. A sweep carries ``LANES``
sources of neighbouring rank side by side in vector registers: up from them to their ancestors, then down
over all nodes but the subtrees that no passage above the cut leads into. Plain arrays, nothing raises.
"""

from __future__ import annotations

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from habitat.arrays import Floats, Ints, Short

Bytes = NDArray[np.uint8]
LANES = 32
"""Sources that a sweep carries side by side."""
CHUNKS = 16
"""Parts that a loop over sources is cut into; fixed, so that results do not depend on the machine."""


@njit(cache=True)
def _relax(row: Floats, other: Floats, passage: float) -> None:
    """Raise a row of passages to what leads through another node."""
    for k in range(row.shape[0]):
        # np.maximum, not a condition: it becomes one instruction, a condition a slow masked store
        row[k] = np.maximum(row[k], other[k] * passage)


@njit(cache=True)
def _settle(row: Floats, least: float) -> bool:
    """Take passages below ``least`` as 0; return whether any is left."""
    for k in range(row.shape[0]):
        p = row[k]
        row[k] = p if p >= least else 0.0
    k = 0
    while k < row.shape[0] and row[k] == 0.0:
        k += 1
    return k < row.shape[0]


@njit(cache=True)
def _up(
    low: int, high: int, start: Ints, to: Short, passage: Floats, parent: Short, found: Floats, live: Bytes
) -> None:
    """Sweep from the sources ``low`` to ``high`` to their ancestors; all others come out as not live."""
    live[:] = 0
    v = low
    while v >= 0:
        live[v] = 1
        found[v, :] = 0.0
        if v < high:
            found[v, v - low] = 1.0
        v = v + 1 if v < high - 1 else parent[v]
    v = low
    while v >= 0:
        for e in range(start[v], start[v + 1]):
            _relax(found[to[e]], found[v], passage[e])
        v = v + 1 if v < high - 1 else parent[v]


@njit(cache=True)
def _sweep(
    low: int, high: int, start: Ints, to: Short, passage: Floats, parent: Short, size: Short, edge: Ints,
    around: Short, least: float, found: Floats, live: Bytes,
) -> None:  # fmt: skip
    """Fill ``found`` (nodes, LANES) with best passages from the sources; rows count only where ``live``.

    ``around[edge[v]:edge[v + 1]]`` are the nodes that all ways into the subtree of v lead over.
    """
    _up(low, high, start, to, passage, parent, found, live)
    v = len(parent) - 1
    while v >= 0:
        if live[v] == 0:
            reached = False
            for e in range(edge[v], edge[v + 1]):
                if live[around[e]] != 0:
                    reached = True
                    break
            if not reached:
                v -= size[v]
                continue
            found[v, :] = 0.0
        for e in range(start[v], start[v + 1]):
            if live[to[e]] != 0:
                _relax(found[v], found[to[e]], passage[e])
        live[v] = _settle(found[v], least)
        v -= 1


@njit(cache=True)
def _add(row: Floats, area: float, worth: Floats, met: Floats) -> None:
    for k in range(row.shape[0]):
        worth[k] += area * row[k]
        met[k] += area if row[k] > 0.0 else 0.0


@njit(cache=True, parallel=True)
def arriving(
    start: Ints, to: Short, passage: Floats, parent: Short, size: Short, edge: Ints, around: Short,
    area: Floats, least: float,
) -> tuple[Floats, Floats]:  # fmt: skip
    """Return by rank the sum over j of area_j p*_sj (own included), and the area met at all.

    All by rank; arguments as ``Elimination``; passages below ``least`` count as 0.
    """
    n = len(parent)
    worth, met = np.zeros(n), np.zeros(n)
    for chunk in prange(CHUNKS):
        found, live = np.empty((n, LANES)), np.empty(n, np.uint8)
        for low in range(chunk * LANES, n, CHUNKS * LANES):
            high = min(low + LANES, n)
            _sweep(low, high, start, to, passage, parent, size, edge, around, least, found, live)
            sums = np.zeros((2, LANES))
            for v in range(n):
                if live[v] != 0 and area[v] != 0.0:
                    _add(found[v], area[v], sums[0], sums[1])
            worth[low:high], met[low:high] = sums[0, : high - low], sums[1, : high - low]
    return worth, met


@njit(cache=True, parallel=True)
def all_passages(
    start: Ints, to: Short, passage: Floats, parent: Short, size: Short, edge: Ints, around: Short,
    node: Ints, least: float, out: Floats,
) -> None:  # fmt: skip
    """Fill ``out`` (nodes, nodes), 0 before, with best passages; ``node[rank]`` is a node's own number."""
    n = len(parent)
    for chunk in prange(CHUNKS):
        found, live = np.empty((n, LANES)), np.empty(n, np.uint8)
        for low in range(chunk * LANES, n, CHUNKS * LANES):
            high = min(low + LANES, n)
            _sweep(low, high, start, to, passage, parent, size, edge, around, least, found, live)
            for v in range(n):
                if live[v] != 0:
                    for s in range(low, high):
                        out[node[s], node[v]] = found[v, s - low]
