"""One butterfly's corridor problem: its patches, hops and reach, and graphs of any state."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from habitat.connectivity.connected import Connected, connect
from habitat.connectivity.graph import Graph, passage_graph, without_dominated
from habitat.connectivity.links import Hops, straight_hops
from habitat.connectivity.patches import Spread, spread_of
from habitat.connectivity.reach import Reach, median_from
from habitat.connectivity.types import CorridorRequest
from habitat.errors import HabitatError, StudyError
from habitat.study import Study

REACHES = ("low", "median", "high")


@dataclass(frozen=True, slots=True)
class Case:
    """One butterfly over all states and reaches.

    reaches : by low, median, high. hops : all pairs within the longest hop of any reach. unlimited : by
    reach, whether one hop crosses the whole study.
    """

    butterfly: str
    common_name: str
    spread: Spread
    reaches: dict[str, Reach]
    hops: Hops
    unlimited: dict[str, bool]
    cut: float
    weight: float
    whole: dict[str, Graph] = field(default_factory=dict)

    def graph(self, reach: str = "median") -> Graph:
        """Return the passages between all nodes of all states at a reach."""
        if reach not in self.whole:
            near = self.hops.up_to(self.reaches[reach].hop_m)
            weight = self.reaches[reach].weight(near.distance_m)
            self.whole[reach] = passage_graph(len(self.spread.place), near.i, near.j, weight)
        return self.whole[reach]

    def state(self, state: str, reach: str = "median") -> StateGraph:
        """Return the graph of one state at one reach."""
        nodes = self.spread.nodes(state)
        keep = np.zeros(len(self.spread.place), np.bool_)
        keep[nodes] = True
        full = self.graph(reach).subset(keep)
        return StateGraph(nodes, full, without_dominated(full)[0], self.spread.area_m2[nodes], self.cut)


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


def case_of(request: CorridorRequest, butterfly: str) -> tuple[Case, tuple[str, ...]]:
    """Return the corridor problem of a butterfly and what there is to tell about it."""
    settings = request.study.connectivity
    spread, notes = spread_of(request, butterfly)
    reaches = reaches_of(request, butterfly)
    across = study_width_m(request)
    unlimited = {name: reach.hop_m >= across for name, reach in reaches.items()}
    longest = min(max(r.hop_m for r in reaches.values()), across)
    hops = straight_hops(spread.geometry, longest)
    row = request.knowledge.butterflies.loc[butterfly]
    weight = settings.weights.get(butterfly, 1.0)
    return Case(
        butterfly, str(row["common_name"]), spread, reaches, hops, unlimited, settings.cut, weight
    ), notes


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
    own = _own_median(request.study, butterfly)
    if own is not None:
        ratio = [t / table[1] if t > 0 and table[1] > 0 else 1.0 for t in table]
        table = [own * r for r in ratio]
    if not all(math.isfinite(t) and t > 0 for t in table):
        raise HabitatError(
            f"no movement distance is known for {butterfly}",
            "connectivity",
            f'Give one in the study: median_m = {{ "{butterfly}" = 250 }}',
        )
    hop = settings.hop_max_m.get(butterfly)
    return {n: Reach(t, hop, settings.kernel) for n, t in zip(REACHES, table, strict=True)}


def _own_median(study: Study, butterfly: str) -> float | None:
    settings = study.connectivity
    given = {
        "median": settings.median_m.get(butterfly),
        "mean": settings.mean_m.get(butterfly),
        "five_percent": settings.five_percent_m.get(butterfly),
    }
    stated = {k: v for k, v in given.items() if v is not None}
    if len(stated) > 1:
        raise StudyError(
            f"connectivity gives {butterfly} a reach in {len(stated)} ways ({', '.join(stated)})",
            str(study.path),
            "Keep one of median_m, mean_m and five_percent_m",
        )
    return next((median_from(v, k) for k, v in stated.items()), None)
