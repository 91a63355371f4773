"""The program against its definition, against trying everything, and against more money and more room."""

import dataclasses
import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.planting.choice.believed import habitats
from habitat.planting.choice.choose import choose
from habitat.planting.choice.problem import Standing
from habitat.planting.choice.program import build_program
from habitat.planting.choice.quick import kernel_arrays, quick_plan, worth
from habitat.planting.choice.solver import maximise
from tests.support.choice_yards import (
    WISHES,
    all_plans,
    bed,
    facts_of,
    options_of,
    problem_of,
    settings_of,
    slow_worth,
)

FEW = ("Asclepias incarnata", "Zizia aurea", "Symphyotrichum laeve", "Monarda fistulosa", "Lindera benzoin")
SOME = (
    *FEW,
    "Asclepias tuberosa",
    "Symphyotrichum novae-angliae",
    "Pycnanthemum muticum",
    "Packera obovata",
    "Phlox divaricata",
    "Liatris spicata",
    "Solidago speciosa",
    "Sassafras albidum",
    "Cercis canadensis",
)
CASES = settings(max_examples=25, deadline=None, derandomize=True)


@st.composite
def small_yards(draw):
    """Two beds and a shrub spot, few plants, some standing: few enough plans to try them all."""
    facts = facts_of(FEW)
    share = st.floats(0.2, 1.0).map(lambda x: round(x, 2))
    sites = [
        bed(i, facts, area_m2=area, fit=draw(st.lists(share, min_size=5, max_size=5)))
        for i, area in enumerate((1.6, draw(st.sampled_from([0.6, 1.0]))))
    ]
    sites.append(bed(2, facts, form="shrub", fit=draw(share)))
    settings_ = settings_of(max_species_share=draw(st.sampled_from([0.4, 1.0])), clump_min=3)
    standing = Standing(
        leaf_m2=np.array([0.0, draw(st.sampled_from([0.0, 2.0])), 0.0, 0.0]),
        fed=np.array([0.0, draw(st.sampled_from([0.0, 0.5, 2.0])), 0.0, 0.0]),
        months=draw(st.sampled_from([0, 0b110000])),
    )
    weights = {b: draw(st.sampled_from([0.2, 1.0, 3.0])) for b in WISHES}
    budget = draw(st.sampled_from([0.0, 25.0, 60.0, 120.0]))
    stock = draw(st.sampled_from([{}, {"Asclepias incarnata": 6.0}]))
    return problem_of(
        sites, facts, budget=budget, settings=settings_, standing=standing, weights=weights, stock=stock
    )


def random_plan(problem, rng):
    counts = np.array([rng.choice(options_of(problem, k)) for k in range(problem.size)], np.int64)
    keep = rng.random(problem.size) < rng.choice([0.05, 0.15, 0.4])
    return np.where(keep, counts, 0)


def best_of_all(problem):
    arrays = kernel_arrays(problem)
    return max(worth(problem, counts, arrays) for counts in all_plans(problem))


@CASES
@given(small_yards(), st.integers(0, 2**32 - 1))
def test_compiled_worth_is_the_definition(problem, seed):
    rng = np.random.default_rng(seed)
    for _ in range(30):
        counts = random_plan(problem, rng)
        assert worth(problem, counts) == pytest.approx(slow_worth(problem, counts), abs=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_compiled_worth_is_the_definition_in_larger_yards(seed):
    rng = np.random.default_rng(seed)
    facts = facts_of(SOME, wishes=(*WISHES, "Polygonia comma", "Argynnis cybele"))
    sites = [bed(i, facts, area_m2=rng.uniform(2, 12)) for i in range(5)] + [bed(5, facts, form="tree")]
    problem = problem_of(sites, facts, budget=400.0)
    found = 0
    for _ in range(300):
        counts = random_plan(problem, rng)
        value = slow_worth(problem, counts)
        assert worth(problem, counts) == pytest.approx(value, abs=1e-9)
        found += np.isfinite(value)
    assert found > 20


@CASES
@given(small_yards())
def test_proven_plan_is_the_best_of_all_plans(problem):
    """At gap 0 the program finds what trying every plan finds, and its bound is that worth."""
    best = best_of_all(problem)
    choice = choose(problem, effort="proven", gap=0.0, node_limit=100_000)
    assert choice.worth == pytest.approx(best, abs=1e-6)
    assert choice.bound == pytest.approx(best, abs=1e-5)


@CASES
@given(small_yards())
def test_quick_plan_keeps_limits_and_lies_under_its_bound(problem):
    best = best_of_all(problem)
    plan = quick_plan(problem, build_program(problem))
    assert plan.worth == worth(problem, plan.counts) > -np.inf
    assert plan.worth <= best + 1e-9 <= plan.bound + 1e-6
    assert plan.worth >= 0.9 * best - 1e-9


def larger(seed=0, **more):
    facts = facts_of(SOME)
    rng = np.random.default_rng(seed)
    sites = [
        bed(i, facts, area_m2=float(rng.uniform(3, 10)), fit=rng.uniform(0.2, 1, len(SOME))) for i in range(4)
    ]
    sites += [bed(4, facts, form="shrub", fit=0.8), bed(5, facts, form="tree", fit=0.6)]
    return problem_of(sites, facts, **more)


@pytest.mark.parametrize("seed", range(3))
def test_fixing_a_plan_in_the_program_gives_its_worth(seed):
    problem = larger(seed)
    program = build_program(problem)
    plan = quick_plan(problem, program)
    counts, value = plan.counts, plan.worth
    lp, start = program.program, program.start(counts)
    fixed = np.flatnonzero(lp.whole)  # all of them, or the solver could not start from the plan
    low, high = lp.low.copy(), lp.high.copy()
    low[fixed] = high[fixed] = start[fixed]
    held = maximise(dataclasses.replace(lp, low=low, high=high))
    assert held.value == pytest.approx(value, abs=1e-6)


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


def test_believed_habitat_is_part_of_the_worth():
    problem = larger(1)
    program = build_program(problem)
    plan = quick_plan(problem, program)
    counts, value = plan.counts, plan.worth
    believed = habitats(problem, counts)
    assert set(believed) == set(WISHES)
    free = dataclasses.replace(problem, weight=problem.weight * 2)
    bonus = sum(problem.aims.life_cycle for b in WISHES if believed[b] > 0)
    assert worth(free, counts) - value == pytest.approx(sum(believed.values()) + bonus, abs=1e-9)


def test_yard_without_room_gets_an_empty_plan():
    problem = problem_of([], facts_of(FEW))
    choice = choose(problem)
    assert choice.allocations == ()
    assert choice.worth == choice.bound == 0.0
    assert choice.cost == 0.0
    assert any("no room" in words for words in choice.relaxed)
