"""The compiled worth of a plan against its definition in plain Python."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from habitat.planting.choice.quick import worth
from tests.support.choice_yards import (
    CASES,
    SOME,
    WISHES,
    bed,
    facts_of,
    problem_of,
    random_plan,
    slow_worth,
    small_yards,
)


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
