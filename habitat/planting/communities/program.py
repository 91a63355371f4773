"""The program of one yard over whole beds: which community, if any, each place gets.

Every column is a bed as it would be planted (or a tree, shrub or vine in a place of its own), so that the
rules of beds hold by construction; the program weighs them against each other: habitat by butterfly, bloom
by month, money. It is linear: habitat of a butterfly is min(leaf, enough) x share of its flight months in
bloom, and 0 without a brood's hosts or a winter place; with ``h[b, m]`` at most leaf, ``E open[m]``,
``E fed[b]`` and ``E kept[b]`` the mean over m is that product wherever open, fed and kept are 0 or 1. Its
bound is one over all plans made of its columns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from habitat.arrays import Floats, Ints
from habitat.knowledge.year import NECTAR_TIMES
from habitat.planting.choice.builder import (
    Builder,
    bed_costs,
    new_kinds,
    open_before,
    season_bits,
    season_room,
    wanted_months,
)
from habitat.planting.choice.facts import Facts, drift_cover_m2, habitat_m2
from habitat.planting.choice.problem import YardProblem
from habitat.planting.choice.solver import LinearProgram, maximise
from habitat.planting.communities.habits import Habits, group_sizes
from habitat.planting.communities.rules import BedRules, rules_of

LARGE_TREE_M = 9.0
"""A tree that grows taller is a large one: 30 ft parts small from middling trees in planting guides (Regional
urban forestry council planting guide)."""


@dataclass(frozen=True, slots=True)
class Column:
    """What one place could be planted with: the bed site (index) and plants (P,)."""

    site: int
    counts: Ints


@dataclass(frozen=True, slots=True)
class Weighed:
    """What each of C columns gives: by meal (C, M), by month (bits), by kind (C, P), for which money."""

    leaf_m2: Floats
    fed: Floats
    months: Ints
    cost: Floats
    ground_m2: Floats
    stems: Floats
    bark: Floats
    large_trees: Floats
    counts: Ints


def weigh(problem: YardProblem, columns: list[Column], habits: Habits, rules: BedRules) -> Weighed:
    """Return what columns give.

    Leaf of a kind is what its groups cover of the ground, overlaps once, x fit x preference; none is promised
    of herbs in the ring of a tree, which will shade them.
    """
    facts = problem.facts
    counts = np.array([c.counts for c in columns], np.int64).reshape(-1, len(facts.plants))
    fit = np.array([problem.sites[c.site].fit for c in columns], float).reshape(counts.shape)
    cover = np.zeros(counts.shape)
    herb = np.array([growth == "herb" for growth in facts.growth], bool)
    ringed = np.array([problem.sites[c.site].ringed for c in columns], bool)
    columns_of, kinds = np.nonzero(np.where(ringed[:, None], 0, counts * herb))
    drifts, which = np.unique(
        np.column_stack([kinds, counts[columns_of, kinds]]), axis=0, return_inverse=True
    )
    covers = [_drift_m2(facts, rules, p, count) for p, count in drifts.tolist()]
    cover[columns_of, kinds] = np.array(covers)[which.ravel()]
    cover[:, ~herb] = (counts * facts.inner_m2)[:, ~herb]
    price = np.array([problem.yard.offer(facts, p).price for p in range(len(facts.plants))], float)
    there = counts > 0
    months = np.array([int(np.bitwise_or.reduce(facts.months[row], initial=0)) for row in there], np.int64)
    large = habits.tree & (habits.height_m > LARGE_TREE_M)
    return Weighed(
        leaf_m2=(cover * fit) @ facts.meals.T,
        fed=counts @ (facts.meals / np.maximum(facts.to_plant, 1e-9)).T,
        months=months,
        cost=counts @ price,
        ground_m2=counts @ habits.ground_m2,
        stems=(there & facts.stems).any(axis=1).astype(float),
        bark=(there & facts.bark).any(axis=1).astype(float),
        large_trees=(counts * large).sum(axis=1).astype(float),
        counts=counts,
    )


def _drift_m2(facts: Facts, rules: BedRules, p: int, count: int) -> float:
    """Return the ground that a kind covers in a bed, in its groups [m2]."""
    groups = group_sizes(count, rules.group_sizes, rules.repeats)
    return sum(drift_cover_m2(n, float(facts.disc_m2[p]), float(facts.inner_m2[p])) for n in groups)


@dataclass(frozen=True, slots=True)
class YardBeds:
    """A plan: chosen columns (indices), its worth and a bound on any plan of these columns."""

    chosen: tuple[int, ...]
    worth: float
    bound: float


def choose_beds(
    problem: YardProblem,
    columns: list[Column],
    weighed: Weighed,
    *,
    large_trees_max: int = 1,
    rich: bool = False,
    gap: float = 0.01,
    node_limit: int = 200,
) -> YardBeds:
    """Choose a column for each place, or none.

    Parameters
    ----------
    problem
        The yard: wishes, money, what stands.
    columns, weighed
        What each place could get, and what that gives.
    large_trees_max
        Most trees that grow taller than ``LARGE_TREE_M``.
    rich
        Whether the yard's beds are so large that three kinds in bloom in each season come first.
    gap, node_limit
        When to stop: share of the worth, or nodes of the search; never a time, so that plans repeat.
    """
    if not columns:
        return YardBeds((), 0.0, 0.0)
    program = build_program(problem, columns, weighed, large_trees_max=large_trees_max, rich=rich)
    solved = maximise(program.program, gap=gap, node_limit=node_limit)
    if solved.x is None:
        return YardBeds((), 0.0, max(solved.bound, 0.0))
    chosen = np.flatnonzero(solved.x[program.take] > 0.5)
    return YardBeds(tuple(int(c) for c in chosen), solved.value, max(solved.bound, solved.value))


def predicted_habitat_m2(problem: YardProblem, weighed: Weighed, chosen: Sequence[int]) -> dict[str, float]:
    """Return the habitat [m2] by butterfly of a plan of some columns; spares are no part of a brood."""
    facts, standing, mine = problem.facts, problem.standing, list(chosen)
    months = open_before(problem) | int(np.bitwise_or.reduce(weighed.months[mine], initial=0))
    kept = (
        True,
        bool(mine) or bool(standing.plants),
        standing.stems or bool(weighed.stems[mine].any()),
        standing.bark or bool(weighed.bark[mine].any()),
    )
    leaf = facts.leanest(standing.leaf_m2 + weighed.leaf_m2[mine].sum(axis=0))
    eaten = facts.meals / np.maximum(facts.need, 1e-9)
    fed = facts.leanest(standing.fed + weighed.counts[mine].sum(axis=0) @ eaten.T)
    out = {}
    for b, butterfly in enumerate(facts.butterflies):
        flight = int(facts.flight[b])
        bloom = (flight & months).bit_count() / flight.bit_count() if flight else 1.0
        nectar = bloom if facts.takes_nectar[b] else 1.0
        winter = kept[int(facts.winter[b])]
        out[butterfly] = habitat_m2(float(leaf[b]), float(fed[b]), nectar, winter, problem.settings.enough_m2)
    return out


@dataclass(frozen=True, slots=True)
class BedProgram:
    """The program, its variables that take a column (C,), and its row of money."""

    program: LinearProgram
    take: Ints
    money_row: int


def build_program(
    problem: YardProblem,
    columns: list[Column],
    weighed: Weighed,
    *,
    large_trees_max: int = 1,
    rich: bool = False,
) -> BedProgram:
    """Return the program of a yard over columns; see the module."""
    build = Builder()
    aims, site = problem.aims, np.array([c.site for c in columns], np.int64)
    dig = bed_costs(problem)[site]
    take = build.columns(-dig - aims.money * weighed.cost, 1.0, True)
    for s in np.unique(site):
        build.sum_row(take[site == s], 1.0, 1.0)
    _islands(problem, build, take, site)
    money_row = build.sum_row(take, weighed.cost, problem.yard.budget)
    if weighed.large_trees.any():
        build.sum_row(take, weighed.large_trees, float(large_trees_max))
    _stock(problem, build, take, weighed)
    opened = _months(problem, build, take, weighed)
    _kinds(problem, build, take, weighed, rich=rich)
    places = {
        1: None if problem.standing.plants else _level(build, take, np.ones(len(take)), 0.0),
        2: None if problem.standing.stems else _level(build, take, weighed.stems, aims.stems),
        3: None if problem.standing.bark else _level(build, take, weighed.bark, 0.0),
    }
    every = range(len(problem.facts.butterflies))
    can = [_butterfly(problem, build, b, take, weighed, opened, places) for b in every]
    if rich:
        found = [column for column in can if column is not None]
        first = build.column(aims.first, 1.0)
        build.sum_row(np.array([*found, first]), np.append(-np.ones(len(found)), 1.0), 0.0)
    return BedProgram(build.program(), take, money_row)


def _level(build: Builder, take: Ints, gives: Floats, worth: float) -> int:
    """Add a level from 0 to 1 that is 1 where a chosen column gives something."""
    column = build.column(worth, 1.0)
    mine = np.flatnonzero(gives > 0)
    build.sum_row(np.append(take[mine], column), np.append(-np.ones(len(mine)), 1.0), 0.0)
    return column


def _islands(problem: YardProblem, build: Builder, take: Ints, site: Ints) -> None:
    """Let the second shrub of an island stand only where the first does."""
    at = {one.site_id: s for s, one in enumerate(problem.sites)}
    for s, one in enumerate(problem.sites):
        first = at.get(-1 if one.joins is None else one.joins)
        if first is None or not (one.ringed and problem.sites[first].ringed):
            continue
        if not any(spot.grown is not None and spot.grown.fixed for spot in (one, problem.sites[first])):
            mine, others = take[site == s], take[site == first]
            signs = np.concatenate([np.ones(len(mine)), -np.ones(len(others))])
            build.sum_row(np.concatenate([mine, others]), signs, 0.0)


def _stock(problem: YardProblem, build: Builder, take: Ints, weighed: Weighed) -> None:
    for p, plant in enumerate(problem.facts.plants):
        stock = problem.yard.stock.get(plant, np.inf)
        if np.isfinite(stock) and weighed.counts[:, p].any():
            build.sum_row(take, weighed.counts[:, p].astype(float), float(stock))


def _months(problem: YardProblem, build: Builder, take: Ints, weighed: Weighed) -> dict[int, int | None]:
    """Add a level by month that a wish flies in; None where something blooms already."""
    before, wanted = open_before(problem), wanted_months(problem)
    opened: dict[int, int | None] = {}
    for m in range(1, NECTAR_TIMES):
        if (wanted >> m) & 1:
            open_now = bool((before >> m) & 1)
            blooms = ((weighed.months >> m) & 1).astype(float)
            opened[m] = None if open_now else _level(build, take, blooms, problem.aims.month)
    return opened


def _kinds(problem: YardProblem, build: Builder, take: Ints, weighed: Weighed, *, rich: bool) -> None:
    """Add the count of nectar kinds by season and in all, each up to what is wanted."""
    there, new, bits = weighed.counts > 0, new_kinds(problem), season_bits(problem)
    kinds = np.flatnonzero(there.any(axis=0) & new)
    level = {int(p): _level(build, take, there[:, p].astype(float), 0.0) for p in kinds}
    wanted, aims = season_room(problem), problem.aims
    season = aims.rich_season_species if rich else aims.season_species
    kind = aims.rich_species if rich else aims.species
    for q, worth in ((0, season), (1, season), (2, season), (3, kind)):
        mine = [level[int(p)] for p in kinds if q == 3 or (int(bits[p]) >> q) & 1]
        if wanted[q] and mine:
            column = build.column(worth, wanted[q])
            build.sum_row(np.array([*mine, column]), np.append(-np.ones(len(mine)), 1.0), 0.0)


def _butterfly(
    problem: YardProblem,
    build: Builder,
    b: int,
    take: Ints,
    weighed: Weighed,
    opened: dict[int, int | None],
    places: dict[int, int | None],
) -> int | None:
    """Add one butterfly: its leaf, whether a brood is fed, its winter place, its habitat by month.

    Returns the column that is 1 where it can breed; None where it cannot. Leaf is that of the leanest of its
    meals, and a brood is fed where each of them is.
    """
    standing, aims = problem.standing, problem.aims
    enough = problem.settings.enough_m2
    meals = problem.facts.meals_of(b)
    hungry = [m for m in meals if standing.fed[m] < 1.0 - 1e-9]
    if not all((weighed.fed[:, m] > 0).any() for m in hungry):
        return None
    leaf = build.column(0.0, enough)
    for m in meals:
        have = float(standing.leaf_m2[m])
        build.sum_row(np.append(take, leaf), np.append(-weighed.leaf_m2[:, m], 1.0), have)
    gates = [build.column(0.0, 1.0, True)] if hungry else []
    for m in hungry:
        have = float(standing.fed[m])
        build.sum_row(np.append(take, gates[0]), np.append(-weighed.fed[:, m], 1.0), have)
    place = places.get(int(problem.facts.winter[b]))
    if place is not None:
        gates.append(place)
    weight = float(problem.weight[b])
    if hungry and rules_of(problem.settings).part_brood < 1.0:
        part = build.column(weight * aims.part_fed, 1.0)
        for m in hungry:
            have = float(standing.fed[m])
            build.sum_row(np.append(take, part), np.append(-weighed.fed[:, m], 1.0), have)
    whole = build.column(weight * aims.life_cycle, 1.0)
    for gate in gates:
        build.rows(0.0, (whole, 1.0), (gate, -1.0))
    for share, month in _flight_parts(problem, b, opened):
        part = build.column(weight * share, enough)
        build.rows(0.0, (part, 1.0), (leaf, -1.0))
        for gate in (*gates, *((month,) if month is not None else ())):
            build.rows(0.0, (part, 1.0), (gate, -enough))
    return whole


def _flight_parts(
    problem: YardProblem, b: int, opened: dict[int, int | None]
) -> list[tuple[float, int | None]]:
    """Return (share of the flight, level) per month that needs opening, and one part for what is open."""
    flown = [m for m in range(1, NECTAR_TIMES) if (int(problem.facts.flight[b]) >> m) & 1]
    if not problem.facts.takes_nectar[b] or not flown:
        return [(1.0, None)]
    shut = [(1.0 / len(flown), opened[m]) for m in flown if opened[m] is not None]
    free = 1.0 - len(shut) / len(flown)
    return [*shut, *([(free, None)] if free > 1e-12 else [])]
