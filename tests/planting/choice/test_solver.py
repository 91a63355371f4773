"""The solver stops where it is told to (its optima: tests/reference/test_optimisation_textbook.py)."""

from habitat.planting.choice.solver import maximise
from tests.support.choice_yards import program_of, street


def test_solver_stops_at_a_target():
    program = program_of(street(12, budget=120.0)).program
    best = maximise(program, gap=1e-4)
    early = maximise(program, target=0.8 * best.value)
    assert early.value >= 0.8 * best.value
    assert early.bound >= best.value - 1e-6
