"""Exact gains of one more yard: the matrix of best passages, and lazy evaluation of candidates beside it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from habitat.arrays import Flags, Floats, Ints
from habitat.connectivity.graph.passages import Graph, threads_for, without_dominated
from habitat.connectivity.invitations import _kernels
from habitat.connectivity.measures.connected_area import passages


class Stake(Protocol):
    """What one butterfly counts in the joint score."""

    @property
    def whole_m2(self) -> float:
        """Equivalent connected area with everyone [m2]."""

    @property
    def weight(self) -> float:
        """Weight in the joint score."""


@dataclass(frozen=True, slots=True)
class ChoiceGraph:
    """One butterfly's ground for choosing among candidates.

    graph : passages between all nodes (base nodes and those of candidates). base : nodes that are there
    already. area_m2 : (nodes,) area of the base nodes, 0 elsewhere. node : (candidates,) the node that
    comes with each candidate, -1 if its joining changes nothing for this butterfly. extra_m2 :
    (candidates,) the area that comes with it beyond what stands there now. whole_m2 : equivalent connected
    area with everyone. weight : in the joint score.
    """

    graph: Graph
    base: Ints
    area_m2: Floats
    node: Ints
    extra_m2: Floats
    whole_m2: float
    weight: float
    cut: float = 0.0


class PassageMatrix:
    """The passages of one butterfly while candidates join; ``join`` changes it, ``copy`` branches off.

    A candidate whose ground grows is a new patch with the extra area at distance 0 from the old one: best
    paths and sums are the same as with one patch in its place.
    """

    def __init__(self, choice: ChoiceGraph, room: int) -> None:
        self.choice = choice
        size = len(choice.base)
        self.count = size
        self.best = np.zeros((size + room, size + room))
        once, _ = without_dominated(choice.graph.subset(base_mask(choice)))
        self.best[:size, :size] = passages(once, choice.cut)
        self.area = np.zeros(size + room)
        self.area[:size] = choice.area_m2[choice.base]
        self.position = np.full(choice.graph.nodes, -1, np.int64)
        self.position[choice.base] = np.arange(size)
        self.numerator = float(self.area[:size] @ self.best[:size, :size] @ self.area[:size])

    def copy(self) -> PassageMatrix:
        """Return an independent copy."""
        other = object.__new__(PassageMatrix)
        other.choice, other.count, other.numerator = self.choice, self.count, self.numerator
        other.best, other.area, other.position = self.best.copy(), self.area.copy(), self.position.copy()
        return other

    def gains(self, candidates: Ints, rows: Floats | None = None) -> Floats:
        """Return what each candidate alone adds to the numerator [m4]; fill its row of passages if asked."""
        gains = np.zeros(len(candidates))
        moves = np.flatnonzero(self.choice.node[candidates] >= 0)
        if not len(moves):
            return gains
        picked, g, s = candidates[moves], self.choice.graph, self.choice
        found, reached = np.zeros(len(moves)), np.zeros((len(moves), len(self.area)))
        with threads_for(float(len(moves)) * self.count**2 / 2.0):
            _kernels.evaluate_all(
                self.best, self.count, self.area, self.position, g.start, g.to, g.weight,
                s.node[picked], s.extra_m2[picked], s.cut, found, reached,
            )  # fmt: skip
        gains[moves] = found
        if rows is not None:
            rows[moves] = reached
        return gains

    def join(self, candidate: int) -> None:
        """Let a candidate join."""
        s = self.choice
        node = int(s.node[candidate])
        if node < 0:
            return
        rows = np.zeros((1, len(self.area)))
        self.numerator += float(self.gains(np.array([candidate]), rows)[0])
        with threads_for(float(self.count) ** 2):
            _kernels.add_row(self.best, self.count, rows[0], s.cut)
        self.area[self.count] = float(s.extra_m2[candidate])
        self.position[node] = self.count
        self.count += 1

    def raise_limits(self, candidates: Ints, rows: Floats, limits: Floats, exact: NDArray[np.bool_]) -> None:
        """Raise upper limits of gains to what the last joining can have made of them, in place.

        candidates : (k,) those whose node is there. rows : (k, nodes) their passages. limits : (k,) [m4].
        exact : (k,) False afterwards where the limit may be above the gain.
        """
        s, g = self.choice, self.choice.graph
        with threads_for(3.0 * len(candidates) * self.count):
            _kernels.raise_limits(
                self.best, self.count - 1, self.area, self.position, g.start, g.to, g.weight,
                s.node[candidates], s.extra_m2[candidates], s.cut, rows, limits, exact,
            )  # fmt: skip

    @property
    def equivalent_area_m2(self) -> float:
        """Equivalent connected area now [m2]."""
        return math.sqrt(max(self.numerator, 0.0))


def base_mask(choice: ChoiceGraph) -> NDArray[np.bool_]:
    """Return which nodes are there already."""
    keep = np.zeros(choice.graph.nodes, np.bool_)
    keep[choice.base] = True
    return keep


# Lazy evaluation: exact gains of the candidates that may be best, upper limits for the rest.

AT_ONCE = 16
"""Candidates that are tried anew together before the best is looked for again."""
SLACK = 1e-9
"""Share by which a limit counts as higher than it is, so that rounding never hides a candidate."""


LEVEL_M2 = 1.0
"""Linked ground from which growth counts where invitations are spread over butterflies [m2]: judgement."""


class Joint:
    """The joint score over butterflies while candidates join, and what choosing raises.

    With ``spread`` that is the mean logarithm of the butterflies' linked ground, so that to double one of
    them is worth the same as to double another; without, the joint score.
    """

    def __init__(self, graphs: list[ChoiceGraph], room: int, *, spread: bool = False) -> None:
        self.parts = [PassageMatrix(s, room) for s in graphs]
        self.weights = joint_weights(graphs)
        self.even = even_weights(graphs) if spread else None

    def copy(self) -> Joint:
        """Return an independent copy."""
        other = object.__new__(Joint)
        other.parts, other.weights = [p.copy() for p in self.parts], self.weights
        other.even = self.even
        return other

    @property
    def areas_m2(self) -> Floats:
        """Equivalent connected area by butterfly [m2]."""
        return np.array([p.equivalent_area_m2 for p in self.parts])

    @property
    def score(self) -> float:
        """Joint score."""
        return float(self.weights @ self.areas_m2)

    @property
    def worth(self) -> float:
        """What choosing raises."""
        return self.score if self.even is None else float(self.even @ np.log1p(self.areas_m2 / LEVEL_M2))

    def join(self, candidate: int) -> None:
        """Let a candidate join."""
        for part in self.parts:
            part.join(candidate)

    def worth_gains(self, gains: list[Floats]) -> Floats:
        """Return what gains in the numerators (by butterfly, one per candidate) [m4] add to the worth."""
        out = np.zeros(len(gains[0]) if gains else 0)
        for k, (part, gain) in enumerate(zip(self.parts, gains, strict=True)):
            # sqrt(P + g) - sqrt(P) = g / (sqrt(P + g) + sqrt(P)): no digits lost for small g
            both = np.sqrt(np.maximum(part.numerator + gain, 0.0)) + part.equivalent_area_m2
            more = gain / np.maximum(both, 1e-300)
            if self.even is None:
                out += self.weights[k] * more
            else:
                out += self.even[k] * np.log1p(more / (LEVEL_M2 + part.equivalent_area_m2))
        return out


def even_weights(graphs: Sequence[Stake]) -> Floats:
    """Return the weights of butterflies that any yard could serve, together 1."""
    weights = np.array([s.weight if s.whole_m2 > 0.0 else 0.0 for s in graphs])
    total = float(weights.sum())
    return weights / total if total > 0.0 else weights


def joint_weights(graphs: Sequence[Stake]) -> Floats:
    """Return per butterfly what one m2 of equivalent connected area adds to the joint score."""
    total = sum(s.weight for s in graphs if s.whole_m2 > 0.0)
    return np.array(
        [s.weight / s.whole_m2 / total if s.whole_m2 > 0.0 and total > 0 else 0.0 for s in graphs]
    )


class LazyGains:
    """What each candidate adds to a joint score, worked out anew only where it may be the best (exact).

    gains : by butterfly (candidates,) an upper limit of what each adds to the numerator [m4]. exact :
    (candidates,) whether that is what it adds.
    """

    def __init__(self, joint: Joint, candidates: int) -> None:
        self.joint = joint
        every = np.arange(candidates)
        self.there = [np.flatnonzero(p.choice.node[every] >= 0) for p in joint.parts]
        self.rows = [np.zeros((len(c), len(p.area))) for c, p in zip(self.there, joint.parts, strict=True)]
        self.gains = [np.zeros(candidates) for _ in joint.parts]
        self.exact = np.zeros(candidates, np.bool_)
        self._try(every)

    def copy(self) -> LazyGains:
        """Return an independent copy."""
        other = object.__new__(LazyGains)
        other.joint, other.there, other.exact = self.joint.copy(), self.there, self.exact.copy()
        other.rows, other.gains = [r.copy() for r in self.rows], [g.copy() for g in self.gains]
        return other

    def join(self, candidate: int) -> None:
        """Let a candidate join; raise the limits of the others to what that can have made of them."""
        self.joint.join(candidate)
        for part, there, rows, gains in zip(self.joint.parts, self.there, self.rows, self.gains, strict=True):
            if part.choice.node[candidate] >= 0 and len(there):
                limits, exact = gains[there], self.exact[there]
                part.raise_limits(there, rows, limits, exact)
                gains[there], self.exact[there] = limits, exact

    def best(self, able: Flags, costs: Floats | None = None, above: float = -np.inf) -> tuple[int, float]:
        """Return the candidate that adds most to the worth, or most per cost, and how much.

        Parameters
        ----------
        able
            (candidates,) who may join; the first of equals counts.
        costs
            (candidates,) what the gain is divided by.
        above
            Nothing at or below this is looked for; (-1, ``above``) if nobody is above it.
        """
        while True:
            worth = self._worth(costs)
            known = np.where(able & self.exact, worth, -np.inf)
            first = int(np.argmax(known)) if len(known) else -1
            least = max(above, float(known[first])) if first >= 0 else above
            open_ = np.flatnonzero(able & ~self.exact & (worth + SLACK * np.abs(worth) >= least))
            if not len(open_):
                return (first, float(known[first])) if first >= 0 and known[first] > above else (-1, above)
            self._try(open_[np.argsort(-worth[open_], kind="stable")[:AT_ONCE]])

    def _worth(self, costs: Floats | None) -> Floats:
        gains = self.joint.worth_gains(self.gains)
        return gains if costs is None else gains / costs

    def _try(self, candidates: Ints) -> None:
        for part, there, rows, gains in zip(self.joint.parts, self.there, self.rows, self.gains, strict=True):
            among = np.flatnonzero(np.isin(there, candidates))
            fresh = np.zeros((len(among), rows.shape[1]))
            gains[there[among]] = part.gains(there[among], fresh)
            rows[among] = fresh
        self.exact[candidates] = True
