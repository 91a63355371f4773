"""The solver on textbook problems with known optima.

Sources: knapsacks P01 (10 items, capacity 165, optimum 309) and P07 (15 items, capacity 750, optimum 1458)
of the KNAPSACK_01 teaching set (from memory, checked by full enumeration here); the greedy trap 60, 100,
120 of textbooks on algorithms; worst cases of greedy coverage: Nemhauser, Wolsey and Fisher 1978,
Mathematical Programming 14:265-294 (families for k = 2, 3, 4, and the bound 1 - 1/e that holds for any
coverage); independent sets of king's graphs, ceil(n/2)^2, of grids, ceil(n^2/2), of a ring of seven, 3, and
of the Petersen graph, 4 (textbook); a 3 x 3 assignment of cost 5, by hand.
"""

import itertools

import numpy as np
import pytest
from scipy import sparse

from habitat.planting.choice.solver import LinearProgram, maximise

KNAPSACKS = {
    "P01": (
        [92, 57, 49, 68, 60, 43, 67, 84, 87, 72],
        [23, 31, 29, 44, 53, 38, 63, 85, 89, 82],
        165,
        309,
        [1, 1, 1, 1, 0, 1, 0, 0, 0, 0],
    ),
    "P07": (
        [135, 139, 149, 150, 156, 163, 173, 184, 192, 201, 210, 214, 221, 229, 240],
        [70, 73, 77, 80, 82, 87, 90, 94, 98, 106, 110, 113, 115, 118, 120],
        750,
        1458,
        [1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 0, 0, 0, 1, 1],
    ),
    "greedy trap": ([60, 100, 120], [10, 20, 30], 50, 220, [0, 1, 1]),
}

COVERAGE = {2: (8, 6), 3: (81, 57), 4: (1024, 700)}
"""Sets chosen -> (optimum, what greedy covers): 1 - (1 - 1 / k)^k of it."""

SEVEN_SETS = [[1, 2, 3, 4], [4, 5], [5, 6], [1, 6, 7], [2, 7, 8], [3, 8, 9], [9, 10]]


def program(worth, rows, row_high, whole=True):
    worth = np.asarray(worth, float)
    rows = sparse.csr_array(np.atleast_2d(np.asarray(rows, float)))
    high = np.atleast_1d(np.asarray(row_high, float))
    n = len(worth)
    return LinearProgram(
        worth, rows, np.full(len(high), -np.inf), high, np.zeros(n), np.ones(n), np.full(n, whole)
    )


@pytest.mark.parametrize("name", KNAPSACKS)
def test_knapsack_optimum_and_choice(name):
    values, weights, capacity, optimum, choice = KNAPSACKS[name]
    solved = maximise(program(values, weights, capacity))
    assert solved.finished
    assert solved.value == pytest.approx(optimum, abs=1e-6)
    assert solved.bound == pytest.approx(optimum, abs=1e-6)
    assert np.rint(solved.x).astype(int).tolist() == choice


@pytest.mark.parametrize("name", KNAPSACKS)
def test_knapsack_relaxed_is_the_fractional_optimum(name):
    """Dantzig 1957: items by worth per weight, the last one in part."""
    values, weights, capacity, optimum, _ = KNAPSACKS[name]
    left, total = capacity, 0.0
    for value, weight in sorted(zip(values, weights, strict=True), key=lambda i: -i[0] / i[1]):
        part = min(1.0, left / weight)
        total, left = total + part * value, left - part * weight
    solved = maximise(program(values, weights, capacity), relaxed=True)
    assert solved.value == pytest.approx(total, abs=1e-6)
    assert solved.bound >= optimum - 1e-6


def test_start_plan_is_used_and_a_node_limit_leaves_a_bound():
    values, weights, capacity, optimum, _ = KNAPSACKS["P07"]
    start = np.zeros(15)
    start[:7] = 1.0
    solved = maximise(program(values, weights, capacity), node_limit=1, start=start)
    assert solved.value >= float(np.dot(values, start)) - 1e-6
    assert solved.bound >= optimum - 1e-6


def coverage(sets, k):
    """Most elements covered by k sets: columns are sets, then elements; each needs a set that holds it."""
    elements = sorted(set(itertools.chain(*sets)))
    n = len(sets)
    rows = [[1.0] * n + [0.0] * len(elements)]
    for i, element in enumerate(elements):
        row = [-float(element in s) for s in sets] + [0.0] * len(elements)
        row[n + i] = 1.0
        rows.append(row)
    return program([0.0] * n + [1.0] * len(elements), rows, [k, *[0.0] * len(elements)])


def tight_family(k):
    """k blocks of k^k elements; k sets take ((k-1)/k)^i of a kth of every block, k others take a block."""
    block, sets, at = k**k, [], 0
    for i in range(k):
        size = block // k * (k - 1) ** i // k**i
        sets.append([b * block + at + j for b in range(k) for j in range(size)])
        at += size
    return sets + [list(range(b * block, (b + 1) * block)) for b in range(k)]


def greedy_coverage(sets, k):
    """What the greedy choice of k sets covers, ties to the lowest index."""
    covered = set()
    for _ in range(k):
        covered |= set(max(sets, key=lambda s: len(set(s) - covered)))
    return len(covered)


@pytest.mark.parametrize("k", COVERAGE)
def test_worst_case_of_greedy_coverage(k):
    optimum, greedy = COVERAGE[k]
    assert greedy_coverage(tight_family(k), k) == greedy
    if k < 4:  # a thousand elements take a minute
        assert maximise(coverage(tight_family(k), k)).value == pytest.approx(optimum, abs=1e-6)


@pytest.mark.parametrize("seed", range(8))
def test_greedy_coverage_is_never_below_its_bound(seed):
    rng = np.random.default_rng(seed)
    sets = [np.flatnonzero(rng.random(25) < rng.uniform(0.1, 0.4)).tolist() or [0] for _ in range(9)]
    optimum = maximise(coverage(sets, 3)).value
    assert (1 - 1 / np.e) * optimum - 1e-6 <= greedy_coverage(sets, 3) <= optimum + 1e-6


def test_small_coverage_for_every_number_of_sets():
    found = [round(maximise(coverage(SEVEN_SETS, k)).value) for k in (1, 2, 3, 4)]
    assert found == [4, 6, 8, 10]


def independent(edges, n):
    rows = np.zeros((len(edges), n))
    for i, (a, b) in enumerate(edges):
        rows[i, [a, b]] = 1.0
    return round(maximise(program(np.ones(n), rows, np.ones(len(edges)))).value)


@pytest.mark.parametrize(("n", "optimum"), [(3, 4), (4, 4), (5, 9), (6, 9), (8, 16)])
def test_places_that_may_not_touch_on_a_kings_graph(n, optimum):
    cells = list(itertools.product(range(n), range(n)))
    edges = [
        (i, j)
        for i, a in enumerate(cells)
        for j, b in enumerate(cells)
        if i < j and max(abs(a[0] - b[0]), abs(a[1] - b[1])) == 1
    ]
    assert independent(edges, n * n) == optimum


def test_places_that_may_not_touch_on_the_petersen_graph():
    edges = [(i, (i + 1) % 5) for i in range(5)] + [(i, i + 5) for i in range(5)]
    edges += [(5 + i, 5 + (i + 2) % 5) for i in range(5)]
    assert independent(edges, 10) == 4


@pytest.mark.parametrize(("n", "optimum"), [(3, 5), (4, 8), (5, 13)])
def test_places_that_may_not_touch_on_a_grid_of_four_neighbours(n, optimum):
    edges = [(r * n + c, r * n + c + 1) for r in range(n) for c in range(n - 1)]
    edges += [(r * n + c, r * n + n + c) for r in range(n - 1) for c in range(n)]
    assert independent(edges, n * n) == optimum


def test_places_that_may_not_touch_on_a_ring_of_seven():
    assert independent([(i, (i + 1) % 7) for i in range(7)], 7) == 3


def test_cheapest_assignment():
    cost = np.array([[4, 1, 3], [2, 0, 5], [3, 2, 2]], float)
    rows = np.vstack([np.kron(np.eye(3), np.ones(3)), np.kron(np.ones(3), np.eye(3))])
    most = 10.0  # each pair is worth 10 less its cost, so that all three are made
    found = maximise(program((most - cost).ravel(), rows, np.ones(6)))
    assert 3 * most - found.value == pytest.approx(5.0)
