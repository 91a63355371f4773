"""Whom next: the set of candidates that raises the joint score most within a number or money."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.connectivity.bound import bound_of
from habitat.connectivity.connected import Connected, connect
from habitat.connectivity.growing import Growing, Stage, base_mask
from habitat.errors import ParameterError

Floats = NDArray[np.float64]
ENUMERATE_UP_TO = 3_000
"""Sets up to which all are tried, so that the answer is proven."""
EXCHANGE_WORK = 2e10
"""Multiply-adds up to which exchange runs; beyond it greedy stands alone and says so."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """Candidates in the order they are best asked in.

    order : candidate indices. scores : (picks + 1,) joint score after 0, 1, 2, ... yards. bound : no set
    within the limits has a higher joint score. proven : all sets were tried. exchanged : exchange ran to
    its end. areas_m2 : (picks + 1, butterflies) equivalent connected areas on the way.
    """

    order: tuple[int, ...]
    scores: Floats
    areas_m2: Floats
    bound: float
    proven: bool
    exchanged: bool
    estimated: bool = False


class Joint:
    """The joint score over butterflies while candidates join."""

    def __init__(self, stages: list[Stage], room: int) -> None:
        self.parts = [Growing(s, room) for s in stages]
        self.weights = joint_weights(stages)

    def copy(self) -> Joint:
        """Return an independent copy."""
        other = object.__new__(Joint)
        other.parts, other.weights = [p.copy() for p in self.parts], self.weights
        return other

    @property
    def areas_m2(self) -> Floats:
        """Equivalent connected area by butterfly [m2]."""
        return np.array([p.equivalent_area_m2 for p in self.parts])

    @property
    def score(self) -> float:
        """Joint score."""
        return float(self.weights @ self.areas_m2)

    def join(self, candidate: int) -> list[NDArray[np.bool_]]:
        """Let a candidate join; return per butterfly which nodes that can have changed."""
        return [p.join(candidate) for p in self.parts]


def joint_weights(stages: list[Stage]) -> Floats:
    """Return per butterfly what one m2 of equivalent connected area adds to the joint score."""
    total = sum(s.weight for s in stages if s.whole_m2 > 0.0)
    return np.array(
        [s.weight / s.whole_m2 / total if s.whole_m2 > 0.0 and total > 0 else 0.0 for s in stages]
    )


class _Trials:
    """Gains of all candidates, tried anew only where the last joining can have changed them (exact)."""

    def __init__(self, joint: Joint, candidates: int) -> None:
        self.joint, self.all = joint, np.arange(candidates)
        found = [p.gains(self.all) for p in joint.parts]
        self.gains = [g for g, _ in found]
        self.touched = [t for _, t in found]

    def score_gains(self) -> Floats:
        """Return (candidates,) gain of joint score by each alone."""
        out = np.zeros(len(self.all))
        for part, gain, w in zip(self.joint.parts, self.gains, self.joint.weights, strict=True):
            now = part.equivalent_area_m2
            out += w * (np.sqrt(np.maximum(part.numerator + gain, 0.0)) - now)
        return out

    def join(self, candidate: int) -> None:
        for b, changed in enumerate(self.joint.join(candidate)):
            if not changed.any():
                continue
            stale = self.touched[b][:, changed].any(axis=1)
            linked = _linked_to(self.joint.parts[b].stage, candidate, self.all)
            again = np.flatnonzero(stale | linked)
            self.gains[b][again], self.touched[b][again] = self.joint.parts[b].gains(again)


def _linked_to(stage: Stage, candidate: int, others: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether each candidate's node has a link to this candidate's node."""
    g, node = stage.graph, int(stage.node[candidate])
    if node < 0:
        return np.zeros(len(others), np.bool_)
    return np.isin(stage.node[others], g.to[g.start[node] : g.start[node + 1]])


def choose(stages: list[Stage], number: int, costs: Floats, budget: float | None = None) -> Chosen:
    """Choose the candidates to invite.

    Parameters
    ----------
    stages
        One per butterfly; candidates in the same order in each (by yard id, which breaks ties).
    number
        At most so many.
    costs
        (candidates,) cost of each one's plan [money].
    budget
        Money for all of them; None does not limit it.

    Notes
    -----
    Exact incremental greedy, then exchange of one for another while that raises the score; with few enough
    sets all are tried. The gain is not submodular, since stepping stones help each other, so greedy carries
    no factor of its own: the bound is worked out for the case.

    Raises
    ------
    ParameterError
        If a cost is negative or not a number.
    """
    costs = np.asarray(costs, np.float64)
    if np.any(~(costs >= 0.0)):
        raise ParameterError("costs", float(costs[~(costs >= 0.0)][0]), "0 or more")
    if not stages or not len(costs) or number < 1:
        joint = Joint(stages, 0)
        return Chosen((), np.array([joint.score]), joint.areas_m2[None, :], joint.score, True, True)
    number = min(number, len(costs))
    limits = _Limits(number, costs, budget)
    start = Joint(stages, number)
    picks, proven, exchanged = _search(start, limits)
    order, scores, areas = _in_order(start.copy(), picks)
    bound = (
        float(scores[-1]) if proven else max(bound_of(stages, number, costs, budget, areas[-1]), scores[-1])
    )
    return Chosen(order, scores, areas, bound, proven, exchanged)


def greedy_order(stages: list[Stage], number: int) -> list[int]:
    """Return up to ``number`` candidates in plain greedy order, money aside."""
    count = len(stages[0].node) if stages else 0
    number = min(number, count)
    return (
        _greedy(Joint(stages, number), _Limits(number, np.zeros(count), None), per_cost=False)
        if number
        else []
    )


def scores_along(stages: list[Stage], order: tuple[int, ...]) -> Floats:
    """Return (picks + 1,) the joint score after 0, 1, 2, ... candidates have joined in an order."""
    joint = Joint(stages, len(order))
    scores = [joint.score]
    for candidate in order:
        joint.join(candidate)
        scores.append(joint.score)
    return np.array(scores)


def estimate(stages: list[Stage], number: int, costs: Floats, budget: float | None = None) -> Chosen:
    """Choose by what each candidate adds alone, not counting what would pass through it: for many patches.

    Scores on the way are sums of these gains, so they are estimates, and the bound is 1: nothing is known.
    Holds no matrix of all pairs.
    """
    limits, weights = _Limits(number, np.asarray(costs, np.float64), budget), joint_weights(stages)
    base = [connect(s.graph.subset(base_mask(s)), s.area_m2[s.base], s.cut) for s in stages]
    gains = np.array([_alone(s, b) for s, b in zip(stages, base, strict=True)])
    worth, picks = weights @ gains, list[int]()
    while limits.room(picks).any():
        picks.append(int(np.argmax(np.where(limits.room(picks), worth, -np.inf))))
    start = np.array([b.equivalent_area_m2 for b in base])
    areas = np.vstack([start, start + np.cumsum(gains[:, picks].T, axis=0)]) if picks else start[None, :]
    return Chosen(tuple(picks), areas @ weights, areas, 1.0, False, False, estimated=True)


def _alone(stage: Stage, base: Connected) -> Floats:
    """Return (candidates,) a lower limit of what each alone adds to the equivalent connected area [m2]."""
    g, position = stage.graph, np.full(stage.graph.nodes, -1, np.int64)
    position[stage.base] = np.arange(len(stage.base))
    out = np.zeros(len(stage.node))
    for c in np.flatnonzero(stage.node >= 0):
        row = slice(g.start[stage.node[c]], g.start[stage.node[c] + 1])
        at = position[g.to[row]]
        near = np.exp(-g.weight[row][at >= 0]) * base.arriving_m2[at[at >= 0]]
        more = stage.extra_m2[c] ** 2 + 2.0 * stage.extra_m2[c] * near.max(initial=0.0)
        out[c] = math.sqrt(base.numerator + more) - base.equivalent_area_m2
    return out


@dataclass(frozen=True, slots=True)
class _Limits:
    number: int
    costs: Floats
    budget: float | None

    def room(self, picks: list[int]) -> NDArray[np.bool_]:
        """Which candidates may join these picks."""
        able = np.ones(len(self.costs), np.bool_)
        able[picks] = False
        if len(picks) >= self.number:
            able[:] = False
        if self.budget is not None:
            able &= self.costs <= self.budget - float(self.costs[picks].sum()) + 1e-9
        return able


def _search(start: Joint, limits: _Limits) -> tuple[list[int], bool, bool]:
    """Return the best set found, whether it is proven, and whether exchange ended by itself."""
    m, k = len(limits.costs), limits.number
    if sum(math.comb(m, r) for r in range(k + 1)) <= ENUMERATE_UP_TO:
        return _enumerate(start, limits), True, True
    ways = [_greedy(start.copy(), limits, per_cost=False)]
    if limits.budget is not None:
        ways.append(_greedy(start.copy(), limits, per_cost=True))
    picks = max(ways, key=lambda way: _score(start, way))
    work = sum(float(p.count) ** 2 for p in start.parts) * k * (m + k)
    passes = min(20, int(EXCHANGE_WORK / max(work, 1.0)))
    if passes < 1:
        return picks, False, False
    return _exchange(start, picks, limits, passes), False, True


def _score(start: Joint, picks: list[int]) -> float:
    joint = start.copy()
    for c in picks:
        joint.join(c)
    return joint.score


def _greedy(joint: Joint, limits: _Limits, *, per_cost: bool) -> list[int]:
    trials, picks = _Trials(joint, len(limits.costs)), list[int]()
    while True:
        able = limits.room(picks)
        if not able.any():
            return picks
        worth = trials.score_gains()
        if per_cost:
            worth = worth / np.maximum(limits.costs, 1e-9)
        worth[~able] = -np.inf
        best = int(np.argmax(worth))
        picks.append(best)
        trials.join(best)


def _exchange(start: Joint, picks: list[int], limits: _Limits, passes: int) -> list[int]:
    """Swap one yard for another while that raises the joint score."""
    score = _score(start, picks)
    for _ in range(passes):
        best: tuple[float, list[int]] = (score * (1.0 + 1e-12) + 1e-15, picks)
        for out in picks:
            rest = [c for c in picks if c != out]
            joint = start.copy()
            for c in rest:
                joint.join(c)
            worth = joint.score + _Trials(joint, len(limits.costs)).score_gains()
            worth[~limits.room(rest)] = -np.inf
            new = int(np.argmax(worth))
            if worth[new] > best[0]:
                best = (float(worth[new]), [*rest, new])
        if best[1] is picks:
            break
        score, picks = best
        picks = _fill(start, picks, limits)
        score = _score(start, picks)
    return picks


def _fill(start: Joint, picks: list[int], limits: _Limits) -> list[int]:
    """Add yards while money and number allow it."""
    while limits.room(picks).any():
        joint = start.copy()
        for c in picks:
            joint.join(c)
        worth = _Trials(joint, len(limits.costs)).score_gains()
        worth[~limits.room(picks)] = -np.inf
        picks = [*picks, int(np.argmax(worth))]
    return picks


def _enumerate(start: Joint, limits: _Limits) -> list[int]:
    """Try every set within the limits that no further yard fits into."""
    best, found = -np.inf, list[int]()
    for size in range(limits.number, -1, -1):
        for picks in itertools.combinations(range(len(limits.costs)), size):
            chosen = list(picks)
            if limits.budget is not None and limits.costs[chosen].sum() > limits.budget + 1e-9:
                continue
            if limits.room(chosen).any():
                continue
            score = _score(start, chosen)
            if score > best * (1.0 + 1e-12):
                best, found = score, chosen
    return found


def _in_order(joint: Joint, picks: list[int]) -> tuple[tuple[int, ...], Floats, Floats]:
    """Put a set in greedy order; return it with the scores and areas on the way."""
    left, order = sorted(picks), list[int]()
    scores, areas = [joint.score], [joint.areas_m2]
    while left:
        gains = np.zeros(len(left))
        for part, w in zip(joint.parts, joint.weights, strict=True):
            gain, _ = part.gains(np.array(left))
            gains += w * (np.sqrt(np.maximum(part.numerator + gain, 0.0)) - part.equivalent_area_m2)
        best = left[int(np.argmax(gains))]
        left.remove(best)
        order.append(best)
        joint.join(best)
        scores.append(joint.score)
        areas.append(joint.areas_m2)
    return tuple(order), np.array(scores), np.array(areas)
