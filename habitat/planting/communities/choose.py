"""Choose communities for the beds of one yard: list what each place could get, take the best together."""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence

import numpy as np

from habitat.arrays import Flags, Floats, Ints
from habitat.planting.choice.problem import YardProblem, bar_plants
from habitat.planting.communities.compose import Palette, Place, compose
from habitat.planting.communities.habits import Habits
from habitat.planting.communities.program import Column, YardBeds, choose_beds, weigh
from habitat.planting.communities.rules import BedRules

SHARES_OF_PLACE = (1.0, 0.75, 0.5)
"""A place may be planted in part, from one end, where money or wishes do not fill it: judgement."""

LEAST_M2 = 6.0
"""A smaller bed holds no community: judgement."""

ORDERS_MOST = 12
"""Most butterflies that a bed is tried for first."""

LIKED_SHARE = 0.45
"""Share of like kinds that one yard takes, so that neighbours differ and no kind is everywhere: judgement;
the group's rule is at most half of the yards."""


def liking(yard_id: str, plants: Sequence[str], seed: int) -> Floats:
    """Return how much a yard takes to each plant, 0 to 1: even over yards, and the same whoever else joins.

    Examples
    --------
    >>> one = liking("Q-014", ["Asclepias incarnata", "Carex blanda"], 7)
    >>> bool((one == liking("Q-014", ["Asclepias incarnata", "Carex blanda"], 7)).all())
    True
    """
    return np.array([zlib.crc32(f"{seed}|{yard_id}|{plant}".encode()) / 2.0**32 for plant in plants])


def allowed_at(problem: YardProblem, class_limit: float) -> Flags:
    """Return which plant may stand at which bed site (S, P), for whatever it gives: shelter and cover too."""
    facts, sites = problem.facts, problem.sites
    barred = bar_plants(facts, problem.yard, problem.settings)
    open_to = np.array([not reason for reason in barred], bool)
    out = np.zeros((len(sites), len(facts.plants)), bool)
    for s, site in enumerate(sites):
        here = open_to & (site.capacity > 0) & (site.fit >= class_limit - 1e-9)
        here &= facts.height_m <= site.height_max_m
        if site.closed_to_hosts:
            here &= ~facts.eaten
        if site.grown is not None:
            here &= ~site.grown.kept_out
        out[s] = here
    return out


def list_columns(
    problem: YardProblem, habits: Habits, rules: BedRules, seed: int, class_limit: float
) -> list[Column]:
    """Return what each place of a yard could be planted with, by place; no two alike."""
    palette = _palette(problem, habits, seed)
    allowed = allowed_at(problem, class_limit)
    out: list[Column] = []
    for s, site in enumerate(problem.sites):
        if site.growth_form != "herb":
            out += _single(s, allowed[s], len(palette.months))
            continue
        seen: set[bytes] = set()
        for place in _places(problem, s, allowed[s]):
            for wanted in _orders(problem):
                counts = compose(place, palette, rules, wanted)
                if counts.any() and counts.tobytes() not in seen:
                    seen.add(counts.tobytes())
                    out.append(Column(s, counts))
    return out


def _palette(problem: YardProblem, habits: Habits, seed: int) -> Palette:
    facts = problem.facts
    price = np.array([problem.yard.offer(facts, p).price for p in range(len(facts.plants))], float)
    return Palette(
        habits=habits,
        months=facts.months,
        nectar=facts.nectar_value,
        worth=facts.preference / np.maximum(facts.to_plant, 1e-9),
        price=price,
        liking=liking(problem.yard.yard_id, facts.plants, seed),
    )


def _single(s: int, allowed: Flags, plants: int) -> Iterator[Column]:
    """Yield a place of its own with each tree or shrub that may stand there."""
    for p in np.flatnonzero(allowed):
        counts = np.zeros(plants, np.int64)
        counts[p] = 1
        yield Column(s, counts)


def _places(problem: YardProblem, s: int, allowed: Flags) -> Iterator[Place]:
    """Yield a site whole and in part, less the ground of what stands there for good."""
    site = problem.sites[s]
    width = _width_m(site.polygon.area, site.polygon.length)
    backed = site.back != (0.0, 0.0)
    for share in SHARES_OF_PLACE:
        area = site.area_m2 * share
        if area >= LEAST_M2:
            yield Place(area, width, backed, allowed, site.fit)


def _width_m(area_m2: float, edge_m: float) -> float:
    """Return the width of a rectangle of an area and an outline: the smaller root of x (edge / 2 - x) = area.

    Examples
    --------
    >>> round(_width_m(12.0, 16.0), 2)
    2.0
    """
    half = edge_m / 4.0
    return float(half - np.sqrt(max(half**2 - area_m2, 0.0)))


def _orders(problem: YardProblem) -> list[list[int]]:
    """Return orders in which butterflies are fed: by weight, and with each of the weightiest put first."""
    by_weight = [int(b) for b in np.lexsort((np.arange(len(problem.weight)), -problem.weight))]
    orders = [by_weight, by_weight[::-1], []]
    for b in by_weight[:ORDERS_MOST]:
        rest = [other for other in by_weight if other != b]
        turn = by_weight.index(b)
        orders += [[b], [b, *rest[turn:], *rest[:turn]]]
    return orders


def choose_communities(
    problem: YardProblem,
    habits: Habits,
    rules: BedRules,
    *,
    class_limit: float,
    effort: str = "quick",
    seed: int = 0,
) -> tuple[Ints, YardBeds]:
    """Return plants by bed site (S, P) of one yard, and the plan's worth with its bound.

    Parameters
    ----------
    problem
        The yard: places, plants that may stand at each, wishes, money, what stands.
    habits, rules
        Plants as a bed sees them, and how beds are put together.
    class_limit
        Fit [0-1] below which nothing is planted (lower limit of class S3).
    effort
        "quick" stops within 2 % or 100 nodes of the program over the listed beds, "proven" within the study's
        gap or node limit.
    seed
        Of the study; with the yard's id it decides between like kinds.
    """
    columns = list_columns(problem, habits, rules, seed, class_limit)
    proven = effort == "proven"
    plan = choose_beds(
        problem,
        columns,
        weigh(problem, columns, habits, rules),
        gap=problem.settings.gap if proven else 0.02,
        node_limit=problem.settings.node_limit if proven else 100,
    )
    counts = np.zeros((len(problem.sites), len(problem.facts.plants)), np.int64)
    for c in plan.chosen:
        counts[columns[c].site] = columns[c].counts
    return counts, plan
