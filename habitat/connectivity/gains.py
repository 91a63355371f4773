"""What one more square metre of habitat is worth in each yard, for the planting weights."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from habitat.connectivity.case import Case
from habitat.connectivity.connected import DENSE_UP_TO, passages
from habitat.connectivity.types import CorridorRequest

TYPICAL_M2 = 10.0
"""Habitat that a yard without any is tried with [m2] where no plan gives a measure: judgement."""


def gains_of(request: CorridorRequest, case: Case) -> dict[tuple[str, str], float]:
    """Return (yard_id, butterfly) -> worth of one more m2 there over the mean of all yards to be planted.

    In the members' state at median reach. Where a patch stands, the derivative of the equivalent connected
    area, sum_j a_j p*_ij / ECA; where none stands, what a patch of typical size in the yard would add, by
    area: its own ground, what reaches it, and what would pass through it (past 4,000 patches without the
    last).
    """
    yards = request.yards[request.yards["role"].isin(["member", "candidate"])].sort_values("yard_id")
    state = case.state("members")
    if not len(yards) or not state.area_m2.any():
        return {}
    whole = state.connected()
    eca = whole.equivalent_area_m2
    size = float(np.median(state.area_m2[state.area_m2 > 0.0])) or TYPICAL_M2
    held = state.area_m2 > 0.0
    standing = dict(zip(case.spread.place[state.nodes][held], whole.arriving_m2[held] / eca, strict=True))
    bare = yards[~yards["yard_id"].isin(standing)]
    more = bare_gains(case, bare.geometry.to_numpy(), size)
    worth = {y: float(standing[y]) for y in yards["yard_id"] if y in standing}
    worth |= {y: float(m / size) for y, m in zip(bare["yard_id"], more, strict=True)}
    mean = float(np.mean(list(worth.values())))
    return {(y, case.butterfly): w / mean for y, w in worth.items()} if mean > 0.0 else {}


def bare_gains(case: Case, shapes: NDArray[np.object_], size_m2: float) -> NDArray[np.float64]:
    """Return (shapes,) what a patch of a size on each adds to the members' equivalent connected area [m2].

    Past ``DENSE_UP_TO`` patches what would pass through is left out, so that the gain is a lower limit.
    """
    state = case.state("members")
    if len(state.nodes) > DENSE_UP_TO:
        whole = state.connected()
        hops = case.hops_from(shapes, state.nodes)
        reached = np.zeros(len(shapes))
        passage = case.reaches["median"].passage(hops.distance_m)
        np.maximum.at(reached, hops.i, passage * whole.arriving_m2[hops.j])
        more = size_m2**2 + 2.0 * size_m2 * reached
        return np.sqrt(whole.numerator + more) - np.sqrt(whole.numerator)
    best = passages(state.graph, state.cut)
    now = float(state.area_m2 @ best @ state.area_m2)
    rows = rows_to(case, state.nodes, shapes, best, state.cut)
    added_m4 = np.array([added(best, state.area_m2, row, size_m2) for row in rows])
    return np.sqrt(now + added_m4) - np.sqrt(now)


def rows_to(
    case: Case, nodes: NDArray[np.int64], shapes: NDArray[np.object_], best: NDArray[np.float64], cut: float
) -> NDArray[np.float64]:
    """Return (shapes, nodes) best passages from new ground to the nodes of a state, edge to edge."""
    out = np.zeros((len(shapes), len(nodes)))
    if not len(shapes) or not len(nodes):
        return out
    hops = case.hops_from(shapes, nodes)
    p = case.reaches["median"].passage(hops.distance_m)
    limits = np.searchsorted(hops.i, np.arange(len(shapes) + 1))
    for k, (first, last) in enumerate(itertools.pairwise(limits)):
        if last > first:
            out[k] = (p[first:last, None] * best[hops.j[first:last]]).max(axis=0)
    out[out < cut] = 0.0
    return out


def added(
    best: NDArray[np.float64], area: NDArray[np.float64], row: NDArray[np.float64], own: float
) -> float:
    """Return what a patch of area ``own`` with passages ``row`` adds to the numerator [m4]."""
    near = np.flatnonzero((row > 0.0) & (area > 0.0))
    through = np.outer(row[near], row[near])
    np.fill_diagonal(through, 0.0)
    opened = np.maximum(through - best[np.ix_(near, near)], 0.0)
    return float(own**2 + 2.0 * own * (area @ row) + area[near] @ opened @ area[near])
