"""Where does it break? Groups, chains, disjoint paths, effective conductance, narrow places, losses."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components, maximum_flow
from scipy.sparse.linalg import splu

from habitat.arrays import Floats, Ints
from habitat.connectivity.case import Case, StateGraph
from habitat.connectivity.graph.chain import Chain, best_chain
from habitat.connectivity.graph.passages import Graph, components
from habitat.connectivity.measures.absolute import absolute_of, groups_of
from habitat.connectivity.measures.gaps import one_more_bed, weakest_gap
from habitat.connectivity.measures.losses import losses
from habitat.connectivity.measures.tables import PARTS
from habitat.connectivity.patches import STATES
from habitat.errors import ParameterError
from habitat.remarks import Remark, Subject, remark


@dataclass(frozen=True, slots=True)
class Flow:
    """One unit of flow from source to target, spread as current in a network of conductances.

    resistance : effective resistance between the two. link : (links,) share of the flow through each link.
    node : (nodes,) share through each node, 1 at source and target.
    """

    resistance: float
    link: Floats
    node: Floats


def flow_between(
    nodes: int, ends: tuple[Ints, Ints], conductance: Floats, source: int, target: int
) -> Flow | None:
    """Return how flow spreads between two nodes, None if nothing joins them.

    Parameters
    ----------
    nodes
        Number of nodes.
    ends
        (i, j), the ends of each link.
    conductance
        (links,) more than 0; here the passage of a link, so that resistance is 1 / passage.

    Notes
    -----
    Solves L v = e_source - e_target on the component of the two, L the weighted Laplacian; the effective
    resistance is v_source - v_target.

    References
    ----------
    McRae et al. 2008, Ecology 89:2712-2724.

    Examples
    --------
    Two paths of 2 + 3 and 1 + 4 ohms side by side:

    >>> i, j = np.array([0, 1, 0, 3]), np.array([1, 2, 3, 2])
    >>> round(flow_between(4, (i, j), 1 / np.array([2.0, 3.0, 1.0, 4.0]), 0, 2).resistance, 12)
    2.5
    """
    i, j = ends
    if np.any(~(conductance > 0.0)):
        raise ParameterError("conductance", float(conductance[~(conductance > 0.0)][0]), "more than 0")
    if source == target:
        raise ParameterError("source, target", (source, target), "two different nodes")
    adjacency = coo_array((conductance, (i, j)), shape=(nodes, nodes))
    _, label = connected_components(adjacency, directed=False)
    if label[source] != label[target]:
        return None
    potential = _potentials(adjacency, label == label[source], source, target)
    current = conductance * (potential[i] - potential[j])
    current[label[i] != label[source]] = 0.0
    node = 0.5 * (np.bincount(i, np.abs(current), nodes) + np.bincount(j, np.abs(current), nodes))
    node[[source, target]] = 1.0
    return Flow(float(potential[source] - potential[target]), np.abs(current), node.astype(np.float64))


def _potentials(adjacency: coo_array, inside: NDArray[np.bool_], source: int, target: int) -> Floats:
    """Return potentials for one unit from source to target, 0 at the target and outside the component."""
    both = csr_array(adjacency + adjacency.T)
    degree = np.asarray(both.sum(axis=0)).ravel()
    free = np.flatnonzero(inside & (np.arange(len(inside)) != target))
    part = both[free][:, free]
    laplacian = (
        coo_array((degree[free], (np.arange(len(free)), np.arange(len(free)))), shape=part.shape) - part
    )
    push = np.zeros(len(free))
    push[np.searchsorted(free, source)] = 1.0
    potential = np.zeros(len(inside))
    potential[free] = splu(laplacian.tocsc()).solve(push)
    return potential


def disjoint_chains(graph: Graph, source: int, target: int) -> int:
    """Return how many chains join two nodes without sharing a node between (Menger).

    A direct link counts as one chain.

    Examples
    --------
    >>> from habitat.connectivity.graph.passages import passage_graph
    >>> i, j = np.array([0, 0, 1, 2]), np.array([1, 2, 3, 3])
    >>> disjoint_chains(passage_graph(4, i, j, np.ones(4)), 0, 3)
    2
    """
    n = graph.nodes
    i, j = graph.owner, graph.to
    inside = (np.arange(n), np.arange(n) + n)
    room = np.ones(n, np.int32)
    room[[source, target]] = n
    rows, cols = np.concatenate([inside[0], i + n]), np.concatenate([inside[1], j])
    caps = np.concatenate([room, np.ones(len(i), np.int32)])
    network = csr_array((caps, (rows, cols)), shape=(2 * n, 2 * n))
    return int(maximum_flow(network, source + n, target).flow_value)


def two_chains(graph: Graph, source: int, target: int) -> bool:
    """Return whether two chains or more join two nodes without sharing a node between.

    As ``disjoint_chains`` above 1, but without a network of all links: of the nodes on one chain of fewest
    steps, none may be one without which the two fall apart (Menger).

    Examples
    --------
    >>> from habitat.connectivity.graph.passages import passage_graph
    >>> row = passage_graph(3, np.array([0, 1]), np.array([1, 2]), np.ones(2))
    >>> two_chains(row, 0, 2)
    False
    """
    links = csr_array((np.ones(len(graph.to), np.int8), graph.to, graph.start), shape=(graph.nodes,) * 2)
    before = breadth_first_order(links, source)[1]
    if before[target] < 0:
        return False
    chain = [target]
    while chain[-1] != source:
        chain.append(int(before[chain[-1]]))
    if len(chain) == 2:
        owner = graph.owner
        direct = (owner == source) & (graph.to == target) | (owner == target) & (graph.to == source)
        label = components(graph.only(~direct))
        return bool(label[source] == label[target])
    return not any(_parts(graph, chain, k) for k in range(1, len(chain) - 1))


def _parts(graph: Graph, chain: list[int], k: int) -> bool:
    """Return whether the ends of a chain fall apart without its k-th node."""
    one, two = (graph.to[graph.start[v] : graph.start[v + 1]] for v in (chain[k - 1], chain[k + 1]))
    if np.setdiff1d(np.intersect1d(one, two), [chain[k]]).size or chain[k + 1] in one:
        return False  # its neighbours have another way round
    keep = np.ones(graph.nodes, np.bool_)
    keep[chain[k]] = False
    label, number = components(graph.subset(keep)), np.cumsum(keep) - 1
    return bool(label[number[chain[0]]] != label[number[chain[-1]]])


# Where does it break? Groups, chains and weakest steps, disjoint paths, narrow places, losses, one more bed.

NARROW_SHARE = 0.99
"""A place that carries at least this share of the flow is narrow: everything goes through it."""
TOP = 10
FLOW_LISTED = 0.01
"""Places and links that carry at least this share of the flow are listed."""


def breaks_of(
    case: Case,
    yards: gpd.GeoDataFrame,
    joins: list[dict[str, Any]],
    links: pd.DataFrame,
    part: pd.DataFrame,
    seed: int,
) -> dict[str, Any]:
    """Return what there is to say of one butterfly in the members' state, as plain values.

    Parameters
    ----------
    case
        The butterfly's corridor problem.
    yards
        yard_id, geometry: where one more bed may lie.
    joins
        Of ``habitat.connectivity.measures.tables.chain_of`` for the members' state.
    links
        The members' links, on best paths only: flow is spread over these.
    part
        The butterfly's importances.
    seed
        Of the random orders in which yards are lost.

    Returns
    -------
    dict
        ``unlimited``: one link crosses the study, so that no chain is drawn. ``words``: the same as a
        remark, "" where it does not hold. ``groups``: by state, groups of breeding places that links join.
        ``largest_group_share``: of the habitat. ``pairs``: per pair of anchors ``from, to, passage`` (also at
        low and high reach), ``steps, weakest, chains_sharing_no_yard, redundancy, narrow_places,
        flow_places, flow_links``.
        ``chains_sharing_no_yard`` and ``redundancy``: of the worst pair. ``bridges``: yards by passing_m2.
        ``losses``, ``gap`` (``from, to, distance_m``), ``one_more_bed``, ``capacity`` (by state, over
        today's, and what it assumes).
    """
    state = case.state("members")
    pairs = [_pair(case, state, join, links) for join in joins]
    out: dict[str, Any] = {
        "unlimited": bool(case.unlimited["median"]),
        "words": _words(case),
        "groups": {s: groups_of(case.state(s))[0] for s in STATES},
        "largest_group_share": groups_of(state)[1],
        "pairs": pairs,
        "chains_sharing_no_yard": min((p["chains_sharing_no_yard"] for p in pairs), default=None),
        "redundancy": min((p["redundancy"] for p in pairs if p["redundancy"] is not None), default=None),
        "bridges": _bridges(part),
        "capacity": _capacity(case, yards),
    }
    may_go, carried = case.spread.role[state.nodes] != "anchor", part[list(PARTS)].sum(axis=1).to_numpy()
    out["losses"] = losses(state, may_go, carried, seed)
    gap = None if case.unlimited["median"] else weakest_gap(case, state, joins)
    if gap is not None:
        place = case.spread.place
        out["gap"] = {"from": place[gap[0]], "to": place[gap[1]], "distance_m": gap[2]}
        out["one_more_bed"] = one_more_bed(case, state, gap, yards)
    return out


def _words(case: Case) -> Remark | str:
    if not case.unlimited["median"]:
        return ""
    about = Subject(butterflies=(case.butterfly,))
    return remark("distance_does_not_limit", about, common_name=case.common_name)


def _pair(case: Case, state: StateGraph, join: dict[str, Any], links: pd.DataFrame) -> dict[str, Any]:
    """Return what joins one pair of anchors."""
    a, b = join["ends"]
    chain: Chain | None = join["chain"]
    out: dict[str, Any] = {
        "from": join["from"],
        "to": join["to"],
        "passage": chain.passage if chain else 0.0,
        "passage_low_reach": _passage(case, a, b, "low"),
        "passage_high_reach": _passage(case, a, b, "high"),
        "steps": len(chain.passages) if chain else 0,
        "weakest": _weakest(case, state, chain),
        "chains_sharing_no_yard": disjoint_chains(state.full, a, b) if chain else 0,
        "redundancy": None,
        "narrow_places": [],
        "flow_places": [],
        "flow_links": [],
    }
    if chain is not None:
        out |= _flow(case, state, (a, b), chain, links)
    return out


def _passage(case: Case, a: int, b: int, reach: str) -> float:
    chain = best_chain(case.state("members", reach).graph, a, b)
    return chain.passage if chain else 0.0


def _weakest(case: Case, state: StateGraph, chain: Chain | None) -> dict[str, Any] | None:
    if chain is None or chain.weakest < 0:
        return None
    a, b = chain.nodes[chain.weakest], chain.nodes[chain.weakest + 1]
    place = case.spread.place[state.nodes]
    link = case.links
    i, j = sorted((int(state.nodes[a]), int(state.nodes[b])))
    at = (link.i == i) & (link.j == j)
    return {
        "from": place[a],
        "to": place[b],
        "distance_m": float(link.distance_m[at][0]),
        "passage": chain.passages[chain.weakest],
    }


def _flow(
    case: Case, state: StateGraph, ends: tuple[int, int], chain: Chain, links: pd.DataFrame
) -> dict[str, Any]:
    """Return how flow spreads over the links on best paths, and how it compares with the best chain alone."""
    place = case.spread.place[state.nodes]
    number = {p: k for k, p in enumerate(place)}
    i, j = (links[c].map(number).to_numpy(np.int64) for c in ("from_yard", "to_yard"))
    flow = flow_between(len(place), (i, j), links["passage"].to_numpy(float), *ends)
    if flow is None:
        return {}
    alone = sum(1.0 / p for p in chain.passages)
    nodes = _ranked(flow.node, ends)
    order = np.lexsort((np.arange(len(i)), -flow.link))
    order = order[flow.link[order] >= FLOW_LISTED]
    return {
        "redundancy": float(alone / flow.resistance),
        "narrow_places": sorted(str(place[k]) for k in nodes if flow.node[k] >= NARROW_SHARE),
        "flow_places": [{"yard_id": str(place[k]), "share": float(flow.node[k])} for k in nodes],
        "flow_links": [
            {"from": str(place[i[m]]), "to": str(place[j[m]]), "share": float(flow.link[m])} for m in order
        ],
    }


def _ranked(share: NDArray[np.float64], ends: tuple[int, int]) -> NDArray[np.int64]:
    order = np.lexsort((np.arange(len(share)), -share))
    return order[~np.isin(order, ends) & (share[order] >= FLOW_LISTED)]


def _bridges(part: pd.DataFrame) -> list[dict[str, Any]]:
    top = part.sort_values(["passing_m2", "yard_id"], ascending=[False, True], kind="stable").head(TOP)
    return [
        {"yard_id": str(y), "passing_m2": float(m)}
        for y, m in zip(top["yard_id"], top["passing_m2"], strict=True)
        if m > 0.0
    ]


def _capacity(case: Case, yards: gpd.GeoDataFrame) -> dict[str, Any]:
    """Return the metapopulation capacity by state, relative to today's, and what it assumes."""
    value = {s: absolute_of(case, s, case.state(s), yards)["capacity_m2"] ** 2 for s in STATES}
    over = {f"{n}_over_today": value[n] / value["today"] if value["today"] > 0 else None for n in STATES[1:]}
    return {**value, **over, "words": remark("capacity_assumes")}
