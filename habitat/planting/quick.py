"""A plan that keeps every limit by construction, and a bound on what any plan could be worth."""

from __future__ import annotations

import zlib
from typing import Any

import numpy as np
from numpy.typing import NDArray

from habitat.planting._choice_kernels import INFEASIBLE, anneal, climb, worth_of
from habitat.planting.problem import YardProblem
from habitat.planting.program import (
    YardProgram,
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

MOVES_PER_PAIR = 40
MOVES = (4_000, 40_000)
"""Moves of the search: some per pair, within these limits. A number of moves, not a time, so that plans
repeat."""

HEAT = (1.0, 0.01)
"""First and last temperature of the search, in m2 of habitat: found by trial on yards of 6 to 200 bed
sites."""


def kernel_arrays(problem: YardProblem) -> tuple[Any, Any, Any]:
    """Return the tuples (pairs, plants, yard) that the compiled worth takes."""
    facts, aims, per_pair = problem.facts, problem.aims, pair_arrays(problem)
    stock = np.array([problem.yard.stock.get(p, np.inf) for p in facts.plants], float)
    spare = exempt_m2(problem)
    spare = np.where(np.array(facts.growth) == "herb", spare, np.inf)
    pairs = (
        problem.site,
        problem.plant,
        per_pair["share"],
        problem.price,
        problem.penalty,
        problem.fit,
        problem.chord_a,
        problem.chord_b,
        per_pair["cell"],
        np.zeros(len(problem.sites)),
    )
    plants = (
        facts.preference,
        program_need(problem),
        facts.months,
        season_bits(problem),
        new_kinds(problem),
        facts.stems,
        facts.bark,
        spare,
        stock,
    )
    room = season_room(problem)
    limits = (problem.yard.budget, problem.settings.max_species_share)
    standing = problem.standing
    yard = (
        problem.weight,
        facts.flight,
        facts.takes_nectar,
        facts.winter,
        np.asarray(standing.leaf_m2, float),
        np.asarray(standing.fed, float),
        np.array([*limits, problem.settings.enough_m2, *room], float),
        np.array([aims.life_cycle, aims.month, aims.season_species, aims.species, aims.stems], float),
        np.array(
            [
                open_before(problem),
                wanted_months(problem),
                len(standing.plants) > 0,
                standing.stems,
                standing.bark,
            ],
            np.int64,
        ),
    )
    return pairs, plants, yard


def worth(problem: YardProblem, counts: NDArray[np.int64], arrays: Any = None) -> float:
    """Return the worth of a plan [m2 of habitat, weighted, with secondary aims]; -inf if it breaks a limit.

    Parameters
    ----------
    counts
        Plants per pair (K,): 0, or at least the clump.
    """
    arrays = arrays or kernel_arrays(problem)
    active = np.append(np.flatnonzero(counts), 0).astype(np.int64)
    value = float(worth_of(counts.astype(np.int64), active, len(active) - 1, *arrays))
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
    start = nothing if ideal.x is None else _rounded(problem, program, ideal.x, arrays)
    counts = search(problem, start, seed, arrays)
    value = worth(problem, counts, arrays)
    return counts, value, max(ideal.bound, value)


def search(
    problem: YardProblem, start: NDArray[np.int64], seed: int = 0, arrays: Any = None
) -> NDArray[np.int64]:
    """Return the best plan met from a start plan: cooled random changes, then the best single steps."""
    arrays = arrays or kernel_arrays(problem)
    bounds = (problem.capacity, problem.clump, problem.lone)
    low, high = MOVES
    moves = int(min(max(problem.size * MOVES_PER_PAIR, low), high))
    state = np.array([_seed_of(problem.yard.yard_id, seed)], np.uint64)
    found = anneal(start.astype(np.int64), bounds, arrays, moves, HEAT, state)
    return np.asarray(climb(found, bounds, arrays))


def _seed_of(yard_id: str, seed: int) -> int:
    """Return a start of the random numbers that depends on the yard and the study only."""
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
