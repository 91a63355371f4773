"""The corridor's tables: links on best paths, the chain between anchors, what each place carries."""

from __future__ import annotations

import itertools
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from habitat.connectivity import _kernels
from habitat.connectivity.by_ground import way_between
from habitat.connectivity.case import Case, StateGraph
from habitat.connectivity.chain import Chain, anchor_chains
from habitat.connectivity.connected import EXACT_UP_TO, Sample, importance
from habitat.connectivity.graph import limit_of

LINK_COLUMNS = ["from_yard", "to_yard", "butterfly", "distance_m", "passage", "state"]
CHAIN_COLUMNS = [
    "butterfly", "state", "chain", "from_anchor", "to_anchor", "step", "from_yard", "to_yard", "distance_m",
    "passage", "passage_low_reach", "passage_high_reach", "weakest",
]  # fmt: skip
PARTS = ("held_m2", "arriving_m2", "passing_m2")
"""The parts of an importance."""
SAMPLED_SOURCES = 1_504


def links_of(case: Case, state: str, graph: StateGraph) -> pd.DataFrame:
    """Return the links of a state that lie on a best path between places with habitat or anchors.

    At median reach. An anchor of which nobody has said what breeds there has no habitat, but is an end.
    """
    g = graph.graph
    anchor = case.spread.role[graph.nodes] == "anchor"
    ends = np.where(anchor & (graph.area_m2 <= 0.0), 1.0, graph.area_m2)
    used = _kernels.used_links(g.start, g.to, g.weight, g.owner, ends, limit_of(graph.cut))
    pairs = np.unique(
        np.sort(np.column_stack([g.owner[used], g.to[used]]), axis=1).reshape(-1, 2), axis=0
    ).astype(np.int64)
    i, j = graph.nodes[pairs[:, 0]], graph.nodes[pairs[:, 1]]
    distance = distances(case, i, j)
    place = case.spread.place
    frame = pd.DataFrame(
        {
            "from_yard": place[i],
            "to_yard": place[j],
            "butterfly": case.butterfly,
            "distance_m": distance,
            "passage": case.reaches["median"].passage(distance),
            "state": state,
        }
    )
    frame["geometry"] = lines(case.spread.geometry[i], case.spread.geometry[j])
    return frame


def distances(case: Case, i: NDArray[np.int64], j: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the hop distances of pairs of nodes that are hops [m]."""
    hops, n = case.hops, len(case.spread.place)
    key = hops.i * n + hops.j
    order = np.argsort(key)
    at = np.searchsorted(key[order], np.minimum(i, j) * n + np.maximum(i, j))
    return hops.distance_m[order[at]]


def lines(one: NDArray[np.object_], two: NDArray[np.object_]) -> NDArray[np.object_]:
    """Return the shortest lines between shapes; between touching ones, from middle to middle."""
    shortest = shapely.shortest_line(one, two)
    touching = shapely.length(shortest) <= 0.0
    if touching.any():
        ends = np.stack([shapely.point_on_surface(s[touching]) for s in (one, two)], axis=1)
        shortest[touching] = shapely.linestrings(shapely.get_coordinates(ends.ravel()).reshape(-1, 2, 2))
    return shortest


def chain_of(case: Case, state: str, graph: StateGraph) -> tuple[pd.DataFrame, list[dict[str, Any]]]:
    """Return the chain table of a state, and per pair of anchors what joins them.

    The second value has ``from``, ``to``, ``ends`` (nodes of the state),
        ``chain`` (a ``Chain`` or None). Both are empty where distance
    does not limit the butterfly.
    """
    anchors = np.flatnonzero(case.spread.role[graph.nodes] == "anchor")
    frames: list[pd.DataFrame] = []
    told: list[dict[str, Any]] = []
    if len(anchors) < 2 or case.unlimited["median"]:
        return pd.DataFrame(columns=[*CHAIN_COLUMNS, "geometry"]), told
    place = case.spread.place[graph.nodes]
    for number, (a, b, chain) in enumerate(anchor_chains(graph.graph, anchors), start=1):
        told.append({"from": place[a], "to": place[b], "ends": (a, b), "chain": chain})
        if chain is not None:
            frames.append(_chain_frame(case, state, graph, number, chain))
    empty = pd.DataFrame(columns=[*CHAIN_COLUMNS, "geometry"])
    return pd.concat(frames, ignore_index=True) if frames else empty, told


def _chain_frame(case: Case, state: str, graph: StateGraph, number: int, chain: Chain) -> pd.DataFrame:
    nodes = graph.nodes[list(chain.nodes)]
    place, steps = case.spread.place[nodes], len(chain.passages)
    distance = distances(case, nodes[:-1], nodes[1:])
    frame = pd.DataFrame(
        {
            "butterfly": case.butterfly,
            "state": state,
            "chain": number,
            "from_anchor": place[0],
            "to_anchor": place[-1],
            "step": np.arange(1, steps + 1),
            "from_yard": place[:-1],
            "to_yard": place[1:],
            "distance_m": distance,
            "passage": chain.passages,
            "passage_low_reach": hop_passage(case, distance, "low"),
            "passage_high_reach": hop_passage(case, distance, "high"),
            "weakest": np.arange(steps) == chain.weakest,
        }
    )
    frame["geometry"] = lines(case.spread.geometry[nodes[:-1]], case.spread.geometry[nodes[1:]])
    if case.terrain is not None:
        hops = itertools.pairwise(case.spread.geometry[nodes])
        ways = [way_between(one, two, case.terrain.cost, case.terrain.grid) for one, two in hops]
        straight = frame["geometry"].tolist()
        frame["geometry"] = pd.Series([w or s for w, s in zip(ways, straight, strict=True)], dtype=object)
    return frame


def hop_passage(case: Case, distance_m: NDArray[np.float64], reach: str) -> NDArray[np.float64]:
    """Return the passage of single hops at a reach, 0 beyond its longest hop."""
    kernel = case.reaches[reach]
    return np.where(distance_m <= kernel.hop_m, kernel.passage(distance_m), 0.0)


def importance_of(case: Case, graph: StateGraph, seed: int) -> tuple[pd.DataFrame, bool]:
    """Return what each place carries of the members' state, and whether the passing part is an estimate."""
    sampled = len(graph.nodes) > EXACT_UP_TO
    sample = Sample(SAMPLED_SOURCES, _along(case.spread.geometry[graph.nodes]), seed) if sampled else None
    parts = importance(graph.full, graph.area_m2, graph.cut, sample=sample)
    frame = pd.DataFrame(
        {
            "yard_id": case.spread.place[graph.nodes],
            "butterfly": case.butterfly,
            "held_m2": parts.held_m2,
            "arriving_m2": parts.arriving_m2,
            "passing_m2": parts.passing_m2,
        }
    )
    if sampled:
        frame["passing_error_m2"] = parts.passing_error_m2
    return frame, sampled


def _along(shapes: NDArray[np.object_]) -> NDArray[np.int64]:
    """Return shapes in the order of a curve that fills the plane, so that near ones follow each other."""
    return np.argsort(gpd.GeoSeries(shapes).hilbert_distance().to_numpy(), kind="stable")


def geo(frames: list[pd.DataFrame], columns: list[str], crs: Any) -> gpd.GeoDataFrame:
    """Stack tables with a geometry column, in the order they come; empty ones keep their columns."""
    full = [f for f in frames if len(f)]
    if not full:
        empty = {c: pd.Series(dtype=object) for c in columns}
        return gpd.GeoDataFrame(empty, geometry=gpd.GeoSeries([], crs=crs))
    return gpd.GeoDataFrame(pd.concat(full, ignore_index=True), geometry="geometry", crs=crs)
