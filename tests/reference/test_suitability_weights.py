"""Weights from comparisons two by two, against published examples.

3 x 3: closed form, the eigenvector is the geometric mean of rows and the eigenvalue 1 + t^(1/3) + t^(-1/3).
Brightness of chairs (4 x 4, printed .61 .24 .10 .05; 4.39), wealth of nations (7 x 7, lambda 7.608) and
choice of a house (8 x 8: .173 .054 .188 .018 .031 .036 .167 .333, lambda 9.669, CI .238, CR .169): Saaty
1977, J. Math. Psychol. 15:234-281, and Saaty 1980; tables from memory, results match the printed ones
remembered.
"""

from fractions import Fraction

import numpy as np
import pytest

from habitat.errors import ParameterError
from habitat.suitability.weights import RANDOM_INDEX, pairwise_weights


def table(text):
    return [[float(Fraction(cell)) for cell in row.split()] for row in text.strip().splitlines()]


THREE = table("1 1/3 5\n3 1 7\n1/5 1/7 1")
CHAIRS = table("1 5 6 7\n1/5 1 4 6\n1/6 1/4 1 4\n1/7 1/6 1/4 1")
WEALTH = table(
    "1 4 9 6 6 5 5\n1/4 1 7 5 5 3 4\n1/9 1/7 1 1/5 1/5 1/7 1/5\n1/6 1/5 5 1 1 1/3 1/3\n"
    "1/6 1/5 5 1 1 1/3 1/3\n1/5 1/3 7 3 3 1 2\n1/5 1/4 5 3 3 1/2 1"
)
HOUSE = table(
    "1 5 3 7 6 6 1/3 1/4\n1/5 1 1/3 5 3 3 1/5 1/7\n1/3 3 1 6 3 4 6 1/5\n1/7 1/5 1/6 1 1/3 1/4 1/7 1/8\n"
    "1/6 1/3 1/3 3 1 1/2 1/5 1/6\n1/6 1/3 1/4 4 2 1 1/5 1/6\n3 5 1/6 7 5 5 1 1/2\n4 7 5 8 6 6 2 1"
)


def test_h5_closed_form():
    found = pairwise_weights(THREE)
    rows = np.prod(THREE, axis=1) ** (1 / 3)
    assert found.weights == pytest.approx(rows / rows.sum(), abs=1e-12)
    t = 7 / 15
    assert found.largest_eigenvalue == pytest.approx(1 + t ** (1 / 3) + t ** (-1 / 3), abs=1e-9)
    assert found.weights == pytest.approx([0.278955, 0.649118, 0.071927], abs=5e-7)
    assert found.consistency_index == pytest.approx(0.032444, abs=5e-7)
    assert found.consistency_ratio == pytest.approx(0.055938, abs=5e-6)


def test_h6_published_examples():
    chairs, wealth, house = (pairwise_weights(t) for t in (CHAIRS, WEALTH, HOUSE))
    assert chairs.weights == pytest.approx([0.61, 0.24, 0.10, 0.05], abs=0.01)
    assert chairs.largest_eigenvalue == pytest.approx(4.39, abs=5e-3)
    assert wealth.largest_eigenvalue == pytest.approx(7.608, abs=5e-4)
    assert house.weights == pytest.approx([0.173, 0.054, 0.188, 0.018, 0.031, 0.036, 0.167, 0.333], abs=6e-4)
    assert house.largest_eigenvalue == pytest.approx(9.669, abs=5e-4)
    assert house.consistency_index == pytest.approx(0.238, abs=5e-4)
    assert house.consistency_ratio == pytest.approx(0.169, abs=5e-4)


def test_h7_random_index():
    assert RANDOM_INDEX[2:] == (0.58, 0.90, 1.12, 1.24, 1.32, 1.41, 1.45, 1.49)


def test_order_of_items_changes_nothing_else():
    order = np.random.default_rng(3).permutation(8)
    first, second = pairwise_weights(HOUSE), pairwise_weights(np.array(HOUSE)[np.ix_(order, order)])
    assert second.weights == pytest.approx(first.weights[order], abs=1e-12)


@pytest.mark.parametrize("wrong", [[[1, 2], [2, 1]], [[1, 2, 3], [0.5, 1, 2]], [[1, -2], [-0.5, 1]]])
def test_tables_that_are_no_comparison(wrong):
    with pytest.raises(ParameterError, match="reciprocal"):
        pairwise_weights(wrong)
