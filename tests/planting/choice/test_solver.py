"""The solver stops where it is told to (its optima: tests/reference/test_optimisation_textbook.py)."""

import os
from concurrent.futures import ThreadPoolExecutor
from threading import Event

from habitat.planting.choice.solver import _stdout_closed, maximise
from tests.support.choice_yards import program_of, street


def test_solver_stops_at_a_target():
    program = program_of(street(12, budget=120.0)).program
    best = maximise(program, gap=1e-4)
    early = maximise(program, target=0.8 * best.value)
    assert early.value >= 0.8 * best.value
    assert early.bound >= best.value - 1e-6


def test_threads_that_solve_at_once_leave_standard_output_open(capfd):
    """Each closes it for a moment; the second must not take the first one's closed one for what was there."""
    began, both, over = Event(), Event(), Event()

    def first():
        with _stdout_closed():
            began.set()
            both.wait(0.3)
        over.set()

    def second():
        began.wait(5)
        with _stdout_closed():
            both.set()
            over.wait(5)

    with ThreadPoolExecutor(2) as threads:
        for done in [threads.submit(first), threads.submit(second)]:
            done.result(10)
    os.write(1, b"still here")
    assert capfd.readouterr().out == "still here"
