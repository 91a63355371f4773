"""One butterfly's corridor problem: its patches, hops and reach, and graphs of any state."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from habitat.connectivity.distance.least_cost import ground_between, ground_hops
from habitat.connectivity.distance.links import Hops, hops_between, longest_affordable_m, straight_hops
from habitat.connectivity.distance.reach import Reach, median_from
from habitat.connectivity.graph.passages import Graph, passage_graph, without_dominated
from habitat.connectivity.measures.connected_area import Connected, connect
from habitat.connectivity.patches import Spread, spread_of
from habitat.connectivity.types import CorridorRequest
from habitat.errors import HabitatError, StudyError
from habitat.grid import Grid
from habitat.knowledge import resolve_butterflies

REACHES = ("low", "median", "high")
MOST_HOPS = 15_000_000
"""Hops that one butterfly's graph may have; beyond it the longest are left out, and told."""


@dataclass(frozen=True, slots=True)
class Terrain:
    """What crossing the ground costs one butterfly; None in a case means straight distances."""

    cost: NDArray[np.float64]
    grid: Grid


@dataclass(frozen=True, slots=True)
class Case:
    """One butterfly over all states and reaches.

    reaches : by low, median, high. hops : all pairs within the longest hop of any reach. unlimited : by
    reach, whether one hop crosses the whole study. made : graphs worked out so far.
    """

    butterfly: str
    common_name: str
    spread: Spread
    reaches: dict[str, Reach]
    hops: Hops
    unlimited: dict[str, bool]
    cut: float
    weight: float
    terrain: Terrain | None = None
    made: dict[Any, Any] = field(default_factory=dict)

    def graph(self, reach: str | Reach = "median") -> Graph:
        """Return the passages between all nodes of all states at a reach; named reaches are kept."""
        if isinstance(reach, str):
            if reach not in self.made:
                self.made[reach] = self.graph(self.reaches[reach])
            return self.made[reach]
        near = self.hops.up_to(reach.hop_m)
        return passage_graph(len(self.spread.place), near.i, near.j, reach.weight(near.distance_m))

    def state(self, state: str, reach: str = "median") -> StateGraph:
        """Return the graph of one state at a named reach."""
        if (state, reach) not in self.made:
            self.made[state, reach] = self.cut_out(self.graph(reach), state)
        return self.made[state, reach]

    def cut_out(self, whole: Graph, state: str) -> StateGraph:
        """Return the part of a graph of all nodes that a state has."""
        nodes = self.spread.nodes(state)
        keep = np.zeros(len(self.spread.place), np.bool_)
        keep[nodes] = True
        full = whole.subset(keep)
        return StateGraph(nodes, full, without_dominated(full)[0], self.spread.area_m2[nodes], self.cut)

    def hops_from(self, shapes: NDArray[np.object_], nodes: NDArray[np.int64]) -> Hops:
        """Return the hops at median reach from new ground (i) to nodes (j counts within ``nodes``)."""
        old, hop_m = self.spread.geometry[nodes], self.reaches["median"].hop_m
        if self.terrain is None:
            return hops_between(shapes, old, hop_m)
        return ground_between(shapes, old, hop_m, self.terrain.cost, self.terrain.grid)


@dataclass(frozen=True, slots=True)
class StateGraph:
    """The passages of one state: ``nodes`` are the case's, ``full`` has all links, ``graph`` those needed."""

    nodes: NDArray[np.int64]
    full: Graph
    graph: Graph
    area_m2: NDArray[np.float64]
    cut: float

    def connected(self) -> Connected:
        """Return what works as one."""
        return connect(self.graph, self.area_m2, self.cut)


def case_of(
    request: CorridorRequest, butterfly: str, terrain: Terrain | None = None
) -> tuple[Case, tuple[str, ...]]:
    """Return the corridor problem of a butterfly and what there is to tell about it."""
    spread, notes = spread_of(request, butterfly)
    reaches = reaches_of(request, butterfly)
    across = study_width_m(request)
    hops, told = _hops(spread, max(r.hop_m for r in reaches.values()), across, terrain)
    unlimited = {name: reach.hop_m >= across for name, reach in reaches.items()}
    if terrain is not None:
        pairs = len(spread.place) * (len(spread.place) - 1) // 2
        all_joined = {name: len(hops.up_to(reach.hop_m).i) == pairs for name, reach in reaches.items()}
        unlimited = {name: free and all_joined[name] for name, free in unlimited.items()}
    row = request.knowledge.butterflies.loc[butterfly]
    weight = setting(request, "weights", butterfly)
    case = Case(
        butterfly, str(row["common_name"]), spread, reaches, hops, unlimited, request.study.connectivity.cut,
        1.0 if weight is None else weight, terrain,
    )  # fmt: skip
    return case, (*notes, *(f"{butterfly}: {t}" for t in told))


def _hops(
    spread: Spread, longest_m: float, across_m: float, terrain: Terrain | None
) -> tuple[Hops, tuple[str, ...]]:
    wanted, told = min(longest_m, across_m), tuple[str, ...]()
    able = longest_affordable_m(len(spread.place), across_m**2 / 2.0, MOST_HOPS)
    if able < wanted:
        longest_m = wanted = able
        told = (
            f"with {len(spread.place)} breeding places, direct hops longer than {able:.0f} m are left out; "
            "longer ways go from place to place, so figures at a wider reach are lower limits.",
        )
    if terrain is not None:
        return ground_hops(spread.geometry, longest_m, terrain.cost, terrain.grid), told
    return straight_hops(spread.geometry, wanted), told


def study_width_m(request: CorridorRequest) -> float:
    """Return the longest distance within the box around all yards and anchors [m]."""
    boxes = [request.yards.total_bounds]
    if request.anchors is not None and len(request.anchors):
        boxes.append(request.anchors.total_bounds)
    box = np.array(boxes)
    west, south = box[:, :2].min(axis=0)
    east, north = box[:, 2:].max(axis=0)
    return math.hypot(east - west, north - south)


def reaches_of(request: CorridorRequest, butterfly: str) -> dict[str, Reach]:
    """Return the low, median and high reach of a butterfly.

    The study may give its own distance as a median, a mean or the distance that 5 % exceed; low and high
    then keep their ratio to the median of the table. A longest hop given in the study holds at every reach.

    Raises
    ------
    StudyError
        If the study gives more than one of them.
    HabitatError
        If neither the study nor the table has a movement distance.
    """
    row, settings = request.knowledge.butterflies.loc[butterfly], request.study.connectivity
    table = [float(str(row[f"typical_movement_{name}_m"])) for name in REACHES]
    own = _own_median(request, butterfly)
    if own is not None:
        ratio = [t / table[1] if t > 0 and table[1] > 0 else 1.0 for t in table]
        table = [own * r for r in ratio]
    if not all(math.isfinite(t) and t > 0 for t in table):
        raise HabitatError(
            f"no movement distance is known for {butterfly}",
            "connectivity",
            f'Give one in the study: median_m = {{ "{butterfly}" = 250 }}',
        )
    hop = setting(request, "hop_max_m", butterfly)
    return {n: Reach(t, hop, settings.kernel) for n, t in zip(REACHES, table, strict=True)}


def _own_median(request: CorridorRequest, butterfly: str) -> float | None:
    keys = {"median": "median_m", "mean": "mean_m", "five_percent": "five_percent_m"}
    given = {k: setting(request, key, butterfly) for k, key in keys.items()}
    stated = {k: v for k, v in given.items() if v is not None}
    if len(stated) > 1:
        raise StudyError(
            f"connectivity gives {butterfly} a reach in {len(stated)} ways ({', '.join(stated)})",
            str(request.study.path),
            "Keep one of median_m, mean_m and five_percent_m",
        )
    return next((median_from(v, k) for k, v in stated.items()), None)


def setting(request: CorridorRequest, key: str, butterfly: str) -> float | None:
    """Return what a table of the section ``[connectivity]`` says of a butterfly, None if nothing.

    Raises
    ------
    StudyError
        If the table names a butterfly that is not in the knowledge tables.
    """
    given: dict[str, float] = getattr(request.study.connectivity, key)
    if not given:
        return None
    out = None
    for match, value in zip(resolve_butterflies(list(given), request.knowledge), given.values(), strict=True):
        if match.accepted is None:
            near = f"; did you mean {' or '.join(match.suggestions)}?" if match.suggestions else ""
            raise StudyError(
                f"connectivity.{key} names {match.given!r}, which is not in the butterfly tables{near}",
                str(request.study.path),
                "Mend the name or leave it out; 'habitat butterflies' lists all",
            )
        if match.accepted == butterfly:
            out = float(value)
    return out
