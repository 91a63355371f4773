"""The corridor's tables: headline by state and reach, gains by yard, links, chains, parts of each place."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from habitat.connectivity.case import Case, StateGraph
from habitat.connectivity.distance.least_cost import least_cost_path
from habitat.connectivity.distance.reach import REACHES
from habitat.connectivity.graph import _kernels
from habitat.connectivity.graph.chain import Chain, anchor_chains
from habitat.connectivity.graph.passages import limit_of
from habitat.connectivity.measures.absolute import absolute_of
from habitat.connectivity.measures.connected_area import (
    DENSE_UP_TO,
    EXACT_UP_TO,
    Sample,
    connect,
    importance,
    passages,
)
from habitat.connectivity.patches import STATES


def worth_of(case: Case, yards: gpd.GeoDataFrame) -> dict[str, Any]:
    """Return one butterfly's figures.

    ``{today, members, everyone}`` at median reach, each with habitat_m2, equivalent_area_m2, score, patches,
    stepping_stones and neglected_share (upper bound of what the cut left out); the same three under
    ``low_reach`` and ``high_reach``. At median reach also what ``absolute_of`` finds; ``yards`` are all that
    there are. The score is over the equivalent area with everyone planted, at the
    same reach; it is 0 where that is 0 (no breeding ground at all), and such a butterfly is left out of the
    joint score. Where nobody has said whether an anchor holds the butterfly, ``if_anchors_hold`` has the
    equivalent areas and scores at median reach were it to breed in all of these.
    """
    out = figures_of(case, yards, STATES)
    for states in (out, *(out[f"{reach}_reach"] for reach in REACHES if reach != "median")):
        top = states["everyone"]["equivalent_area_m2"]
        for state in STATES:
            states[state]["score"] = states[state]["equivalent_area_m2"] / top if top > 0.0 else 0.0
    if case.spread.unsure_m2.any():
        out["if_anchors_hold"] = _if_anchors_hold(case)
    return out


def figures_of(case: Case, yards: gpd.GeoDataFrame, states: Sequence[str]) -> dict[str, Any]:
    """Return one butterfly's figures in some states as ``worth_of`` does, without shares (score 0)."""
    out: dict[str, Any] = {}
    for reach in REACHES:
        found = {s: _figures(case, s, reach) for s in states}
        if reach == "median":
            out |= {s: e | absolute_of(case, s, case.state(s), yards) for s, e in found.items()}
        else:
            out[f"{reach}_reach"] = found
    return out


def _if_anchors_hold(case: Case) -> dict[str, dict[str, float]]:
    area = {}
    for name in STATES:
        state = case.state(name)
        whole = state.area_m2 + case.spread.unsure_m2[state.nodes]
        area[name] = connect(state.graph, whole, case.cut).equivalent_area_m2
    top = area["everyone"]
    return {s: {"equivalent_area_m2": a, "score": a / top if top > 0.0 else 0.0} for s, a in area.items()}


def with_invited(case: Case, entry: dict[str, Any], asked: tuple[str, ...], yards: gpd.GeoDataFrame) -> None:
    """Add the state ``invited`` to one butterfly's figures: members and those on the list of invitations."""
    for reach in REACHES:
        found = _of_graph(case.joined(asked, reach))
        if reach == "median":
            found |= absolute_of(case, "invited", case.joined(asked), yards)
        into = entry if reach == "median" else entry[f"{reach}_reach"]
        top = into["everyone"]["equivalent_area_m2"]
        into["invited"] = found | {"score": found["equivalent_area_m2"] / top if top > 0.0 else 0.0}


def _figures(case: Case, state: str, reach: str) -> dict[str, Any]:
    return _of_graph(case.state(state, reach))


def _of_graph(graph: StateGraph) -> dict[str, Any]:
    got = graph.connected()
    return {
        "habitat_m2": float(graph.area_m2.sum()),
        "equivalent_area_m2": got.equivalent_area_m2,
        "score": 0.0,
        "patches": int((graph.area_m2 > 0.0).sum()),
        "stepping_stones": int((graph.area_m2 <= 0.0).sum()),
        "neglected_share": got.neglected_share,
    }


def joint_of(entries: dict[str, dict[str, Any]], weights: dict[str, float]) -> dict[str, Any]:
    """Return the weighted mean score over butterflies by state, and the same at low and high reach.

    ``if_anchors_hold`` is the same at median reach were all butterflies to breed in the anchors of which
    nobody has said; only if there are such.
    """

    def mean(pick: Any) -> dict[str, float]:
        used = [
            (weights[n], pick(e))
            for n, e in entries.items()
            if pick(e)["everyone"]["equivalent_area_m2"] > 0.0
        ]
        total = sum(w for w, _ in used)
        return {s: sum(w * p[s]["score"] for w, p in used) / total if total > 0.0 else 0.0 for s in STATES}

    out: dict[str, Any] = {
        **mean(lambda e: e),
        "low_reach": mean(lambda e: e["low_reach"]),
        "high_reach": mean(lambda e: e["high_reach"]),
    }
    if any("if_anchors_hold" in e for e in entries.values()):
        out["if_anchors_hold"] = mean(lambda e: e.get("if_anchors_hold", e))
    return out


# What one more square metre of habitat is worth in each yard, for the planting weights.

TYPICAL_M2 = 10.0
"""Habitat that a yard without any is tried with [m2] where no plan gives a measure: judgement."""


def gains_of(yards: gpd.GeoDataFrame, case: Case) -> dict[tuple[str, str], float]:
    """Return (yard_id, butterfly) -> worth of one more m2 there over the mean of members' yards.

    In the members' state at median reach. Where a patch stands, the derivative of the equivalent connected
    area, sum_j a_j p*_ij / ECA; where none stands, what a patch of typical size in the yard would add, by
    area: its own ground, what reaches it, and what would pass through it (past 4,000 patches without the
    last).
    """
    yards = yards[yards["role"].isin(["member", "candidate"])].sort_values("yard_id")
    state = case.state("members")
    if not len(yards) or not state.area_m2.any():
        return {}
    whole = state.connected()
    eca = whole.equivalent_area_m2
    size = float(np.median(state.area_m2[state.area_m2 > 0.0])) or TYPICAL_M2
    held = state.area_m2 > 0.0
    standing = dict(zip(case.spread.place[state.nodes][held], whole.arriving_m2[held] / eca, strict=True))
    bare = yards[~yards["yard_id"].isin(standing)]
    more = bare_gains(case, bare.geometry.to_numpy(), size)
    worth = {y: float(standing[y]) for y in yards["yard_id"] if y in standing}
    worth |= {y: float(m / size) for y, m in zip(bare["yard_id"], more, strict=True)}
    members = set(yards.loc[yards["role"] == "member", "yard_id"])  # whom else one might ask moves no mean
    mean = float(np.mean([w for y, w in worth.items() if y in members or not members]))
    return {(y, case.butterfly): w / mean for y, w in worth.items()} if mean > 0.0 else {}


def bare_gains(case: Case, shapes: NDArray[np.object_], size_m2: float) -> NDArray[np.float64]:
    """Return (shapes,) what a patch of a size on each adds to the members' equivalent connected area [m2].

    Past ``DENSE_UP_TO`` patches what would pass through is left out, so that the gain is a lower limit.
    """
    state = case.state("members")
    if len(state.nodes) > DENSE_UP_TO:
        whole = state.connected()
        links = case.links_from(shapes, state.nodes)
        reached = np.zeros(len(shapes))
        passage = case.reaches["median"].passage(links.distance_m)
        np.maximum.at(reached, links.i, passage * whole.arriving_m2[links.j])
        more = size_m2**2 + 2.0 * size_m2 * reached
        return np.sqrt(whole.numerator + more) - np.sqrt(whole.numerator)
    best = passages(state.graph, state.cut)
    now = float(state.area_m2 @ best @ state.area_m2)
    rows = rows_to(case, state.nodes, shapes, best, state.cut)
    added_m4 = np.array([added(best, state.area_m2, row, size_m2) for row in rows])
    return np.sqrt(now + added_m4) - np.sqrt(now)


def rows_to(
    case: Case, nodes: NDArray[np.int64], shapes: NDArray[np.object_], best: NDArray[np.float64], cut: float
) -> NDArray[np.float64]:
    """Return (shapes, nodes) best passages from new ground to the nodes of a state, edge to edge."""
    out = np.zeros((len(shapes), len(nodes)))
    if not len(shapes) or not len(nodes):
        return out
    links = case.links_from(shapes, nodes)
    p = case.reaches["median"].passage(links.distance_m)
    limits = np.searchsorted(links.i, np.arange(len(shapes) + 1))
    for k, (first, last) in enumerate(itertools.pairwise(limits)):
        if last > first:
            out[k] = (p[first:last, None] * best[links.j[first:last]]).max(axis=0)
    out[out < cut] = 0.0
    return out


def added(
    best: NDArray[np.float64], area: NDArray[np.float64], row: NDArray[np.float64], own: float
) -> float:
    """Return what a patch of area ``own`` with passages ``row`` adds to the numerator [m4]."""
    near = np.flatnonzero((row > 0.0) & (area > 0.0))
    through = np.outer(row[near], row[near])
    np.fill_diagonal(through, 0.0)
    opened = np.maximum(through - best[np.ix_(near, near)], 0.0)
    return float(own**2 + 2.0 * own * (area @ row) + area[near] @ opened @ area[near])


# The corridor's tables: links on best paths, the chain between anchors, what each place carries.

LINK_COLUMNS = ["from_yard", "to_yard", "butterfly", "distance_m", "passage", "state"]
CHAIN_COLUMNS = [
    "butterfly", "state", "chain", "from_anchor", "to_anchor", "step", "from_yard", "to_yard", "distance_m",
    "passage", "passage_low_reach", "passage_high_reach", "weakest", "ends",
]  # fmt: skip
PARTS = ("held_m2", "arriving_m2", "passing_m2")
"""The parts of an importance."""
SAMPLED_SOURCES = 1_504


def links_of(case: Case, state: str, graph: StateGraph) -> pd.DataFrame:
    """Return the links of a state that lie on a best path between places with habitat or anchors.

    At median reach. An anchor in which a butterfly likely breeds has no habitat, but is an end.
    """
    g = graph.graph
    ends = np.where(case.spread.end[graph.nodes] & (graph.area_m2 <= 0.0), 1.0, graph.area_m2)
    owner = g.owner
    used = _kernels.used_links(g.start, g.to, g.weight, owner, ends, limit_of(graph.cut))
    pairs = np.sort(np.column_stack([owner[used], g.to[used]]), axis=1).reshape(-1, 2)
    pairs = np.unique(pairs, axis=0).astype(np.int64)
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
    """Return the link distances of pairs of nodes that are links [m]."""
    links, n = case.links, len(case.spread.place)
    key = links.i * n + links.j
    asked = np.minimum(i, j) * n + np.maximum(i, j)
    if (key[1:] >= key[:-1]).all():
        return links.distance_m[np.searchsorted(key, asked)]
    order = np.argsort(key)
    return links.distance_m[order[np.searchsorted(key[order], asked)]]


STROKE_M = 0.1
"""Length of the line that stands for a link between ground that touches [m]: a line of no length is none."""


def lines(one: NDArray[np.object_], two: NDArray[np.object_]) -> NDArray[np.object_]:
    """Return the shortest lines between shapes; between touching ones, a stroke where they touch."""
    shortest = shapely.shortest_line(one, two)
    touching = shapely.length(shortest) <= 0.0
    if touching.any():
        at = shapely.get_coordinates(shapely.get_point(shortest[touching], 0))
        half = np.array([STROKE_M / 2.0, 0.0])
        shortest[touching] = shapely.linestrings(np.stack([at - half, at + half], axis=1))
    return shortest


def chain_of(case: Case, state: str, graph: StateGraph) -> tuple[pd.DataFrame, list[dict[str, Any]]]:
    """Return the chain table of a state, and per pair of anchors what joins them.

    The second value has ``from``, ``to``, ``ends`` (nodes of the state),
        ``chain`` (a ``Chain`` or None). Both are empty where distance
    does not limit the butterfly. Chains end in anchors in which somebody says that it breeds, or likely does.
    """
    anchors = np.flatnonzero(case.spread.end[graph.nodes])
    frames: list[pd.DataFrame] = []
    joins: list[dict[str, Any]] = []
    if len(anchors) < 2 or case.unlimited["median"]:
        return pd.DataFrame(columns=[*CHAIN_COLUMNS, "geometry"]), joins
    place = case.spread.place[graph.nodes]
    for number, (a, b, chain) in enumerate(anchor_chains(graph.graph, anchors), start=1):
        joins.append({"from": place[a], "to": place[b], "ends": (a, b), "chain": chain})
        if chain is not None:
            frames.append(_chain_frame(case, state, graph, number, chain))
    empty = pd.DataFrame(columns=[*CHAIN_COLUMNS, "geometry"])
    return pd.concat(frames, ignore_index=True) if frames else empty, joins


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
            "passage_low_reach": passage_at(case, distance, "low"),
            "passage_high_reach": passage_at(case, distance, "high"),
            "weakest": np.arange(steps) == chain.weakest,
            "ends": "confirmed" if (case.spread.area_m2[nodes[[0, -1]]] > 0.0).all() else "likely",
        }
    )
    frame["geometry"] = lines(case.spread.geometry[nodes[:-1]], case.spread.geometry[nodes[1:]])
    if case.terrain is not None:
        links = itertools.pairwise(case.spread.geometry[nodes])
        paths = [least_cost_path(one, two, case.terrain.cost, case.terrain.grid) for one, two in links]
        straight = frame["geometry"].tolist()
        frame["geometry"] = pd.Series([p or s for p, s in zip(paths, straight, strict=True)], dtype=object)
    return frame


def passage_at(case: Case, distance_m: NDArray[np.float64], reach: str) -> NDArray[np.float64]:
    """Return the passage of single links at a reach, 0 beyond its longest link."""
    kernel = case.reaches[reach]
    return np.where(distance_m <= kernel.longest_m, kernel.passage(distance_m), 0.0)


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
