"""Which plants, how many, at which bed sites: one yard's choice with its bound."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from habitat.planting.alike import merge_alike, spread_out
from habitat.planting.believed import habitats
from habitat.planting.explain import allocations, relaxed_wishes
from habitat.planting.phasing import planting_years
from habitat.planting.problem import YardProblem
from habitat.planting.program import YardProgram, build_program
from habitat.planting.quick import MOVES, Found, improved, near_pairs, quick_plan, worth
from habitat.planting.solver import maximise
from habitat.planting.types import Choice

LONG_SEARCH, LONG_PER_PAIR, LONG_SEARCHES = 600_000, 1_500, 2
"""Most moves, moves per pair, and turns of the longer search of effort "proven".

Most yards come within 1 % of the bound by it.
"""

MERGE_GAIN, MERGE_GAP, MERGE_NODES = 10, 0.25, 200
"""Like beds are merged where that leaves a tenth of the pairs or less; how much of the gap that program is
solved to, and its most nodes."""


def choose(
    problem: YardProblem, *, effort: str = "quick", seed: int = 0, gap: float = 0.01, node_limit: int = 2000
) -> Choice:
    """Choose plants and counts for one yard.

    Parameters
    ----------
    problem
        The yard's program.
    effort
        ``"quick"``: a plan that keeps every limit, with a bound. ``"proven"``: improved, by HiGHS too, to
        a relative ``gap`` or ``node_limit`` nodes.
    seed
        Start of the random numbers of the search.

    Returns
    -------
    Choice
        Equal for equal input, whatever the machine's speed.
    """
    program = build_program(problem)
    found = quick_plan(problem, program, seed)
    if effort == "proven":
        found = _proven(problem, program, found, gap, node_limit, seed)
    return choice_of(problem, found)


def _proven(
    problem: YardProblem, program: YardProgram, found: Found, gap: float, node_limit: int, seed: int
) -> Found:
    """Return a plan within the gap of its bound: by like beds merged, by search, by the whole program."""
    if not _close(found, gap):
        found = _by_kind_of_bed(problem, found, gap, seed)
    moves = min(LONG_SEARCH, LONG_PER_PAIR * problem.size)
    for turn in range(1, LONG_SEARCHES + 1):
        if not _close(found, gap):
            found = improved(problem, found, moves, seed + turn)
    return found if _close(found, gap) else _by_program(problem, program, found, gap, node_limit)


def _close(found: Found, gap: float) -> bool:
    return found.bound - found.worth <= gap * max(abs(found.worth), 1e-9)


def _by_kind_of_bed(problem: YardProblem, start: Found, gap: float, seed: int) -> Found:
    """Return the better plan and bound of the program with like beds merged, where that is much smaller."""
    merged = merge_alike(problem)
    if merged.size * MERGE_GAIN > problem.size:
        return start
    program = build_program(merged)
    solved = maximise(program.program, gap=gap * MERGE_GAP, node_limit=MERGE_NODES)
    below = start.below(solved.bound)
    if solved.x is None:
        return below
    found = _better(problem, below, spread_out(problem, merged, program, solved.x))
    return found if found is below or _close(found, gap) else improved(problem, found, MOVES[1], seed)


def _by_program(
    problem: YardProblem, program: YardProgram, start: Found, gap: float, node_limit: int
) -> Found:
    """Return the plan of branch and bound from a start plan, over the pairs that a better one can hold."""
    high = program.program.high.copy()
    far = np.setdiff1d(np.arange(problem.size), np.union1d(near_pairs(start), np.flatnonzero(start.counts)))
    high[program.number[far]] = 0.0
    high[program.used[far][program.used[far] >= 0]] = 0.0
    fewer = replace(program.program, high=high)
    begin, target = program.start(start.counts), start.bound / (1.0 + gap)
    solved = maximise(fewer, gap=gap, node_limit=node_limit, start=begin, target=target)
    counts = start.counts if solved.x is None else program.counts(solved.x)
    return _better(problem, start, counts).below(solved.bound)


def _better(problem: YardProblem, plan: Found, counts: NDArray[np.int64]) -> Found:
    """Return a plan with other counts, if they are worth more."""
    value = worth(problem, counts)
    return replace(plan, counts=counts, worth=value) if value > plan.worth else plan


def choice_of(problem: YardProblem, found: Found) -> Choice:
    """Return a plan in words and tables."""
    counts = found.counts
    chosen = allocations(problem, counts, planting_years(problem, counts))
    return Choice(
        yard_id=problem.yard.yard_id,
        allocations=chosen,
        worth=found.worth,
        bound=found.bound,
        habitat_m2=habitats(problem, counts),
        relaxed=relaxed_wishes(problem, counts),
        cost=float(sum(a.cost for a in chosen)),
    )
