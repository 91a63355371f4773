"""The program of a yard against the worth of plans, and the habitat that it predicts."""

import dataclasses

import numpy as np
import pytest

from habitat.planting.choice.program import build_program, predicted_habitat_m2
from habitat.planting.choice.quick import quick_plan, worth
from habitat.planting.choice.solver import maximise
from tests.support.choice_yards import (
    WISHES,
    larger,
)


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


def test_predicted_habitat_is_part_of_the_worth():
    problem = larger(1)
    program = build_program(problem)
    plan = quick_plan(problem, program)
    counts, value = plan.counts, plan.worth
    predicted = predicted_habitat_m2(problem, counts)
    assert set(predicted) == set(WISHES)
    free = dataclasses.replace(problem, weight=problem.weight * 2)
    bonus = sum(problem.aims.life_cycle for b in WISHES if predicted[b] > 0)
    assert worth(free, counts) - value == pytest.approx(sum(predicted.values()) + bonus, abs=1e-9)
