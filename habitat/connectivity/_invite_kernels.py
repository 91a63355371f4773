"""Compiled trials of one more patch against a dense matrix of best passages."""

from __future__ import annotations

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@njit(cache=True)
def row_of(
    best: Floats,
    count: int,
    position: Ints,
    start: Ints,
    to: Ints,
    weight: Floats,
    node: int,
    cut: float,
    row: Floats,
) -> None:
    """Fill ``row`` with the best passages from a node that is not in the matrix to those that are."""
    own = row[:count]
    own[:] = 0.0
    for e in range(start[node], start[node + 1]):
        at = position[to[e]]
        if at >= 0:
            p = np.exp(-weight[e])
            other = best[at, :count]
            for m in range(len(own)):
                own[m] = max(own[m], p * other[m])
    for m in range(len(own)):
        if own[m] < cut:
            own[m] = 0.0


@njit(cache=True, fastmath={"reassoc", "contract", "nsz", "nnan"})
def gain_of(best: Floats, count: int, area: Floats, row: Floats, own: float, cut: float) -> float:
    """Return what a patch of area ``own`` with passages ``row`` adds to sum a_i a_j p*_ij."""
    flow, opened = 0.0, 0.0
    first, last = count, -1
    for m in range(count):
        if row[m] > 0.0:
            flow += area[m] * row[m]
            first = min(first, m)
            last = m
    for i in range(first, last):
        if row[i] <= 0.0 or area[i] <= 0.0:
            continue
        # Slices, and choices in place of branches: this loop must run in vector registers.
        stands, far, held = best[i, i + 1 : last + 1], row[i + 1 : last + 1], area[i + 1 : last + 1]
        part, reach = 0.0, row[i]
        for j in range(len(far)):
            through = reach * far[j]
            more = through - stands[j] if through >= cut else 0.0
            part += held[j] * (more if more > 0.0 else 0.0)
        opened += area[i] * part
    return own * own + 2.0 * own * flow + 2.0 * opened


@njit(cache=True, parallel=True)
def try_all(
    best: Floats,
    count: int,
    area: Floats,
    position: Ints,
    start: Ints,
    to: Ints,
    weight: Floats,
    nodes: Ints,
    own: Floats,
    cut: float,
    gains: Floats,
    rows: Floats,
) -> None:
    """Try each of ``nodes`` alone; fill its gain and its row of passages."""
    for c in prange(len(nodes)):
        row_of(best, count, position, start, to, weight, nodes[c], cut, rows[c])
        gains[c] = gain_of(best, count, area, rows[c], own[c], cut)


@njit(cache=True, parallel=True)
def add_row(best: Floats, count: int, row: Floats, cut: float) -> None:
    """Put a patch at index ``count`` of the matrix and let every pair go through it."""
    for i in prange(count):
        if row[i] > 0.0:
            stands, reach = best[i, :count], row[i]
            for j in range(len(stands)):
                through = reach * row[j]
                if through > stands[j] and through >= cut:
                    stands[j] = through
    for m in range(count):
        best[count, m] = row[m]
        best[m, count] = row[m]
    best[count, count] = 1.0
