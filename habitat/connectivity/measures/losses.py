"""How the corridor falls when yards drop out: at random, and the worst ones first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from habitat.arrays import Flags, Floats, Ints
from habitat.connectivity.case import StateGraph
from habitat.connectivity.graph import _kernels
from habitat.connectivity.graph.passages import limit_of, threads_for, without_dominated
from habitat.connectivity.measures.connected_area import connect, importance

SHARES = (0.1, 0.2, 0.3, 0.4, 0.5)
RANDOM_DRAWS = 10
ANEW_UP_TO = 1_000
"""Patches up to which the order of the worst is worked out anew after each loss."""
EXACT_UP_TO = 5_000
"""Patches up to which what is left is exact; beyond it sources are sampled, and fewer orders are drawn."""
SAMPLED_SOURCES = 400
SAMPLED_DRAWS = 4


def losses(state: StateGraph, may_go: Flags, carried_m2: Floats, seed: int) -> dict[str, Any]:
    """Return the equivalent connected area that is left when shares of the yards go.

    Parameters
    ----------
    state
        The graph and areas.
    may_go
        (nodes,) what can drop out (anchors stay).
    carried_m2
        (nodes,) what each patch carries while all are there, for the order of the worst.
    seed
        Of the random orders and of the sample.

    Returns
    -------
    dict
        ``share`` lost, and what is left over the whole (0-1): ``random_mean``, ``random_low`` and
        ``random_high`` (5th and 95th percentile of the orders), ``worst_first`` (the yards that carry most go
        first). ``anew``: whether the order of the worst is worked out anew at each step. ``sampled``: whether
        the figures are estimates from a sample of sources, and then ``error``: the greatest standard error
        among them. Empty if there is nothing to lose.
    """
    free = np.flatnonzero(may_go)
    if not state.area_m2.any() or not len(free):
        return {}
    rng = np.random.default_rng(seed)
    left = _left_of(state, rng)
    counts = [round(s * len(free)) for s in SHARES]
    orders = [rng.permutation(free) for _ in range(SAMPLED_DRAWS if left.sampled else RANDOM_DRAWS)]
    random = np.array([[left.share(order[:c]) for c in counts] for order in orders])
    worst = np.array([left.share(gone) for gone in _worst_first(state, may_go, carried_m2, counts)])
    out = {
        "share": list(SHARES),
        "random_mean": random[..., 0].mean(axis=0).tolist(),
        "random_low": np.percentile(random[..., 0], 5, axis=0).tolist(),
        "random_high": np.percentile(random[..., 0], 95, axis=0).tolist(),
        "worst_first": worst[:, 0].tolist(),
        "anew": len(state.nodes) <= ANEW_UP_TO,
        "sampled": left.sampled,
    }
    if left.sampled:
        out["error"] = float(max(random[..., 1].max(), worst[:, 1].max()))
    return out


@dataclass(frozen=True, slots=True)
class _Left:
    """What is left of a state: ``sources`` with how often each was drawn and what reached it while all stood.

    ``whole_m4`` : the numerator while all stood, used if nothing is sampled.
    """

    state: StateGraph
    sampled: bool
    whole_m4: float
    sources: Ints
    times: Ints
    before_m2: Floats

    def share(self, gone: Ints) -> tuple[float, float]:
        """Return the share of the equivalent connected area that is left, and its standard error."""
        keep = np.ones(len(self.state.nodes), np.bool_)
        keep[gone] = False
        graph, area = without_dominated(self.state.left(keep))[0], self.state.area_m2[keep]
        if not self.sampled:
            return float(np.sqrt(connect(graph, area, self.state.cut).numerator / self.whole_m4)), 0.0
        number, after = np.cumsum(keep) - 1, np.zeros(len(self.sources))
        here = keep[self.sources]
        after[here] = _arriving(graph, area, self.state.cut, number[self.sources[here]])
        return _ratio(self.before_m2, after, self.times)


def _left_of(state: StateGraph, rng: np.random.Generator) -> _Left:
    if len(state.nodes) <= EXACT_UP_TO:
        whole = state.connected().numerator
        return _Left(state, False, whole, np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0))
    drawn = rng.choice(len(state.nodes), SAMPLED_SOURCES, p=state.area_m2 / state.area_m2.sum())
    sources, times = np.unique(drawn, return_counts=True)
    before = _arriving(state.graph, state.area_m2, state.cut, sources)
    return _Left(state, True, np.nan, sources, times, before)


def _arriving(graph: Any, area_m2: Floats, cut: float, sources: Ints) -> Floats:
    with threads_for(20.0 * graph.nodes * len(sources)):
        return _kernels.arriving(graph.start, graph.to, graph.weight, area_m2, limit_of(cut), sources)[0]


def _ratio(before: Floats, after: Floats, times: Ints) -> tuple[float, float]:
    """Return sqrt(mean(after) / mean(before)) over sources drawn in proportion to area, and its error.

    Notes
    -----
    With sources i drawn in proportion to a_i, the numerator sum_i a_i r_i is the total area times the mean of
    r_i = sum_j a_j p*_ij; a source that is gone counts 0. Both numerators use one sample, so their ratio is
    known better than either; its error is that of a ratio estimate (delta method).

    References
    ----------
    Cochran 1977, Sampling Techniques, sections 6.4 and 9A (memory).
    """
    n = int(times.sum())
    one, two = float(times @ before) / n, float(times @ after) / n
    ratio = two / one
    off = (after - ratio * before) / one
    variance = float(times @ off**2) / (n - 1) / n
    share = float(np.sqrt(ratio))
    return share, float(np.sqrt(variance)) / (2.0 * share) if share > 0.0 else float(np.sqrt(variance))


def _worst_first(state: StateGraph, may_go: Flags, carried_m2: Floats, counts: list[int]) -> list[Ints]:
    """Return who is gone at each step when those that carry most go first."""
    gone, out = np.zeros(0, np.int64), []
    keep = np.ones(len(state.nodes), np.bool_)
    rank = _ranked(carried_m2, np.arange(len(keep)), may_go)
    for step, count in enumerate(counts):
        if step and len(state.nodes) <= ANEW_UP_TO:
            carried = importance(state.left(keep), state.area_m2[keep], state.cut).total_m2
            rank = _ranked(carried, np.flatnonzero(keep), may_go)
        rank = rank[keep[rank]]
        new = rank[: count - len(gone)]
        gone = np.concatenate([gone, new])
        keep[new] = False
        out.append(gone)
    return out


def _ranked(carried_m2: Floats, nodes: Ints, may_go: Flags) -> Ints:
    order = nodes[np.argsort(-carried_m2, kind="stable")]
    return order[may_go[order]]
