"""Eleven small networks with exact results, and closed forms of chains, stars and complete graphs.

Definitions: Saura & Pascual-Hortal 2007, Landsc. Urban Plan. 83:91-103 (probability of connectivity);
Saura et al. 2011, Ecol. Indic. 11:407-416 (equivalent connected area); Pascual-Hortal & Saura 2006,
Landsc. Ecol. 21:959-967 (integral index, a check only); Saura & Rubio 2010, Ecography 33:523-537 (parts).
``connectivity_cases.json`` holds exact fractions found by listing every simple path.
"""

import json
import math
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import shapely
from scipy.sparse.csgraph import shortest_path

from habitat.connectivity.distance.links import straight_links
from habitat.connectivity.distance.reach import Reach
from habitat.connectivity.graph.passages import passage_graph, without_dominated
from habitat.connectivity.measures.connected_area import connect, importance, passages

CASES = json.loads((Path(__file__).parent / "connectivity_cases.json").read_text(encoding="utf-8"))


def graph_of(nodes, links):
    i, j, p = (np.array(c) for c in zip(*links, strict=True))
    return passage_graph(nodes, i.astype(int), j.astype(int), -np.log(p.astype(float)))


@pytest.fixture(params=CASES, ids=list(CASES))
def case(request):
    return CASES[request.param]


def test_numerator_and_equivalent_area(case):
    graph = graph_of(len(case["areas"]), case["links"])
    for whole in (graph, without_dominated(graph)[0]):
        got = connect(whole, np.array(case["areas"]))
        assert got.numerator == pytest.approx(float(Fraction(case["PCnum"])), rel=1e-12)
        assert got.equivalent_area_m2 == pytest.approx(case["ECA"], rel=1e-12)
        assert got.numerator / case["landscape_area"] ** 2 == pytest.approx(case["PC"], rel=1e-12)


def test_three_parts_of_every_patch(case):
    area = np.array(case["areas"])
    graph = graph_of(len(area), case["links"])
    parts = importance(graph, area)
    whole = connect(graph, area)
    for k, want in enumerate(case["fractions"]):
        left = whole.numerator * (1.0 - want["dPC"] / 100.0)
        assert parts.total_m2[k] == pytest.approx(whole.equivalent_area_m2 - math.sqrt(left), rel=1e-9)
        for part, name in (
            (parts.held_m2, "intra"),
            (parts.arriving_m2, "flux"),
            (parts.passing_m2, "connector"),
        ):
            assert part[k] / parts.total_m2[k] * want["dPC"] == pytest.approx(want[name], abs=1e-9)


def test_integral_index_of_the_same_graph(case):
    area = np.array(case["areas"])
    i, j, _ = graph_of(len(area), case["links"]).pairs()
    ones = np.zeros((len(area), len(area)))
    ones[i, j] = ones[j, i] = 1.0
    steps = shortest_path(ones, unweighted=True)
    assert area @ (1.0 / (1.0 + steps)) @ area == pytest.approx(float(Fraction(case["IICnum"])), rel=1e-12)


@pytest.mark.parametrize("n", [2, 3, 5, 8, 40])
@pytest.mark.parametrize("p", [0.5, 0.25, 0.9])
def test_chain_closed_form(n, p):
    graph = graph_of(n, [(k, k + 1, p) for k in range(n - 1)])
    want = n + 2 * p * ((n - 1) - n * p + p**n) / (1 - p) ** 2
    assert connect(graph, np.ones(n)).numerator == pytest.approx(want, rel=1e-12)


@pytest.mark.parametrize(("n", "p"), [(4, 0.25), (7, 0.6)])
def test_complete_graph_has_no_passing(n, p):
    graph = graph_of(n, [(i, j, p) for i in range(n) for j in range(i + 1, n)])
    assert connect(graph, np.ones(n)).numerator == pytest.approx(n * (1 + (n - 1) * p), rel=1e-12)
    assert np.abs(importance(graph, np.ones(n)).passing_m2).max() < 1e-12


@pytest.mark.parametrize(("c", "m", "p"), [(2.0, 4, 0.5), (3.0, 9, 0.8)])
def test_star_closed_form(c, m, p):
    graph = graph_of(m + 1, [(0, k, p) for k in range(1, m + 1)])
    area = np.concatenate([[c], np.ones(m)])
    want = c * c + m + 2 * m * c * p + m * (m - 1) * p * p
    assert connect(graph, area).numerator == pytest.approx(want, rel=1e-12)


def test_two_parallel_routes_are_no_more_than_one():
    """The best product is .25; reliability would be .4375."""
    graph = graph_of(4, [(0, 1, 0.5), (1, 3, 0.5), (0, 2, 0.5), (2, 3, 0.5)])
    assert passages(graph)[0, 3] == pytest.approx(0.25, rel=1e-12)


def test_five_square_yards_in_a_row():
    """20 m squares, 30 m gaps, median 100 m: 1719.0993 m2; direct links only 1656.1627; without the middle
    1327.9537, a fall of 40.3289 % of the numerator."""
    squares = np.array([shapely.box(50 * k, 0, 50 * k + 20, 20) for k in range(5)], object)
    reach = Reach(100.0, hop_max_m=1e9)
    links = straight_links(squares, 1e4)
    area = np.full(5, 400.0)
    graph = passage_graph(5, links.i, links.j, reach.weight(links.distance_m))
    assert reach.passage(30.0) == pytest.approx(0.812252, abs=5e-7)
    whole = connect(graph, area)
    assert whole.equivalent_area_m2 == pytest.approx(1719.0993, abs=5e-5)
    direct = np.eye(5)
    direct[links.i, links.j] = direct[links.j, links.i] = reach.passage(links.distance_m)
    assert math.sqrt(area @ direct @ area) == pytest.approx(1656.1627, abs=5e-5)
    fall = importance(graph, area).total_m2[2]
    left = whole.equivalent_area_m2 - fall
    assert left == pytest.approx(1327.9537, abs=5e-5)
    assert 100 * (1 - left**2 / whole.numerator) == pytest.approx(40.3289, abs=5e-5)
