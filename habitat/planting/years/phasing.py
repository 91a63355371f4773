"""A plan over years: what to plant first so that life cycles close early.

A host planted late, or one that takes years until it carries a brood, keeps a life cycle open for as long.
So which planting comes in which year is a small program of its own, over what was chosen: it counts, year by
year, which broods find hosts that carry them by then, and which life cycles close.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.errors import StudyError
from habitat.knowledge.year import NECTAR_TIMES
from habitat.planting.choice.builder import Builder, open_before, predicted_habitat_m2
from habitat.planting.choice.problem import YardProblem
from habitat.planting.choice.solver import maximise
from habitat.planting.years.growth import growth_share

SOONER = 0.001
"""Worth of having a planting a year sooner, in m2 of habitat: judgement; it only breaks ties."""

BROOD = 0.01
"""Worth of a year in which a brood finds hosts though the life cycle is not closed, as a share of a closed
one: judgement; it breaks ties."""

NODES = 500
"""Most nodes of the program of years, which is small; where none is found in them, all comes late."""


def check_phases(phases: Sequence[float], settings_file: str = "") -> None:
    """Raise a StudyError if the shares of money by year add up to more than all of it.

    Parameters
    ----------
    phases
        Share of the money by plan year, each 0 or more.
    settings_file
        Where the settings stand, for the error.
    """
    if phases and sum(phases) > 1.0 + 1e-9:
        raise StudyError(
            f"planting.phases add up to {sum(phases):g}, more than all of the money",
            settings_file,
            "Give shares by year such as [0.5, 0.3, 0.2]",
        )


def planting_years(problem: YardProblem, counts: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the plan year (K,) in which each pair is planted, 0 where nothing is.

    The years' money is kept, what is left going over to the next year; the last year takes the rest. Within
    it, the years in which life cycles are closed are as many as they can be over all butterflies, weighted as
    in the choice, and the plan year counts as much as all years together, since the plan was chosen for it.
    Trees that were chosen before count as standing. A pair is planted whole.

    Parameters
    ----------
    counts
        Plants per pair (K,). ``problem.settings.phases`` holds the share of the money by year, adding up to 1
        or less; empty plants all in year 1.
    """
    years = np.where(counts > 0, 1, 0).astype(np.int64)
    taken, phases = np.flatnonzero(counts), problem.settings.phases
    if len(phases) <= 1 or not any(phases) or not len(taken):
        return years
    build, plan = Builder(), _Plan.of(problem, counts)
    sooner = plan.leaf_m2 - SOONER * np.arange(len(phases))
    planted = build.columns(sooner.ravel(), 1.0, True).reshape(sooner.shape)
    _each_once_within_money(build, planted, counts[taken] * problem.price[taken], _purse(problem))
    for b in range(len(problem.facts.butterflies)):
        for year in range(1, plan.horizon + 1):
            _life_cycle(build, plan, b, year, planted)
    solved = maximise(build.program(), node_limit=NODES)
    chosen = solved.x[planted] > 0.5 if solved.x is not None else np.arange(len(phases)) == len(phases) - 1
    years[taken] = 1 + np.argmax(np.broadcast_to(chosen, planted.shape), axis=1)
    return years


def _purse(problem: YardProblem) -> NDArray[np.float64]:
    """Return the money there is by the end of each year but the last, which takes what is left."""
    shares, gone = np.array(problem.settings.phases), np.zeros(len(problem.settings.phases))
    for a in problem.yard.fixed:
        gone[a.year - 1] += a.cost
    whole = problem.yard.budget + gone.sum()
    return np.asarray(np.cumsum(whole * shares / shares.sum() - gone)[:-1])


def _each_once_within_money(
    build: Builder, planted: NDArray[np.int64], cost: NDArray[np.float64], purse: NDArray[np.float64]
) -> None:
    """Add: every pair is planted in one year, and each year's money pays for what is planted by then."""
    for columns in planted:
        build.sum_row(columns, 1.0, 1.0)
        build.sum_row(columns, -1.0, -1.0)
    for year, money in enumerate(purse, 1):
        build.sum_row(planted[:, :year].ravel(), np.repeat(cost, year), max(float(money), 0.0))


@dataclass(frozen=True, slots=True)
class _Plan:
    """A plan as its pairs (T,) give it, and what was chosen before it.

    feeds : (M, T) share of a brood's need, by meal. carries : the season in which a host first carries one.
    months : of bloom. leaf_m2 : (T, years) weighted habitat in the plan year if planted in a year. before :
    (share of a brood's need (M,), plan year in which it is carried) of what is chosen already. horizon : plan
    year in which the slowest host carries, at the latest.
    """

    problem: YardProblem
    plant: NDArray[np.int64]
    feeds: NDArray[np.float64]
    carries: NDArray[np.int64]
    months: NDArray[np.int64]
    leaf_m2: NDArray[np.float64]
    before: list[tuple[NDArray[np.float64], int]]
    horizon: int

    @classmethod
    def of(cls, problem: YardProblem, counts: NDArray[np.int64]) -> _Plan:
        facts, pairs = problem.facts, np.flatnonzero(counts)
        plant, order = problem.plant[pairs], {name: p for p, name in enumerate(facts.plants)}
        carries = np.array([facts.first_year[p][problem.yard.offer(facts, p).form] for p in plant])
        before = []
        for a in problem.yard.fixed:
            p = order[a.plant]
            share = facts.meals[:, p] * a.count / facts.need[p]
            before.append((share, a.year - 1 + facts.first_year[p][a.form]))
        slowest = len(problem.settings.phases) - 1 + int(carries.max())
        return cls(
            problem,
            plant,
            facts.meals[:, plant] * counts[pairs] / facts.need[plant],
            carries,
            facts.months[plant],
            _leaf_by_year(problem, counts),
            before,
            max(problem.settings.year, slowest, *(year for _, year in before)),
        )

    def needed(self, b: int) -> list[NDArray[np.bool_]]:
        """Return sets of pairs (T,) of each of which a closed life cycle needs one, beside its hosts.

        An empty set is a need that the plan does not meet.
        """
        facts, standing = self.problem.facts, self.problem.standing
        winter = {
            1: (len(standing.plants) > 0, np.ones(len(self.plant), bool)),
            2: (standing.stems, facts.stems[self.plant]),
            3: (standing.bark, facts.bark[self.plant]),
        }
        kept, gives = winter.get(int(facts.winter[b]), (True, np.zeros(0, bool)))
        flown = int(facts.flight[b]) if facts.takes_nectar[b] else 0
        shut = flown & ~open_before(self.problem)
        bloom = [(self.months >> m) & 1 > 0 for m in range(1, NECTAR_TIMES) if (shut >> m) & 1]
        return bloom if kept else [gives, *bloom]


def _leaf_by_year(problem: YardProblem, counts: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return (T, years) the weighted habitat [m2] that each pair has grown to in the plan year."""
    facts, pairs = problem.facts, np.flatnonzero(counts)
    plant = problem.plant[pairs]
    leaf = facts.preference[:, plant] * facts.inner_m2[plant] * problem.fit[pairs] * counts[pairs]
    whole = leaf.sum(axis=1) + facts.leanest(problem.standing.leaf_m2)
    predicted = predicted_habitat_m2(problem, counts)
    habitat = np.array([predicted[b] for b in facts.butterflies]) * problem.weight
    worth = (habitat / np.maximum(whole, 1e-9)) @ leaf
    grown = np.array(
        [[_crown(problem, p, year) for year in range(1, 1 + len(problem.settings.phases))] for p in plant]
    )
    return np.asarray(worth[:, None] * (grown / np.maximum(grown[:, :1], 1e-9)) ** 2)


def _crown(problem: YardProblem, p: int, planted_in: int) -> float:
    """Return the share of its mature spread that a plant has in the plan year."""
    facts, age = problem.facts, problem.settings.year - planted_in + 1
    return growth_share(facts.growth[p], age, problem.yard.offer(facts, p).form)


def _life_cycle(build: Builder, plan: _Plan, b: int, year: int, planted: NDArray[np.int64]) -> None:
    """Add for one butterfly and year: a brood finds hosts that carry it, and its life cycle closes."""
    problem = plan.problem
    worth = float(problem.weight[b]) * problem.aims.life_cycle
    worth *= 1.0 + problem.settings.year * (year == problem.settings.year)
    fed = build.column(BROOD * worth, 1.0, True)
    closed = build.column(worth, 1.0)
    seasons = np.arange(1, planted.shape[1] + 1)
    carried = seasons <= year - plan.carries[:, None] + 1
    for m in problem.facts.meals_of(b):
        share = np.broadcast_to(plan.feeds[m][:, None], carried.shape)[carried]
        late = sum(part[m] for part, from_year in plan.before if from_year > year)
        have = float(problem.standing.fed[m] - late)
        build.sum_row(np.append(planted[carried], fed), np.append(-share, 1.0), max(have, 0.0))
    build.rows(0.0, (closed, 1.0), (fed, -1.0))
    for gives in plan.needed(b):
        build.at_most_sum(closed, planted[gives][:, :year].ravel())
