"""Kernels, metapopulation capacity, weakest gaps, betweenness and Laplacians with closed forms.

Kernels: p(D) = q gives k = -ln(q) / D; on the plane the mean is 2 / k and the quantiles solve
(1 + k r) exp(-k r) = 1 - q. Capacity: Hanski & Ovaskainen 2000, Nature 404:755-758. Betweenness: Freeman
1977. Algebraic connectivity: Fiedler 1973. Spanning trees: matrix-tree theorem. Maximum flow: the textbook
network of Cormen et al.
"""

import itertools
import math

import networkx as nx
import numpy as np
import pytest
from scipy.cluster.hierarchy import linkage
from scipy.optimize import brentq
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from habitat.connectivity.distance.links import Links
from habitat.connectivity.distance.reach import Reach, median_from
from habitat.connectivity.graph.passages import passage_graph
from habitat.connectivity.measures.breaks import disjoint_chains, flow_between, two_chains
from habitat.connectivity.measures.connected_area import capacity, passages
from habitat.connectivity.measures.gaps import spanning_tree, widest_step


@pytest.mark.parametrize(
    ("statistic", "times"), [("median", 0.693147), ("five_percent", 2.995732), ("mean", 1.0)]
)
def test_decay_from_each_statistic(statistic, times):
    median = median_from(100.0, statistic)
    assert math.log(2) / median == pytest.approx(times / 100.0, rel=1e-6)


@pytest.mark.parametrize(("statistic", "share"), [("median", 0.5), ("five_percent", 0.95)])
def test_quantiles_on_the_plane(statistic, share):
    k = math.log(2) / median_from(100.0, statistic, plane=True)
    r = brentq(lambda x: 1 - (1 + k * x) * math.exp(-k * x) - share, 1e-6, 1e4)
    assert r == pytest.approx(100.0, rel=1e-6)


def test_mean_on_the_plane_is_two_over_k():
    assert math.log(2) / median_from(100.0, "mean", plane=True) == pytest.approx(0.02)


def test_default_longest_link_is_what_five_percent_exceed():
    assert Reach(250.0).longest_m == pytest.approx(4.32 * 250.0, rel=1e-3)
    assert Reach(250.0).passage(Reach(250.0).longest_m) == pytest.approx(0.05)


def test_one_percent_distance():
    assert Reach(100.0).distance_at(0.01) == pytest.approx(100.0 * 4.605170 / 0.693147, rel=1e-6)


@pytest.mark.parametrize("kernel", ["exponential", "fat_tailed"])
def test_half_get_beyond_the_median(kernel):
    reach = Reach(80.0, kernel=kernel)
    assert reach.passage(80.0) == pytest.approx(0.5)
    assert reach.passage(0.0) == 1.0
    assert reach.passage(reach.distance_at(0.05)) == pytest.approx(0.05)


def test_fat_tail_is_fat():
    assert Reach(80.0, kernel="fat_tailed").passage(800.0) > 5 * Reach(80.0).passage(800.0)


@pytest.mark.parametrize(
    ("area", "place", "want"),
    [
        ([2.0, 3.0], [0, 1], 6 / math.e),
        ([1.0, 1.0, 1.0], [0, 1, 2], (math.exp(-2) + math.sqrt(math.exp(-4) + 8 * math.exp(-2))) / 2),
    ],
)
def test_capacity_of_points_on_a_line(area, place, want):
    i, j = np.array(list(itertools.combinations(range(len(area)), 2))).T
    d = np.abs(np.subtract.outer(place, place))[i, j]
    assert capacity(np.array(area), i, j, np.exp(-d)) == pytest.approx(want, abs=1e-9)


def test_capacity_of_four_at_equal_distance():
    i, j = np.array(list(itertools.combinations(range(4), 2))).T
    assert capacity(np.ones(4), i, j, np.full(6, math.exp(-1))) == pytest.approx(3 / math.e, abs=1e-9)


def test_sparse_and_dense_capacity_agree():
    rng = np.random.default_rng(0)
    n = 400
    i, j = np.array([(a, b) for a, b in itertools.combinations(range(n), 2) if b - a < 20]).T
    p, area = rng.random(len(i)), rng.uniform(1, 20, n)
    dense = np.zeros((n, n))
    dense[i, j] = dense[j, i] = p * area[i] * area[j]
    assert capacity(area, i, j, p) == pytest.approx(np.linalg.eigvalsh(dense)[-1], rel=1e-9)


def test_weakest_gap_of_five_points():
    """Points (0,0), (1,0), (3,0), (3,4), (10,4): tree of 1, 2, 4, 7; the range that joins all is 7."""
    xy = np.array([(0, 0), (1, 0), (3, 0), (3, 4), (10, 4)], float)
    i, j = np.array(list(itertools.combinations(range(5), 2))).T
    links = Links(i, j, np.hypot(*(xy[i] - xy[j]).T))
    tree = spanning_tree(5, links).tocoo()
    length = [math.dist(xy[a], xy[b]) for a, b in zip(tree.row, tree.col, strict=True)]
    assert sorted(length) == pytest.approx([1, 2, 4, 7])
    assert sorted(length) == pytest.approx(linkage(xy, "single")[:, 2])
    assert widest_step(5, links, 0, 4) == (3, 4, 7.0)
    assert widest_step(5, links, 0, 2) == (1, 2, 2.0)


def test_maximum_flow_that_disjoint_chains_rest_on():
    edges = {
        (0, 1): 16,
        (0, 2): 13,
        (1, 3): 12,
        (2, 1): 4,
        (2, 4): 14,
        (3, 2): 9,
        (3, 5): 20,
        (4, 3): 7,
        (4, 5): 4,
    }
    rows, cols = np.array(list(edges)).T
    network = csr_array((np.array(list(edges.values()), np.int32), (rows, cols)), shape=(6, 6))
    assert maximum_flow(network, 0, 5).flow_value == 23


def test_disjoint_chains_carry_the_maximum_flow_of_the_textbook_network():
    """Each unit of capacity as a node of its own, those that share a junction linked: 23 chains.

    The largest flow leaves the edge 3-2 empty; without it the network may be taken as undirected, since 12,
    7 and 4 still shut it. The line graph turns chains that share no edge into chains that share no node.
    """
    capacity = {(0, 1): 16, (0, 2): 13, (1, 3): 12, (2, 1): 4, (2, 4): 14, (3, 5): 20, (4, 3): 7, (4, 5): 4}
    ends = np.array([edge for edge, units in capacity.items() for _ in range(units)])
    n = len(ends)
    meet = [(a, b) for a, b in itertools.combinations(range(n), 2) if set(ends[a]) & set(ends[b])]
    meet += [
        (k, n + side) for side, end in enumerate((0, 5)) for k in np.flatnonzero((ends == end).any(axis=1))
    ]
    i, j = np.array(meet).T
    assert disjoint_chains(passage_graph(n + 2, i, j, np.ones(len(i))), n, n + 1) == 23


def test_disjoint_chains_equal_menger_on_random_graphs():
    rng = np.random.default_rng(3)
    for _ in range(40):
        n = int(rng.integers(4, 12))
        pairs = [e for e in itertools.combinations(range(n), 2) if rng.random() < 0.4 and e != (0, n - 1)]
        graph = nx.Graph(pairs)
        graph.add_nodes_from(range(n))
        i, j = np.array(pairs).T if pairs else (np.zeros(0, int), np.zeros(0, int))
        ours = disjoint_chains(passage_graph(n, i, j, np.ones(len(i))), 0, n - 1)
        assert (
            ours == len(list(nx.node_disjoint_paths(graph, 0, n - 1)))
            if nx.has_path(graph, 0, n - 1)
            else ours == 0
        )


def test_two_chains_are_those_without_a_node_that_parts_them_on_random_graphs():
    """Beside networkx: node-disjoint paths; where a link joins the two, another path without it."""
    rng = np.random.default_rng(4)
    seen = set()
    for _ in range(150):
        n = int(rng.integers(3, 11))
        pairs = [e for e in itertools.combinations(range(n), 2) if rng.random() < 0.35]
        graph = nx.Graph(pairs)
        graph.add_nodes_from(range(n))
        direct = graph.has_edge(0, n - 1)
        if direct:
            graph.remove_edge(0, n - 1)
        paths = len(list(nx.node_disjoint_paths(graph, 0, n - 1))) if nx.has_path(graph, 0, n - 1) else 0
        i, j = np.array(pairs).T if pairs else (np.zeros(0, int), np.zeros(0, int))
        assert two_chains(passage_graph(n, i, j, np.ones(len(i))), 0, n - 1) == (paths + direct > 1)
        seen.add((direct, paths + direct > 1))
    assert len(seen) == 4


@pytest.mark.parametrize(
    ("graph", "want"),
    [
        (nx.path_graph(5), [0, 3, 4, 3, 0]),
        (nx.star_graph(5), [10, 0, 0, 0, 0, 0]),
        (nx.cycle_graph(6), [2] * 6),
    ],
    ids=["path of 5", "star of 6", "ring of 6"],
)
def test_betweenness_follows_from_the_best_passages(graph, want):
    """Each pair's shortest ways share one unit (Freeman 1977); opposite nodes of a ring have two ways.

    A patch lies on a best way of a pair just if the pair's passage is the product of both passages to it.
    """
    n = len(graph)
    i, j = np.array(graph.edges).T
    best = passages(passage_graph(n, np.minimum(i, j), np.maximum(i, j), np.full(len(i), math.log(2))))
    steps = -np.log2(best)
    ways = np.array([[len(list(nx.all_shortest_paths(graph, a, b))) for b in range(n)] for a in range(n)])
    through = np.zeros(n)
    for (s, t), k in itertools.product(itertools.combinations(range(n), 2), range(n)):
        if k not in (s, t) and steps[s, k] + steps[k, t] == pytest.approx(steps[s, t]):
            through[k] += ways[s, k] * ways[k, t] / ways[s, t]
    assert through == pytest.approx(want)


@pytest.mark.parametrize(
    ("graph", "want"),
    [
        (nx.path_graph(5), [0, 3, 4, 3, 0]),
        (nx.star_graph(5), [10, 0, 0, 0, 0, 0]),
        # by hand: 5 - d pairs are d steps apart on the far side, and d / 6 of their flow goes this way
        (nx.cycle_graph(6), [(4 * 1 + 3 * 2 + 2 * 3 + 1 * 4) / 6] * 6),
    ],
    ids=["path of 5", "star of 6", "ring of 6"],
)
def test_flow_through_nodes_is_on_a_tree_its_betweenness(graph, want):
    i, j = np.array(graph.edges).T
    through = np.zeros(len(graph))
    for s, t in itertools.combinations(graph, 2):
        share = flow_between(len(graph), (i, j), np.ones(len(i)), s, t).node
        share[[s, t]] = 0.0
        through += share
    assert through == pytest.approx(want, abs=1e-9)


def laplacian(graph):
    i, j, weight = graph.pairs()
    out = np.zeros((graph.nodes, graph.nodes))
    np.add.at(out, (i, j), -weight)
    np.add.at(out, (j, i), -weight)
    return out - np.diag(out.sum(axis=1))


def ours(graph):
    i, j = np.array(nx.convert_node_labels_to_integers(graph).edges).T
    return passage_graph(len(graph), np.minimum(i, j), np.maximum(i, j), np.ones(len(i)))


@pytest.mark.parametrize(
    ("graph", "want"),
    [
        (nx.path_graph(5), 0.381966),
        (nx.cycle_graph(6), 2 * (1 - math.cos(2 * math.pi / 6))),
        (nx.complete_graph(7), 7.0),
        (nx.hypercube_graph(3), 2.0),
        (nx.grid_2d_graph(3, 4), 0.585786),
    ],
)
def test_algebraic_connectivity_of_assembled_graphs(graph, want):
    assert np.linalg.eigvalsh(laplacian(ours(graph)))[1] == pytest.approx(want, abs=5e-7)


@pytest.mark.parametrize(
    ("graph", "want"),
    [
        (nx.cycle_graph(6), 6),
        (nx.complete_graph(5), 125),
        (nx.hypercube_graph(3), 384),
        (nx.grid_2d_graph(3, 4), 2415),
    ],
)
def test_spanning_trees_of_assembled_graphs(graph, want):
    eigen = np.linalg.eigvalsh(laplacian(ours(graph)))[1:]
    assert np.prod(eigen) / len(graph) == pytest.approx(want, rel=1e-9)
