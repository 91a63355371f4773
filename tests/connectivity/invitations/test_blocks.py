"""Blocks of neighbours against trying every set of adjoining yards."""

import itertools

import networkx
import numpy as np
import pytest
import shapely

from habitat.connectivity.invitations import blocks as module
from habitat.connectivity.invitations.blocks import adjoining, best_blocks, connected_sets
from tests.connectivity.invitations.test_search import plain_areas, plain_score, problem


def neighbours(seed, n=9):
    """Return whom each of n yards of a random map adjoins."""
    rng = np.random.default_rng(seed)
    graph = networkx.gnp_random_graph(n, 0.3, seed=int(rng.integers(1000)))
    return graph, [frozenset(graph[k]) for k in range(n)]


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.parametrize("size", [2, 3, 5])
def test_each_connected_set_comes_once(seed, size):
    """Against all sets, asked one by one whether they are connected (networkx)."""
    graph, near = neighbours(seed)
    sets = [frozenset(s) for s in itertools.combinations(range(9), size)]
    wanted = {s for s in sets if networkx.is_connected(graph.subgraph(s))}
    wanted |= {frozenset(c) for c in networkx.connected_components(graph) if 1 < len(c) < size}
    got = [frozenset(s) for s in connected_sets(near, size)]
    assert len(got) == len(set(got))
    assert set(got) == wanted


@pytest.mark.parametrize("seed", range(8))
def test_the_best_block_is_the_best_of_all_sets(seed):
    graph, near = neighbours(seed, 7)
    graphs = problem(seed, candidates=7)
    blocks = best_blocks(graphs, near, most=3)
    worth = {
        s: plain_score(graphs, s) - plain_score(graphs, ())
        for size in (2, 3)
        for s in itertools.combinations(range(7), size)
        if networkx.is_connected(graph.subgraph(s))
    }
    if not worth:
        assert blocks == []
        return
    assert blocks[0].proven
    assert blocks[0].worth == pytest.approx(max(worth.values()), rel=1e-9)
    gained = plain_areas(graphs, blocks[0].candidates) - plain_areas(graphs, ())
    assert blocks[0].gains_m2 == pytest.approx(gained, rel=1e-9, abs=1e-9)
    told = [k for b in blocks for k in b.candidates]
    assert len(told) == len(set(told))


@pytest.mark.parametrize("seed", range(8))
def test_blocks_that_grow_are_adjoining_and_never_better_than_the_best(seed, monkeypatch):
    graph, near = neighbours(seed, 7)
    graphs = problem(seed, candidates=7)
    best = best_blocks(graphs, near, most=3)
    monkeypatch.setattr(module, "TRY_UP_TO", 0)
    grown = best_blocks(graphs, near, most=3)
    assert bool(grown) == bool(best)
    for block in grown:
        assert networkx.is_connected(graph.subgraph(block.candidates))
        assert not block.proven
    if grown:
        assert grown[0].worth <= best[0].worth * (1 + 1e-9)


def test_yards_across_a_street_do_not_adjoin():
    row = [shapely.box(x, 0, x + 20, 30) for x in (0, 20.4, 41)]
    assert adjoining(np.array([*row, shapely.box(0, 40, 20, 70)], object)) == [
        frozenset({1}),
        frozenset({0, 2}),
        frozenset({1}),
        frozenset(),
    ]


def test_no_more_blocks_are_told_than_asked_for_and_none_of_one_yard():
    pairs = [frozenset({k ^ 1}) for k in range(6)]
    graphs = problem(2, candidates=6)
    every = best_blocks(graphs, pairs, most=2)
    assert len(every) > 1
    assert [b.candidates for b in best_blocks(graphs, pairs, most=2, told=1)] == [every[0].candidates]
    assert list(connected_sets(pairs, 1)) == []
