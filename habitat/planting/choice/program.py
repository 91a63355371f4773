"""The mixed-integer program of one yard, built so that its bound is a bound on the worth of any plan.

Habitat of a butterfly is min(leaf, enough) x share of flight months with bloom, and 0 without a brood's
hosts or a winter place. With ``h[b, m] <= leaf[b]``, ``h[b, m] <= E open[m]``, ``h[b, m] <= E fed[b]`` and
``h[b, m] <= E kept[b]`` for each flight month m, the mean of h[b, m] over m is exactly that product wherever
open, fed and kept are 0 or 1: the program is linear, and nothing is lost.
"""

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

TIGHT_PAIRS = 1500
"""In larger programs the rows that tie each clump to its bed are left out: room per bed says the same less
tightly, the bound gives way by less than 0.1 % and is found in a third of the time."""


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


@dataclass(frozen=True, slots=True)
class YardProgram:
    """The program, the row of money, and per pair (K,) the columns of its clump (-1: none) and count.

    ``unit`` (K,) is how many plants one unit of the count stands for. ``bed`` (S,) are the columns of beds
    dug (-1: it costs nothing), ``site`` (K,) the bed site of each pair. ``fed`` are (column, row) of broods
    that are fed: 1 where the row allows it.
    """

    program: LinearProgram
    money_row: int
    used: NDArray[np.int64]
    number: NDArray[np.int64]
    unit: NDArray[np.int64]
    bed: NDArray[np.int64]
    site: NDArray[np.int64]
    fed: tuple[tuple[int, int], ...]

    def counts(self, x: NDArray[np.float64]) -> NDArray[np.int64]:
        """Return plants per pair (K,) from a solution."""
        return np.rint(x[self.number]).astype(np.int64) * self.unit

    def start(self, counts: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return a partial solution for a plan: its whole-number columns; the solver fills the rest."""
        x = np.zeros(len(self.program.worth))
        x[self.number] = counts / self.unit
        has = self.used >= 0
        x[self.used[has]] = counts[has] > 0
        dug = self.bed[self.site[counts > 0]]
        x[dug[dug >= 0]] = 1.0
        if self.fed:
            columns, rows = np.array(self.fed).T
            room = self.program.row_high[rows] - self.program.rows[rows] @ x
            x[columns] = room >= 1.0 - 1e-9
        return x


def build_program(problem: YardProblem) -> YardProgram:
    """Return the program of a yard; see the module for its rows."""
    build = Builder()
    pairs = _pair_columns(problem, build)
    money_row, bed = _limits(problem, build, pairs)
    opened = _months(problem, build, pairs)
    _kinds(problem, build, pairs)
    stems = _any_of(problem, build, pairs, "stems", problem.aims.stems)
    winter = problem.facts.winter
    bark = _any_of(problem, build, pairs, "bark", 0.0) if 3 in winter else None
    litter = _any_of(problem, build, pairs, "all", 0.0) if 1 in winter else None
    cover = _cover(problem, build, pairs)
    levels = _Levels(opened, {1: litter, 2: stems, 3: bark}, cover)
    broods = [_butterfly(problem, build, b, pairs, levels) for b in range(len(problem.facts.butterflies))]
    fed = tuple(brood for brood in broods if brood is not None)
    columns = (pairs.used, pairs.number, pairs.unit, bed, problem.site)
    return YardProgram(build.program(), money_row, *columns, fed)


@dataclass(frozen=True, slots=True)
class _Pairs:
    """Per pair: columns of clump (-1: none) and count, plants per unit, column >= 1 where it is planned."""

    used: Ints
    number: Ints
    unit: Ints
    there: Ints


@dataclass(frozen=True, slots=True)
class _Levels:
    """Columns by month (None: open already), by winter place (None: kept already), and of leaf per kind."""

    opened: dict[int, int | None]
    places: dict[int, int | None]
    cover: Ints


def _pair_columns(problem: YardProblem, build: Builder) -> _Pairs:
    lone, clump = problem.lone, problem.clump
    unit = np.where(lone, clump, 1)
    multiplicity = problem.pair_multiplicity
    high = np.where(lone, 1, problem.capacity * multiplicity)
    drift = problem.aims.drift * np.where(lone | (clump == 1), 1.0, 0.0)
    number = build.columns(-unit * problem.penalty - drift, high, True)
    used = np.full(problem.size, -1, np.int64)
    grouped = np.flatnonzero(~lone & (clump > 1))
    used[grouped] = build.columns(-np.full(len(grouped), problem.aims.drift), multiplicity[grouped], True)
    x, u = number[grouped], used[grouped]
    build.rows(np.zeros(len(grouped)), (x, 1.0), (u, -problem.capacity[grouped]))
    build.rows(np.zeros(len(grouped)), (x, -1.0), (u, clump[grouped]))
    return _Pairs(used, number, unit, np.where(used >= 0, used, number))


def _limits(problem: YardProblem, build: Builder, pairs: _Pairs) -> tuple[int, Ints]:
    """Add room per bed site, money, stock, and the share of one species; return the row of money and beds."""
    facts, arrays, number = problem.facts, pair_arrays(problem), pairs.number
    bed = _beds(problem, build, pairs, arrays["share"] * pairs.unit)
    money_row = build.sum_row(number, problem.price * pairs.unit, problem.yard.budget)
    kinds = np.unique(problem.plant)
    lone = kinds[~facts.host[kinds]]
    row_of = np.full(len(facts.plants), -1)
    row_of[lone] = build.rows(np.ones(len(lone)))
    build.put(row_of[problem.plant[problem.lone]], number[problem.lone], 1.0)
    for p in kinds:
        stock = problem.yard.stock.get(facts.plants[p], np.inf)
        if np.isfinite(stock):
            mine = problem.plant == p
            build.sum_row(number[mine], pairs.unit[mine], stock)
    _species_share(problem, build, pairs, kinds)
    return money_row, bed


def _beds(problem: YardProblem, build: Builder, pairs: _Pairs, share: NDArray[np.float64]) -> Ints:
    """Add room per bed site, and what it costs to dig one: nothing stands where no bed is.

    Returns the column of each site's bed (S,), -1 where it costs nothing.
    """
    costs = bed_costs(problem)
    dug = costs > 0
    bed = np.full(len(costs), -1, np.int64)
    bed[dug] = build.columns(-costs[dug], problem.bed_multiplicity[dug], True)
    rows = build.rows(np.where(dug, 0.0, problem.bed_multiplicity))
    build.put(rows[problem.site], pairs.number, share)
    build.put(rows[dug], bed[dug], -1.0)
    if problem.size > TIGHT_PAIRS:
        return bed
    gated = dug[problem.site] & ((pairs.used >= 0) | problem.lone)
    count = int(gated.sum())
    build.rows(np.zeros(count), (pairs.there[gated], 1.0), (bed[problem.site[gated]], -1.0))
    return bed


def bed_costs(problem: YardProblem) -> NDArray[np.float64]:
    """Return what digging each site (S,) costs in worth.

    Spots of single plants, and beds that hold trees or tall shrubs already, cost nothing extra.
    """
    dug = [site.growth_form != "herb" or bool(site.grown and site.grown.fixed) for site in problem.sites]
    return np.where(np.array(dug, bool), 0.0, problem.aims.bed)


def _species_share(problem: YardProblem, build: Builder, pairs: _Pairs, kinds: Ints) -> None:
    """Add: a herb takes at most its share of the ground of all herbs, beyond what is never too much."""
    facts, most = problem.facts, problem.settings.max_species_share
    herbs = [p for p in kinds if facts.host[p] and facts.growth[p] == "herb"]
    if most >= 1.0 or not herbs:
        return
    cell, spare = pair_arrays(problem)["cell"] * pairs.unit, exempt_m2(problem)
    total = build.column(0.0, np.inf)
    build.sum_row(np.append(pairs.number, total), np.append(-cell, 1.0), 0.0)
    for p in herbs:
        mine = problem.plant == p
        build.sum_row(np.append(pairs.number[mine], total), np.append(cell[mine], -most), float(spare[p]))


def pair_arrays(problem: YardProblem) -> dict[str, NDArray[np.float64]]:
    """Return per pair: share of the site that one plant takes, and the ground of one herb [m2]."""
    facts = problem.facts
    herb = np.array([growth == "herb" for growth in facts.growth], bool)
    cell = np.where(herb, facts.cell_m2, 0.0)[problem.plant]
    return {"share": 1.0 / np.maximum(problem.capacity, 1), "cell": cell}


def exempt_m2(problem: YardProblem) -> NDArray[np.float64]:
    """Return, per plant, ground [m2] that never is too much of one species: a clump or a brood's need."""
    facts = problem.facts
    return np.maximum(facts.clump, problem.facts.to_plant) * facts.cell_m2


def _months(problem: YardProblem, build: Builder, pairs: _Pairs) -> dict[int, int | None]:
    """Add a level per month: 1 where something planned blooms; None stands for open already."""
    opened: dict[int, int | None] = {}
    before, wanted = open_before(problem), wanted_months(problem)
    months = problem.facts.months[problem.plant]
    for m in range(1, 13):
        if not (wanted >> m) & 1:
            continue
        opened[m] = None
        if not (before >> m) & 1:
            opened[m] = column = build.column(problem.aims.month, 1.0)
            build.at_most_sum(column, pairs.there[(months >> m) & 1 > 0])
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


def _kinds(problem: YardProblem, build: Builder, pairs: _Pairs) -> None:
    """Add the count of nectar species per season and in all, each up to what is wanted."""
    facts, new, bits = problem.facts, new_kinds(problem), season_bits(problem)
    kinds = np.unique(problem.plant)
    hosts = kinds[new[kinds] & facts.host[kinds]]
    kind = build.columns(np.zeros(len(hosts)), 1.0)
    rows = np.full(len(facts.plants), -1)
    rows[hosts] = build.rows(np.zeros(len(hosts)), (kind, 1.0))
    mine = rows[problem.plant] >= 0
    build.put(rows[problem.plant[mine]], pairs.there[mine], -1.0)
    lone = problem.lone & new[problem.plant]
    plants = np.concatenate([hosts, problem.plant[lone]])
    columns = np.concatenate([kind, pairs.there[lone]])
    wanted, aims = season_room(problem), problem.aims
    for q in range(3):
        blooming = columns[(bits[plants] >> q) & 1 > 0]
        if wanted[q] and len(blooming):
            build.at_most_sum(build.column(aims.season_species, wanted[q]), blooming)
    if wanted[3] and len(columns):
        build.at_most_sum(build.column(aims.species, wanted[3]), columns)


def _any_of(problem: YardProblem, build: Builder, pairs: _Pairs, what: str, worth: float) -> int | None:
    """Add a level that is 1 where a plant of some sort is planned; None where one stands already."""
    standing = problem.standing
    if (what == "all" and standing.plants) or getattr(standing, what, False):
        return None
    gives = np.ones(len(problem.facts.plants), bool) if what == "all" else getattr(problem.facts, what)
    column = build.column(worth, 1.0)
    build.at_most_sum(column, pairs.there[gives[problem.plant]])
    return column


def _cover(problem: YardProblem, build: Builder, pairs: _Pairs) -> Ints:
    """Add the leaf of each host kind (P,), the least of its straight pieces; -1 where nobody eats it."""
    facts = problem.facts
    cover = np.full(len(facts.plants), -1, np.int64)
    kinds = np.unique(problem.plant)
    kinds = kinds[facts.host[kinds]]
    cover[kinds] = build.columns(np.zeros(len(kinds)), np.inf)
    mine = np.flatnonzero(facts.host[problem.plant])
    a, b = problem.chord_a, problem.chord_b
    rows = np.full(len(facts.plants), -1, np.int64)
    for i in range(a.shape[1]):
        fresh = (
            kinds if i == 0 else kinds[(a[kinds, i] != a[kinds, i - 1]) | (b[kinds, i] != b[kinds, i - 1])]
        )
        rows[:] = -1
        rows[fresh] = build.rows(np.maximum(a[fresh, i], 0.0), (cover[fresh], 1.0))
        here = mine[rows[problem.plant[mine]] >= 0]
        plant = problem.plant[here]
        build.put(rows[plant], pairs.number[here], -b[plant, i] * problem.fit[here])
    return cover


def _butterfly(
    problem: YardProblem, build: Builder, b: int, pairs: _Pairs, levels: _Levels
) -> tuple[int, int] | None:
    """Add one butterfly: its leaf, whether a brood is fed, its winter place, its habitat by month.

    Returns column and row of the brood that is fed, None where one is fed already or cannot be.
    """
    enough, weight = leaf_limit(problem, b), float(problem.weight[b])
    worth = problem.facts.preference[b][problem.plant]
    hosts = np.flatnonzero(worth > 0)
    if not len(hosts) and problem.standing.fed[b] < 1.0:
        return None
    leaf, kinds = build.column(0.0, enough), np.unique(problem.plant[hosts])
    grown = np.append(-problem.facts.preference[b][kinds], 1.0)
    build.sum_row(np.append(levels.cover[kinds], leaf), grown, float(problem.standing.leaf_m2[b]))
    gates: list[int] = []
    brood = None
    if problem.standing.fed[b] < 1.0 - 1e-9:
        fed = build.column(0.0, 1.0, True)
        eaten = np.append(-worth[hosts] / problem.facts.to_plant[problem.plant[hosts]], 1.0)
        brood = fed, build.sum_row(np.append(pairs.number[hosts], fed), eaten, float(problem.standing.fed[b]))
        gates.append(fed)
    place = levels.places.get(int(problem.facts.winter[b]))
    if place is not None:
        gates.append(place)
    whole = build.column(weight * problem.aims.life_cycle, 1.0)
    at_most = [(whole, gate, -1.0) for gate in gates]
    parts = _flight_parts(problem, b, levels.opened)
    columns = build.columns([weight * share for share, _ in parts], enough)
    for part, (_, month) in zip(columns, parts, strict=True):
        shut = [*gates, *([month] if month is not None else [])]
        at_most += [(int(part), leaf, -1.0), *((int(part), gate, -enough) for gate in shut)]
    low, high, factor = zip(*at_most, strict=True)
    build.rows(np.zeros(len(at_most)), (low, 1.0), (high, factor))
    return brood


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
    slope = problem.fit[hosts] * preference[hosts] * problem.chord_b[problem.plant[hosts], 0]
    most = np.zeros(len(problem.sites))
    np.maximum.at(most, problem.site[hosts], slope * problem.capacity[hosts])
    each = (slope / np.maximum(problem.price[hosts], 1e-9)).max(initial=0.0)
    planned = min(float(most @ problem.bed_multiplicity), float(each) * problem.yard.budget)
    return float(max(1e-6, min(problem.settings.enough_m2, problem.standing.leaf_m2[b] + planned)))


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
    out = {}
    for b, butterfly in enumerate(facts.butterflies):
        eaten = facts.preference[b][grown]
        leaf = float(standing.leaf_m2[b] + (cover * facts.preference[b])[grown_by > 0].sum())
        fed = float(standing.fed[b] + (counts[taken] * eaten / need[grown]).sum())
        nectar = _share_of_flight(int(facts.flight[b]), months) if facts.takes_nectar[b] else 1.0
        out[butterfly] = habitat_m2(leaf, fed, nectar, kept[int(facts.winter[b])], problem.settings.enough_m2)
    return out


def _share_of_flight(flight: int, months: int) -> float:
    return (flight & months).bit_count() / flight.bit_count() if flight else 1.0
