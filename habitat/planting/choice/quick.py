"""A plan that keeps every limit by construction, and a bound on what any plan could be worth."""

from __future__ import annotations

import zlib
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from habitat.planting.choice._kernels import INFEASIBLE, anneal, climb, new_sums, worth_of
from habitat.planting.choice.problem import YardProblem
from habitat.planting.choice.program import (
    YardProgram,
    bed_costs,
    exempt_m2,
    new_kinds,
    open_before,
    pair_arrays,
    season_bits,
    season_room,
    wanted_months,
)
from habitat.planting.choice.solver import maximise

MOVES_PER_PAIR, SEARCHES = 64, 2
MOVES = (1_600, 60_000)
"""Moves of one search: some per pair, within these limits, and how many searches follow each other, each over
the pairs that a plan better than the last can hold. A number of moves, not a time, so that plans repeat."""

HEAT = (1.0, 0.02)
"""First and last temperature of the search, in m2 of habitat: found by trial on yards of 6 to 200 bed
sites."""


def kernel_arrays(problem: YardProblem) -> tuple[Any, ...]:
    """Return the arrays that the compiled worth takes, in its order."""
    facts, aims, standing = problem.facts, problem.aims, problem.standing
    per_pair = pair_arrays(problem)
    columns = (per_pair["share"], problem.price, problem.penalty, problem.fit, per_pair["cell"])
    stock = np.array([problem.yard.stock.get(p, np.inf) for p in facts.plants], float)
    spare = np.where(np.array(facts.growth) == "herb", exempt_m2(problem), np.inf)
    codes = (facts.months, season_bits(problem), new_kinds(problem), facts.stems, facts.bark)
    first_eater, eaters = _eaters(facts.preference)
    flown = np.array([int(months).bit_count() for months in facts.flight], np.int64)
    limits = (problem.yard.budget, problem.settings.max_species_share, problem.settings.enough_m2)
    worths = (aims.life_cycle, aims.month, aims.season_species, aims.species, aims.stems, aims.drift)
    before = (open_before(problem), len(standing.plants) > 0, standing.stems, standing.bark)
    return (
        np.column_stack(columns).reshape(-1, 5),
        np.column_stack([problem.site, problem.plant]).reshape(-1, 2),
        np.column_stack([problem.facts.to_plant, spare, stock, problem.chord_a, problem.chord_b]),
        np.column_stack(codes).astype(np.int64),
        first_eater,
        eaters,
        np.column_stack([problem.weight, standing.leaf_m2, standing.fed]).astype(float),
        np.column_stack([facts.flight, flown, facts.takes_nectar, facts.winter]).astype(np.int64),
        np.array([*limits, *season_room(problem), *worths], float),
        np.array([*before, wanted_months(problem)], np.int64),
        bed_costs(problem),
    )


def _eaters(preference: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return the first entry of each plant (P + 1,), and entries (butterfly, preference), plant by plant."""
    plant, butterfly = np.nonzero(preference.T > 0)
    first = np.searchsorted(plant, np.arange(preference.shape[1] + 1)).astype(np.int64)
    return first, np.column_stack([butterfly, preference[butterfly, plant]]).astype(float).reshape(-1, 2)


def worth(problem: YardProblem, counts: NDArray[np.int64], arrays: Any = None) -> float:
    """Return the worth of a plan [m2 of habitat, weighted, with secondary aims]; -inf if it breaks a limit.

    Parameters
    ----------
    counts
        Plants per pair (K,): 0, or at least the clump.
    """
    arrays = arrays or kernel_arrays(problem)
    active = np.append(np.flatnonzero(counts), 0).astype(np.int64)
    sums = new_sums(len(problem.sites), len(problem.facts.plants), len(problem.facts.butterflies))
    value = float(worth_of(counts.astype(np.int64), active, len(active) - 1, arrays, sums))
    return value if value > INFEASIBLE / 2 else float("-inf")


@dataclass(frozen=True, slots=True)
class Found:
    """A plan: plants per pair (K,), its worth, a bound on any plan's worth.

    ``loss`` (K,) is what a clump of each pair costs in bound, None where that is not known: no plan with
    one is worth more than ``bound - loss``.
    """

    counts: NDArray[np.int64]
    worth: float
    bound: float
    loss: NDArray[np.float64] | None

    def below(self, bound: float) -> Found:
        """Return this plan under another bound, if that is lower; what each pair allows stays the same."""
        lower = max(min(self.bound, bound), self.worth)
        loss = None if self.loss is None else self.loss - (self.bound - lower)
        return replace(self, bound=lower, loss=loss)


def quick_plan(problem: YardProblem, program: YardProgram, seed: int = 0) -> Found:
    """Return a plan of a yard with a bound.

    The bound is the program without the demand for whole numbers. The plan starts from that solution rounded
    to whole clumps, and is improved by a seeded search of a fixed number of moves.
    """
    arrays = kernel_arrays(problem)
    counts = np.zeros(problem.size, np.int64)
    if problem.size == 0:
        value = worth(problem, counts, arrays)
        return Found(counts, value, value, None)
    ideal = maximise(program.program, relaxed=True)
    loss = None
    if ideal.x is not None and ideal.loss is not None:
        counts = _rounded(problem, program, ideal.x, arrays)
        loss = _clump_loss(problem, program, ideal.loss)
    start = Found(counts, worth(problem, counts, arrays), ideal.bound, loss)
    low, high = MOVES
    found, moves = start, min(max(problem.size * MOVES_PER_PAIR, low), high)
    for turn in range(SEARCHES):
        found = improved(problem, found, moves, seed + turn)
    return replace(found, bound=max(found.bound, found.worth))


def improved(problem: YardProblem, start: Found, moves: int, seed: int) -> Found:
    """Return the better of a plan and what a search from it meets: cooled changes, then single steps."""
    arrays = kernel_arrays(problem)
    choices = near_pairs(start)
    if not len(choices):
        return start
    need = problem.facts.to_plant[problem.plant]
    brood = np.where(problem.lone, problem.clump, np.clip(need, problem.clump, problem.capacity))
    bounds = (problem.capacity, problem.clump, problem.lone, choices, brood.astype(np.int64))
    state = np.array([_seed_of(problem.yard.yard_id, seed)], np.uint64)
    found = anneal(start.counts.astype(np.int64), bounds, arrays, moves, HEAT, state)
    counts = np.asarray(climb(found, bounds, arrays))
    value = worth(problem, counts, arrays)
    return replace(start, counts=counts, worth=value) if value > start.worth else start


def near_pairs(plan: Found) -> NDArray[np.int64]:
    """Return the pairs that a better plan can hold, the most promising first.

    Any plan with a clump of a pair is worth at most the bound less what that clump costs in bound.
    """
    if plan.loss is None:
        return np.arange(len(plan.counts))
    order = np.lexsort((np.arange(len(plan.loss)), plan.loss))
    return order[plan.loss[order] <= plan.bound - plan.worth + 1e-6]


def _clump_loss(problem: YardProblem, program: YardProgram, loss: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what a clump of each pair (K,) costs in bound, from the loss of each column."""
    clump = loss[program.number] * problem.clump / program.unit
    has = program.used >= 0
    clump[has] += loss[program.used[has]]
    return clump


def _seed_of(yard_id: str, seed: int) -> int:
    """Return a start of the random numbers that depends on the yard and the seed only."""
    return (zlib.crc32(yard_id.encode()) << 20) + seed * 2_654_435_761 % (1 << 20) + 1


def _rounded(
    problem: YardProblem, program: YardProgram, x: NDArray[np.float64], arrays: Any
) -> NDArray[np.int64]:
    """Round a solution to whole clumps, greatest parts first, keeping only what stays within the limits."""
    ideal = x[program.number] * program.unit
    counts = np.zeros(problem.size, np.int64)
    order = np.lexsort((np.arange(problem.size), -ideal / problem.clump))
    for k in order:
        if ideal[k] < 0.3 * problem.clump[k]:
            break
        counts[k] = max(problem.clump[k], min(int(ideal[k]), problem.capacity[k]))
        if worth(problem, counts, arrays) == float("-inf"):
            counts[k] = problem.clump[k]
            if worth(problem, counts, arrays) == float("-inf"):
                counts[k] = 0
    return counts
