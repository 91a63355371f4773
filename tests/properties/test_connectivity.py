"""What must hold whatever the graph: bounds, scaling, order, splitting, adding, limits."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.connectivity.distance.reach import Reach
from habitat.connectivity.graph.chain import best_chain
from habitat.connectivity.graph.passages import passage_graph, without_dominated
from habitat.connectivity.measures.connected_area import connect, importance

QUICK = settings(max_examples=60, deadline=None)


@st.composite
def places(draw, least=2):
    """Return (x, y, area) of patches on a coarse lattice, so that ties and overlaps occur."""
    n = draw(st.integers(least, 9))
    xy = draw(st.lists(st.tuples(st.integers(0, 8), st.integers(0, 8)), min_size=n, max_size=n))
    area = draw(st.lists(st.sampled_from([0.0, 1.0, 2.5, 7.0]), min_size=n, max_size=n))
    return np.array(xy, float) * 25.0, np.array(area)


def graph_of(xy, reach):
    i, j = np.triu_indices(len(xy), 1)
    d = np.hypot(*(xy[i] - xy[j]).T)
    near = d <= reach.longest_m
    return passage_graph(len(xy), i[near], j[near], reach.weight(d[near]))


def worth(xy, area, reach=None):
    return connect(graph_of(xy, reach or Reach(60.0)), area).equivalent_area_m2


@QUICK
@given(places())
def test_between_the_root_of_squares_and_the_sum(patches):
    xy, area = patches
    got = worth(xy, area)
    assert math.sqrt((area**2).sum()) <= got * (1 + 1e-12)
    assert got <= area.sum() * (1 + 1e-12)


@QUICK
@given(places(), st.randoms(use_true_random=False))
def test_order_does_not_matter(patches, rnd):
    xy, area = patches
    order = list(range(len(area)))
    rnd.shuffle(order)
    assert math.isclose(worth(xy[order], area[order]), worth(xy, area), rel_tol=1e-12, abs_tol=1e-12)
    parts, mixed = (
        importance(graph_of(xy[o], Reach(60.0)), area[o]).total_m2 for o in (range(len(area)), order)
    )
    assert np.allclose(parts[order], mixed, rtol=1e-9, atol=1e-12)


@QUICK
@given(places(), st.sampled_from([0.1, 3.0]))
def test_lengths_and_reach_together_change_nothing(patches, times):
    xy, area = patches
    assert math.isclose(
        worth(xy * times, area, Reach(60.0 * times)), worth(xy, area), rel_tol=1e-9, abs_tol=1e-12
    )


@QUICK
@given(places())
def test_areas_scale(patches):
    xy, area = patches
    assert math.isclose(worth(xy, 7 * area), 7 * worth(xy, area), rel_tol=1e-12, abs_tol=1e-12)


@QUICK
@given(places(), st.integers(0, 8), st.sampled_from([0.25, 0.5]))
def test_splitting_a_patch_changes_nothing(patches, which, share):
    xy, area = patches
    k = which % len(area)
    more = np.vstack([xy, xy[k]])
    split = np.append(area, area[k] * share)
    split[k] *= 1 - share
    assert math.isclose(worth(more, split), worth(xy, area), rel_tol=1e-9, abs_tol=1e-12)


@QUICK
@given(places(3), st.sampled_from([0.0, 4.0]))
def test_one_more_patch_never_lowers(patches, own):
    xy, area = patches
    assert worth(xy[:-1], area[:-1]) <= worth(xy, np.append(area[:-1], own)) * (1 + 1e-12) + 1e-12


@QUICK
@given(places(), st.sampled_from([1.2, 4.0]))
def test_a_wider_reach_never_lowers(patches, times):
    xy, area = patches
    assert worth(xy, area) <= worth(xy, area, Reach(60.0 * times)) * (1 + 1e-12)


@QUICK
@given(places(3), st.integers(0, 8), st.integers(1, 8), st.sampled_from([0.0, 0.2, 3.0]))
def test_adding_a_link_or_easing_one_never_lowers(patches, one, step, weight):
    xy, area = patches
    n = len(area)
    a, b = sorted((one % n, (one % n + 1 + step % (n - 1)) % n))
    graph = graph_of(xy, Reach(60.0))
    i, j, old = graph.pairs()
    there = (i == a) & (j == b)
    i, j, new = np.append(i[~there], a), np.append(j[~there], b), np.append(old[~there], weight)
    if there.any():
        new[-1] = min(weight, old[there][0])
    more = connect(passage_graph(n, i, j, new), area).equivalent_area_m2
    assert connect(graph, area).equivalent_area_m2 <= more * (1 + 1e-12) + 1e-12


@QUICK
@given(places())
def test_limits_of_reach(patches):
    xy, area = patches
    assert math.isclose(worth(xy, area, Reach(1e9)), area.sum(), rel_tol=1e-6, abs_tol=1e-12)
    apart = np.unique(xy, axis=0)
    sums = np.array([area[(xy == p).all(axis=1)].sum() for p in apart])
    assert math.isclose(worth(xy, area, Reach(1e-3)), math.sqrt((sums**2).sum()), rel_tol=1e-9, abs_tol=1e-12)


@QUICK
@given(places(3), st.floats(0.0, 0.9))
def test_a_nearer_middle_patch_never_lowers_a_chain(patches, nearer):
    """Weights of the links of one patch fall; no chain between two others gets worse."""
    xy, _ = patches
    graph = graph_of(xy, Reach(60.0))
    i, j, weight = graph.pairs()
    middle = (i == 1) | (j == 1)
    better = passage_graph(len(xy), i, j, np.where(middle, weight * (1 - nearer), weight))
    old, new = best_chain(graph, 0, 2), best_chain(better, 0, 2)
    assert (new.passage if new else 0.0) >= (old.passage if old else 0.0) * (1 - 1e-12)


@QUICK
@given(places())
def test_pruning_never_changes_a_chain(patches):
    xy, _ = patches
    graph = graph_of(xy, Reach(60.0))
    old, new = best_chain(graph, 0, len(xy) - 1), best_chain(without_dominated(graph)[0], 0, len(xy) - 1)
    assert (old is None) == (new is None)
    assert old is None or math.isclose(old.passage, new.passage, rel_tol=1e-9)
