"""What is special about a yard, so that a person can say it at a door: a sentence that differs door by door.

Anchors and butterflies are named, never a neighbour.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from habitat.arrays import Floats
from habitat.connectivity.case import Case, StateGraph
from habitat.connectivity.graph.chain import Chain, best_chain
from habitat.connectivity.graph.passages import components
from habitat.connectivity.measures.breaks import two_chains
from habitat.connectivity.measures.tables import distances
from habitat.remarks import Remark, Subject, remark
from habitat.terms import anchor_name

LEAST_M2 = 0.5
"""Breeding ground that is worth a word [m2]: judgement."""
EASIER = 1.05
"""How many times as likely a chain must become for a yard to be said to ease it: judgement."""
SHORTER = 0.9
"""A longest step is said to be shorter if it is at most this share of what it was: judgement."""
LARGE_PART = 0.15
"""A share of all breeding ground in yards that is worth a word: judgement."""
WORN = 1.5
"""By how much a thing loses in order for each time that the like was said: judgement."""
MOST_ROOM_M2 = 2.0
"""Breeding ground from which on to have most of it is worth a word [m2]: judgement."""
FEWEST_RIVALS = 3
"""Yards with ground among which the one with most is worth a word: judgement."""
TOLD_OF = 3
"""Butterflies, of those that gain most, of which something special is looked for."""
MOST_PAIRS = 10
"""Pairs of anchors between which ways are looked at."""


@dataclass(frozen=True, slots=True)
class Special:
    """One thing that may be said of a yard: the lower ``order``, the more special."""

    order: float
    told: Remark

    @property
    def key(self) -> tuple[str, ...]:
        """What is equal for things that sound alike."""
        return (self.told.kind, *self.told.subject.butterflies, *self.told.subject.anchors)


@dataclass(frozen=True, slots=True)
class Door:
    """A candidate, who is counted as having joined before, and what it adds to the joint score.

    gains : (butterflies,).
    """

    yard: str
    invited: tuple[str, ...]
    gains: Floats

    @property
    def butterflies(self) -> list[int]:
        """Butterflies of which something special is looked for, those that gain most first."""
        best = np.argsort(-self.gains, kind="stable")
        return [int(k) for k in best if self.gains[k] > 0.0][:TOLD_OF] or [0]


class Reasons:
    """Finds what is special about yards, given who has been invited before."""

    def __init__(self, cases: list[Case], candidates: Sequence[str]) -> None:
        self.cases = cases
        self.used: dict[tuple[str, ...], int] = {}
        self.two_ways: set[tuple[str, int, int]] = set()
        self.extra = [{y: self._ground(case, y) for y in candidates} for case in cases]
        self.kinds = {y: sum(e[y] > LEAST_M2 for e in self.extra) for y in candidates}

    def why(self, doors: Sequence[Door]) -> list[Remark]:
        """Return what is most special about each yard, and has least been said of those before it.

        One butterfly is looked at for all of them before the next, since its graph may be large.
        """
        found = {
            (k, d): list(self._of_butterfly(k, door.yard, door.invited))
            for k in range(len(self.cases))
            for d, door in enumerate(doors)
            if k in door.butterflies
        }
        return [self._best(door, [found[k, d] for k in door.butterflies]) for d, door in enumerate(doors)]

    def _best(self, door: Door, of_butterflies: list[list[Special]]) -> Remark:
        found = [
            Special(one.order + 0.2 * rank, one.told)
            for rank, specials in enumerate(of_butterflies)
            for one in specials
        ]
        found += self._most_kinds(door.yard, door.butterflies[0])
        best = min(found, key=lambda one: (self.used.get(one.key, 0), one.order + self._worn(one)))
        for key in (best.key, best.key[:1]):
            self.used[key] = self.used.get(key, 0) + 1
        return best.told

    def _worn(self, one: Special) -> float:
        """Return how much less special a thing is for each door that heard the like of another butterfly."""
        return WORN * self.used.get(one.key[:1], 0)

    def _of_butterfly(self, k: int, yard: str, invited: tuple[str, ...]) -> Iterator[Special]:
        case = self.cases[k]
        yield from self._ground_words(k, yard, invited)
        if case.unlimited["median"] or case.spread.planned.get(yard, -1) < 0:
            return
        before, after = case.joined(invited), case.joined((*invited, yard))
        yield from self._between_anchors(case, before, after)
        joined = _joined_gap(case, before, after)
        if joined is not None:
            yield Special(
                1.0, remark("yard_joins_groups", _about(case), common_name=case.common_name, gap_m=joined)
            )
        yield from self._surroundings(case, yard, before)

    def _between_anchors(self, case: Case, before: StateGraph, after: StateGraph) -> Iterator[Special]:
        """Yield what changes between anchors in which it breeds."""
        ends = [int(n) for n in before.nodes if case.spread.end[n]]
        for a, b in itertools.islice(itertools.combinations(ends, 2), MOST_PAIRS):
            old, new = _chain(before, a, b), _chain(after, a, b)
            names = tuple(anchor_name(case.spread.place[n]) for n in (a, b))
            if new is None:
                continue
            if old is None:
                gap = _apart(case, before, a, b)
                yield Special(
                    0.0,
                    remark("yard_closes_gap", _about(case, names), common_name=case.common_name, gap_m=gap),
                )
                continue
            if not self._two_ways(case, before, a, b) and self._two_ways(case, after, a, b):
                yield Special(
                    1.5, remark("yard_adds_second_way", _about(case, names), common_name=case.common_name)
                )
            was, now = (_longest(case, g, c) for g, c in ((before, old), (after, new)))
            if now <= SHORTER * was:
                yield Special(
                    2.0,
                    remark(
                        "yard_shortens_step",
                        _about(case, names),
                        common_name=case.common_name,
                        was_m=was,
                        now_m=now,
                    ),
                )
            elif new.passage > old.passage * EASIER:
                yield Special(
                    3.5, remark("yard_eases_chain", _about(case, names), common_name=case.common_name)
                )

    def _two_ways(self, case: Case, graph: StateGraph, a: int, b: int) -> bool:
        """Return whether two ways join two nodes; who joins takes none away, so a yes holds from then on."""
        key = (case.butterfly, a, b)
        if key not in self.two_ways and two_chains(graph.full, _at(graph, a), _at(graph, b)):
            self.two_ways.add(key)
        return key in self.two_ways

    def _ground_words(self, k: int, yard: str, invited: tuple[str, ...]) -> Iterator[Special]:
        """Yield what there is to say of the ground that comes with a yard."""
        case, extra = self.cases[k], self.extra[k][yard]
        if extra <= LEAST_M2:
            yield Special(9.0, remark("yard_is_stepping_stone", _about(case), common_name=case.common_name))
            return
        yield Special(8.0, remark("yard_adds_ground", _about(case), common_name=case.common_name, m2=extra))
        nodes = case.spread.nodes_joined(invited)
        there = float(case.spread.area_m2[nodes[case.spread.role[nodes] != "anchor"]].sum())
        if there <= LEAST_M2:
            yield Special(0.5, remark("yard_brings_first_ground", _about(case), common_name=case.common_name))
        elif extra >= LARGE_PART * (there + extra):
            share = extra / (there + extra)
            yield Special(
                2.5,
                remark(
                    "yard_brings_large_part",
                    _about(case),
                    common_name=case.common_name,
                    ground_share=float(share),
                ),
            )
        old = case.spread.before.get(yard, -1)
        if old >= 0 and case.spread.area_m2[old] > 0.0:
            yield Special(3.0, remark("yard_breeds_already", _about(case), common_name=case.common_name))
        rivals = [m2 for m2 in self.extra[k].values() if m2 > LEAST_M2]
        if len(rivals) >= FEWEST_RIVALS and extra >= max(*rivals, MOST_ROOM_M2):
            yield Special(
                2.8, remark("yard_has_most_room", _about(case), common_name=case.common_name, m2=extra)
            )

    def _surroundings(self, case: Case, yard: str, before: StateGraph) -> Iterator[Special]:
        """Yield what lies within half of its moves: the nearest anchor that holds it, breeding places."""
        node = case.spread.planned[yard]
        median_m = case.reaches["median"].median_m
        held = before.nodes[before.area_m2 > 0.0]
        far = _gaps(case, node, held)
        is_anchor = case.spread.role[held] == "anchor"
        if is_anchor.any() and far[is_anchor].min() <= median_m:
            near = held[is_anchor][int(np.argmin(far[is_anchor]))]
            name = anchor_name(case.spread.place[near])
            away = float(far[is_anchor].min())
            yield Special(
                5.0,
                remark("yard_near_anchor", _about(case, (name,)), common_name=case.common_name, away_m=away),
            )
        count = int((far[~is_anchor] <= median_m).sum())
        if count > 1:
            yield Special(
                6.0,
                remark(
                    "yard_amid_places",
                    _about(case),
                    common_name=case.common_name,
                    places=count,
                    within_m=float(median_m),
                ),
            )

    def _most_kinds(self, yard: str, k: int) -> list[Special]:
        """Return that a yard serves more butterflies than any other, where it does."""
        most = self.kinds[yard]
        if most < 2 or most < max(self.kinds.values()):
            return []
        return [
            Special(
                4.0,
                remark(
                    "yard_serves_most",
                    _about(self.cases[k]),
                    common_name=self.cases[k].common_name,
                    butterflies=most,
                ),
            )
        ]

    def _ground(self, case: Case, yard: str) -> float:
        node, old = case.spread.planned.get(yard, -1), case.spread.before.get(yard, -1)
        own = case.spread.area_m2[node] if node >= 0 else 0.0
        return float(own - (case.spread.area_m2[old] if old >= 0 and node >= 0 else 0.0))


def _about(case: Case, anchors: tuple[str, ...] = ()) -> Subject:
    return Subject(anchors=anchors, butterflies=(case.butterfly,))


def _at(graph: StateGraph, node: int) -> int:
    return int(np.searchsorted(graph.nodes, node))


def _chain(graph: StateGraph, a: int, b: int) -> Chain | None:
    return best_chain(graph.graph, _at(graph, a), _at(graph, b))


def _longest(case: Case, graph: StateGraph, chain: Chain) -> float:
    """Return the longest step of a chain [m]."""
    nodes = graph.nodes[list(chain.nodes)]
    return float(distances(case, nodes[:-1], nodes[1:]).max(initial=0.0))


def _apart(case: Case, graph: StateGraph, a: int, b: int) -> float:
    """Return the straight distance between what is linked with one node and what is with another [m]."""
    label = components(graph.graph)
    sides = (graph.nodes[label == label[_at(graph, n)]] for n in (a, b))
    return _between(*(case.spread.geometry[nodes] for nodes in sides))


def _joined_gap(case: Case, before: StateGraph, after: StateGraph) -> float | None:
    """Return how far apart groups with habitat lay that are one now [m], None if no two were joined."""
    label = components(before.graph)
    was = {int(n): int(g) for n, g, a in zip(before.nodes, label, before.area_m2, strict=True) if a > 0.0}
    groups: dict[int, set[int]] = {}
    for n, g in zip(after.nodes, components(after.graph), strict=True):
        if int(n) in was:
            groups.setdefault(int(g), set()).add(was[int(n)])
    joined = next((sorted(old) for old in groups.values() if len(old) > 1), None)
    if joined is None:
        return None
    held = before.area_m2 > 0.0
    sides = (case.spread.geometry[before.nodes[held & (label == g)]] for g in joined[:2])
    return _between(*sides)


def _between(one: np.ndarray, two: np.ndarray) -> float:
    """Return the distance between two sets of shapes [m]."""
    _, far = shapely.STRtree(one).query_nearest(two, return_distance=True, all_matches=False)
    return float(far.min())


def _gaps(case: Case, node: int, others: np.ndarray) -> np.ndarray:
    """Return how far places are from a node [m], infinity by ground where no link leads there."""
    if case.terrain is None:
        return np.asarray(shapely.distance(case.spread.geometry[node], case.spread.geometry[others]), float)
    links = case.links
    far = np.full(len(case.spread.place), np.inf)
    far[links.j[links.i == node]] = links.distance_m[links.i == node]
    far[links.i[links.j == node]] = links.distance_m[links.j == node]
    return far[others]
