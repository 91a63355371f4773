"""Where the chain is weakest, and what one more bed would bring at each place there."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import breadth_first_order, minimum_spanning_tree

from habitat.connectivity.case import Case, StateGraph
from habitat.connectivity.distance.links import Hops, straight_hops
from habitat.connectivity.graph.chain import Chain
from habitat.connectivity.measures.tables import TYPICAL_M2, bare_gains

POINTS = 400
"""About how many places are tried around the gap."""
ALL_PAIRS_UP_TO = 2_000
"""Places up to which a gap wider than any hop is looked for."""


def widest_step(nodes: int, hops: Hops, source: int, target: int) -> tuple[int, int, float] | None:
    """Return the longest hop on the way from source to target whose longest hop is shortest.

    Returns ``(i, j, distance [m])``, None if the hops join the two in no way. On the minimum spanning tree:
    the hop that must be made shorter first, whatever else is done.
    """
    tree = spanning_tree(nodes, hops)
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
    at = (hops.i == min(a, b)) & (hops.j == max(a, b))
    return min(a, b), max(a, b), float(hops.distance_m[at][0])


def spanning_tree(nodes: int, hops: Hops) -> Any:
    """Return the minimum spanning tree of the hops as a sparse matrix whose entries are ranks of distances.

    Ranks from 1 stand in for distances, since entries of 0 are no links in a sparse matrix.
    """
    rank = np.empty(len(hops.i))
    rank[np.lexsort((hops.j, hops.i, hops.distance_m))] = np.arange(1, len(hops.i) + 1)
    return minimum_spanning_tree(coo_array((rank, (hops.i, hops.j)), shape=(nodes, nodes)).tocsr())


def weakest_gap(case: Case, state: StateGraph, joins: list[dict[str, Any]]) -> tuple[int, int, float] | None:
    """Return the weakest place of a state: two nodes of the case and their distance [m], or None.

    The weakest step of the least likely chain between anchors; where none joins them,
        the hop that keeps them apart;
    without anchors, the hop that keeps the breeding places from being one group.
    """
    number = {int(n): k for k, n in enumerate(state.nodes)}
    inside = np.isin(case.hops.i, state.nodes) & np.isin(case.hops.j, state.nodes)
    hops = Hops(
        np.array([number[int(n)] for n in case.hops.i[inside]], np.int64),
        np.array([number[int(n)] for n in case.hops.j[inside]], np.int64),
        case.hops.distance_m[inside],
    )
    open_ = [j for j in joins if j["chain"] is None]
    if open_:
        found = widest_step(len(state.nodes), hops, *open_[0]["ends"])
        if found is None:
            found = widest_step(len(state.nodes), _all_hops(case, state), *open_[0]["ends"])
    elif joins:
        chain: Chain = min((j["chain"] for j in joins), key=lambda c: c.passage)
        if chain.weakest < 0:
            return None
        a, b = chain.nodes[chain.weakest], chain.nodes[chain.weakest + 1]
        at = (hops.i == min(a, b)) & (hops.j == max(a, b))
        found = (a, b, float(hops.distance_m[at][0]))
    else:
        found = _longest_needed(len(state.nodes), hops)
    if found is None or found[2] <= 0.0:
        return None
    return int(state.nodes[found[0]]), int(state.nodes[found[1]]), found[2]


def _all_hops(case: Case, state: StateGraph) -> Hops:
    """Return the straight distances between all places of a state, however far, if there are not too many."""
    if len(state.nodes) > ALL_PAIRS_UP_TO:
        return Hops(np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0))
    shapes = case.spread.geometry[state.nodes]
    boxes = shapely.total_bounds(shapes)
    return straight_hops(shapes, float(np.hypot(boxes[2] - boxes[0], boxes[3] - boxes[1])))


def _longest_needed(nodes: int, hops: Hops) -> tuple[int, int, float] | None:
    tree = spanning_tree(nodes, hops).tocoo()
    if not tree.nnz:
        return None
    at = int(np.argmax(tree.data))
    a, b = int(tree.row[at]), int(tree.col[at])
    pair = (hops.i == min(a, b)) & (hops.j == max(a, b))
    return a, b, float(hops.distance_m[pair][0])


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
