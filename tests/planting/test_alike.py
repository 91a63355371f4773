"""Like beds merged into one: the bound holds for every plan, and what is spread back is a plan."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.planting.choice.choose import choose, merge_alike, spread_out
from habitat.planting.choice.program import build_program
from habitat.planting.choice.quick import kernel_arrays, near_pairs, quick_plan, worth
from habitat.planting.choice.solver import maximise
from tests.support.choice_yards import (
    all_plans,
    bed,
    facts_of,
    options_of,
    problem_of,
    settings_of,
    slow_worth,
)

THREE = ("Asclepias incarnata", "Zizia aurea", "Monarda fistulosa")
MANY = (
    *THREE,
    "Asclepias tuberosa",
    "Lindera benzoin",
    "Phlox divaricata",
    "Symphyotrichum laeve",
    "Symphyotrichum novae-angliae",
)


@st.composite
def tiny_streets(draw, least, most):
    """A few beds of about one size, so that they merge."""
    facts = facts_of(THREE)
    share = st.sampled_from([0.5, 0.79, 0.8, 0.81, 1.0])
    areas = draw(st.lists(st.sampled_from([1.6, 1.7]), min_size=least, max_size=most))
    fits = [draw(st.lists(share, min_size=3, max_size=3)) for _ in areas]
    sites = [bed(i, facts, area_m2=a, fit=f) for i, (a, f) in enumerate(zip(areas, fits, strict=True))]
    rules = settings_of(max_species_share=draw(st.sampled_from([0.4, 1.0])), clump_min=3)
    return problem_of(sites, facts, budget=draw(st.sampled_from([0.0, 30.0, 60.0, 150.0])), settings=rules)


@settings(max_examples=20, deadline=None, derandomize=True)
@given(tiny_streets(2, 2))
def test_merged_program_bounds_every_plan(problem):
    arrays, merged = kernel_arrays(problem), merge_alike(problem)
    assert len(merged.sites) == 1
    best = max(worth(problem, counts, arrays) for counts in all_plans(problem))
    assert maximise(build_program(merged).program).bound >= best - 1e-6


@settings(max_examples=20, deadline=None, derandomize=True)
@given(tiny_streets(3, 5))
def test_merged_program_bounds_the_best_plan(problem):
    """The best plan is that of the yard's own program, which is held against all plans elsewhere."""
    best = choose(problem, effort="proven", gap=0.0, node_limit=100_000)
    assert best.bound == pytest.approx(best.worth, abs=1e-5)
    assert maximise(build_program(merge_alike(problem)).program).bound >= best.worth - 1e-6


def street(beds, seed=1, **more):
    """Many beds of one size with fits that vary smoothly, and a few spots."""
    facts = facts_of(MANY)
    rng = np.random.default_rng(seed)
    wave = 0.75 + 0.3 * np.sin(np.arange(beds)[:, None] / 7 + rng.uniform(0, 6, len(MANY)))
    sites = [bed(i, facts, area_m2=3.0, fit=np.clip(wave[i], 0, 1)) for i in range(beds)]
    sites.append(bed(beds, facts, form="shrub", fit=0.8))
    return problem_of(sites, facts, **more)


def test_merged_program_is_small_and_its_plan_can_be_planted():
    problem = street(60, budget=200.0)
    merged = merge_alike(problem)
    program = build_program(merged)
    solved = maximise(program.program, gap=0.002)
    assert merged.size * 10 < problem.size
    assert merged.beds_alike.sum() == len(problem.sites)
    counts = spread_out(problem, merged, program, solved.x)
    value = slow_worth(problem, counts)
    assert 0.97 * solved.bound < value <= solved.bound + 1e-9
    assert worth(problem, counts) == pytest.approx(value, abs=1e-9)
    assert set(counts) <= {n for k in range(problem.size) for n in options_of(problem, k)}


def test_merging_changes_nothing_where_no_beds_are_alike():
    """One bed of each size: the merged program is the yard's own."""
    facts = facts_of(MANY)
    problem = problem_of([bed(i, facts, area_m2=2.0 * 2**i) for i in range(4)], facts, budget=100.0)
    merged, own = merge_alike(problem), build_program(problem)
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


def test_tighter_bound_leaves_the_same_pairs_open():
    """What a pair allows is known under the program's own bound; another bound must not shut pairs out."""
    problem = street(12, budget=120.0)
    plan = quick_plan(problem, build_program(problem))
    lower = plan.below(plan.worth + 0.3 * (plan.bound - plan.worth))
    assert lower.bound < plan.bound
    assert np.array_equal(np.sort(near_pairs(lower)), np.sort(near_pairs(plan)))


def test_solver_stops_at_a_target():
    problem = street(12, budget=120.0)
    program = build_program(problem).program
    best = maximise(program, gap=1e-4)
    early = maximise(program, target=0.8 * best.value)
    assert early.value >= 0.8 * best.value
    assert not early.finished
    assert early.bound >= best.value - 1e-6
