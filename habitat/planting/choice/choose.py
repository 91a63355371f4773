"""Which plants, how many, where: one yard's choice with its bound, interchangeable sites merged."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from habitat.planting.choice.problem import YardProblem
from habitat.planting.choice.program import YardProgram, bed_costs, build_program, predicted_habitat_m2
from habitat.planting.choice.quick import MOVES, Found, improved, kernel_arrays, near_pairs, quick_plan, worth
from habitat.planting.choice.reasons import allocations, relaxed_wishes
from habitat.planting.choice.solver import maximise
from habitat.planting.types import Choice
from habitat.planting.years.phasing import planting_years

AREA_STEP = 1.5
"""Beds are interchangeable up to this ratio of their areas, pairs of the same plant up to FIT_STEP in fit: by
trial on yards of 25 to 200 beds; finer steps make the program larger, coarser ones its bound weaker."""

FIT_STEP = 0.03


def merge_interchangeable(problem: YardProblem) -> YardProblem:
    """Return a problem in which interchangeable sites, and pairs of about one fit in them, are one.

    Each is as good as the best of those that it stands for, so that every plan of the yard is a plan of this
    one, worth no less: a bound on this one's worth bounds the yard's. Pairs of a lesser fit are left out
    where money or need is spent before those of a better one are.
    """
    group = _interchangeable_sites(problem)
    order = np.lexsort((np.arange(problem.size), -problem.fit, problem.plant, group[problem.site]))
    tiers = []
    for _, run in groupby(order, key=lambda k: (group[problem.site[k]], problem.plant[k])):
        tiers += list(_tiers(problem, list(run)))
    best = np.array([tier[0] for tier in tiers], np.int64)
    site = group[problem.site[best]]
    capacity = np.zeros((len(problem.sites), len(problem.facts.plants)), np.int64)
    np.maximum.at(capacity, (group[problem.site], problem.plant), problem.capacity)
    first = np.unique(group, return_index=True)[1]
    return replace(
        problem,
        sites=tuple(problem.sites[s] for s in first),
        site=site,
        plant=problem.plant[best],
        capacity=capacity[site, problem.plant[best]],
        clump=problem.clump[best],
        lone=problem.lone[best],
        fit=problem.fit[best],
        price=problem.price[best],
        penalty=np.array([problem.penalty[tier].min() for tier in tiers]),
        bed_multiplicity=np.bincount(group),
        pair_multiplicity=np.array([len(tier) for tier in tiers], np.int64),
    )


def _interchangeable_sites(problem: YardProblem) -> NDArray[np.int64]:
    """Return the group of each site (S,): one form, one cost of digging, about one area."""
    costs = bed_costs(problem)
    steps = [math.floor(math.log(max(site.area_m2, 1e-3), AREA_STEP)) for site in problem.sites]
    kinds = [(site.growth_form, c, n) for site, c, n in zip(problem.sites, costs, steps, strict=True)]
    number = {kind: g for g, kind in enumerate(sorted(set(kinds)))}
    return np.array([number[kind] for kind in kinds], np.int64)


def _tiers(problem: YardProblem, pairs: list[np.int64]) -> Iterator[list[np.int64]]:
    """Yield the pairs of one plant in interchangeable sites, best fit first, as far as any are wanted.

    The yard holds one clump of a plant that is bought as a clump; of others no more than money buys.
    """
    k = pairs[0]
    clump = float(problem.clump[k] * problem.price[k])
    wanted = 1.0 if problem.lone[k] else (problem.yard.budget + 1e-6) / clump if clump > 0 else math.inf
    start = 0
    while start < min(len(pairs), wanted):
        least = problem.fit[pairs[start]] - FIT_STEP
        end = start + sum(problem.fit[j] >= least for j in pairs[start:])
        yield pairs[start:end]
        start = end


def spread_out(
    problem: YardProblem, merged: YardProblem, program: YardProgram, x: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Return plants per pair (K,) from a solution of the merged program, in the beds where they do best.

    Drift by drift, those that fill most of a bed first, each where it adds most worth. What finds no room is
    left out; the plan may then break the limit on the share of one species (its worth says so).
    """
    rest = replace(problem, settings=problem.settings.model_copy(update={"max_species_share": 1.0}))
    arrays, counts = kernel_arrays(rest), np.zeros(problem.size, np.int64)
    for plant, number in _drifts(merged, program, x):
        most = np.minimum(number, problem.capacity)
        best, pick = -math.inf, -1
        for k in np.flatnonzero((problem.plant == plant) & (counts == 0) & (most >= problem.clump)):
            counts[k] = most[k]
            value = worth(rest, counts, arrays)
            counts[k] = 0
            if value > best + 1e-9:
                best, pick = value, int(k)
        if pick >= 0:
            counts[pick] = most[pick]
    return counts


def _drifts(merged: YardProblem, program: YardProgram, x: NDArray[np.float64]) -> list[tuple[int, int]]:
    """Return (plant, number) of each drift of a solution, those that fill most of a bed first."""
    drifts, total = [], program.counts(x)
    for k in np.flatnonzero(total):
        most, clump, left = int(merged.capacity[k]), int(merged.clump[k]), int(total[k])
        used = program.used[k]
        count = round(float(x[used])) if used >= 0 else 1 if merged.lone[k] else math.ceil(left / most)
        for more in range(count - 1, -1, -1):
            number = min(most, left - clump * more)
            left -= number
            drifts.append((-number / most, int(merged.plant[k]), number))
    return [(plant, number) for _, plant, number in sorted(drifts)]


# Which plants, how many, at which bed sites: one yard's choice with its bound.

LONG_SEARCH, LONG_PER_PAIR, LONG_SEARCHES = 600_000, 1_500, 2
"""Most moves, moves per pair, and turns of the longer search of effort "proven".

Most yards come within 1 % of the bound by it.
"""

MERGE_GAIN, MERGE_GAP, MERGE_NODES = 10, 0.25, 200
"""Beds are merged where that leaves a tenth of the pairs or less; how much of the gap that program is solved
to, and its most nodes."""


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
    """Return a plan within the gap of its bound: by beds merged, by search, by the whole program."""
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
    """Return the better plan and bound of the program with beds merged, where that is much smaller."""
    merged = merge_interchangeable(problem)
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
        habitat_m2=predicted_habitat_m2(problem, counts),
        relaxed=relaxed_wishes(problem, counts),
        cost=float(sum(a.cost for a in chosen)),
    )
