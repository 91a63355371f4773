"""How many ways there are: chains that share no yard, effective conductance, and where the flow is narrow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components, maximum_flow
from scipy.sparse.linalg import splu

from habitat.connectivity.graph import Graph
from habitat.errors import ParameterError

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


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
    Two ways of 2 + 3 and 1 + 4 ohms side by side:

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

    A direct hop counts as one chain.

    Examples
    --------
    >>> from habitat.connectivity.graph import passage_graph
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
