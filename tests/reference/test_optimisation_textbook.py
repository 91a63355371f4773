"""The solver on textbook problems with known optima.

Sources: knapsacks P01 (10 items, capacity 165, optimum 309) and P07 (15 items, capacity 750, optimum 1458)
of the KNAPSACK_01 teaching set (from memory, checked by full enumeration here); the greedy trap 60, 100,
120 of textbooks on algorithms; worst cases of greedy coverage: Nemhauser, Wolsey and Fisher 1978,
Mathematical Programming 14:265-294 (families for k = 2, 3); independent sets of king's graphs, ceil(n/2)^2,
and of the Petersen graph, 4 (textbook).
"""

import itertools

import numpy as np
import pytest
from scipy import sparse

from habitat.planting.solver import LinearProgram, maximise

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

COVERAGE = {
    2: ([[0, 1, 4, 5], [2, 6], [0, 1, 2, 3], [4, 5, 6, 7]], 8),
    3: (
        [
            [*range(9), *range(27, 36), *range(54, 63)],
            [*range(9, 15), *range(36, 42), *range(63, 69)],
            [*range(15, 19), *range(42, 46), *range(69, 73)],
            [*range(27)],
            [*range(27, 54)],
            [*range(54, 81)],
        ],
        81,
    ),
}

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


@pytest.mark.parametrize("k", COVERAGE)
def test_worst_case_of_greedy_coverage(k):
    sets, optimum = COVERAGE[k]
    assert maximise(coverage(sets, k)).value == pytest.approx(optimum, abs=1e-6)


def test_small_coverage_for_every_number_of_sets():
    found = [round(maximise(coverage(SEVEN_SETS, k)).value) for k in (1, 2, 3, 4)]
    assert found == [4, 6, 8, 10]


def independent(edges, n):
    rows = np.zeros((len(edges), n))
    for i, (a, b) in enumerate(edges):
        rows[i, [a, b]] = 1.0
    return round(maximise(program(np.ones(n), rows, np.ones(len(edges)))).value)


@pytest.mark.parametrize(("n", "optimum"), [(3, 4), (4, 4), (5, 9), (6, 9)])
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
