"""What any program of a yard is built of: columns and rows, and what stands and is wanted before it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import sparse

from habitat.arrays import Ints
from habitat.planting.choice.facts import habitat_m2
from habitat.planting.choice.problem import SEASONS, YardProblem
from habitat.planting.choice.solver import LinearProgram


@dataclass
class Builder:
    """Columns and rows in blocks as they are added; turned into a ``LinearProgram`` at the end."""

    columns_made: int = 0
    rows_made: int = 0
    worth: list[NDArray[np.float64]] = field(default_factory=list)
    high: list[NDArray[np.float64]] = field(default_factory=list)
    whole: list[NDArray[np.bool_]] = field(default_factory=list)
    row_high: list[NDArray[np.float64]] = field(default_factory=list)
    entries: list[tuple[NDArray[Any], NDArray[Any], NDArray[Any]]] = field(default_factory=list)

    def columns(self, worth: ArrayLike, high: ArrayLike, whole: bool = False) -> Ints:
        """Add variables from 0 to ``high`` and return their numbers."""
        w = np.atleast_1d(np.asarray(worth, float))
        self.worth.append(w)
        self.high.append(_as_long(high, len(w), float))
        self.whole.append(np.full(len(w), whole))
        self.columns_made += len(w)
        return np.arange(self.columns_made - len(w), self.columns_made)

    def column(self, worth: float, high: float, whole: bool = False) -> int:
        """Add one variable and return its number."""
        return int(self.columns(worth, high, whole)[0])

    def rows(self, high: ArrayLike, *terms: tuple[ArrayLike, ArrayLike]) -> Ints:
        """Add rows: sum over terms of factor x column <= high; one column and factor per row and term."""
        h = np.atleast_1d(np.asarray(high, float))
        numbers = np.arange(self.rows_made, self.rows_made + len(h))
        self.row_high.append(h)
        self.rows_made += len(h)
        for columns, factors in terms:
            self.put(numbers, columns, factors)
        return numbers

    def put(self, rows: ArrayLike, columns: ArrayLike, factors: ArrayLike) -> None:
        """Add terms to rows that are there; a column may come up again, its factors then add up."""
        sizes = (np.size(rows), np.size(columns), np.size(factors))
        n = max(sizes) if all(sizes) else 0
        self.entries.append((_as_long(rows, n, int), _as_long(columns, n, int), _as_long(factors, n, float)))

    def sum_row(self, columns: ArrayLike, factors: ArrayLike, high: float) -> int:
        """Add one row over many columns and return its number."""
        rows = self.rows(high)
        self.put(rows, columns, factors)
        return int(rows[0])

    def at_most_sum(self, column: int, columns: Ints) -> None:
        """Add: a level is at most the sum of some columns."""
        self.sum_row(np.append(columns, column), np.append(-np.ones(len(columns)), 1.0), 0.0)

    def program(self) -> LinearProgram:
        """Return what was built."""
        n, m = self.columns_made, self.rows_made
        r, c, f = (np.concatenate([e[i] for e in self.entries]) for i in range(3))
        return LinearProgram(
            np.concatenate(self.worth),
            sparse.csr_array((f, (r, c)), shape=(m, n)),
            np.full(m, -np.inf),
            np.concatenate(self.row_high),
            np.zeros(n),
            np.concatenate(self.high),
            np.concatenate(self.whole),
        )


def _as_long(values: ArrayLike, length: int, kind: type) -> NDArray[Any]:
    """Return values as an array of a length; one value stands for all."""
    array: NDArray[Any] = np.asarray(values, kind)
    return array if array.shape == (length,) else np.full(length, array.item(), kind)


EMPTY_BED = 10.0
"""Worth of planting a bed that lies open else [m2 of habitat]: judgement, more than its plants' money."""


RING = 2.0
"""Worth of planting the ring around a new tree that would be bare mulch else [m2 of habitat]: judgement."""


def bed_costs(problem: YardProblem) -> NDArray[np.float64]:
    """Return what digging each site (S,) costs in worth.

    Spots of single plants, and beds that hold trees or tall shrubs already, cost nothing extra; the ring of a
    tree that is chosen already is worth ``RING``. Where all ground is to be bed it is dug anyway, and
    ``EMPTY_BED`` is lost where nothing is planted.
    """
    if problem.settings.bed_share_max >= 1.0:
        return np.full(len(problem.sites), -EMPTY_BED)
    taken = np.array([bool(site.grown and site.grown.fixed) for site in problem.sites], bool)
    bed = np.array([site.growth_form == "herb" for site in problem.sites], bool)
    ring = np.array([site.ringed for site in problem.sites], bool) & taken
    return np.where(bed & ~taken, problem.aims.bed, np.where(ring, -RING, 0.0))


def open_before(problem: YardProblem) -> int:
    """Return the months that bloom without the plan: standing plants and neighbours."""
    return int(problem.standing.months | problem.yard.neighbour_months)


def wanted_months(problem: YardProblem) -> int:
    """Return the months in which a wished-for butterfly that takes nectar flies."""
    flights = problem.facts.flight[problem.facts.takes_nectar]
    return int(np.bitwise_or.reduce(flights)) if len(flights) else 0


def season_bits(problem: YardProblem) -> NDArray[np.int64]:
    """Return, per plant, a bit per season in which it blooms."""
    bits = np.zeros(len(problem.facts.plants), np.int64)
    for q, (_, months) in enumerate(SEASONS):
        mask = sum(1 << m for m in months)
        bits |= np.where(problem.facts.months & mask, 1 << q, 0)
    return bits


def new_kinds(problem: YardProblem) -> NDArray[np.bool_]:
    """Return which plants would be a new nectar kind in the yard."""
    standing = problem.standing.plants
    fresh = np.array([p not in standing for p in problem.facts.plants], bool)
    return fresh & (problem.facts.months > 0)


def season_room(problem: YardProblem) -> tuple[float, float, float, float]:
    """Return how many more nectar species each season wants, and how many more kinds in all."""
    facts, bits = problem.facts, season_bits(problem)
    here = np.array([p in problem.standing.plants for p in facts.plants], bool) & (facts.months > 0)
    per = [
        max(0.0, problem.aims.season_wanted - float((here & ((bits >> q) & 1 > 0)).sum())) for q in range(3)
    ]
    return per[0], per[1], per[2], max(0.0, problem.aims.species_wanted - float(here.sum()))


# The habitat that a plan of the program gives, butterfly by butterfly.


def predicted_habitat_m2(problem: YardProblem, counts: NDArray[np.int64]) -> dict[str, float]:
    """Return the habitat [m2] per butterfly that a plan is predicted to give; spares are no part of a brood.

    ``counts`` (K,) are plants per pair.
    """
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
    leaf = facts.leanest(standing.leaf_m2 + facts.meals @ np.where(grown_by > 0, cover, 0.0))
    fed = facts.leanest(standing.fed + facts.meals[:, grown] @ (counts[taken] / need[grown]))
    out = {}
    for b, butterfly in enumerate(facts.butterflies):
        nectar = _share_of_flight(int(facts.flight[b]), months) if facts.takes_nectar[b] else 1.0
        winter = kept[int(facts.winter[b])]
        out[butterfly] = habitat_m2(float(leaf[b]), float(fed[b]), nectar, winter, problem.settings.enough_m2)
    return out


def _share_of_flight(flight: int, months: int) -> float:
    return (flight & months).bit_count() / flight.bit_count() if flight else 1.0
