"""What one more square metre of habitat is worth in each yard, for the planting weights."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from habitat.connectivity.case import Case
from habitat.connectivity.connected import passages
from habitat.connectivity.types import CorridorRequest

TYPICAL_M2 = 10.0
"""Habitat that a yard without any is tried with [m2] where no plan gives a measure: judgement."""


def gains_of(request: CorridorRequest, case: Case) -> dict[tuple[str, str], float]:
    """Return (yard_id, butterfly) -> worth of one more m2 there over the mean of all yards to be planted.

    In the members' state at median reach. Where a patch stands, the derivative of the equivalent connected
    area, sum_j a_j p*_ij / ECA; where none stands, what a patch of typical size in the yard would add, by
    area: its own ground, what reaches it, and what would pass through it.
    """
    yards = request.yards[request.yards["role"].isin(["member", "candidate"])].sort_values("yard_id")
    state = case.state("members")
    if not len(yards) or not state.area_m2.any():
        return {}
    best = passages(state.graph, state.cut)
    numerator = float(state.area_m2 @ best @ state.area_m2)
    eca = np.sqrt(numerator)
    arriving = best @ state.area_m2
    at = {place: k for k, place in enumerate(case.spread.place[state.nodes])}
    size = float(np.median(state.area_m2[state.area_m2 > 0.0])) or TYPICAL_M2
    worth = {}
    bare = [y for y in yards.itertuples() if y.yard_id not in at or state.area_m2[at[y.yard_id]] <= 0.0]
    for yard in yards.itertuples():
        if yard.yard_id in at and state.area_m2[at[yard.yard_id]] > 0.0:
            worth[yard.yard_id] = float(arriving[at[yard.yard_id]] / eca)
    rows = rows_to(case, state.nodes, np.array([y.geometry for y in bare], object), best, state.cut)
    for yard, row in zip(bare, rows, strict=True):
        more = added(best, state.area_m2, row, size)
        worth[yard.yard_id] = float((np.sqrt(numerator + more) - eca) / size)
    mean = float(np.mean(list(worth.values())))
    return {(y, case.butterfly): w / mean for y, w in worth.items()} if mean > 0.0 else {}


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
