"""The search: plans that keep every limit under their bound, and which pairs a better plan can hold."""

import numpy as np
from hypothesis import given

from habitat.planting.choice.program import build_program
from habitat.planting.choice.quick import Found, improved, near_pairs, quick_plan, worth
from tests.support.choice_yards import (
    CASES,
    HERBS,
    bed,
    best_of_all,
    facts_of,
    problem_of,
    small_yards,
    street,
)


def test_tighter_bound_leaves_the_same_pairs_open():
    """What a pair allows is known under the program's own bound; another bound must not shut pairs out."""
    problem = street(12, budget=120.0)
    plan = quick_plan(problem, build_program(problem))
    lower = plan.below(plan.worth + 0.3 * (plan.bound - plan.worth))
    assert lower.bound < plan.bound
    assert np.array_equal(np.sort(near_pairs(lower)), np.sort(near_pairs(plan)))


@CASES
@given(small_yards())
def test_quick_plan_keeps_limits_and_lies_under_its_bound(problem):
    best = best_of_all(problem)
    plan = quick_plan(problem, build_program(problem))
    assert plan.worth == worth(problem, plan.counts) > -np.inf
    assert plan.worth <= best + 1e-9 <= plan.bound + 1e-6
    assert plan.worth >= 0.9 * best - 1e-9


def test_a_plan_that_nothing_can_better_is_kept():
    """Where each clump costs more in bound than there is to gain, the search has nothing to try."""
    problem = problem_of([bed(1, facts_of(HERBS))], facts_of(HERBS))
    none = np.zeros(problem.size, np.int64)
    best = Found(none, 1.0, 1.0, np.ones(problem.size))
    assert improved(problem, best, 1000, 1) is best
