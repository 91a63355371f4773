"""Where the chain is weakest, and what one more bed would bring at each place there."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import breadth_first_order, minimum_spanning_tree

from habitat.connectivity.case import Case, StateGraph
from habitat.connectivity.distance.links import Links, straight_links
from habitat.connectivity.graph.chain import Chain
from habitat.connectivity.measures.tables import TYPICAL_M2, bare_gains

POINTS = 400
"""About how many places are tried around the gap."""
ALL_PAIRS_UP_TO = 2_000
"""Places up to which a gap wider than any link is looked for."""


def widest_step(nodes: int, links: Links, source: int, target: int) -> tuple[int, int, float] | None:
    """Return the longest link on the way from source to target whose longest link is shortest.

    Returns ``(i, j, distance [m])``, None if the links join the two in no way. On the minimum spanning tree:
    the link that must be made shorter first, whatever else is done.
    """
    tree = spanning_tree(nodes, links)
    both = tree + tree.T
    order, before = breadth_first_order(both, source, directed=False)
    if target not in order:
        return None
    steps = []
    node = target
    while node != source:
        steps.append((int(before[node]), int(node)))
        node = int(before[node])
    rank = [both[a, b] for a, b in steps]
    a, b = steps[int(np.argmax(rank))]
    at = (links.i == min(a, b)) & (links.j == max(a, b))
    return min(a, b), max(a, b), float(links.distance_m[at][0])


def spanning_tree(nodes: int, links: Links) -> Any:
    """Return the minimum spanning tree of the links as a sparse matrix whose entries are ranks of distances.

    Ranks from 1 stand in for distances, since entries of 0 are no links in a sparse matrix.
    """
    rank = np.empty(len(links.i))
    rank[np.lexsort((links.j, links.i, links.distance_m))] = np.arange(1, len(links.i) + 1)
    return minimum_spanning_tree(coo_array((rank, (links.i, links.j)), shape=(nodes, nodes)).tocsr())


def weakest_gap(case: Case, state: StateGraph, joins: list[dict[str, Any]]) -> tuple[int, int, float] | None:
    """Return the weakest place of a state: two nodes of the case and their distance [m], or None.

    The weakest step of the least likely chain between anchors; where none joins them,
        the link that keeps them apart;
    without anchors, the link that keeps the breeding places from being one group.
    """
    number = {int(n): k for k, n in enumerate(state.nodes)}
    inside = np.isin(case.links.i, state.nodes) & np.isin(case.links.j, state.nodes)
    links = Links(
        np.array([number[int(n)] for n in case.links.i[inside]], np.int64),
        np.array([number[int(n)] for n in case.links.j[inside]], np.int64),
        case.links.distance_m[inside],
    )
    open_ = [j for j in joins if j["chain"] is None]
    if open_:
        found = widest_step(len(state.nodes), links, *open_[0]["ends"])
        if found is None:
            found = widest_step(len(state.nodes), _all_links(case, state), *open_[0]["ends"])
    elif joins:
        chain: Chain = min((j["chain"] for j in joins), key=lambda c: c.passage)
        if chain.weakest < 0:
            return None
        a, b = chain.nodes[chain.weakest], chain.nodes[chain.weakest + 1]
        at = (links.i == min(a, b)) & (links.j == max(a, b))
        found = (a, b, float(links.distance_m[at][0]))
    else:
        found = _longest_needed(len(state.nodes), links)
    if found is None or found[2] <= 0.0:
        return None
    return int(state.nodes[found[0]]), int(state.nodes[found[1]]), found[2]


def _all_links(case: Case, state: StateGraph) -> Links:
    """Return the straight distances between all places of a state, however far, if there are not too many."""
    if len(state.nodes) > ALL_PAIRS_UP_TO:
        return Links(np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0))
    shapes = case.spread.geometry[state.nodes]
    boxes = shapely.total_bounds(shapes)
    return straight_links(shapes, float(np.hypot(boxes[2] - boxes[0], boxes[3] - boxes[1])))


def _longest_needed(nodes: int, links: Links) -> tuple[int, int, float] | None:
    tree = spanning_tree(nodes, links).tocoo()
    if not tree.nnz:
        return None
    at = int(np.argmax(tree.data))
    a, b = int(tree.row[at]), int(tree.col[at])
    pair = (links.i == min(a, b)) & (links.j == max(a, b))
    return a, b, float(links.distance_m[pair][0])


def one_more_bed(
    case: Case, state: StateGraph, gap: tuple[int, int, float], yards: gpd.GeoDataFrame
) -> dict[str, Any]:
    """Return what one more bed would bring at places in and around a gap.

    Returns
    -------
    dict
        ``x``, ``y`` [m], ``yard_id`` and ``gain_m2`` of equivalent connected area for places inside yards,
            and the
        ``bed_m2`` of habitat that the bed was taken to hold (the median of what stands).
    """
    shapes = case.spread.geometry[[gap[0], gap[1]]]
    line = shapely.shortest_line(shapes[0], shapes[1])
    around = line.buffer(max(0.75 * line.length, 30.0))
    west, south, east, north = around.bounds
    step = max(np.sqrt((east - west) * (north - south) / POINTS), 1.0)
    x, y = np.meshgrid(np.arange(west + step / 2, east, step), np.arange(south + step / 2, north, step))
    places = np.asarray(shapely.points(x.ravel(), y.ravel()), object)
    tree = shapely.STRtree(yards.geometry.to_numpy())
    point, yard = tree.query(places, predicate="intersects")
    point, first = np.unique(point, return_index=True)
    yard = yard[first]
    bed = float(np.median(state.area_m2[state.area_m2 > 0.0])) if (state.area_m2 > 0.0).any() else TYPICAL_M2
    gain = bare_gains(case, np.asarray(shapely.buffer(places[point], 1.0), object), bed)
    return {
        "x": shapely.get_x(places[point]).tolist(),
        "y": shapely.get_y(places[point]).tolist(),
        "yard_id": yards["yard_id"].to_numpy()[yard].tolist(),
        "gain_m2": gain.tolist(),
        "bed_m2": bed,
    }
