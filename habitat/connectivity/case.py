"""One butterfly's corridor problem: its patches, links and reach, and graphs of any state."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from habitat.connectivity.distance.least_cost import least_cost_links, least_cost_links_between
from habitat.connectivity.distance.links import Links, links_between, longest_affordable_m, straight_links
from habitat.connectivity.distance.reach import Reach
from habitat.connectivity.graph.passages import Graph, passage_graph, without_dominated
from habitat.connectivity.kept import SHARED, Kept
from habitat.connectivity.measures.connected_area import Connected, connect
from habitat.connectivity.patches import Spread, spread_of
from habitat.connectivity.types import Movement, Neighbourhood
from habitat.grid import Grid
from habitat.remarks import Remark, Subject, remark

MOST_LINKS = 15_000_000
"""Links that one butterfly's graph may have; beyond it the longest are left out, with a remark."""


@dataclass(frozen=True, slots=True)
class Terrain:
    """What crossing the ground costs one butterfly; None in a case means straight distances."""

    cost: NDArray[np.float64]
    grid: Grid


@dataclass(frozen=True, slots=True)
class Case:
    """One butterfly over all states and reaches.

    reaches : by low, median, high. find_links : finds all pairs within the longest link of any reach.
    unlimited : by reach, whether one link crosses the whole study. brood_m2 : leaf that feeds one brood, None
    if not known. kept : links and graphs of this and other butterflies. made : figures worked out so far.
    """

    butterfly: str
    common_name: str
    spread: Spread
    reaches: dict[str, Reach]
    find_links: Callable[[], Links]
    unlimited: dict[str, bool]
    cut: float
    weight: float
    terrain: Terrain | None = None
    brood_m2: float | None = None
    kept: Kept = field(default_factory=Kept)
    made: dict[Any, Any] = field(default_factory=dict)

    @property
    def links(self) -> Links:
        """All pairs of nodes within the longest link of any reach."""
        return self.kept.get(self.butterfly, "links", self.find_links)

    def graph(self, reach: str | Reach = "median") -> Graph:
        """Return the passages between all nodes of all states at a reach; named reaches are kept."""
        if isinstance(reach, str):
            return self.kept.get(self.butterfly, reach, lambda: self.graph(self.reaches[reach]))
        near = self.links.up_to(reach.longest_m)
        return passage_graph(len(self.spread.place), near.i, near.j, reach.weight(near.distance_m))

    def state(self, state: str, reach: str = "median") -> StateGraph:
        """Return the graph of one state at a named reach."""
        return self.kept.get(self.butterfly, (state, reach), lambda: self.cut_out(self.graph(reach), state))

    def cut_out(self, whole: Graph, state: str) -> StateGraph:
        """Return the part of a graph of all nodes that a state has."""
        return self.part(whole, self.spread.nodes(state))

    def joined(self, yards: tuple[str, ...], reach: str = "median") -> StateGraph:
        """Return the graph of the members' state with some candidates joined, at a named reach."""
        nodes = self.spread.nodes_joined(yards)
        return self.kept.get(self.butterfly, (yards, reach), lambda: self.part(self.graph(reach), nodes))

    def part(self, whole: Graph, nodes: NDArray[np.int64]) -> StateGraph:
        """Return the part of a graph of all nodes that lies between some of them."""
        once = without_dominated(_among(whole, nodes))[0]
        return StateGraph(nodes, whole, once, self.spread.area_m2[nodes], self.cut)

    def links_from(self, shapes: NDArray[np.object_], nodes: NDArray[np.int64]) -> Links:
        """Return the links at median reach from new ground (i) to nodes (j counts within ``nodes``)."""
        old, longest_m = self.spread.geometry[nodes], self.reaches["median"].longest_m
        if self.terrain is None:
            return links_between(shapes, old, longest_m)
        return least_cost_links_between(shapes, old, longest_m, self.terrain.cost, self.terrain.grid)


@dataclass(frozen=True, slots=True)
class StateGraph:
    """The passages of one state: ``nodes`` are those of ``whole``, the case's, ``graph`` has links needed."""

    nodes: NDArray[np.int64]
    whole: Graph = field(metadata=SHARED)
    graph: Graph
    area_m2: NDArray[np.float64]
    cut: float

    @property
    def full(self) -> Graph:
        """All links: cut out each time, so that it takes no memory."""
        return _among(self.whole, self.nodes)

    def left(self, keep: NDArray[np.bool_]) -> Graph:
        """Return all links between some of the nodes."""
        return _among(self.whole, self.nodes[keep])

    def connected(self) -> Connected:
        """Return what works as one."""
        return connect(self.graph, self.area_m2, self.cut)


def _among(whole: Graph, nodes: NDArray[np.int64]) -> Graph:
    """Return the part of a graph that lies between some nodes, in their order, which is ascending."""
    keep = np.zeros(whole.nodes, np.bool_)
    keep[nodes] = True
    return whole.subset(keep)


def case_of(
    town: Neighbourhood,
    movement: Movement,
    cut: float,
    terrain: Terrain | None = None,
    kept: Kept | None = None,
) -> tuple[Case, tuple[Remark, ...]]:
    """Return the corridor problem of a butterfly and what there is to tell about it.

    Parameters
    ----------
    town
        Yards, anchors and breeding ground.
    movement
        How the butterfly moves.
    cut
        Passages below this are taken as 0 (0-1).
    terrain
        What the ground costs it to cross; None takes straight distances.
    kept
        Where links and graphs are kept, beside those of other butterflies.
    """
    spread, notes = spread_of(town, movement)
    reaches, across = movement.reaches, town.width_m
    find, longest_m = _links_within(spread, max(r.longest_m for r in reaches.values()), across, terrain)
    unlimited = {name: reach.longest_m >= across for name, reach in reaches.items()}
    if terrain is not None:
        links, pairs = find(), len(spread.place) * (len(spread.place) - 1) // 2
        all_joined = {name: len(links.up_to(reach.longest_m).i) == pairs for name, reach in reaches.items()}
        unlimited = {name: free and all_joined[name] for name, free in unlimited.items()}
    name, weight = movement.butterfly, movement.weight
    case = Case(
        name,
        movement.common_name,
        spread,
        reaches,
        find,
        unlimited,
        cut,
        weight,
        terrain,
        movement.brood_m2,
        kept or Kept(),
    )
    if longest_m is None:
        return case, notes
    about = Subject(butterflies=(name,))
    left_out = remark("long_links_left_out", about, places=len(spread.place), longest_m=longest_m)
    return case, (*notes, left_out)


def _links_within(
    spread: Spread, longest_m: float, across_m: float, terrain: Terrain | None
) -> tuple[Callable[[], Links], float | None]:
    """Return what finds the links of a butterfly, and their longest [m] if there would be too many.

    Links by ground are found once, since that takes long; straight ones each time that they are asked for.
    """
    wanted, cut_m = min(longest_m, across_m), None
    able = longest_affordable_m(len(spread.place), across_m**2 / 2.0, MOST_LINKS)
    if able < wanted:
        longest_m = wanted = cut_m = able
    if terrain is not None:
        found = least_cost_links(spread.geometry, longest_m, terrain.cost, terrain.grid)
        return lambda: found, cut_m
    return partial(straight_links, spread.geometry, wanted), cut_m
