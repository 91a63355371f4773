"""Effective resistance of 35 networks with exact values, of an endless lattice, and two identities.

``resistance_networks.json``: series, parallel and bridge circuits, complete graphs, rings, Platonic solids,
the Petersen graph, ladders and grids; standard results (van Steenwijk 1998 and Atkinson & van Steenwijk 1999,
Am. J. Phys., for the solids and the lattice). Foster 1949: resistances over the edges sum to n - 1. Klein &
Randic 1993: over all pairs they sum to n times the sum of 1 / eigenvalue.
"""

import itertools
import json
import math
from fractions import Fraction
from pathlib import Path

import networkx as nx
import numpy as np
import pytest

from habitat.connectivity.measures.breaks import flow_between
from habitat.errors import ParameterError

NETWORKS = json.loads((Path(__file__).parent / "resistance_networks.json").read_text(encoding="utf-8"))


def resistance(edges, ohms, source, target):
    i, j = np.array(edges).T
    return flow_between(
        int(max(i.max(), j.max())) + 1, (i, j), 1.0 / np.asarray(ohms, float), source, target
    ).resistance


@pytest.mark.parametrize("network", NETWORKS, ids=[n["name"] for n in NETWORKS])
def test_exact_value(network):
    edges = [(a, b) for a, b, _ in network["edges"]]
    ohms = [float(Fraction(r)) for _, _, r in network["edges"]]
    got = resistance(edges, ohms, network["source"], network["target"])
    assert got == pytest.approx(float(Fraction(network["R_exact"])), rel=1e-9)


@pytest.mark.parametrize(
    ("step", "want"), [((1, 0), 0.500021), ((1, 1), 0.636662), ((2, 0), 0.726845), ((2, 1), 0.773345)]
)
def test_middle_of_a_wide_lattice(step, want):
    """A free-edged grid of 161 x 161 nodes; the endless one has 1/2, 2/pi, 2 - 4/pi and 4/pi - 1/2."""
    n = 161
    node = np.arange(n * n).reshape(n, n)
    i = np.concatenate([node[:, :-1].ravel(), node[:-1].ravel()])
    j = np.concatenate([node[:, 1:].ravel(), node[1:].ravel()])
    middle = node[80, 80], node[80 + step[0], 80 + step[1]]
    got = flow_between(n * n, (i, j), np.ones(len(i)), int(middle[0]), int(middle[1])).resistance
    assert got == pytest.approx(want, abs=5e-7)
    endless = {(1, 0): 0.5, (1, 1): 2 / math.pi, (2, 0): 2 - 4 / math.pi, (2, 1): 4 / math.pi - 0.5}[step]
    assert got == pytest.approx(endless, rel=2e-4)


@pytest.mark.parametrize(
    ("graph", "want"),
    [
        (nx.path_graph(5), 20),
        (nx.cycle_graph(6), 17.5),
        (nx.complete_graph(5), 4),
        (nx.hypercube_graph(3), 58 / 3),
    ],
)
def test_sums_over_edges_and_over_pairs(graph, want):
    graph = nx.convert_node_labels_to_integers(graph)
    edges = list(graph.edges)
    ohms = np.ones(len(edges))
    assert sum(resistance(edges, ohms, a, b) for a, b in edges) == pytest.approx(len(graph) - 1)
    assert sum(resistance(edges, ohms, a, b) for a, b in itertools.combinations(graph, 2)) == pytest.approx(
        want
    )


def test_random_networks_agree_with_networkx():
    rng = np.random.default_rng(1)
    for _ in range(20):
        graph = nx.gnp_random_graph(12, 0.4, seed=int(rng.integers(1e6)))
        for a, b in graph.edges:
            graph[a][b]["g"] = float(rng.uniform(0.05, 1.0))
        if not nx.is_connected(graph):
            continue
        i, j = np.array(graph.edges).T
        g = np.array([graph[a][b]["g"] for a, b in graph.edges])
        flow = flow_between(12, (i, j), g, 0, 11)
        want = nx.resistance_distance(graph, 0, 11, weight="g", invert_weight=False)
        assert flow.resistance == pytest.approx(want, rel=1e-9)
        ends = flow.link[(i == 0) | (j == 0)].sum(), flow.link[(i == 11) | (j == 11)].sum()
        assert ends == pytest.approx((1.0, 1.0))


def test_nothing_joins_them():
    assert flow_between(4, (np.array([0, 2]), np.array([1, 3])), np.ones(2), 0, 3) is None


def test_refuses_a_conductance_of_zero():
    with pytest.raises(ParameterError, match="more than 0"):
        flow_between(2, (np.array([0]), np.array([1])), np.zeros(1), 0, 1)
