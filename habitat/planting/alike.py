"""Like bed sites merged into one: a small program with a tight bound, and a plan spread back over the beds.

Two hundred beds of which any will do keep a proof busy with which of them: every choice of beds has a
thousand twins of nearly the same worth, and the demand for whole beds tightens the bound only once all of
them are tried. Counted instead ("six of these beds"), the choice is the same and there is little to try.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from habitat.planting.problem import YardProblem
from habitat.planting.program import YardProgram, bed_costs
from habitat.planting.quick import kernel_arrays, worth

AREA_STEP = 1.5
"""Beds are alike up to this ratio of their areas, and pairs of the same plant up to FIT_STEP in fit: by trial
on yards of 25 to 200 beds; finer steps make the program larger, coarser ones its bound weaker."""

FIT_STEP = 0.03


def merge_alike(problem: YardProblem) -> YardProblem:
    """Return a problem in which like sites, and pairs of like fit in them, are one with a count.

    Each is as good as the best of those that it stands for, so that every plan of the yard is a plan of this
    one, worth no less: a bound on this one's worth bounds the yard's. Pairs of a lesser fit are left out
    where money or need is spent before those of a better one are.
    """
    group = _like_sites(problem)
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
        beds_alike=np.bincount(group),
        pairs_alike=np.array([len(tier) for tier in tiers], np.int64),
    )


def _like_sites(problem: YardProblem) -> NDArray[np.int64]:
    """Return the group of each site (S,): one form, one cost of digging, about one area."""
    costs = bed_costs(problem)
    steps = [math.floor(math.log(max(site.area_m2, 1e-3), AREA_STEP)) for site in problem.sites]
    kinds = [(site.growth_form, c, n) for site, c, n in zip(problem.sites, costs, steps, strict=True)]
    number = {kind: g for g, kind in enumerate(sorted(set(kinds)))}
    return np.array([number[kind] for kind in kinds], np.int64)


def _tiers(problem: YardProblem, pairs: list[np.int64]) -> Iterator[list[np.int64]]:
    """Yield the pairs of one plant in like sites, best fit first, in steps of fit, as far as any are wanted.

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
