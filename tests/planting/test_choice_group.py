"""One purse, the growers' stock, and a plan over years."""

import dataclasses
import itertools
import math

import numpy as np
import pandas as pd
import pytest

from habitat.errors import StudyError
from habitat.planting.choice.choose import choose
from habitat.planting.choice.money import MoneyCurve, money_curve, split_money
from habitat.planting.choice.program import build_program
from habitat.planting.choice.quick import quick_plan
from habitat.planting.supply import DEFAULT_PRICES, Offer, Stock, bought, read_offers
from habitat.planting.years.phasing import check_phases, planting_years
from tests.planting.test_choice_program import larger
from tests.support.choice_yards import bed, facts_of, knowledge, problem_of, settings_of


def with_money(problem, money):
    return dataclasses.replace(problem, yard=dataclasses.replace(problem.yard, budget=money))


def named(problem, yard_id):
    return dataclasses.replace(problem, yard=dataclasses.replace(problem.yard, yard_id=yard_id))


def test_money_curve_bounds_the_worth_of_every_plan():
    problem = larger(0, budget=200.0)
    curve = money_curve(problem)
    for money in (0.0, 13.0, 60.0, 111.0, 200.0):
        choice = choose(with_money(problem, money), effort="proven")
        assert choice.worth <= curve.bound(money) + 1e-6


def test_money_curve_is_concave_and_its_pieces_add_up():
    curve = money_curve(larger(1, budget=150.0))
    slopes = [slope for slope, _ in curve.pieces()]
    assert all(a >= b - 1e-9 for a, b in itertools.pairwise(slopes))
    assert sum(length for _, length in curve.pieces()) == pytest.approx(150.0)
    total = curve.bound(0.0) + sum(slope * length for slope, length in curve.pieces())
    assert total == pytest.approx(curve.bound(150.0), abs=1e-6)


def test_split_is_the_best_of_a_grid_of_splits():
    """Two yards, one purse: no split on a grid of 1 beats it by the curves, and no plans beat its bound."""
    problems = [named(larger(s, budget=120.0), f"Y{s}") for s in (0, 1)]
    curves = [money_curve(p) for p in problems]
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
    assert split_money(curves, 4.0).money == {"A": 4.0, "B": 0.0}
    assert split_money(curves, 0.0).bound == 2.0


def test_more_in_the_purse_never_lowers_its_bound():
    curves = [money_curve(named(larger(s, budget=120.0), f"Y{s}")) for s in range(3)]
    bounds = [split_money(curves, purse).bound for purse in range(0, 400, 25)]
    assert all(a <= b + 1e-9 for a, b in itertools.pairwise(bounds))


def growers(**columns):
    return pd.DataFrame(columns)


def test_growers_offers_are_read_with_their_oddities():
    table = growers(
        plant=[
            "asclepias incarnata",
            "Swamp milkweed",
            "Asclepias incarnata",
            "Lindera benzoin",
            "Plasticus novus",
            "Zizia aurea",
        ],
        form=["Plugs", "plug", "pot", "container", "plug", "bouquet"],
        price=[2.5, 2.0, 9.0, None, 1.0, 1.0],
        quantity=[100, 50, 10, None, 5, 5],
    )
    offers, notes = read_offers(table, knowledge(), DEFAULT_PRICES)
    assert offers["Asclepias incarnata"] == Offer("plug", 2.0, 150.0)
    assert offers["Lindera benzoin"] == Offer("pot", DEFAULT_PRICES["shrub", "pot"], math.inf)
    assert set(offers) == {"Asclepias incarnata", "Lindera benzoin"}
    assert len(notes) == 2
    assert "Plasticus novus" in notes[0]
    assert "'bouquet' given for Zizia aurea is none of seed, plug, pot, bare root" in notes[1]
    assert read_offers(None, knowledge(), DEFAULT_PRICES) == ({}, ())


@pytest.mark.parametrize("said", ["1 gallon", "#2", "quart", "4 inch pot", "10 cm"])
def test_sizes_of_pots_are_pots(said):
    table = growers(plant=["Zizia aurea"], form=[said], price=[9.0], quantity=[5])
    assert read_offers(table, knowledge(), DEFAULT_PRICES)[0]["Zizia aurea"] == Offer("pot", 9.0, 5.0)


def test_growers_price_and_form_enter_the_plan():
    plants = ("Zizia aurea", "Phlox divaricata", "Monarda fistulosa")
    facts = facts_of(plants, growers=(("Zizia aurea", Offer("pot", 1.5, 40.0)),))
    picked = {a.plant: a for a in choose(problem_of([bed(0, facts, fit=0.9)], facts)).allocations}
    assert picked["Zizia aurea"].form == "pot"
    assert picked["Zizia aurea"].cost == pytest.approx(1.5 * picked["Zizia aurea"].count)
    elsewhere = problem_of([bed(0, facts, fit=0.9)], facts, elsewhere=frozenset({"Zizia aurea"}))
    again = {a.plant: a for a in choose(elsewhere).allocations}
    assert again["Zizia aurea"].form == "plug"


def test_stock_is_a_limit_and_a_shortage_leads_to_another_host():
    plants = ("Asclepias incarnata", "Asclepias tuberosa", "Zizia aurea", "Liatris spicata")
    facts = facts_of(plants, growers=(("Asclepias incarnata", Offer("plug", 1.0, 20.0)),))
    beds = [bed(i, facts, area_m2=9.0, fit=np.array([1.0, 0.8, 0.9, 0.9])) for i in range(3)]
    full = choose(problem_of(beds, facts, budget=90.0, stock={"Asclepias incarnata": 20.0}))
    count = {a.plant: a.count for a in full.allocations}
    assert 12 <= bought(full, {"Asclepias incarnata": 0})["Asclepias incarnata"] <= 20
    short = choose(problem_of(beds, facts, budget=90.0, stock={"Asclepias incarnata": 4.0}))
    instead = {a.plant for a in short.allocations}
    assert "Asclepias incarnata" not in instead
    assert "Asclepias tuberosa" in instead
    assert short.habitat_m2["Danaus plexippus"] > 0
    stock = Stock({"Asclepias incarnata": 20.0})
    assert stock.take(full)
    assert stock.left["Asclepias incarnata"] == 20.0 - count["Asclepias incarnata"]
    assert not stock.take(full)
    assert stock.left["Asclepias incarnata"] == 20.0 - count["Asclepias incarnata"]
    assert stock.notes({"Asclepias incarnata": 20.0}, knowledge()) == ()
    assert stock.take(full, frozenset({"Asclepias incarnata"}))
    (note,) = stock.notes({"Asclepias incarnata": 20.0}, knowledge())
    assert "20 swamp milkweed" in note
    assert "does not last for all 2 yards" in note
    assert "for 1 yards" in note


def phased(problem, phases):
    return dataclasses.replace(problem, settings=settings_of(phases=phases))


def test_years_keep_their_money_and_close_life_cycles_early():
    problem = larger(0, budget=200.0)
    counts = quick_plan(problem, build_program(problem)).counts
    phases = [0.5, 0.3, 0.2]
    years = planting_years(phased(problem, phases), counts)
    assert ((years > 0) == (counts > 0)).all()
    cost = counts * problem.price
    spent = [cost[years <= y].sum() for y in (1, 2)]
    assert spent[0] <= 100.0 + 1e-6
    assert spent[1] <= 160.0 + 1e-6
    hosts = ~problem.lone & (counts > 0)
    assert (years[hosts] == 1).any()
    assert set(planting_years(phased(problem, []), counts)[counts > 0]) == {1}
    late = choose(phased(problem, phases))
    assert {a.year for a in late.allocations} <= {1, 2, 3}
    assert len({a.year for a in late.allocations}) > 1


def test_phases_that_spend_more_than_all_are_an_error():
    check_phases([0.6, 0.4])
    with pytest.raises(StudyError, match=r"add up to 1.2"):
        check_phases([0.6, 0.6])
