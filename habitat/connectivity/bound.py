"""How good any set of invitations could be: an upper bound on the joint score."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from habitat.connectivity.connected import passages
from habitat.connectivity.graph import without_dominated
from habitat.connectivity.growing import Stage

Floats = NDArray[np.float64]


def bound_of(
    stages: list[Stage], number: int, costs: Floats, budget: float | None, found_m2: Floats
) -> float:
    """Return a joint score that no set within the limits exceeds.

    Parameters
    ----------
    stages, number, costs, budget
        As for ``habitat.connectivity.invitations.choose``.
    found_m2
        (butterflies,) equivalent connected areas of the set found; where the square root is made straight.

    Notes
    -----
    With the passages p of the graph where all candidates are in, E what is there and S the set:
    PCnum(S) <= sum_E a_i a_j p_ij + sum over i in S of v_i, with
    v_i = a_i^2 + 2 a_i sum_E a_j p_ij + a_i x (sum of the k - 1 largest a_j p_ij among candidates). The k
    largest v_i (fractional knapsack for money) bound each butterfly; since the square root is concave,
        its tangent
    gives a second bound for all butterflies with one choice of yards. The lower of the two counts.
    """
    whole = np.array([s.whole_m2 for s in stages])
    used = [k for k in range(len(stages)) if whole[k] > 0.0]
    total = sum(stages[k].weight for k in used)
    if not used or total <= 0.0:
        return 0.0
    apart, tangent, slopes = 0.0, 0.0, np.zeros(len(costs))
    for k in used:
        stage, w = stages[k], stages[k].weight / total / whole[k]
        stands, worth = _linear(stage, number)
        top = np.sqrt(stands + _best_sum(worth, number, costs, budget))
        apart += w * min(float(top), stage.whole_m2)
        at = max(float(found_m2[k]), 1e-12)
        tangent += w * (at / 2.0 + stands / (2.0 * at))
        slopes += w * worth / (2.0 * at)
    return min(apart, tangent + _best_sum(slopes, number, costs, budget))


def _linear(stage: Stage, number: int) -> tuple[float, Floats]:
    """Return what E is worth on the full graph [m4], and the most that each candidate adds [m4]."""
    keep = np.zeros(stage.graph.nodes, np.bool_)
    keep[stage.base] = True
    keep[stage.node[stage.node >= 0]] = True
    index = np.cumsum(keep) - 1
    p = passages(without_dominated(stage.graph.subset(keep))[0], stage.cut)
    base = stage.area_m2[keep]
    stands = float(base @ p @ base)
    worth = np.zeros(len(stage.node))
    here = np.flatnonzero(stage.node >= 0)
    if len(here) == 0:
        return stands, worth
    node, extra = index[stage.node[here]], np.maximum(stage.extra_m2[here], 0.0)
    among = extra[None, :] * p[np.ix_(node, node)]
    np.fill_diagonal(among, 0.0)
    friends = min(number - 1, len(here) - 1)
    best = np.sort(among, axis=1)[:, ::-1][:, :friends].sum(axis=1) if friends > 0 else np.zeros(len(here))
    worth[here] = extra**2 + 2.0 * extra * (p[node] @ base) + extra * best
    return stands, worth


def _best_sum(worth: Floats, number: int, costs: Floats, budget: float | None) -> float:
    """Return the most that ``number`` yards add, or what money buys when the last one may be split."""
    most = float(np.sort(worth)[::-1][:number].sum())
    if budget is None:
        return most
    free = costs <= 0.0
    left, total = budget, float(worth[free].sum())
    order = np.flatnonzero(~free)[np.argsort(-(worth[~free] / costs[~free]), kind="stable")]
    for c in order:
        share = min(1.0, left / costs[c])
        total += share * float(worth[c])
        left -= share * float(costs[c])
        if left <= 0.0:
            break
    return min(most, total)
