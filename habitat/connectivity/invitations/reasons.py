"""Why a yard helps, so that a person can say it at a door: anchors and butterflies, never a neighbour."""

from __future__ import annotations

import itertools

import numpy as np

from habitat.connectivity.case import Case
from habitat.connectivity.graph.chain import best_chain
from habitat.connectivity.graph.passages import components, without_dominated
from habitat.remarks import Remark, Subject, remark
from habitat.terms import anchor_name

LEAST_M2 = 0.5
"""Breeding ground that is worth a word [m2]: judgement."""
EASIER = 1.05
"""How many times as likely a chain must become for a yard to be said to ease it: judgement."""


class Reasons:
    """Finds why a yard helps, given who has been invited before it."""

    def __init__(self, cases: list[Case]) -> None:
        self.cases = cases

    def why(self, yard: str, invited: list[str], main: int) -> Remark:
        """Return the reason for a yard, for the butterfly ``main`` that gains most.

        Parameters
        ----------
        yard
            The candidate.
        invited
            Candidates that are counted as having joined already.
        main
            Index of the butterfly.
        """
        case = self.cases[main]
        before, after = self._joined(case, invited), self._joined(case, [*invited, yard])
        gap = self._gap_closed(case, before, after)
        if gap is not None:
            return gap
        name, about = case.common_name, Subject(butterflies=(case.butterfly,))
        if self._groups(case, after) < self._groups(case, before):
            return remark("yard_joins_groups", about, common_name=name)
        if self._ground(case, yard) > LEAST_M2:
            near = self._nearest_anchor(case, yard)
            about = Subject(anchors=() if near is None else (near,), butterflies=(case.butterfly,))
            return remark("yard_adds_ground", about, common_name=name)
        return remark("yard_is_stepping_stone", about, common_name=name)

    def _joined(self, case: Case, yards: list[str]) -> np.ndarray:
        """Return the nodes of the members' state with some candidates joined."""
        spread = case.spread
        nodes = set(spread.nodes("members").tolist())
        for yard in yards:
            new = spread.planned.get(yard, -1)
            if new >= 0:
                nodes.discard(spread.before.get(yard, -1))
                nodes.add(new)
        return np.array(sorted(nodes), np.int64)

    def _gap_closed(self, case: Case, before: np.ndarray, after: np.ndarray) -> Remark | None:
        anchors = [n for n in before if case.spread.end[n]]
        if case.unlimited["median"]:
            return None
        best: tuple[float, Remark] | None = None
        for a, b in itertools.combinations(anchors, 2):
            old, new = self._passage(case, before, a, b), self._passage(case, after, a, b)
            ends = tuple(anchor_name(case.spread.place[n]) for n in (a, b))
            about = Subject(anchors=ends, butterflies=(case.butterfly,))
            if new > 0.0 and old <= 0.0:
                return remark("yard_closes_gap", about, common_name=case.common_name)
            if new > old * EASIER and (best is None or new / old > best[0]):
                best = (new / old, remark("yard_eases_chain", about, common_name=case.common_name))
        return best[1] if best else None

    def _passage(self, case: Case, nodes: np.ndarray, a: int, b: int) -> float:
        keep = np.zeros(len(case.spread.place), np.bool_)
        keep[nodes] = True
        graph = without_dominated(case.graph().subset(keep))[0]
        number = np.cumsum(keep) - 1
        chain = best_chain(graph, int(number[a]), int(number[b]))
        return chain.passage if chain else 0.0

    def _groups(self, case: Case, nodes: np.ndarray) -> int:
        keep = np.zeros(len(case.spread.place), np.bool_)
        keep[nodes] = True
        label = components(case.graph().subset(keep))
        return len(set(label[case.spread.area_m2[nodes] > 0.0].tolist()))

    def _ground(self, case: Case, yard: str) -> float:
        node, old = case.spread.planned.get(yard, -1), case.spread.before.get(yard, -1)
        own = case.spread.area_m2[node] if node >= 0 else 0.0
        return float(own - (case.spread.area_m2[old] if old >= 0 else 0.0))

    def _nearest_anchor(self, case: Case, yard: str) -> str | None:
        """Return the nearest anchor within a link that is known to hold the butterfly."""
        node = case.spread.planned.get(yard, -1)
        anchors = np.flatnonzero((case.spread.role == "anchor") & (case.spread.area_m2 > 0.0))
        if node < 0 or not len(anchors):
            return None
        gap = _gaps(case, node, anchors)
        if gap.min() > case.reaches["median"].longest_m:
            return None
        return anchor_name(case.spread.place[anchors[int(np.argmin(gap))]])


def _gaps(case: Case, node: int, anchors: np.ndarray) -> np.ndarray:
    """Return how far anchors are from a node [m], infinity by ground where no link leads there."""
    if case.terrain is None:
        return np.array([case.spread.geometry[node].distance(case.spread.geometry[a]) for a in anchors])
    links = case.links
    far = np.full(len(case.spread.place), np.inf)
    far[links.j[links.i == node]] = links.distance_m[links.i == node]
    far[links.i[links.j == node]] = links.distance_m[links.j == node]
    return far[anchors]
