"""A corridor that grows yard by yard: exact gains of one more, kept up to date as yards join."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.connectivity import _invite_kernels
from habitat.connectivity.connected import passages
from habitat.connectivity.graph import Graph, without_dominated
from habitat.connectivity.threads import threads_for

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Stage:
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


class Growing:
    """The passages of one butterfly while candidates join; ``join`` changes it, ``copy`` branches off.

    A candidate whose ground grows is a new patch with the extra area at distance 0 from the old one: best
    paths and sums are the same as with one patch in its place.
    """

    def __init__(self, stage: Stage, room: int) -> None:
        self.stage = stage
        size = len(stage.base)
        self.count = size
        self.best = np.zeros((size + room, size + room))
        once, _ = without_dominated(stage.graph.subset(base_mask(stage)))
        self.best[:size, :size] = passages(once, stage.cut)
        self.area = np.zeros(size + room)
        self.area[:size] = stage.area_m2[stage.base]
        self.position = np.full(stage.graph.nodes, -1, np.int64)
        self.position[stage.base] = np.arange(size)
        self.numerator = float(self.area[:size] @ self.best[:size, :size] @ self.area[:size])

    def copy(self) -> Growing:
        """Return an independent copy."""
        other = object.__new__(Growing)
        other.stage, other.count, other.numerator = self.stage, self.count, self.numerator
        other.best, other.area, other.position = self.best.copy(), self.area.copy(), self.position.copy()
        return other

    def gains(self, candidates: Ints, rows: Floats | None = None) -> Floats:
        """Return what each candidate alone adds to the numerator [m4]; fill its row of passages if asked."""
        gains = np.zeros(len(candidates))
        moves = np.flatnonzero(self.stage.node[candidates] >= 0)
        if not len(moves):
            return gains
        picked, g, s = candidates[moves], self.stage.graph, self.stage
        found, reached = np.zeros(len(moves)), np.zeros((len(moves), len(self.area)))
        with threads_for(float(len(moves)) * self.count**2 / 2.0):
            _invite_kernels.try_all(
                self.best, self.count, self.area, self.position, g.start, g.to, g.weight,
                s.node[picked], s.extra_m2[picked], s.cut, found, reached,
            )  # fmt: skip
        gains[moves] = found
        if rows is not None:
            rows[moves] = reached
        return gains

    def join(self, candidate: int) -> None:
        """Let a candidate join."""
        s = self.stage
        node = int(s.node[candidate])
        if node < 0:
            return
        rows = np.zeros((1, len(self.area)))
        self.numerator += float(self.gains(np.array([candidate]), rows)[0])
        with threads_for(float(self.count) ** 2):
            _invite_kernels.add_row(self.best, self.count, rows[0], s.cut)
        self.area[self.count] = float(s.extra_m2[candidate])
        self.position[node] = self.count
        self.count += 1

    def raise_limits(self, candidates: Ints, rows: Floats, limits: Floats, exact: NDArray[np.bool_]) -> None:
        """Raise upper limits of gains to what the last joining can have made of them, in place.

        candidates : (k,) those whose node is there. rows : (k, nodes) their passages. limits : (k,) [m4].
        exact : (k,) False afterwards where the limit may be above the gain.
        """
        s, g = self.stage, self.stage.graph
        with threads_for(3.0 * len(candidates) * self.count):
            _invite_kernels.raise_limits(
                self.best, self.count - 1, self.area, self.position, g.start, g.to, g.weight,
                s.node[candidates], s.extra_m2[candidates], s.cut, rows, limits, exact,
            )  # fmt: skip

    @property
    def equivalent_area_m2(self) -> float:
        """Equivalent connected area now [m2]."""
        return math.sqrt(max(self.numerator, 0.0))


def base_mask(stage: Stage) -> NDArray[np.bool_]:
    """Return which nodes are there already."""
    keep = np.zeros(stage.graph.nodes, np.bool_)
    keep[stage.base] = True
    return keep
