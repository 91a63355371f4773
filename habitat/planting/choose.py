"""Which plants, how many, at which bed sites: one yard's choice with its bound."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from habitat.planting.explain import allocations, relaxed_wishes
from habitat.planting.levels import habitat_m2
from habitat.planting.phasing import planting_years
from habitat.planting.problem import YardProblem
from habitat.planting.program import build_program, open_before, program_need
from habitat.planting.quick import quick_plan, worth
from habitat.planting.solver import maximise
from habitat.planting.types import Choice


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
    counts, value, bound = quick_plan(problem, program, seed)
    if effort == "proven" and bound - value > gap * max(abs(value), 1e-9):
        solved = maximise(program.program, gap=gap, node_limit=node_limit, start=program.start(counts))
        if solved.x is not None:
            better = program.counts(solved.x)
            if worth(problem, better) > value:
                counts, value = better, worth(problem, better)
        bound = max(min(bound, solved.bound), value)
    return choice_of(problem, counts, value, bound)


def choice_of(problem: YardProblem, counts: NDArray[np.int64], value: float, bound: float) -> Choice:
    """Return a plan in words and tables."""
    chosen = allocations(problem, counts, planting_years(problem, counts, problem.settings.phases))
    return Choice(
        yard_id=problem.yard.yard_id,
        allocations=chosen,
        worth=value,
        bound=bound,
        habitat_m2=habitats(problem, counts),
        relaxed=relaxed_wishes(problem, counts),
        cost=float(sum(a.cost for a in chosen)),
    )


def habitats(problem: YardProblem, counts: NDArray[np.int64]) -> dict[str, float]:
    """Return the habitat [m2] per butterfly that the program believes in."""
    facts, standing = problem.facts, problem.standing
    taken = np.flatnonzero(counts)
    grown_by = np.bincount(problem.plant[taken], (counts * problem.fit)[taken], len(facts.plants))
    cover = (problem.chord_a + problem.chord_b * grown_by[:, None]).min(axis=1)
    months, need = open_before(problem), program_need(problem)
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
