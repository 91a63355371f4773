"""What one more patch adds, against the whole sum worked out again from the best products of all paths."""

import itertools
import math

import networkx as nx
import numpy as np
import pytest
import shapely

from habitat.connectivity.measures.tables import added, lines


def best_products(size, links):
    """Best product of passages between any two patches: shortest paths of -log (networkx), 1 to itself."""
    graph = nx.Graph()
    graph.add_nodes_from(range(size))
    graph.add_weighted_edges_from((i, j, -math.log(p)) for (i, j), p in links.items())
    out = np.zeros((size, size))
    for i, found in nx.all_pairs_dijkstra_path_length(graph):
        for j, length in found.items():
            out[i, j] = math.exp(-length)
    return out


@pytest.mark.parametrize("area", [[0.4, 0.9, 0.5], [40.0, 7.0, 12.0], [3.0, 0.0, 5.0]])
def test_a_patch_adds_the_difference_of_the_sums_with_and_without_it(area):
    """Numerator of the equivalent connected area: a_i a_j p*_ij over all pairs (Saura et al. 2011)."""
    links = {(0, 1): 0.5, (1, 2): 0.2}
    new = {(3, 0): 0.9, (3, 2): 0.8}
    without, within = best_products(3, links), best_products(4, links | new)
    all_areas = np.array([*area, 6.0])
    pairs = itertools.product(range(4), range(4))
    after = sum(all_areas[i] * all_areas[j] * within[i, j] for i, j in pairs)
    before = np.array(area) @ without @ np.array(area)
    assert added(without, np.array(area), within[3, :3], 6.0) == pytest.approx(after - before)


def test_ground_that_touches_is_joined_by_a_stroke_where_it_touches():
    """A line of no length is none; a decimetre is no more than what outlines are known to."""
    west, east = shapely.box(0, 0, 5, 4), shapely.box(5, 1, 9, 3)
    (stroke,) = lines(np.array([west]), np.array([east]))
    assert 0.0 < stroke.length <= 0.1 + 1e-9
    assert stroke.intersects(west)
    assert stroke.intersects(east)
