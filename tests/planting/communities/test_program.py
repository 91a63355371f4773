"""The program over whole beds against every plan that its columns allow, and the habitat that it predicts."""

import pytest
from hypothesis import given
from shapely.geometry import Polygon, box

from habitat.planting.communities.program import choose_beds, predicted_habitat_m2, weigh
from habitat.planting.communities.rules import rules_of
from tests.support.choice_yards import (
    CASES,
    WISHES,
    all_plans,
    bed,
    choose,
    columns_of,
    facts_of,
    habits_of,
    larger,
    problem_of,
    slow_worth,
    small_yards,
)


def _solved(problem, columns, gap=0.0):
    rules = rules_of(problem.settings)
    return choose_beds(problem, columns, weigh(problem, columns, habits_of(problem), rules), gap=gap)


@CASES
@given(small_yards())
def test_the_best_of_all_plans_is_found_and_bounded(problem):
    columns = columns_of(problem)[:24]
    best = max(slow_worth(problem, plan) for plan in all_plans(problem, columns))
    found = _solved(problem, columns)
    assert found.worth == pytest.approx(best, abs=1e-6)
    assert found.bound >= best - 1e-6
    plan = [columns[c] for c in found.chosen]
    assert slow_worth(problem, plan) == pytest.approx(best, abs=1e-6)


@pytest.mark.parametrize("seed", range(3))
def test_a_quick_plan_lies_under_its_bound_and_within_its_gap(seed):
    problem = larger(seed)
    exact = _solved(problem, columns_of(problem))
    quick = _solved(problem, columns_of(problem), gap=0.02)
    assert quick.worth <= exact.worth + 1e-6 <= quick.bound + 1e-6
    assert quick.bound - quick.worth <= 0.02 * abs(quick.worth) + 1e-6


def test_no_place_holds_two_beds_and_the_money_is_kept():
    problem = larger(2, budget=90.0)
    columns = columns_of(problem)
    found = _solved(problem, columns)
    places = [columns[c].site for c in found.chosen]
    assert len(places) == len(set(places))
    assert choose(problem).cost <= 90.0 + 1e-6


def test_predicted_habitat_names_every_wish():
    problem = larger(1)
    weighed = weigh(problem, columns_of(problem), habits_of(problem), rules_of(problem.settings))
    predicted = predicted_habitat_m2(problem, weighed, ())
    assert set(predicted) == set(WISHES)
    assert not any(predicted.values())


def test_a_planted_bed_has_litter_to_winter_in_where_nothing_stood():
    """What winters in litter or soil has a place under what is planned or what stands: either will do."""
    problem = larger(1)
    columns = columns_of(problem)
    weighed = weigh(problem, columns, habits_of(problem), rules_of(problem.settings))
    predicted = predicted_habitat_m2(problem, weighed, _solved(problem, columns).chosen)
    in_litter = [
        b for b, code in zip(problem.facts.butterflies, problem.facts.winter, strict=True) if code == 1
    ]
    assert not problem.standing.plants
    assert any(predicted[b] > 0.0 for b in in_litter)


@pytest.mark.parametrize("first_fit", [0.0, 0.9])
def test_the_second_shrub_of_an_island_stands_only_where_the_first_does(first_fit):
    facts = facts_of()
    ring = {"ring": box(0, 0, 2, 2), "herb": Polygon()}
    sites = [
        bed(0, facts, form="shrub", fit=first_fit, ground=ring),
        bed(1, facts, form="shrub", fit=0.9, ground=ring, joins=0),
        bed(2, facts, form="shrub", fit=0.9),
    ]
    problem = problem_of(sites, facts)
    columns = columns_of(problem)
    assert {column.site for column in columns} >= {1, 2}
    places = {columns[c].site for c in _solved(problem, columns).chosen}
    assert places
    assert (1 not in places) or (0 in places)
    if first_fit == 0.0:
        assert places == {2}
