"""A plan over years: what to plant first so that life cycles close early."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from habitat.errors import StudyError
from habitat.planting.problem import YardProblem
from habitat.planting.quick import worth
from habitat.study import Study


def check_phases(study: Study) -> None:
    """Raise a StudyError if the shares of money by year add up to more than all of it."""
    phases = study.planting.phases
    if phases and sum(phases) > 1.0 + 1e-9:
        raise StudyError(
            f"planting.phases add up to {sum(phases):g}, more than all of the money",
            str(study.path),
            "Give shares by year such as [0.5, 0.3, 0.2]",
        )


def planting_years(problem: YardProblem, counts: NDArray[np.int64], phases: list[float]) -> NDArray[np.int64]:
    """Return the plan year (K,) in which each pair is planted, 0 where nothing is.

    Year by year, what raises the worth most for its money comes first, as long as the year's share and what
    is left of the years before pay for it; the last year takes the rest. A pair is planted whole, so one
    that costs more than any year's money comes in the last year.

    Parameters
    ----------
    counts
        Plants per pair (K,).
    phases
        Share of the money by year, adding up to 1 or less; empty plants all in year 1.
    """
    years = np.where(counts > 0, 1, 0).astype(np.int64)
    shares = [s for s in phases if s > 0] or [1.0]
    if len(phases) <= 1 or not counts.any():
        return years
    gone = problem.yard.spent
    money = (problem.yard.budget + sum(gone.values())) / sum(shares) * np.array(phases)
    free = replace(
        problem,
        settings=problem.settings.model_copy(update={"max_species_share": 1.0}),
        yard=replace(problem.yard, budget=float("inf")),
    )
    planted, left = np.zeros_like(counts), [int(k) for k in np.flatnonzero(counts)]
    cost, purse = counts * problem.price, 0.0
    for year, share in enumerate(money, 1):
        purse += float(share) - gone.get(year, 0.0)
        while left:
            able = [k for k in left if cost[k] <= purse + 1e-6 or year == len(money)]
            if not able:
                break
            k = _best_next(free, counts, planted, able)
            planted[k], years[k] = counts[k], year
            purse -= float(cost[k])
            left.remove(k)
    return years


def _best_next(
    problem: YardProblem, counts: NDArray[np.int64], planted: NDArray[np.int64], able: list[int]
) -> int:
    """Return the pair that adds most worth for its money; the first one at a tie."""
    now, best, pick = worth(problem, planted), -np.inf, able[0]
    for k in able:
        trial = planted.copy()
        trial[k] = counts[k]
        gain = (worth(problem, trial) - now) / max(float(counts[k] * problem.price[k]), 1e-9)
        if gain > best + 1e-12:
            best, pick = gain, k
    return pick
