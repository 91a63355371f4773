"""Egg to adult on which plants: what a butterfly needs by half-month, and what each host offers then.

A female lays on a plant; caterpillars eat a part of it in certain half-months, some only after winter and
elsewhere. Parts of a plant follow from its row by one rule for all regions (judgement, ``regions/ABOUT.md``).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import pandas as pd

from habitat.knowledge.columns import split_list
from habitat.knowledge.months import SLOTS, WHOLE_YEAR, first_of, month_slots, run_mask, slots_of
from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import (
    bloom_months,
    egg_windows,
    feeding_windows,
    leaf_slots,
    mask_union,
    share_of,
)

NEW_GROWTH = {"deciduous": 6, "evergreen": 7}
"""Half-months in which a woody plant's leaves are young: judgement."""

OLD_LEAF = 3
"""Half-months at the end of other plants' leaf that are no new growth: judgement."""


def part_slots(plant: pd.Series[Any], part: str, season: tuple[int, int]) -> int:
    """Return the half-months in which a part of a plant is there, as a mask.

    Parameters
    ----------
    plant
        A row of the plant table.
    part
        leaf, new_growth, bud, flower, pod, catkin, fallen_leaf, stem, root, twig, litter or any.
    season
        First and last month [1-12] with leaves and flowers in the region.
    """
    leaf = leaf_slots(plant)
    if part in ("leaf", "stem"):
        return leaf
    if part == "new_growth":
        return _new_growth(plant, leaf, season)
    bloom = month_slots(bloom_months(plant))
    first, length = first_of(bloom), bloom.bit_count()
    if part == "bud":
        bud = run_mask(first - 2, length + 1)
        return bud if plant["life_span"] == "woody" else bud & leaf
    if part in ("flower", "catkin"):
        return bloom
    return run_mask(first + 2, length + 2) if part == "pod" else WHOLE_YEAR


def _new_growth(plant: pd.Series[Any], leaf: int, season: tuple[int, int]) -> int:
    habit = str(plant.get("leaf_habit") or ("deciduous" if plant["life_span"] == "woody" else "dies_back"))
    if habit == "evergreen":
        return run_mask(2 * (season[0] - 1) + 1, NEW_GROWTH[habit])
    if habit == "deciduous":
        return run_mask(first_of(leaf), NEW_GROWTH[habit])
    return run_mask(first_of(leaf), max(1, leaf.bit_count() - OLD_LEAF))


@dataclass(frozen=True, slots=True)
class Meal:
    """One feeding window: its half-months as a mask, its broods, and whether winter lies before it."""

    slots: int
    broods: tuple[int, ...]
    after_winter: bool


@dataclass(frozen=True, slots=True)
class Needs:
    """What the young of a butterfly need in a year: half-months with eggs as a mask, and the feeding windows.

    ``by_brood`` and ``eggs_by_brood`` : per brood, from the first on, the half-months in which its
    caterpillars eat and its eggs are laid.
    """

    eggs: int
    meals: tuple[Meal, ...]
    by_brood: tuple[int, ...]
    eggs_by_brood: tuple[int, ...]

    @property
    def food(self) -> int:
        """The half-months of all feeding windows as a mask."""
        return mask_union(meal.slots for meal in self.meals)


@dataclass(frozen=True, slots=True)
class HostYear:
    """When one plant serves a butterfly: half-months as masks.

    ``eggs`` : with a place for eggs in the right state, 0 where she does not lay on it. ``food`` : with
    food for her caterpillars. ``worth`` : of its leaf, 0 to 1.
    """

    plant: str
    worth: float
    eggs: int
    food: int


@dataclass(frozen=True, slots=True)
class Gaps:
    """Half-months, as masks, in which eggs find no place and caterpillars no food."""

    eggs: int
    food: int

    def __bool__(self) -> bool:
        return bool(self.eggs or self.food)


def needs_of(knowledge: Knowledge, butterfly: str) -> Needs:
    """Return what the young of a butterfly need, by half-month.

    Examples
    --------
    >>> from habitat.knowledge import load_knowledge
    >>> from habitat.knowledge.months import slot_words
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> needs = needs_of(load_knowledge(KnowledgeSettings()), "Euphydryas phaeton")
    >>> [(slot_words(meal.slots), meal.after_winter) for meal in needs.meals]
    [('July to August', False), ('April to May', True)]
    """
    return knowledge.once(lambda: _needs(knowledge, butterfly), "young", butterfly)


def _needs(knowledge: Knowledge, butterfly: str) -> Needs:
    row: Any = knowledge.butterflies.loc[butterfly]
    rest_months = knowledge.region.winter_rest_months
    eggs, food = egg_windows(row), feeding_windows(row, rest_months)
    laid = {k: first_of(window.slots) for window in eggs for k in window.broods}
    rest = month_slots(rest_months)
    meals = tuple(
        Meal(w.slots, w.broods, _winter_between(laid.get(w.broods[0], 0), first_of(w.slots), rest))
        for w in food
    )
    numbers = range(1, int(row["broods_per_year"]) + 1)
    by_brood, laid_by = (
        tuple(mask_union(share_of(w, k) for w in all_) for k in numbers) for all_ in (food, eggs)
    )
    return Needs(mask_union(window.slots for window in eggs), meals, by_brood, laid_by)


def _winter_between(laid: int, eats: int, rest: int) -> bool:
    """Return whether half-months of winter rest lie on the way from the first egg to the first meal."""
    return bool(run_mask(laid, (eats - laid) % SLOTS) & rest)


def hosts_by_time(knowledge: Knowledge, butterfly: str) -> dict[str, HostYear]:
    """Return when each host plant serves a butterfly, by plant; doubtful hosts are left out."""
    return knowledge.once(lambda: _hosts_by_time(knowledge, butterfly), "hosts by time", butterfly)


def _hosts_by_time(knowledge: Knowledge, butterfly: str) -> dict[str, HostYear]:
    needs, season = needs_of(knowledge, butterfly), knowledge.region.season_months
    eggs_on = split_list(str(knowledge.butterflies.at[butterfly, "eggs_on"]))
    out = {}
    rows: Any = knowledge.hosts_of(butterfly).itertuples()
    for host in rows:
        plant: Any = knowledge.plants.loc[host.plant]
        eggs = 0
        if host.lays == "yes":
            eggs = mask_union(part_slots(plant, part, season) for part in eggs_on)
        there = mask_union(part_slots(plant, part, season) for part in split_list(str(host.part_eaten)))
        eaten = mask_union(_eaten(meal, str(host.eaten_when)) for meal in needs.meals)
        out[str(host.plant)] = HostYear(
            str(host.plant), float(host.preference), eggs & needs.eggs, there & eaten
        )
    return out


def _eaten(meal: Meal, when: str) -> int:
    """Return the half-months of a feeding window in which a host is eaten at all."""
    if meal.after_winter or when == "any":
        return meal.slots
    if when == "after_winter":
        return 0
    return meal.slots & ~(1 << first_of(meal.slots))  # older caterpillars: not those that just hatched


def gaps(knowledge: Knowledge, butterfly: str, plants: Iterable[str]) -> Gaps:
    """Return when eggs find no place and caterpillars no food among some plants; numbers are not asked.

    Parameters
    ----------
    butterfly
        Accepted name.
    plants
        Accepted names; those that are no hosts are passed over.
    """
    needs, hosts = needs_of(knowledge, butterfly), hosts_by_time(knowledge, butterfly)
    mine = [hosts[plant] for plant in set(plants) if plant in hosts]
    return Gaps(
        needs.eggs & ~mask_union(host.eggs for host in mine),
        needs.food & ~mask_union(host.food for host in mine),
    )


def tasks(knowledge: Knowledge, butterfly: str) -> tuple[frozenset[str], ...]:
    """Return sets of plants of each of which a yard needs one or more for egg and food all year.

    A set is the hosts that serve in one half-month; sets that hold another one follow from it and are left
    out. Where nothing of the tables serves in some half-month, an empty set says that no yard can.
    """
    needs, hosts = needs_of(knowledge, butterfly), hosts_by_time(knowledge, butterfly)
    found = {frozenset(h.plant for h in hosts.values() if h.eggs >> s & 1) for s in slots_of(needs.eggs)}
    found |= {frozenset(h.plant for h in hosts.values() if h.food >> s & 1) for s in slots_of(needs.food)}
    least = [one for one in found if not any(other < one for other in found)]
    return tuple(sorted(least, key=sorted))


def worth_by_task(knowledge: Knowledge, butterfly: str) -> tuple[dict[str, float], ...]:
    """Return what hosts are worth to a choice that adds leaf up, 0 to 1, for each set that ``tasks`` names.

    A yard feeds a brood with enough of each set; what carries all year by itself stands in every one. Where
    nothing of the tables serves in some half-month, one set holds all that serve at some time. A butterfly
    whose young eat in a crowd needs more of a herb, vine or shrub, so there one plant is worth less.

    Examples
    --------
    >>> from habitat.knowledge import load_knowledge
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> worth_by_task(load_knowledge(KnowledgeSettings()), "Euphydryas phaeton")
    ({'Chelone glabra': 0.5},)
    """
    return knowledge.once(lambda: _worth_by_task(knowledge, butterfly), "worth by task", butterfly)


def _worth_by_task(knowledge: Knowledge, butterfly: str) -> tuple[dict[str, float], ...]:
    hosts, sets = hosts_by_time(knowledge, butterfly), tasks(knowledge, butterfly)
    row: Any = knowledge.butterflies.loc[butterfly]
    crowd = float(row["brood_plants_factor"])
    forms = knowledge.plants["form"]
    if not all(sets):
        sets = (frozenset(plant for plant, host in hosts.items() if host.food),)
    return tuple(
        {
            plant: host.worth / (1.0 if forms[plant] == "tree" else crowd)
            for plant, host in hosts.items()
            if plant in mine
        }
        for mine in sets
    )


def host_worth(knowledge: Knowledge, butterfly: str) -> dict[str, float]:
    """Return what each host is worth that serves to close a cycle, alone or with others, by plant, 0 to 1."""
    return {plant: worth for one in worth_by_task(knowledge, butterfly) for plant, worth in one.items()}
