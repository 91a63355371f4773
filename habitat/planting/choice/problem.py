"""One yard's choice as numbers: which plant may stand at which bed site, and what stands already."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from habitat.knowledge.broods import brood_need
from habitat.knowledge.food import worth_by_task
from habitat.knowledge.hazards import ACTIONS, held_by, kept_out_by_hazard, stands_away, who_lives
from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import nectar_masks
from habitat.planting.choice.facts import (
    Facts,
    gives_bark,
    gives_stems,
)
from habitat.planting.household import LOW_M, Household
from habitat.planting.sites.around import calm
from habitat.planting.supply import Offer
from habitat.planting.types import Allocation, BedSite
from habitat.remarks import Remark, Subject, remark
from habitat.settings.planting import PlantingSettings
from habitat.terms import NO_POISON

SEASONS = (("spring", (3, 4, 5)), ("summer", (6, 7, 8)), ("fall", (9, 10, 11)))
"""Seasons in which nectar species are counted."""


@dataclass(frozen=True, slots=True)
class Aims:
    """Worth of what is wanted beside habitat, in m2 of habitat: judgement, all of it.

    life_cycle : a wished-for butterfly has a brood's hosts and its winter place. month : bloom in a month in
    which a wished-for butterfly flies. season_species : one of the first three nectar species of a season;
    rich_season_species, rich_species : the same where a yard's beds take 15 m2 or more and there is a choice
    of kinds: more than a second butterfly is worth. first : one wished-for butterfly that can breed at all.
    species : one of the first nine kinds. stems : stems to winter on. bed : price of one more bed
    to dig, since few larger beds are kept better than many small ones. money : price of one unit of money.
    weight_floor : least weight of a butterfly that is wished for. part_fed : a brood of hosts, in part for a
    part of them, where beds may hold a part (``BedRules.part_brood``).
    """

    life_cycle: float = 7.0
    month: float = 0.5
    season_species: float = 2.2
    rich_season_species: float = 12.0
    rich_species: float = 5.0
    first: float = 100.0
    season_wanted: int = 3
    species: float = 0.4
    species_wanted: int = 9
    stems: float = 0.1
    bed: float = 1.0
    money: float = 0.002
    weight_floor: float = 0.1
    part_fed: float = 12.0


@dataclass(frozen=True, slots=True)
class Standing:
    """What grows already: leaf [m2] and share of a brood's need by meal (M,), months, kinds, winters."""

    leaf_m2: NDArray[np.float64]
    fed: NDArray[np.float64]
    months: int = 0
    plants: frozenset[str] = frozenset()
    stems: bool = False
    bark: bool = False


@dataclass(frozen=True, slots=True)
class YardWishes:
    """What one yard brings: money, who lives there, weights, neighbours' months.

    ``fixed`` are trees and tall shrubs that are chosen already, whose money is not in ``budget``; ``stock``
    limits plants that local growers have; ``elsewhere`` names those that they have no longer, ``widespread``
    those that stand in as many yards as they may. ``poisonous`` is what the household answered, one of
    ``ANSWERS`` or "" (away from play where children or pets live). ``tested`` are the factors that a soil
    test tells in this yard; ``household`` is what it wants.
    """

    yard_id: str
    budget: float
    max_height_m: float = float("inf")
    children: bool = False
    pets: bool = False
    poisonous: str = ""
    sprayed: bool = False
    weights: dict[str, float] = field(default_factory=dict)
    neighbour_months: int = 0
    stock: dict[str, float] = field(default_factory=dict)
    fixed: tuple[Allocation, ...] = ()
    elsewhere: frozenset[str] = frozenset()
    widespread: frozenset[str] = frozenset()
    tested: tuple[str, ...] = ()
    household: Household = field(default_factory=Household)

    def action(self, facts: Facts, p: int) -> str:
        """Return what a plant's hazards ask for in this yard, the strictest for children and pets."""
        children, pets = who_lives(self.children, self.pets, self.poisonous)
        asked = ["none"]
        asked += [facts.children_action[p]] if children else []
        asked += [facts.pets_action[p]] if pets else []
        return max(asked, key=ACTIONS.index)

    def away_m(self, facts: Facts) -> NDArray[np.float64]:
        """Return how far [m] each plant (P,) must stand from walks, doors and play ground; 0: it need not."""
        asked = list(zip(facts.children_action, facts.pets_action, strict=True))
        first = {pair: p for p, pair in enumerate(asked)}
        must = {pair: stands_away(self.action(facts, p), self.poisonous) for pair, p in first.items()}
        return np.where([must[pair] for pair in asked], facts.away_m, 0.0)

    def offer(self, facts: Facts, p: int) -> Offer:
        """Return how a plant is bought for this yard."""
        return (facts.elsewhere if facts.plants[p] in self.elsewhere else facts.offers)[p]


@dataclass(frozen=True, slots=True)
class YardProblem:
    """The program of one yard over *pairs* (K,) of bed site and plant that may go together.

    ``blocked`` says, per plant, why it stands nowhere here (None where it may). ``chord_a, chord_b`` (P, 5):
    the leaf of a kind is the least of a + b t, with t the sum of fit x count over the yard. ``open_to`` (P,):
    nothing of the whole yard bars it. ``calm_m2`` (S, P): as ``calm_m2`` tells of each site. ``held`` (S, P):
    as ``holding_places`` tells.
    """

    yard: YardWishes
    sites: tuple[BedSite, ...]
    facts: Facts
    settings: PlantingSettings
    aims: Aims
    standing: Standing
    site: NDArray[np.int64]
    plant: NDArray[np.int64]
    capacity: NDArray[np.int64]
    clump: NDArray[np.int64]
    fit: NDArray[np.float64]
    price: NDArray[np.float64]
    chord_a: NDArray[np.float64]
    chord_b: NDArray[np.float64]
    weight: NDArray[np.float64]
    blocked: tuple[Remark | None, ...]
    open_to: NDArray[np.bool_]
    calm_m2: NDArray[np.float64]
    held: NDArray[np.bool_]

    @property
    def size(self) -> int:
        """How many pairs there are."""
        return len(self.site)

    @property
    def beds_m2(self) -> float:
        """Ground of all borders and islands, and of rings whose tree or shrub is chosen already [m2]."""
        herb = sum(site.area_m2 for site in self.sites if site.growth_form == "herb")
        ringed = [site for site in self.sites if site.ringed and site.grown and site.grown.fixed]
        return float(herb + sum(site.ground["ring"].area for site in ringed))


def make_problem(
    yard: YardWishes,
    sites: list[BedSite],
    facts: Facts,
    settings: PlantingSettings,
    class_limit: float,
    *,
    standing: Standing | None = None,
    aims: Aims | None = None,
) -> YardProblem:
    """Return the program of one yard.

    Parameters
    ----------
    yard, sites
        What the yard brings, and where beds could be.
    facts, settings
        Plants and butterflies, and the settings.
    class_limit
        Fit [0-1] below which nothing is planted (lower limit of class S3).
    standing, aims
        What grows already (nothing if left out); worth of secondary aims.
    """
    aims = aims or Aims()
    standing = standing or Standing(np.zeros(len(facts.meals)), np.zeros(len(facts.meals)))
    barred = bar_plants(facts, yard, settings)
    room = np.array([calm_m2(s, facts, yard) for s in sites]).reshape(len(sites), len(facts.plants))
    calm, held = calm_places(room, facts), holding_places(sites, facts, settings)
    allowed, blocked = _allowed_pairs(sites, facts, barred, class_limit, calm, held)
    site, plant = np.nonzero(allowed)
    capacity = np.array([sites[s].capacity[p] for s, p in zip(site, plant, strict=True)], np.int64)
    fit = np.array([sites[s].fit[p] for s, p in zip(site, plant, strict=True)], float)
    price = np.array([yard.offer(facts, p).price for p in range(len(facts.plants))], float)[plant]
    clump = facts.clump[plant]
    weight = np.array([max(yard.weights.get(b, 1.0), aims.weight_floor) for b in facts.butterflies], float)
    return YardProblem(
        yard=yard,
        sites=tuple(sites),
        facts=facts,
        settings=settings,
        aims=aims,
        standing=standing,
        site=site.astype(np.int64),
        plant=plant.astype(np.int64),
        capacity=capacity,
        clump=clump,
        fit=fit,
        price=price,
        chord_a=facts.chord_a,
        chord_b=facts.chord_b,
        weight=weight,
        blocked=blocked,
        open_to=np.array([reason is None for reason in barred], bool),
        calm_m2=room,
        held=held,
    )


def bar_plants(facts: Facts, yard: YardWishes, settings: PlantingSettings) -> tuple[Remark | None, ...]:
    """Return, per plant, why it is kept out of a whole yard, None where it may come in."""
    shut = set(settings.avoid_hazards)
    top = min(yard.max_height_m, settings.max_height_m or float("inf"))
    top = min(top, LOW_M) if yard.household.low_only else top
    return tuple(_barred(facts, p, shut, top, yard) for p in range(len(facts.plants)))


def _barred(facts: Facts, p: int, shut: set[str], top: float, yard: YardWishes) -> Remark | None:
    unwanted = yard.household.unwanted(facts.growth[p], vine=bool(facts.vine[p]))
    if unwanted:
        return remark("growth_not_wanted", Subject(household=(unwanted,)))
    if facts.plants[p] in yard.widespread:
        return remark("in_enough_yards")
    for hazard in sorted(facts.hazards[p]):
        if hazard in shut:
            return remark("hazard_not_wanted", hazard=hazard.replace("_", " "))
    if kept_out_by_hazard(yard.action(facts, p), yard.poisonous):
        said = tuple(who for who in ("children", "pets", "poisonous") if getattr(yard, who))
        none = yard.poisonous == NO_POISON
        return remark("poison_for_household", Subject(household=said), wants_none=none)
    disliked = () if facts.host[p] else yard.household.dislikes(facts.flower_colors[p])
    if disliked:
        return remark("flower_disliked", Subject(household=("disliked_colours",)), color=disliked[0])
    if facts.height_m[p] > top:
        about = Subject(household=("max_height_m",)) if top == yard.max_height_m else None
        about = Subject(household=("low_only",)) if yard.household.low_only and top == LOW_M else about
        return remark("too_tall", about, height_m=float(facts.height_m[p]), allowed_m=float(top))
    if yard.sprayed and facts.eaten[p]:
        return remark("host_in_spray", Subject(household=("sprayed",)))
    return None


def _allowed_pairs(
    sites: list[BedSite],
    facts: Facts,
    barred: tuple[Remark | None, ...],
    class_limit: float,
    calm: NDArray[np.bool_],
    held: NDArray[np.bool_],
) -> tuple[NDArray[np.bool_], tuple[Remark | None, ...]]:
    """Return which plant may stand where, and per plant the last hurdle it falls at if nowhere."""
    shape = (len(sites), len(facts.plants))
    if not sites:
        return np.zeros(shape, bool), tuple(b or remark("no_room_for_bed") for b in barred)
    open_to = np.array([not b for b in barred])
    some = np.array([site.capacity > 0 for site in sites]).reshape(shape)
    room = np.array([site.capacity >= facts.clump for site in sites]).reshape(shape)
    fits = np.array([site.fit >= class_limit - 1e-9 for site in sites]).reshape(shape)
    low = np.array([facts.height_m <= site.height_max_m for site in sites]).reshape(shape)
    safe = np.array([~facts.eaten | (not site.closed_to_hosts) for site in sites]).reshape(shape)
    tall, shade = (_kept_out(sites, shape, falls=falls) for falls in (False, True))
    steps = (
        (some, remark("no_room_for_it")),
        (~tall, remark("trees_were_first")),
        (~shade, remark("shaded_by_plan")),
        (fits, remark("ground_does_not_fit")),
        (room, remark("no_room_for_enough")),
        (low, remark("must_stay_low")),
        (safe, remark("closed_to_hosts")),
        (calm, remark("no_calm_bed", Subject(household=("children", "pets", "poisonous")))),
        (held, remark("no_edge_holds")),
    )
    allowed, blocked = np.tile(open_to, (len(sites), 1)), list(barred)
    for mask, reason in steps:
        allowed = allowed & mask
        for p in np.flatnonzero(~allowed.any(axis=0)):
            blocked[p] = blocked[p] or reason
    return allowed, tuple(blocked)


def calm_places(room_m2: NDArray[np.float64], facts: Facts) -> NDArray[np.bool_]:
    """Return (S, P) whether a bed has ground for a plant as far from where people walk as it must stand.

    ``room_m2`` (S, P) is what ``calm_m2`` tells of each bed.
    """
    least = np.where(np.array(facts.growth) == "herb", facts.clump * facts.cell_m2, 0.0)
    return (room_m2 > 0) & (room_m2 >= least - 1e-9)


def calm_m2(site: BedSite, facts: Facts, yard: YardWishes) -> NDArray[np.float64]:
    """Return the ground [m2] (P,) that each plant may take of a bed, so far from people as it must stand.

    Infinite for plants that need not stand away; a tree or shrub in a place of its own has all or nothing,
    the ground layer around it what is left of its ring.
    """
    away_m, out = yard.away_m(facts), np.full(len(facts.plants), np.inf)
    alone = site.growth_form != "herb"
    for far in np.unique(away_m[away_m > 0]):
        if alone:
            ground: dict[str, BaseGeometry] = dict.fromkeys(("herb", "shrub", "tree"), site.polygon.centroid)
            ground |= {"herb": site.ground["herb"]} if site.ringed else {}
        else:
            ground = site.ground or dict.fromkeys(("herb", "shrub"), site.polygon)
        for form, shape in ground.items():
            mine = (away_m == far) & (np.array(facts.growth) == form)
            left = calm(shape, site.people, float(far))
            if left is not shape:
                stem = shape.geom_type == "Point"
                out[mine] = (0.0 if left.is_empty else np.inf) if stem else left.area
    return out


def holding_places(sites: Sequence[BedSite], facts: Facts, settings: PlantingSettings) -> NDArray[np.bool_]:
    """Return (S, P) whether something around a bed, or a hand's work, holds a plant in its place."""
    out = np.ones((len(sites), len(facts.plants)), bool)
    if settings.allow_spreading:
        return out
    for s, site in enumerate(sites):
        for p, things in enumerate(facts.contained_by):
            out[s, p] = not things or bool(held_by(things, site.around))
    return out


def _kept_out(sites: list[BedSite], shape: tuple[int, int], *, falls: bool) -> NDArray[np.bool_]:
    """Return (S, P) what is kept out once trees are chosen: for falling by a class, or for being tall."""
    out = np.zeros(shape, bool)
    for s, site in enumerate(sites):
        if site.grown is not None:
            out[s] = site.grown.kept_out & (site.grown.falls == falls)
    return out


# What grows in a yard already, as the program needs it.


@dataclass(frozen=True, slots=True)
class StandingFacts:
    """All plants of the tables, planned with or not, as arrays (N,); ``meals`` (M, N) as in ``Facts``."""

    order: dict[str, int]
    meals: NDArray[np.float64]
    need: NDArray[np.float64]
    months: NDArray[np.int64]
    stems: NDArray[np.bool_]
    bark: NDArray[np.bool_]


def read_standing_facts(knowledge: Knowledge, facts: Facts) -> StandingFacts:
    """Return what standing plants of any kind give."""
    names = list(knowledge.plants.index)
    order = {name: i for i, name in enumerate(names)}
    sets = [one for b in facts.butterflies for one in worth_by_task(knowledge, b) or ({},)]
    meals = np.array([[one.get(n, 0.0) for n in names] for one in sets], float).reshape(-1, len(names))
    return StandingFacts(
        order,
        meals,
        np.array([brood_need(knowledge, n).plants for n in names], float),
        np.array([mask & facts.season_mask for mask in nectar_masks(knowledge.plants)], np.int64),
        np.array([gives_stems(n, knowledge) for n in names], bool),
        np.array([gives_bark(n, knowledge) for n in names], bool),
    )


def standing_plants(
    rows: pd.DataFrame, facts: StandingFacts, *, sprayed: bool, tree_stands: bool = False
) -> Standing:
    """Return leaf, share of a brood's need, months in bloom and winter places of standing plants.

    Leaf is crown area x fit at the plant x worth; a sprayed yard's leaf feeds nobody, nor do plants where
    they do not thrive (fit 0).

    Parameters
    ----------
    rows
        The yard's rows of ``existing_plants`` with a column ``fit`` [0-1].
    tree_stands
        Whether a tree of any kind stands there, named or not.
    """
    known = rows[rows["plant"].notna()]
    kind = np.array([facts.order[name] for name in known["plant"]], np.int64)
    fit = known["fit"].fillna(1.0).to_numpy(float)
    crowns = np.nan_to_num(known["crown_m2"].to_numpy(float)) * fit
    count = known["count"].to_numpy(float) * (fit > 0)
    worth = facts.meals[:, kind] * (0.0 if sprayed else 1.0)
    return Standing(
        leaf_m2=worth @ crowns,
        fed=worth @ (count / facts.need[kind]),
        months=int(np.bitwise_or.reduce(facts.months[kind])) if len(kind) else 0,
        plants=frozenset(str(name) for name in known["plant"]),
        stems=tree_stands or bool(facts.stems[kind].any()),
        bark=tree_stands or bool(facts.bark[kind].any()),
    )
