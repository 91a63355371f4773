"""The mixed-integer program of one yard, built so that its bound is a bound on the worth of any plan.

Habitat of a butterfly is min(leaf, enough) x share of flight months with bloom, and 0 without a brood's
hosts or a winter place. With ``h[b, m] <= leaf[b]``, ``h[b, m] <= E open[m]``, ``h[b, m] <= E fed[b]`` and
``h[b, m] <= E kept[b]`` for each flight month m, the mean of h[b, m] over m is exactly that product wherever
open, fed and kept are 0 or 1: the program is linear, and nothing is lost.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from habitat.planting.levels import SPARE_SHARE
from habitat.planting.problem import SEASONS, YardProblem
from habitat.planting.solver import LinearProgram


@dataclass
class _Builder:
    """Columns and rows as they are added; turned into a ``LinearProgram`` at the end."""

    worth: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    entries: list[tuple[int, int, float]] = field(default_factory=list)
    row_high: list[float] = field(default_factory=list)

    def column(self, worth: float, high: float, whole: bool = False) -> int:
        """Add a variable from 0 to ``high`` and return its number."""
        self.worth.append(worth)
        self.high.append(high)
        self.whole.append(whole)
        return len(self.worth) - 1

    def row(self, terms: list[tuple[int, float]], high: float) -> None:
        """Add: sum of factor x column <= high."""
        number = len(self.row_high)
        self.entries.extend((number, column, factor) for column, factor in terms)
        self.row_high.append(high)

    def program(self) -> LinearProgram:
        """Return what was built."""
        n, m = len(self.worth), len(self.row_high)
        parts = np.array(self.entries, float).reshape(-1, 3)
        rows = sparse.csr_array(
            (parts[:, 2], (parts[:, 0].astype(int), parts[:, 1].astype(int))), shape=(m, n)
        )
        return LinearProgram(
            np.array(self.worth, float),
            rows,
            np.full(m, -np.inf),
            np.array(self.row_high, float),
            np.zeros(n),
            np.array(self.high, float),
            np.array(self.whole, bool),
        )


@dataclass(frozen=True, slots=True)
class YardProgram:
    """The program with the column of each pair's clump (-1 without one) and count (K,)."""

    program: LinearProgram
    used: NDArray[np.int64]
    number: NDArray[np.int64]
    unit: NDArray[np.int64]

    def counts(self, x: NDArray[np.float64]) -> NDArray[np.int64]:
        """Return plants per pair (K,) from a solution."""
        return np.rint(x[self.number]).astype(np.int64) * self.unit

    def start(self, counts: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return a partial solution for a plan: its whole-number columns; the solver fills the rest."""
        x = np.zeros(len(self.program.worth))
        x[self.number] = counts / self.unit
        has = self.used >= 0
        x[self.used[has]] = counts[has] > 0
        return x


def build_program(problem: YardProblem) -> YardProgram:
    """Return the program of a yard; see the module for its rows."""
    build = _Builder()
    used, number, unit = _pair_columns(problem, build)
    _limits(problem, build, number, unit)
    there = _there_terms(problem, used, number)
    opened = _months(problem, build, there)
    _kinds(problem, build, there)
    stems = _any_of(problem, build, there, "stems", problem.aims.stems)
    bark = _any_of(problem, build, there, "bark", 0.0) if 3 in problem.facts.winter else None
    litter = _any_of(problem, build, there, "all", 0.0) if 1 in problem.facts.winter else None
    places = {1: litter, 2: stems, 3: bark}
    cover = _cover(problem, build, used, number)
    for b in range(len(problem.facts.butterflies)):
        _butterfly(problem, build, b, cover, number, (opened, places))
    return YardProgram(build.program(), used, number, unit)


def _pair_columns(
    problem: YardProblem, build: _Builder
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    used = np.full(problem.size, -1, np.int64)
    number, unit = np.zeros(problem.size, np.int64), np.ones(problem.size, np.int64)
    for k in range(problem.size):
        clump, most = int(problem.clump[k]), int(problem.capacity[k])
        if problem.lone[k]:
            unit[k] = clump
            number[k] = build.column(-clump * problem.penalty[k], 1.0, True)
            continue
        number[k] = build.column(-problem.penalty[k], float(most), True)
        if clump > 1:
            used[k] = build.column(0.0, 1.0, True)
            build.row([(number[k], 1.0), (used[k], -float(most))], 0.0)
            build.row([(used[k], float(clump)), (number[k], -1.0)], 0.0)
    return used, number, unit


def _limits(
    problem: YardProblem, build: _Builder, number: NDArray[np.int64], unit: NDArray[np.int64]
) -> None:
    """Add room per bed site, money, stock, and the share of one species."""
    facts, arrays = problem.facts, pair_arrays(problem)
    share, cell = arrays["share"] * unit, arrays["cell"] * unit
    for s in range(len(problem.sites)):
        here = np.flatnonzero(problem.site == s)
        if len(here):
            build.row([(number[k], share[k]) for k in here], 1.0)
    everywhere = range(problem.size)
    build.row([(number[k], problem.price[k] * unit[k]) for k in everywhere], problem.yard.budget)
    most, spare = problem.settings.max_species_share, exempt_m2(problem)
    for p in np.unique(problem.plant):
        mine = problem.plant == p
        here = np.flatnonzero(mine)
        if problem.lone[here[0]]:
            build.row([(number[k], 1.0) for k in here], 1.0)
        elif most < 1.0 and facts.growth[p] == "herb":
            factor = np.where(mine, cell, 0.0) - most * cell
            build.row([(number[k], factor[k]) for k in everywhere if factor[k]], float(spare[p]))
        stock = problem.yard.stock.get(facts.plants[p], np.inf)
        if np.isfinite(stock):
            build.row([(number[k], float(unit[k])) for k in here], float(stock))


def pair_arrays(problem: YardProblem) -> dict[str, NDArray[np.float64]]:
    """Return per pair: share of the site that one plant takes, and the ground of one herb [m2]."""
    facts = problem.facts
    herb = np.array([growth == "herb" for growth in facts.growth], bool)
    cell = np.where(herb, facts.cell_m2, 0.0)[problem.plant]
    return {"share": 1.0 / np.maximum(problem.capacity, 1), "cell": cell}


def exempt_m2(problem: YardProblem) -> NDArray[np.float64]:
    """Return, per plant, ground [m2] that never is too much of one species: a clump or a brood's need."""
    facts = problem.facts
    return np.maximum(facts.clump, program_need(problem)) * facts.cell_m2


def program_need(problem: YardProblem) -> NDArray[np.float64]:
    """Return plants that feed a brood, with spares for herbs (whole plants)."""
    facts = problem.facts
    herb = np.array([growth == "herb" for growth in facts.growth], bool)
    return np.where(herb, np.ceil(facts.need * (1.0 + SPARE_SHARE) - 1e-9), facts.need)


Terms = dict[int, list[tuple[int, float]]]


def _there_terms(problem: YardProblem, used: NDArray[np.int64], number: NDArray[np.int64]) -> Terms:
    """Return, per plant, terms whose sum is at least 1 where the plant is planned, and 0 where it is not."""
    terms: Terms = {}
    for k in range(problem.size):
        column = used[k] if used[k] >= 0 else number[k]
        terms.setdefault(int(problem.plant[k]), []).append((int(column), 1.0))
    return terms


def _months(problem: YardProblem, build: _Builder, there: Terms) -> dict[int, int | None]:
    """Add a level per month: 1 where something planned blooms; None stands for open already."""
    opened: dict[int, int | None] = {}
    before, wanted = open_before(problem), wanted_months(problem)
    for m in range(1, 13):
        if not (wanted >> m) & 1:
            continue
        if (before >> m) & 1:
            opened[m] = None
            continue
        column = build.column(problem.aims.month, 1.0)
        blooming = [t for p, terms in there.items() if (problem.facts.months[p] >> m) & 1 for t in terms]
        build.row([(column, 1.0), *((c, -f) for c, f in blooming)], 0.0)
        opened[m] = column
    return opened


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


def _kinds(problem: YardProblem, build: _Builder, there: Terms) -> None:
    """Add the count of nectar species per season and in all, each up to what is wanted."""
    new, bits, wanted = new_kinds(problem), season_bits(problem), season_room(problem)
    kind: dict[int, list[tuple[int, float]]] = {}
    for p, terms in there.items():
        if not new[p]:
            continue
        if problem.facts.host[p]:
            column = build.column(0.0, 1.0)
            build.row([(column, 1.0), *((c, -f) for c, f in terms)], 0.0)
            kind[p] = [(column, 1.0)]
        else:
            kind[p] = terms
    for q in range(3):
        blooming = [t for p, terms in kind.items() if (bits[p] >> q) & 1 for t in terms]
        if wanted[q] and blooming:
            column = build.column(problem.aims.season_species, wanted[q])
            build.row([(column, 1.0), *((c, -f) for c, f in blooming)], 0.0)
    everything = [t for terms in kind.values() for t in terms]
    if wanted[3] and everything:
        column = build.column(problem.aims.species, wanted[3])
        build.row([(column, 1.0), *((c, -f) for c, f in everything)], 0.0)


def _any_of(problem: YardProblem, build: _Builder, there: Terms, what: str, worth: float) -> int | None:
    """Add a level that is 1 where a plant of some sort is planned; None where one stands already."""
    standing = problem.standing
    if (what == "all" and standing.plants) or getattr(standing, what, False):
        return None
    gives = np.ones(len(problem.facts.plants), bool) if what == "all" else getattr(problem.facts, what)
    column = build.column(worth, 1.0)
    terms = [t for p, here in there.items() if gives[p] for t in here]
    build.row([(column, 1.0), *((c, -f) for c, f in terms)], 0.0)
    return column


def _cover(
    problem: YardProblem, build: _Builder, used: NDArray[np.int64], number: NDArray[np.int64]
) -> dict[int, int]:
    """Add the ground that each host drift covers: the least of its straight pieces."""
    cover: dict[int, int] = {}
    for k in np.flatnonzero(~problem.lone):
        most = float(problem.chord_a[k, -1] + problem.chord_b[k, -1] * problem.capacity[k])
        cover[int(k)] = column = build.column(0.0, most)
        for a, b in dict.fromkeys(zip(problem.chord_a[k], problem.chord_b[k], strict=True)):
            terms = [(column, 1.0), (int(number[k]), -float(b))]
            if a > 1e-12 and used[k] >= 0:
                terms.append((int(used[k]), -float(a)))
                build.row(terms, 0.0)
            else:
                build.row(terms, max(float(a), 0.0))
    return cover


Levels = tuple[dict[int, int | None], dict[int, int | None]]


def _butterfly(
    problem: YardProblem,
    build: _Builder,
    b: int,
    cover: dict[int, int],
    number: NDArray[np.int64],
    levels: Levels,
) -> None:
    """Add one butterfly: its leaf, whether a brood is fed, its winter place, its habitat by month."""
    opened, places = levels
    enough, weight = leaf_limit(problem, b), float(problem.weight[b])
    preference, need = problem.facts.preference[b], program_need(problem)
    hosts = [k for k in cover if preference[problem.plant[k]] > 0]
    if not hosts and problem.standing.fed[b] < 1.0:
        return
    leaf = build.column(0.0, enough)
    grown = [(cover[k], -float(problem.fit[k] * preference[problem.plant[k]])) for k in hosts]
    build.row([(leaf, 1.0), *grown], float(problem.standing.leaf_m2[b]))
    gates: list[int] = []
    if problem.standing.fed[b] < 1.0 - 1e-9:
        fed = build.column(0.0, 1.0, True)
        eaten = [
            (int(number[k]), -float(preference[problem.plant[k]] / need[problem.plant[k]])) for k in hosts
        ]
        build.row([(fed, 1.0), *eaten], float(problem.standing.fed[b]))
        gates.append(fed)
    place = places.get(int(problem.facts.winter[b]))
    if place is not None:
        gates.append(place)
    whole = build.column(weight * problem.aims.life_cycle, 1.0)
    for gate in gates:
        build.row([(whole, 1.0), (gate, -1.0)], 0.0)
    for share, month in _flight_parts(problem, b, opened):
        part = build.column(weight * share, enough)
        build.row([(part, 1.0), (leaf, -1.0)], 0.0)
        for gate in [*gates, *([month] if month is not None else [])]:
            build.row([(part, 1.0), (gate, -enough)], 0.0)


def _flight_parts(
    problem: YardProblem, b: int, opened: dict[int, int | None]
) -> list[tuple[float, int | None]]:
    """Return (share of the flight, level) per month that needs opening, and one part for what is open."""
    flown = [m for m in range(1, 13) if (int(problem.facts.flight[b]) >> m) & 1]
    if not problem.facts.takes_nectar[b] or not flown:
        return [(1.0, None)]
    shut = [(1.0 / len(flown), opened[m]) for m in flown if opened[m] is not None]
    free = 1.0 - len(shut) / len(flown)
    return [*shut, *([(free, None)] if free > 1e-12 else [])]


def leaf_limit(problem: YardProblem, b: int) -> float:
    """Return the most leaf [m2] that can count for a butterfly here: enough, or what room and money allow."""
    preference = problem.facts.preference[b][problem.plant]
    hosts = np.flatnonzero(preference > 0)
    most, best = np.zeros(len(problem.sites)), 0.0
    for k in hosts:
        worth = problem.fit[k] * preference[k]
        full = worth * problem.chord_b[k, 0] * problem.capacity[k]
        most[problem.site[k]] = max(most[problem.site[k]], full)
        slope = worth * problem.chord_b[k, 0] / max(problem.price[k], 1e-9)
        best = max(best, slope)
    planned = min(float(most.sum()), best * problem.yard.budget)
    return float(max(1e-6, min(problem.settings.enough_m2, problem.standing.leaf_m2[b] + planned)))
