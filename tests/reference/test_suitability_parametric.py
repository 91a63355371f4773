"""Ways to combine ratings, classes and the trapezium, against published rules.

Ratings 90, 80, 60, 95: limiting factor 60; Storie product 41.04; square-root rule (Khiddir 1986 as used by
Sys et al. 1991, from memory) 60 sqrt(.9 x .8 x .95) = 49.6226; geometric mean 80.0390; mean 81.25
(arithmetic of the definitions). Classes: FAO 1976, Soils Bulletin 32, chapter 3; cuts 75, 50, 25 Sys et al.
1991 (from memory).
"""

import numpy as np
import pytest

from habitat.factors import FACTORS
from habitat.suitability import classify, fit
from habitat.suitability.fit import score
from habitat.suitability.needs import trapezium, trapezium_params
from habitat.suitability.types import Needs

NEEDS = FACTORS.names
RATINGS = {"sun_h": 90.0, "ph": 80.0, "drainage": 60.0, "texture": 95.0}
EXPECTED = {"scarcest": 60.0, "square_root": 49.6226, "geometric": 80.0390}


def rated(combine, ratings=RATINGS, weights=None):
    """Return needs whose membership is the value / 100, and the values."""
    ranges = np.tile([0.0, 100.0, np.inf, np.inf], (1, len(ratings), 1))
    names = tuple(n for n in NEEDS if n in ratings)
    tables = {
        "params": trapezium_params(ranges),
        "worst": np.zeros((1, len(names)), np.float32),
        "best": np.ones((1, len(names)), np.float32),
        "codes": np.array([NEEDS.index(n) for n in names], np.uint8),
        "weights": np.array([(weights or {}).get(n, 1.0) for n in names], np.float32),
        "ranges": ranges,
        "stated": np.ones((1, len(names)), bool),
    }
    needs = Needs(("a plant",), names, (), combine, (0.75, 0.5, 0.25), np.zeros(1), tables)
    return needs, {n: np.array([[ratings[n]]], np.float32) for n in names}


@pytest.mark.parametrize(("combine", "expected"), EXPECTED.items())
def test_h2_worked_example(combine, expected):
    needs, values = rated(combine)
    found = float(score(needs, "a plant", values).low[0, 0]) * 100
    assert found == pytest.approx(expected, abs=5e-5 * 100)
    assert fit(needs, values).low[0, 0, 0] == np.floor(expected / 100 * 255 + 0.5)


def test_h2_square_root_against_its_formula():
    rng = np.random.default_rng(1)
    for ratings in rng.uniform(1, 100, (50, 4)):
        needs, values = rated("square_root", dict(zip(RATINGS, ratings, strict=True)))
        shares = np.sort(ratings / 100)
        assert float(score(needs, "a plant", values).low[0, 0]) == pytest.approx(
            shares[0] * np.sqrt(shares[1:].prod()), rel=2e-5
        )


def test_h3_order_of_results_and_zero():
    rng = np.random.default_rng(2)
    for ratings in rng.uniform(0, 110, (200, 4)):
        given = dict(zip(RATINGS, ratings, strict=True))
        found = {}
        for combine in EXPECTED:
            needs, values = rated(combine, given)
            found[combine] = float(score(needs, "a plant", values).low[0, 0])
        clipped = np.clip(ratings / 100, 0, 1)
        eps = 1e-6
        assert clipped.prod() <= found["square_root"] + eps
        assert found["square_root"] <= found["scarcest"] + eps
        assert found["scarcest"] <= found["geometric"] + eps
        assert found["geometric"] <= clipped.mean() + eps
    for combine in EXPECTED:
        needs, values = rated(combine, RATINGS | {"ph": 0.0})
        assert float(score(needs, "a plant", values).low[0, 0]) == 0.0


def test_weighted_geometric_mean():
    needs, values = rated("geometric", weights={"sun_h": 3.0, "ph": 0.0})
    expected = (0.9**3 * 0.6 * 0.95) ** (1 / 5)
    assert float(score(needs, "a plant", values).low[0, 0]) == pytest.approx(expected, rel=1e-5)
    assert fit(needs, values).low[0, 0, 0] == round(expected * 255)


@pytest.mark.parametrize(
    ("points", "expected"),
    [
        (100, "S1"),
        (75, "S1"),
        (74.999, "S2"),
        (50, "S2"),
        (49.999, "S3"),
        (25, "S3"),
        (24.999, "N"),
        (0, "N"),
    ],
)
def test_h1_h4_classes_and_a_score_on_a_cut_is_the_better_class(points, expected):
    assert classify(points / 100, (0.75, 0.5, 0.25)) == expected


def test_h8_trapezium_5_6_7_7_5():
    ranges = np.array([5.0, 6.0, 7.0, 7.5])
    x = np.array([5, 5.5, 6, 6.5, 7, 7.25, 7.5])
    assert trapezium(x, ranges).tolist() == [0.0, 0.5, 1.0, 1.0, 1.0, 0.5, 0.0]
    fine = np.linspace(4.5, 8.0, 350_001)
    assert np.trapezoid(trapezium(fine, ranges), fine) == pytest.approx(1.75, abs=1e-6)
