"""Which plants, how many, at which bed sites: one yard's choice with its bound."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from habitat.planting.explain import allocations, relaxed_wishes
from habitat.planting.levels import habitat_m2
from habitat.planting.phasing import planting_years
from habitat.planting.problem import YardProblem
from habitat.planting.program import YardProgram, build_program, open_before
from habitat.planting.quick import Found, improved, near_pairs, quick_plan, worth
from habitat.planting.solver import maximise
from habitat.planting.types import Choice

LONG_SEARCH, LONG_PER_PAIR, LONG_SEARCHES = 600_000, 1_500, 2
"""Most moves, moves per pair, and turns of the longer search of effort "proven".

Most yards come within 1 % of the bound by it.
"""


def choose(
    problem: YardProblem, *, effort: str = "quick", seed: int = 0, gap: float = 0.01, node_limit: int = 2000
) -> Choice:
    """Choose plants and counts for one yard.

    Parameters
    ----------
    problem
        The yard's program.
    effort
        ``"quick"``: a plan that keeps every limit, with a bound. ``"proven"``: improved by HiGHS from that
        plan to a relative ``gap`` or ``node_limit`` nodes.
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
        for turn in range(1, LONG_SEARCHES + 1):
            if not _close(found, gap):
                moves = min(LONG_SEARCH, LONG_PER_PAIR * problem.size)
                found = improved(problem, found, moves, seed + turn)
    if effort == "proven" and not _close(found, gap):
        found = _proven(problem, program, found, gap, node_limit)
    return choice_of(problem, found)


def _close(found: Found, gap: float) -> bool:
    return found.bound - found.worth <= gap * max(abs(found.worth), 1e-9)


def _proven(problem: YardProblem, program: YardProgram, start: Found, gap: float, node_limit: int) -> Found:
    """Return the plan of branch and bound from a start plan, over the pairs that a better one can hold."""
    high = program.program.high.copy()
    far = np.setdiff1d(np.arange(problem.size), np.union1d(near_pairs(start), np.flatnonzero(start.counts)))
    high[program.number[far]] = 0.0
    high[program.used[far][program.used[far] >= 0]] = 0.0
    fewer = replace(program.program, high=high)
    solved = maximise(fewer, gap=gap, node_limit=node_limit, start=program.start(start.counts))
    counts, value = start.counts, start.worth
    if solved.x is not None:
        better = program.counts(solved.x)
        if worth(problem, better) > value:
            counts, value = better, worth(problem, better)
    return Found(counts, value, max(min(start.bound, solved.bound), value), start.loss)


def choice_of(problem: YardProblem, found: Found) -> Choice:
    """Return a plan in words and tables."""
    counts = found.counts
    chosen = allocations(problem, counts, planting_years(problem, counts, problem.settings.phases))
    return Choice(
        yard_id=problem.yard.yard_id,
        allocations=chosen,
        worth=found.worth,
        bound=found.bound,
        habitat_m2=habitats(problem, counts),
        relaxed=relaxed_wishes(problem, counts),
        cost=float(sum(a.cost for a in chosen)),
    )


def habitats(problem: YardProblem, counts: NDArray[np.int64]) -> dict[str, float]:
    """Return the habitat [m2] per butterfly that the program believes in; spares are no part of a brood."""
    facts, standing = problem.facts, problem.standing
    taken = np.flatnonzero(counts)
    grown_by = np.bincount(problem.plant[taken], (counts * problem.fit)[taken], len(facts.plants))
    cover = (problem.chord_a + problem.chord_b * grown_by[:, None]).min(axis=1)
    months, need = open_before(problem), facts.need
    grown = problem.plant[taken]
    for p in grown:
        months |= int(facts.months[p])
    kept = (
        True,
        len(taken) > 0 or len(standing.plants) > 0,
        standing.stems or bool(facts.stems[grown].any()),
        standing.bark or bool(facts.bark[grown].any()),
    )
    out = {}
    for b, butterfly in enumerate(facts.butterflies):
        eaten = facts.preference[b][grown]
        leaf = float(standing.leaf_m2[b] + (cover * facts.preference[b])[grown_by > 0].sum())
        fed = float(standing.fed[b] + (counts[taken] * eaten / need[grown]).sum())
        nectar = _nectar(int(facts.flight[b]), months) if facts.takes_nectar[b] else 1.0
        out[butterfly] = habitat_m2(leaf, fed, nectar, kept[int(facts.winter[b])], problem.settings.enough_m2)
    return out


def _nectar(flight: int, months: int) -> float:
    return (flight & months).bit_count() / flight.bit_count() if flight else 1.0
