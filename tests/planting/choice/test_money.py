"""One purse for many yards: curves of worth by money, and the split that no other beats."""

import dataclasses
import itertools

import numpy as np
import pytest

from habitat.planting.choice.money import MoneyCurve, money_curve, split_money
from tests.support.choice_yards import choose, larger, program_of


def curve_of(problem):
    built = program_of(problem)
    return money_curve(problem.yard.yard_id, problem.yard.budget, built.program, built.money_row)


def with_money(problem, money):
    return dataclasses.replace(problem, yard=dataclasses.replace(problem.yard, budget=money))


def named(problem, yard_id):
    return dataclasses.replace(problem, yard=dataclasses.replace(problem.yard, yard_id=yard_id))


def test_money_curve_bounds_the_worth_of_every_plan():
    problem = larger(0, budget=200.0)
    curve = curve_of(problem)
    for money in (0.0, 13.0, 60.0, 111.0, 200.0):
        choice = choose(with_money(problem, money), effort="proven")
        assert choice.worth <= curve.bound(money) + 1e-6


def test_money_curve_is_concave_and_its_pieces_add_up():
    curve = curve_of(larger(1, budget=150.0))
    slopes = [slope for slope, _ in curve.pieces()]
    assert all(a >= b - 1e-9 for a, b in itertools.pairwise(slopes))
    assert sum(length for _, length in curve.pieces()) == pytest.approx(150.0)
    total = curve.bound(0.0) + sum(slope * length for slope, length in curve.pieces())
    assert total == pytest.approx(curve.bound(150.0), abs=1e-6)


def test_split_is_the_best_of_a_grid_of_splits():
    """Two yards, one purse: no split on a grid of 1 beats it by the curves, and no plans beat its bound."""
    problems = [named(larger(s, budget=120.0), f"Y{s}") for s in (0, 1)]
    curves = [curve_of(p) for p in problems]
    split = split_money(curves, 100.0)
    assert sum(split.money.values()) == pytest.approx(100.0)
    best = max(curves[0].bound(m) + curves[1].bound(100.0 - m) for m in np.linspace(0, 100, 101))
    worth = sum(c.bound(split.money[c.yard_id]) for c in curves)
    assert worth == pytest.approx(split.bound, abs=1e-6)
    assert worth >= best - 1e-6
    for part in (0.0, 30.0, 50.0, 80.0, 100.0):
        plans = [choose(with_money(p, m)) for p, m in zip(problems, (part, 100.0 - part), strict=True)]
        assert sum(c.worth for c in plans) <= split.bound + 1e-6


def test_split_stops_at_each_yards_own_budget_and_at_the_purse():
    lines = [
        (name, np.array([0.0]), np.array([1.0]), np.array([slope]))
        for name, slope in (("A", 2.0), ("B", 1.0))
    ]
    curves = [MoneyCurve(name, 10.0, at, value, slope) for name, at, value, slope in lines]
    assert split_money(curves, 100.0).money == {"A": 10.0, "B": 10.0}
    assert split_money(curves, 100.0).slope == 0.0, "what is left over buys nothing"
    assert split_money(curves, 4.0).money == {"A": 4.0, "B": 0.0}
    assert split_money(curves, 0.0).bound == 2.0


def test_more_in_the_purse_never_lowers_its_bound():
    curves = [curve_of(named(larger(s, budget=120.0), f"Y{s}")) for s in range(3)]
    bounds = [split_money(curves, purse).bound for purse in range(0, 400, 25)]
    assert all(a <= b + 1e-9 for a, b in itertools.pairwise(bounds))
