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
    for m in range(count):
        row[m] = 0.0
    for e in range(start[node], start[node + 1]):
        at = position[to[e]]
        if at >= 0:
            p = np.exp(-weight[e])
            for m in range(count):
                row[m] = max(row[m], p * best[at, m])
    for m in range(count):
        if row[m] < cut:
            row[m] = 0.0


@njit(cache=True, fastmath={"reassoc", "contract", "nsz"})
def gain_of(best: Floats, count: int, area: Floats, row: Floats, own: float, cut: float) -> float:
    """Return what a patch of area ``own`` with passages ``row`` adds to sum a_i a_j p*_ij."""
    flow, opened = 0.0, 0.0
    first, last = count, -1
    for m in range(count):
        if row[m] > 0.0:
            flow += area[m] * row[m]
            first = min(first, m)
            last = m
    for i in range(first, last + 1):
        if row[i] <= 0.0 or area[i] <= 0.0:
            continue
        part = 0.0
        reach = row[i]
        for j in range(i + 1, last + 1):
            through = reach * row[j]
            more = through - best[i, j]
            if more > 0.0 and through >= cut:
                part += area[j] * more
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
            for j in range(count):
                through = row[i] * row[j]
                if through > best[i, j] and through >= cut:
                    best[i, j] = through
    for m in range(count):
        best[count, m] = row[m]
        best[m, count] = row[m]
    best[count, count] = 1.0
