"""Fast paths against plain ones: pruning, truncated search, removal, on random and on tied graphs."""

import itertools
import math

import geopandas as gpd
import numba
import numpy as np
import pytest

from habitat.connectivity.graph import _kernels, contraction
from habitat.connectivity.graph import passages as threads
from habitat.connectivity.graph.passages import components, passage_graph, without_dominated
from habitat.connectivity.measures.connected_area import Sample, connect, importance, passages
from habitat.errors import ParameterError


def plain(nodes, i, j, weight, area, mask=None):
    """Return (numerator, best passages) by the Floyd-Warshall loop, some nodes left out."""
    mask = np.ones(nodes, bool) if mask is None else mask
    w = np.full((nodes, nodes), np.inf)
    keep = mask[i] & mask[j]
    w[i[keep], j[keep]] = w[j[keep], i[keep]] = weight[keep]
    np.fill_diagonal(w, 0.0)
    for m in range(nodes):
        w = np.minimum(w, w[:, [m]] + w[[m], :])
    p, a = np.exp(-w), area * mask
    return float(a @ p @ a), p


def random_graph(seed):
    """Return a random graph; odd seeds lie on a coarse lattice, with many ties, zero weights and stones."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(3, 26))
    pairs = np.array([e for e in itertools.combinations(range(n), 2) if rng.random() < 0.5]).reshape(-1, 2)
    i, j = pairs.T
    if seed % 2:
        xy = rng.integers(0, 6, (n, 2)).astype(float)
        weight = np.hypot(*(xy[i] - xy[j]).T)
    else:
        weight = rng.random(len(i))
    return n, i, j, weight, rng.integers(0, 5, n).astype(float)


@pytest.mark.parametrize("seed", range(60))
def test_equal_to_the_plain_loop(seed):
    n, i, j, weight, area = random_graph(seed)
    want, p = plain(n, i, j, weight, area)
    graph = passage_graph(n, i, j, weight)
    once, _ = without_dominated(graph)
    for g in (graph, once):
        assert connect(g, area).numerator == pytest.approx(want, rel=1e-9, abs=1e-12)
    assert passages(once) == pytest.approx(p, abs=1e-12)
    assert len(once.to) <= len(graph.to)


@pytest.mark.parametrize("seed", range(60))
def test_importance_equals_taking_each_away(seed):
    n, i, j, weight, area = random_graph(seed)
    whole, _ = plain(n, i, j, weight, area)
    parts = importance(passage_graph(n, i, j, weight), area)
    for k in range(n):
        mask = np.arange(n) != k
        left, _ = plain(n, i, j, weight, area, mask)
        assert parts.total_m2[k] == pytest.approx(math.sqrt(whole) - math.sqrt(left), rel=1e-9, abs=1e-9)
    assert (parts.passing_m2 >= 0.0).all()


@pytest.mark.parametrize("seed", range(20))
def test_a_subset_is_the_graph_without_the_rest(seed):
    n, i, j, weight, area = random_graph(seed)
    mask = np.random.default_rng(seed).random(n) < 0.6
    graph = passage_graph(n, i, j, weight).subset(mask)
    want, _ = plain(n, i, j, weight, area, mask)
    assert connect(graph, area[mask]).numerator == pytest.approx(want, rel=1e-9, abs=1e-12)


def test_links_dominated_by_one_patch_alone_come_back_when_it_goes():
    """Three patches in a row: 0-2 is dominated by 1 alone. Repair on the pruned graph would lose it."""
    i, j, weight = np.array([0, 1, 0]), np.array([1, 2, 2]), np.array([0.3, 0.3, 1.0])
    once, back = without_dominated(passage_graph(3, i, j, weight))
    assert len(once.to) == 4
    assert (back.start.tolist(), back.ends.tolist()) == ([0, 0, 1, 1], [[0, 2]])
    parts = importance(passage_graph(3, i, j, weight), np.array([1.0, 0.0, 1.0]))
    whole, left = 2 + 2 * math.exp(-0.6), 2 + 2 * math.exp(-1.0)
    assert parts.total_m2[1] == pytest.approx(math.sqrt(whole) - math.sqrt(left), rel=1e-12)


def test_overlapping_patches_do_not_drop_links_for_each_others_sake():
    """0 and 1 overlap and lie equally far from 2: one of the two links must stay."""
    graph = passage_graph(3, np.array([0, 0, 1]), np.array([1, 2, 2]), np.array([0.0, 0.7, 0.7]))
    once, _ = without_dominated(graph)
    assert len(once.to) == 4
    assert passages(once)[0, 2] == passages(once)[1, 2] == pytest.approx(math.exp(-0.7))


@pytest.mark.parametrize("seed", range(12))
def test_what_the_cut_neglects_is_bounded(seed):
    rng = np.random.default_rng(seed)
    n = 40
    i, j = np.arange(n - 1), np.arange(1, n)
    weight, area = rng.uniform(0.2, 2.0, n - 1), rng.uniform(0, 9, n)
    whole = connect(passage_graph(n, i, j, weight), area)
    for cut in (1e-4, 1e-2, 0.09):
        got = connect(passage_graph(n, i, j, weight), area, cut)
        assert got.numerator <= whole.numerator * (1 + 1e-12)
        assert whole.numerator <= got.numerator + got.neglected + 1e-9
        assert whole.equivalent_area_m2 <= got.equivalent_area_m2 * (1 + got.neglected_share) + 1e-9
    assert whole.neglected == 0.0


@pytest.mark.skipif(numba.config.DISABLE_JIT, reason="takes an hour without compiled loops")
def test_sampled_passing_is_as_near_to_the_exact_as_it_says():
    """1,000 patches over a square, a third of them sampled: the error holds for 95 % (t, 15 degrees)."""
    rng = np.random.default_rng(2)
    n = 1000
    xy = rng.uniform(0, 1600, (n, 2))
    i, j = np.triu_indices(n, 1)
    d = np.hypot(*(xy[i] - xy[j]).T)
    near = d < 150
    graph, area = passage_graph(n, i[near], j[near], d[near] / 100), rng.uniform(1, 20, n)
    order = np.argsort(gpd.GeoSeries(gpd.points_from_xy(*xy.T)).hilbert_distance().to_numpy())
    exact = importance(graph, area, 1e-4)
    assert np.array_equal(exact.passing_error_m2, np.zeros(n))
    busy = exact.passing_m2 > np.quantile(exact.passing_m2, 0.8)
    off, error = [], []
    for seed in range(3):
        guess = importance(graph, area, 1e-4, sample=Sample(320, order, seed))
        off.append((guess.passing_m2 - exact.passing_m2)[busy])
        error.append(guess.passing_error_m2[busy])
    assert 0.90 < np.mean(np.abs(off) < 2.131 * np.array(error)) < 0.995
    assert np.mean(error) < 0.35 * exact.passing_m2[busy].mean()
    assert np.sum(off) == pytest.approx(0.0, abs=0.05 * 3 * exact.passing_m2[busy].sum())


def test_used_links_are_those_on_best_paths():
    i, j = np.array([0, 1, 0, 2, 3]), np.array([1, 2, 2, 3, 4])
    graph = passage_graph(5, i, j, np.array([0.2, 0.2, 0.9, 0.5, 0.1]))
    area = np.array([1.0, 0.0, 0.0, 1.0, 0.0])
    used = _kernels.used_links(graph.start, graph.to, graph.weight, graph.owner, area, np.inf)
    ends = np.sort(np.column_stack([graph.owner[used], graph.to[used]]), axis=1)
    pairs = {(int(a), int(b)) for a, b in ends}
    assert pairs == {(0, 1), (1, 2), (2, 3)}


def spread_out(seed, n=200, side=1500.0, link=160.0):
    """Return a graph of places in several groups, stones among them; the odd ones lie on a lattice."""
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0, side, (n, 2))
    xy = np.round(xy / 40) * 40 if seed % 2 else xy
    i, j = np.triu_indices(n, 1)
    d = np.hypot(*(xy[i] - xy[j]).T)
    near = d < link
    graph = passage_graph(n, i[near], j[near], d[near] / 120)
    return graph, rng.uniform(0, 20, n) * (rng.random(n) < 0.8)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("cut", [0.0, 1e-4, 0.05])
def test_sweeps_equal_a_search_from_every_place(seed, cut, monkeypatch):
    """Several batches of sources, subtrees out of reach, ties and zeros: against Dijkstra's search."""
    graph, area = spread_out(seed, link=2000.0 if seed == 7 else 160.0)
    quick = connect(graph, area, cut), passages(graph, cut)
    monkeypatch.setattr(contraction, "MOST_SHORTCUTS", 0)
    slow = connect(graph, area, cut), passages(graph, cut)
    assert contraction.contract(graph) is None
    assert quick[0].arriving_m2 == pytest.approx(slow[0].arriving_m2, rel=1e-12)
    assert quick[0].neglected == pytest.approx(slow[0].neglected, rel=1e-9, abs=1e-9)
    assert quick[1] == pytest.approx(slow[1], rel=1e-12, abs=0.0)


@pytest.mark.parametrize("seed", range(4))
def test_worth_is_the_same_to_the_bit_with_one_thread(seed, monkeypatch):
    monkeypatch.setattr(threads, "SMALL_WORK", 0)
    graph, area = spread_out(seed, n=400)
    many = connect(graph, area, 1e-4).arriving_m2, importance(graph, area, 1e-4).passing_m2
    before = numba.get_num_threads()
    try:
        numba.set_num_threads(1)
        one = connect(graph, area, 1e-4).arriving_m2, importance(graph, area, 1e-4).passing_m2
    finally:
        numba.set_num_threads(before)
    assert all(np.array_equal(a, b) for a, b in zip(many, one, strict=True))


def test_components_count_from_the_lowest_node():
    graph = passage_graph(6, np.array([4, 1]), np.array([5, 3]), np.array([1.0, 0.0]))
    assert components(graph).tolist() == [0, 1, 2, 1, 3, 3]


def test_stones_and_empty_graphs():
    none = np.zeros(0, int)
    assert connect(passage_graph(0, none, none, np.zeros(0)), np.zeros(0)).equivalent_area_m2 == 0.0
    parts = importance(passage_graph(2, np.array([0]), np.array([1]), np.zeros(1)), np.zeros(2))
    assert parts.total_m2.tolist() == [0.0, 0.0]


@pytest.mark.parametrize(
    ("i", "j", "weight", "rule"),
    [
        ([0], [0], [1.0], "different nodes"),
        ([0], [5], [1.0], "different nodes"),
        ([0], [1], [-0.1], "0 or more"),
        ([0], [1], [np.nan], "0 or more"),
    ],
)
def test_bad_links_are_refused(i, j, weight, rule):
    with pytest.raises(ParameterError, match=rule):
        passage_graph(2, np.array(i), np.array(j), np.array(weight))
