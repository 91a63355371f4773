"""One yard's choice: limits kept, interchangeable beds merged, bounds that hold, equal input, equal plan."""

import dataclasses
import itertools

import pytest
from hypothesis import given, settings

from habitat.planting.choice.choose import choose, merge_interchangeable, spread_out
from habitat.planting.choice.program import build_program
from habitat.planting.choice.quick import kernel_arrays, worth
from habitat.planting.choice.solver import maximise
from tests.support.choice_yards import (
    CASES,
    FEW,
    MANY,
    all_plans,
    bed,
    best_of_all,
    facts_of,
    larger,
    options_of,
    problem_of,
    slow_worth,
    small_yards,
    street,
    tiny_streets,
)
from tests.support.remarks import said


@settings(max_examples=20, deadline=None, derandomize=True)
@given(tiny_streets(2, 2))
def test_merged_program_bounds_every_plan(problem):
    arrays, merged = kernel_arrays(problem), merge_interchangeable(problem)
    assert len(merged.sites) == 1
    best = max(worth(problem, counts, arrays) for counts in all_plans(problem))
    assert maximise(build_program(merged).program).bound >= best - 1e-6


@settings(max_examples=20, deadline=None, derandomize=True)
@given(tiny_streets(3, 5))
def test_merged_program_bounds_the_best_plan(problem):
    """The best plan is that of the yard's own program, which is held against all plans elsewhere."""
    best = choose(problem, effort="proven", gap=0.0, node_limit=100_000)
    assert best.bound == pytest.approx(best.worth, abs=1e-5)
    assert maximise(build_program(merge_interchangeable(problem)).program).bound >= best.worth - 1e-6


def test_merged_program_is_small_and_its_plan_can_be_planted():
    problem = street(60, budget=200.0)
    merged = merge_interchangeable(problem)
    program = build_program(merged)
    solved = maximise(program.program, gap=0.002)
    assert merged.size * 10 < problem.size
    assert merged.bed_multiplicity.sum() == len(problem.sites)
    counts = spread_out(problem, merged, program, solved.x)
    value = slow_worth(problem, counts)
    assert 0.97 * solved.bound < value <= solved.bound + 1e-9
    assert worth(problem, counts) == pytest.approx(value, abs=1e-9)
    assert set(counts) <= {n for k in range(problem.size) for n in options_of(problem, k)}


def test_merging_changes_nothing_where_no_beds_are_interchangeable():
    """One bed of each size: the merged program is the yard's own."""
    facts = facts_of(MANY)
    problem = problem_of([bed(i, facts, area_m2=2.0 * 2**i) for i in range(4)], facts, budget=100.0)
    merged, own = merge_interchangeable(problem), build_program(problem)
    assert merged.size == problem.size
    assert maximise(build_program(merged).program, relaxed=True).value == pytest.approx(
        maximise(own.program, relaxed=True).value, abs=1e-9
    )


@pytest.mark.parametrize("seed", [1, 2])
def test_proven_by_kinds_of_beds_is_within_a_hundredth(seed):
    problem = street(60, seed, budget=200.0)
    choice = choose(problem, effort="proven")
    assert choice.worth <= choice.bound <= 1.01 * choice.worth
    assert choice == choose(problem, effort="proven")


@CASES
@given(small_yards())
def test_proven_plan_is_the_best_of_all_plans(problem):
    """At gap 0 the program finds what trying every plan finds, and its bound is that worth."""
    best = best_of_all(problem)
    choice = choose(problem, effort="proven", gap=0.0, node_limit=100_000)
    assert choice.worth == pytest.approx(best, abs=1e-6)
    assert choice.bound == pytest.approx(best, abs=1e-5)


@pytest.mark.parametrize("seed", range(3))
def test_more_money_is_never_worse(seed):
    found = [
        choose(larger(seed, budget=m), effort="proven", gap=0.0, node_limit=10**6).worth for m in (0, 40, 90)
    ]
    assert found == sorted(found)
    bounds = [choose(larger(seed, budget=m)).bound for m in range(0, 400, 40)]
    assert all(a <= b + 1e-6 for a, b in itertools.pairwise(bounds))


@pytest.mark.parametrize("seed", range(3))
def test_more_room_is_never_worse(seed):
    problem, values, bounds = larger(seed, budget=60.0), [], []
    for factor in (1, 2, 4):
        roomier = dataclasses.replace(problem, capacity=problem.capacity * factor)
        values.append(choose(roomier, effort="proven", gap=0.0, node_limit=10**6).worth)
        bounds.append(choose(roomier).bound)
    assert values[0] <= values[1] + 1e-6 <= values[2] + 2e-6
    assert bounds[0] <= bounds[1] + 1e-6 <= bounds[2] + 2e-6


@pytest.mark.parametrize("seed", range(5))
def test_proven_is_never_worse_than_quick(seed):
    problem = larger(seed)
    quick, proven = choose(problem), choose(problem, effort="proven")
    assert proven.worth >= quick.worth - 1e-9
    assert proven.worth <= proven.bound <= quick.bound + 1e-6
    assert proven.bound - proven.worth <= 0.01 * proven.worth + 1e-6


def test_equal_input_gives_equal_plan():
    assert choose(larger(2)) == choose(larger(2))
    assert choose(larger(2), effort="proven") == choose(larger(2), effort="proven")


def test_yard_without_room_gets_an_empty_plan():
    problem = problem_of([], facts_of(FEW))
    choice = choose(problem)
    assert choice.allocations == ()
    assert choice.worth == choice.bound == 0.0
    assert choice.cost == 0.0
    assert any("no room" in words for words in map(said, choice.relaxed))
