"""Figures to compare between runs and years: broods, area, groups, colonisations, capacity to last."""

from __future__ import annotations

import math
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from habitat.arrays import Floats
from habitat.connectivity.case import Case, StateGraph
from habitat.connectivity.distance.reach import REACHES, Reach
from habitat.connectivity.graph.passages import components
from habitat.connectivity.measures.connected_area import capacity

ALL_STATES = ("today", "members", "invited", "everyone")
"""States whose figures are told: ``invited`` are the members and those on the list of invitations."""
SUMMED = ("broods", "habitat_m2", "equivalent_area_m2", "colonisations", "capacity_m2")
AT_ONCE = 2_000
"""Yards whose arrivals are worked out together."""


def absolute_of(case: Case, name: str, graph: StateGraph, yards: gpd.GeoDataFrame) -> dict[str, Any]:
    """Return the absolute figures of one state of a butterfly at median reach, but for the area.

    Parameters
    ----------
    case
        The butterfly's corridor problem.
    name
        What the state is called; figures of equal names are worked out once.
    graph
        Its nodes and passages.
    yards
        yard_id, geometry: every yard there is, whoever takes part.

    Returns
    -------
    dict
        None of these but ``groups`` falls when a yard is added. ``broods`` a year that the plants of yards
        feed, None where they are not counted. ``groups`` of places with habitat. ``colonisations`` [1/a] of
        an empty yard, see ``colonisations_of``. ``capacity_m2``: square root of the metapopulation
        capacity, which is in m4.
    """
    key = ("absolute", name)
    if key not in case.made:
        i, j, weight = graph.full.pairs()
        case.made[key] = {
            "broods": broods_of(case, graph.nodes),
            "groups": groups_of(graph)[0],
            "colonisations": colonisations_of(case, graph.nodes, yards),
            "capacity_m2": math.sqrt(max(capacity(graph.area_m2, i, j, np.exp(-weight)), 0.0)),
        }
    return dict(case.made[key])


def broods_of(case: Case, nodes: NDArray[np.int64]) -> int | None:
    """Return how many broods a year the plants of yards feed; anchors are not counted, None if unknown."""
    found = case.spread.broods[nodes[case.spread.role[nodes] != "anchor"]]
    held = case.spread.area_m2[nodes[case.spread.role[nodes] != "anchor"]] > 0.0
    return None if np.isnan(found[held]).any() else int(found[held].sum())


def groups_of(graph: StateGraph) -> tuple[int, float]:
    """Return how many groups of places with habitat there are, and the share of habitat in the largest."""
    total = float(graph.area_m2.sum())
    if total <= 0.0:
        return 0, 0.0
    held = np.bincount(components(graph.full), graph.area_m2)
    return int((held > 0.0).sum()), float(held.max() / total)


def colonisations_of(
    case: Case, nodes: NDArray[np.int64], yards: gpd.GeoDataFrame, reach: str = "median"
) -> float | None:
    """Return how many females a year come to a yard that is empty, mean over all yards; None if unknown.

    Parameters
    ----------
    nodes
        Of a state.
    yards
        Every yard there is; each is taken as empty itself, so that the mean is over the same yards in every
        state and run.

    Notes
    -----
    Each brood (area / ``Case.brood_m2``) sends out one mated female, who leaves for good, straight in a
    direction at random, and gets past the distance d with the passage p(d). A yard of width w lies on her
    way with min(1, w / (2 pi d)). So yard i gets sum_j broods_j p(d_ij) min(1, w_i / (2 pi d_ij)) over places
    j that are not in it. One female per brood is judgement; distances are straight, from the edge of a disc
    of the place's size to the yard's middle.
    """
    if case.brood_m2 is None:
        return None
    key = ("sent", reach)
    if key not in case.made:
        case.made[key] = _sent(case, case.reaches[reach], yards)
    return float(case.made[key][nodes] @ case.spread.area_m2[nodes])


def _sent(case: Case, reach: Reach, yards: gpd.GeoDataFrame) -> Floats:
    """Return (nodes,) how many females a year one m2 of each node sends to a yard, mean over all yards."""
    spread = case.spread
    middle = shapely.get_coordinates(shapely.centroid(yards.geometry.to_numpy())).reshape(-1, 2)
    width = 2.0 * np.sqrt(yards.geometry.area.to_numpy() / math.pi)
    own = {y: k for k, y in enumerate(yards["yard_id"])}
    home = np.array([own.get(p, -1) for p in spread.place], np.int64)
    total = np.zeros(len(spread.place))
    for first in range(0, len(yards), AT_ONCE):
        rows = slice(first, first + AT_ONCE)
        come = _come(spread.geometry, spread.role == "anchor", middle[rows], width[rows], reach)
        inside = np.flatnonzero((home >= first) & (home < first + AT_ONCE))
        come[home[inside] - first, inside] = 0.0
        total += come.sum(axis=0)
    return total / max(len(yards), 1) / float(case.brood_m2 or 1.0)


def _come(
    shapes: NDArray[np.object_], anchor: NDArray[np.bool_], middle: Floats, width: Floats, reach: Reach
) -> Floats:
    """Return (yards, nodes) the chance that a female who leaves a node comes to each yard."""
    at = shapely.get_coordinates(shapely.centroid(shapes)).reshape(-1, 2)
    far = np.hypot(middle[:, None, 0] - at[None, :, 0], middle[:, None, 1] - at[None, :, 1])
    far = np.maximum(far - np.sqrt(shapely.area(shapes) / math.pi)[None, :], 0.0)
    points = shapely.points(middle)
    for k in np.flatnonzero(anchor):
        far[:, k] = shapely.distance(points, shapes[k])
    share = np.minimum(1.0, width[:, None] / np.maximum(2.0 * math.pi * far, 1e-9))
    return np.where(far <= reach.longest_m, reach.passage(far) * share, 0.0)


def together_of(entries: dict[str, dict[str, Any]], states: tuple[str, ...]) -> dict[str, Any]:
    """Return the figures of all butterflies together, by state: sums, each butterfly counted by itself.

    Areas and colonisations also under ``low_reach`` and ``high_reach`` where these are known. A sum of which
    a part is unknown is None. ``groups``: of the butterfly that is in most pieces.
    """
    out: dict[str, Any] = {}
    for state in states:
        rows = [e[state] for e in entries.values() if state in e]
        if rows:
            most = max((r["groups"] for r in rows if r.get("groups") is not None), default=None)
            out[state] = {f: _sum([r.get(f) for r in rows]) for f in SUMMED} | {"groups": most}
    for end in (f"{r}_reach" for r in REACHES if r != "median"):
        rows = [e[end] for e in entries.values() if end in e]
        out[end] = {
            s: {"equivalent_area_m2": _sum([r[s]["equivalent_area_m2"] for r in rows if s in r])}
            for s in states
            if s in out
        }
    return out


def _sum(values: list[Any]) -> Any:
    return None if any(v is None for v in values) else sum(values)
