"""How the corridor falls when yards drop out: at random, and the worst ones first."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from habitat.connectivity.case import StateGraph
from habitat.connectivity.connected import connect, importance
from habitat.connectivity.graph import without_dominated

SHARES = (0.1, 0.2, 0.3, 0.4, 0.5)
EXACT_UP_TO = 1_000
"""Patches up to which the order is worked out anew after each loss."""
TRIED_UP_TO = 5_000
"""Patches up to which losses are tried at all; beyond it they take too long."""


def losses(state: StateGraph, may_go: NDArray[np.bool_], *, draws: int, seed: int) -> dict[str, Any]:
    """Return the equivalent connected area that is left when shares of the yards go.

    Parameters
    ----------
    state
        The graph and areas.
    may_go
        (nodes,) what can drop out (anchors stay).
    draws
        Random orders.

    Returns
    -------
    dict
        ``share`` lost, and what is left over the whole (0-1): ``random_mean``,
            ``random_low`` and ``random_high``
        (5th and 95th percentile), ``worst_first`` (the yards that carry most go first,
        worked out anew at each step).
    """
    whole = state.connected().equivalent_area_m2
    free = np.flatnonzero(may_go)
    if whole <= 0.0 or not len(free) or len(state.nodes) > TRIED_UP_TO:
        return {}
    counts = [round(s * len(free)) for s in SHARES]
    rng = np.random.default_rng(seed)
    left = np.empty((draws, len(counts)))
    for d in range(draws):
        order = rng.permutation(free)
        left[d] = [_left(state, order[:c]) / whole for c in counts]
    worst = [_left(state, gone) / whole for gone in _worst_first(state, may_go, counts)]
    return {
        "share": list(SHARES),
        "random_mean": left.mean(axis=0).tolist(),
        "random_low": np.percentile(left, 5, axis=0).tolist(),
        "random_high": np.percentile(left, 95, axis=0).tolist(),
        "worst_first": worst,
    }


def _left(state: StateGraph, gone: NDArray[np.int64]) -> float:
    keep = np.ones(len(state.nodes), np.bool_)
    keep[gone] = False
    graph = without_dominated(state.full.subset(keep))[0]
    return connect(graph, state.area_m2[keep], state.cut).equivalent_area_m2


def _worst_first(state: StateGraph, may_go: NDArray[np.bool_], counts: list[int]) -> list[NDArray[np.int64]]:
    """Return who is gone at each step when those that carry most go first."""
    gone = np.zeros(0, np.int64)
    out = []
    keep = np.ones(len(state.nodes), np.bool_)
    rank: NDArray[np.int64] | None = None
    for count in counts:
        if rank is None or len(state.nodes) <= EXACT_UP_TO:
            here = np.flatnonzero(keep)
            carried = importance(state.full.subset(keep), state.area_m2[keep], state.cut).total_m2
            order = here[np.argsort(-carried, kind="stable")]
            rank = order[may_go[order]]
        else:
            rank = rank[keep[rank]]
        new = rank[: count - len(gone)]
        gone = np.concatenate([gone, new])
        keep[new] = False
        out.append(gone)
    return out
