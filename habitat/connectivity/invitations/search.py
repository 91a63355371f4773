"""Whom next: the set of candidates that raises the joint score most, and a bound on any set."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.arrays import Floats
from habitat.connectivity.graph.passages import without_dominated
from habitat.connectivity.invitations.gains import (
    LEVEL_M2,
    ChoiceGraph,
    Joint,
    LazyGains,
    base_mask,
    even_weights,
    joint_weights,
)
from habitat.connectivity.measures.connected_area import Connected, connect, passages
from habitat.errors import ParameterError


def bound_of(
    graphs: list[ChoiceGraph], number: int, costs: Floats, budget: float | None, found_m2: Floats
) -> float:
    """Return a joint score that no set within the limits exceeds.

    Parameters
    ----------
    graphs, number, costs, budget
        As for ``habitat.connectivity.invitations.search.choose``.
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
    whole = np.array([s.whole_m2 for s in graphs])
    used = [k for k in range(len(graphs)) if whole[k] > 0.0]
    total = sum(graphs[k].weight for k in used)
    if not used or total <= 0.0:
        return 0.0
    apart, tangent, slopes = 0.0, 0.0, np.zeros(len(costs))
    for k in used:
        choice, w = graphs[k], graphs[k].weight / total / whole[k]
        stands, worth = _linear(choice, number)
        top = np.sqrt(stands + _best_sum(worth, number, costs, budget))
        apart += w * min(float(top), choice.whole_m2)
        at = max(float(found_m2[k]), 1e-12)
        tangent += w * (at / 2.0 + stands / (2.0 * at))
        slopes += w * worth / (2.0 * at)
    return min(apart, tangent + _best_sum(slopes, number, costs, budget))


def _linear(choice: ChoiceGraph, number: int) -> tuple[float, Floats]:
    """Return what E is worth on the full graph [m4], and the most that each candidate adds [m4]."""
    keep = np.zeros(choice.graph.nodes, np.bool_)
    keep[choice.base] = True
    keep[choice.node[choice.node >= 0]] = True
    index = np.cumsum(keep) - 1
    p = passages(without_dominated(choice.graph.subset(keep))[0], choice.cut)
    base = choice.area_m2[keep]
    stands = float(base @ p @ base)
    worth = np.zeros(len(choice.node))
    here = np.flatnonzero(choice.node >= 0)
    if len(here) == 0:
        return stands, worth
    node, extra = index[choice.node[here]], np.maximum(choice.extra_m2[here], 0.0)
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


# Whom next: the set of candidates that raises the joint score most within a number or money.

ENUMERATE_UP_TO = 3_000
"""Sets up to which all are tried, so that the answer is proven."""
EXCHANGE_WORK = 2e10
"""Multiply-adds up to which exchange runs; beyond it greedy stands alone and says so."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """Candidates in the order they are best asked in.

    order : candidate indices. scores : (picks + 1,) joint score after 0, 1, 2, ... yards. bound : no set
    within the limits has a higher joint score. proven : all sets were tried. exchanged : exchange ran to
    its end, or was not asked for. areas_m2 : (picks + 1, butterflies) equivalent connected areas on the way.
    """

    order: tuple[int, ...]
    scores: Floats
    areas_m2: Floats
    bound: float
    proven: bool
    exchanged: bool
    estimated: bool = False


@dataclass(frozen=True, slots=True)
class Aim:
    """What invitations are to bring most of.

    per : (candidates,) what the gain is divided by, so that each next one is the best by it; None: one door.
    spread : whether to double the ground of any butterfly is worth the same (see ``Joint``).
    """

    per: Floats | None = None
    spread: bool = False


MOST = Aim()
"""The most in all, whatever it costs within the limits."""


def choose(
    graphs: list[ChoiceGraph], number: int, costs: Floats, budget: float | None = None, aim: Aim = MOST
) -> Chosen:
    """Choose the candidates to invite.

    Parameters
    ----------
    graphs
        One per butterfly; candidates in the same order in each (by yard id, which breaks ties).
    number
        At most so many.
    costs
        (candidates,) cost of each one's plan [money].
    budget
        Money for all of them; None does not limit it.
    aim
        What they are to bring most of. The bound is one of the joint score, whatever the aim.

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
    if not graphs or not len(costs) or number < 1:
        joint = Joint(graphs, 0)
        return Chosen((), np.array([joint.score]), joint.areas_m2[None, :], joint.score, True, True)
    number = min(number, len(costs))
    limits = _Limits(number, costs, budget)
    start = Joint(graphs, number, spread=aim.spread)
    if aim.per is None:
        picks, proven, exchanged = _search(start, limits)
        picks = _in_order(start.copy(), picks)
    else:
        picks = _fill(LazyGains(start, len(costs)), [], limits, np.maximum(aim.per, 1e-9))
        proven, exchanged = False, True
    order, (scores, areas) = tuple(picks), _along(start, picks)
    proven = proven and not aim.spread
    bound = (
        float(scores[-1]) if proven else max(bound_of(graphs, number, costs, budget, areas[-1]), scores[-1])
    )
    return Chosen(order, scores, areas, bound, proven, exchanged)


def greedy_order(graphs: list[ChoiceGraph], number: int, aim: Aim = MOST) -> list[int]:
    """Return up to ``number`` candidates in plain greedy order, without a budget."""
    count = len(graphs[0].node) if graphs else 0
    number = min(number, count)
    if not number:
        return []
    per = None if aim.per is None else np.maximum(aim.per, 1e-9)
    lazy = LazyGains(Joint(graphs, number, spread=aim.spread), count)
    return _fill(lazy, [], _Limits(number, np.zeros(count), None), per)


def areas_along(graphs: list[ChoiceGraph], order: tuple[int, ...]) -> Floats:
    """Return (picks + 1, butterflies) equivalent connected areas as candidates join in an order [m2]."""
    joint = Joint(graphs, len(order))
    areas = [joint.areas_m2]
    for candidate in order:
        joint.join(candidate)
        areas.append(joint.areas_m2)
    return np.array(areas)


@dataclass(frozen=True, slots=True)
class Alone:
    """What candidates add to one butterfly's equivalent connected area, each alone.

    gains_m2 : (candidates,) at least so much. start_m2 : with none of them. whole_m2, weight : as of
    ``ChoiceGraph``.
    """

    gains_m2: Floats
    start_m2: float
    whole_m2: float
    weight: float


def alone_in(choice: ChoiceGraph) -> Alone:
    """Return what candidates add each alone, not counting what would pass through them.

    Holds no matrix of all pairs.
    """
    graph = without_dominated(choice.graph.subset(base_mask(choice)))[0]
    base = connect(graph, choice.area_m2[choice.base], choice.cut)
    return Alone(_alone(choice, base), base.equivalent_area_m2, choice.whole_m2, choice.weight)


def estimate(
    parts: list[Alone], number: int, costs: Floats, budget: float | None = None, aim: Aim = MOST
) -> Chosen:
    """Choose by what each candidate adds alone, as ``alone_in`` finds it by butterfly: for many patches.

    Scores on the way are sums of these gains, so they are estimates, and the bound is 1: nothing is known.
    """
    limits, weights = _Limits(number, np.asarray(costs, np.float64), budget), joint_weights(parts)
    gains = np.array([p.gains_m2 for p in parts])
    start = np.array([p.start_m2 for p in parts])
    worth, picks = weights @ gains, list[int]()
    if aim.spread:
        worth = even_weights(parts) @ np.log1p(gains / (LEVEL_M2 + start[:, None]))
    worth = worth if aim.per is None else worth / np.maximum(aim.per, 1e-9)
    while limits.room(picks).any():
        picks.append(int(np.argmax(np.where(limits.room(picks), worth, -np.inf))))
    areas = np.vstack([start, start + np.cumsum(gains[:, picks].T, axis=0)]) if picks else start[None, :]
    return Chosen(tuple(picks), areas @ weights, areas, 1.0, False, False, estimated=True)


def _alone(choice: ChoiceGraph, base: Connected) -> Floats:
    """Return (candidates,) a lower limit of what each alone adds to the equivalent connected area [m2]."""
    g, position = choice.graph, np.full(choice.graph.nodes, -1, np.int64)
    position[choice.base] = np.arange(len(choice.base))
    out = np.zeros(len(choice.node))
    for c in np.flatnonzero(choice.node >= 0):
        row = slice(g.start[choice.node[c]], g.start[choice.node[c] + 1])
        at = position[g.to[row]]
        near = np.exp(-g.weight[row][at >= 0]) * base.arriving_m2[at[at >= 0]]
        more = choice.extra_m2[c] ** 2 + 2.0 * choice.extra_m2[c] * near.max(initial=0.0)
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
    lazy = LazyGains(start, m)
    found = [_fill(lazy, [], limits)]
    if limits.budget is not None:
        found.append(_fill(lazy, [], limits, np.maximum(limits.costs, 1e-9)))
    picks = max(found, key=lambda picks: _worth(start, picks))
    work = sum(float(p.count) ** 2 for p in start.parts) * k * (m + k)
    passes = min(20, int(EXCHANGE_WORK / max(work, 1.0)))
    if passes < 1:
        return picks, False, False
    return _exchange(lazy, picks, limits, passes), False, True


def _worth(start: Joint, picks: list[int]) -> float:
    joint = start.copy()
    for c in picks:
        joint.join(c)
    return joint.worth


def _with(lazy: LazyGains, picks: list[int]) -> LazyGains:
    """Return the gains beside some more yards."""
    more = lazy.copy()
    for c in picks:
        more.join(c)
    return more


def _fill(lazy: LazyGains, picks: list[int], limits: _Limits, costs: Floats | None = None) -> list[int]:
    """Add the yard that raises the joint score most (per cost, if given) while number and money allow it."""
    lazy, picks = _with(lazy, picks), list(picks)
    while (able := limits.room(picks)).any():
        picks.append(lazy.best(able, costs)[0])
        lazy.join(picks[-1])
    return picks


def _exchange(start: LazyGains, picks: list[int], limits: _Limits, passes: int) -> list[int]:
    """Swap one yard for another while that raises the joint score."""
    score = _worth(start.joint, picks)
    for _ in range(passes):
        best: tuple[float, list[int]] = (score * (1.0 + 1e-12) + 1e-15, picks)
        for out in picks:
            rest = [c for c in picks if c != out]
            lazy = _with(start, rest)
            now = lazy.joint.worth
            new, gain = lazy.best(limits.room(rest), above=best[0] - now)
            if new >= 0 and now + gain > best[0]:
                best = (now + gain, [*rest, new])
        if best[1] is picks:
            break
        picks = _fill(start, best[1], limits)
        score = _worth(start.joint, picks)
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
            score = _worth(start, chosen)
            if score > best * (1.0 + 1e-12):
                best, found = score, chosen
    return found


def _in_order(joint: Joint, picks: list[int]) -> list[int]:
    """Return a set in greedy order."""
    left, order = sorted(picks), list[int]()
    while left:
        gains = joint.worth_gains([part.gains(np.array(left)) for part in joint.parts])
        order.append(left.pop(int(np.argmax(gains))))
        joint.join(order[-1])
    return order


def _along(start: Joint, order: list[int]) -> tuple[Floats, Floats]:
    """Return the joint scores and areas as candidates join in an order."""
    joint = start.copy()
    scores, areas = [joint.score], [joint.areas_m2]
    for c in order:
        joint.join(c)
        scores.append(joint.score)
        areas.append(joint.areas_m2)
    return np.array(scores), np.array(areas)
