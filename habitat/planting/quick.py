"""A plan that keeps every limit by construction, and a bound on what any plan could be worth."""

from __future__ import annotations

import zlib
from typing import Any

import numpy as np
from numpy.typing import NDArray

from habitat.planting._choice_kernels import INFEASIBLE, anneal, climb, new_sums, worth_of
from habitat.planting.problem import YardProblem
from habitat.planting.program import (
    YardProgram,
    bed_costs,
    exempt_m2,
    new_kinds,
    open_before,
    pair_arrays,
    program_need,
    season_bits,
    season_room,
    wanted_months,
)
from habitat.planting.solver import maximise

MOVES_PER_PAIR = 160
MOVES = (4_000, 60_000)
"""Moves of the search: some per pair, within these limits. A number of moves, not a time, so that plans
repeat."""

HEAT = (0.5, 0.02)
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
        np.column_stack([program_need(problem), spare, stock, problem.chord_a, problem.chord_b]),
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


def quick_plan(
    problem: YardProblem, program: YardProgram, seed: int = 0
) -> tuple[NDArray[np.int64], float, float]:
    """Return plants per pair (K,), their worth, and a bound on the worth of any plan of this program.

    The bound is the program without the demand for whole numbers. The plan starts from that solution rounded
    to whole clumps, and is improved by a seeded search of a fixed number of moves.
    """
    arrays = kernel_arrays(problem)
    nothing = np.zeros(problem.size, np.int64)
    if problem.size == 0:
        value = worth(problem, nothing, arrays)
        return nothing, value, value
    ideal = maximise(program.program, relaxed=True)
    if ideal.x is None or ideal.loss is None:
        counts = search(problem, nothing, np.arange(problem.size), seed, arrays)
    else:
        start = _rounded(problem, program, ideal.x, arrays)
        near = _near(problem, program, ideal.loss, ideal.bound - worth(problem, start, arrays))
        counts = search(problem, start, near, seed, arrays)
    value = worth(problem, counts, arrays)
    return counts, value, max(ideal.bound, value)


def search(
    problem: YardProblem, start: NDArray[np.int64], choices: NDArray[np.int64], seed: int, arrays: Any
) -> NDArray[np.int64]:
    """Return the best plan met from a start plan: cooled random changes, then the best single steps.

    ``choices`` are the pairs that may come into the plan, the first ones tried more often.
    """
    need = program_need(problem)[problem.plant]
    brood = np.where(problem.lone, problem.clump, np.clip(need, problem.clump, problem.capacity))
    bounds = (problem.capacity, problem.clump, problem.lone, choices, brood.astype(np.int64))
    low, high = MOVES
    moves = int(min(max(len(choices) * MOVES_PER_PAIR, low), high))
    state = np.array([_seed_of(problem.yard.yard_id, seed)], np.uint64)
    found = anneal(start.astype(np.int64), bounds, arrays, moves, HEAT, state)
    return np.asarray(climb(found, bounds, arrays))


def _seed_of(yard_id: str, seed: int) -> int:
    """Return a start of the random numbers that depends on the yard and the study only."""
    return (zlib.crc32(yard_id.encode()) << 20) + seed * 2_654_435_761 % (1 << 20) + 1


def _near(
    problem: YardProblem, program: YardProgram, loss: NDArray[np.float64], room: float
) -> NDArray[np.int64]:
    """Return the pairs that a plan better than the start plan can hold, the most promising first.

    Any plan with a clump of a pair is worth at most the bound less what that clump costs in bound.
    """
    clump = loss[program.number] * problem.clump / program.unit
    has = program.used >= 0
    clump[has] += loss[program.used[has]]
    order = np.lexsort((np.arange(problem.size), clump))
    return order[clump[order] <= room + 1e-6]


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
