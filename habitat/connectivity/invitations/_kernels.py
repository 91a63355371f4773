"""Compiled gains of one more patch beside a dense matrix of best passages."""

from __future__ import annotations

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from habitat.arrays import Floats, Ints

TOGETHER = 8
"""Candidates that are tried side by side."""


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
def _opened(stands: Floats, far: Floats, held: Floats, reach: float, cut: float) -> float:
    """Return what the pairs of one node with others gain, per area of that node."""
    part = 0.0
    # Choices in place of branches: this loop must run in vector registers.
    for j in range(len(far)):
        through = reach * far[j]
        more = through - stands[j] if through >= cut else 0.0
        part += held[j] * (more if more > 0.0 else 0.0)
    return part


@njit(cache=True)
def gains_of(
    best: Floats, count: int, area: Floats, rows: Floats, own: Floats, cut: float, gains: Floats
) -> None:
    """Fill what each of some patches of area ``own`` with passages ``rows`` adds to sum a_i a_j p*_ij.

    A row of the matrix serves all of them before the next is read, since reading is what takes long.
    """
    total = len(rows)
    end, flow, opened = np.zeros(total, np.int64), np.zeros(total), np.zeros(total)
    for c in range(total):
        for m in range(count):
            if rows[c, m] > 0.0:
                flow[c] += area[m] * rows[c, m]
                end[c] = m + 1
    for i in range(count):
        for c in range(total):
            if rows[c, i] > 0.0 and area[i] > 0.0 and i + 1 < end[c]:
                opened[c] += area[i] * _opened(
                    best[i, i + 1 : end[c]], rows[c, i + 1 : end[c]], area[i + 1 : end[c]], rows[c, i], cut
                )
    for c in range(total):
        gains[c] = own[c] * own[c] + 2.0 * own[c] * flow[c] + 2.0 * opened[c]


@njit(cache=True, parallel=True)
def evaluate_all(
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
    for block in prange((len(nodes) + TOGETHER - 1) // TOGETHER):
        first, last = block * TOGETHER, min((block + 1) * TOGETHER, len(nodes))
        for c in range(first, last):
            row_of(best, count, position, start, to, weight, nodes[c], cut, rows[c])
        gains_of(best, count, area, rows[first:last], own[first:last], cut, gains[first:last])


@njit(cache=True, parallel=True)
def raise_limits(
    best: Floats, new: int, area: Floats, position: Ints, start: Ints, to: Ints, weight: Floats, nodes: Ints,
    own: Floats, cut: float, rows: Floats, limits: Floats, exact: NDArray[np.bool_],
) -> None:  # fmt: skip
    """Raise upper limits of gains, and the rows of passages they are for, to what they are with a new patch.

    The patch stands at index ``new`` of ``best`` (the last one) already. With r a candidate's row before and
    s after, P the matrix after, y the new patch: s_i = max(r_i, s_y P_yi). A pair i, j of nodes that stand
    where they stood gains no more than before; if both got nearer over y, s_i s_j = s_y^2 P_yi P_yj <= P_ij,
    so it gains nothing; if only i did, it gains at most (s_i - r_i) r_j more. Pairs with y are summed.
    ``exact`` falls where a candidate and the new patch reach a node in common.
    """
    for c in prange(len(nodes)):
        reach = 0.0
        for e in range(start[nodes[c]], start[nodes[c] + 1]):
            at = position[to[e]]
            if at >= 0:
                reach = max(reach, np.exp(-weight[e]) * best[at, new])
        reach = reach if reach >= cut else 0.0
        nearer, same, pairs, met = 0.0, 0.0, 0.0, reach > 0.0
        for m in range(new):
            stood, link = rows[c, m], best[new, m]
            through = reach * link
            if through > stood and through >= cut:
                nearer += area[m] * (through - stood)
                rows[c, m] = through
            else:
                same += area[m] * stood
            pairs += area[m] * max(0.0, reach * rows[c, m] - link)
            met |= stood > 0.0 and link > 0.0
        rows[c, new] = reach
        limits[c] += 2.0 * (own[c] * (nearer + area[new] * reach) + nearer * same + area[new] * pairs)
        exact[c] &= not met


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
