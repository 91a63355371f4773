"""What a brood needs: how many plants of a host, how often they grow back, when they first carry one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from habitat.errors import ParameterError
from habitat.knowledge.food import Gaps, HostYear, gaps, hosts_by_time, needs_of
from habitat.knowledge.months import slots_of
from habitat.knowledge.sources import row_source
from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import Brood, broods

STANDING = "standing"
FORMS = {
    "seed": "years_from_seed",
    "plug": "years_from_plug",
    "pot": "years_from_pot",
    "bare root": "years_from_plug",
}
"""Forms that plants are bought in, and the column for when they first carry a brood."""


@dataclass(frozen=True, slots=True)
class BroodNeed:
    """What one host has to be for one brood.

    ``plants`` feed a brood; ``with_spares`` is what to plant, against losses; ``regrowths`` is how often in
    a season it grows back after being eaten bare; ``first_year`` is form -> the growing season in which it
    first carries a brood (1 = that of planting); ``leaf_m2`` is the crown area of ``plants``. Numbers are
    common practice unless an own table says otherwise: ``count_source`` tells it of ``plants``, ``source``
    of the rest.
    """

    plant: str
    plants: int
    with_spares: int
    regrowths: int
    first_year: dict[str, int]
    leaf_m2: float
    count_source: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HostStand:
    """Hosts of one kind in a yard.

    plant : accepted name. count : 0 or more. form : as it is bought (``FORMS``), or "standing".
    planted_year : plan year in which it is planted, from 1.
    """

    plant: str
    count: float
    form: str = STANDING
    planted_year: int = 1

    def __post_init__(self) -> None:
        if self.form != STANDING and self.form not in FORMS:
            raise ParameterError("form", self.form, f"one of {', '.join((STANDING, *FORMS))}")
        if not self.count >= 0:
            raise ParameterError("count", self.count, "0 or more")


def brood_need(knowledge: Knowledge, plant: str) -> BroodNeed:
    """Return what a host plant has to be for one brood: the row of its species, else genus, else form.

    Examples
    --------
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> from habitat.knowledge import load_knowledge
    >>> need = brood_need(load_knowledge(KnowledgeSettings()), "Asclepias incarnata")
    >>> need.plants, need.with_spares, need.first_year["plug"]
    (10, 12, 2)
    """
    return knowledge.once(lambda: _brood_need(knowledge, plant), "brood need", plant)


def _brood_need(knowledge: Knowledge, plant: str) -> BroodNeed:
    about = knowledge.plants.loc[[plant]].iloc[0]
    table = knowledge.brood_needs
    for rank, taxon in (("species", plant), ("genus", plant.split(maxsplit=1)[0]), ("form", about["form"])):
        rows = table[(table["rank"] == rank) & (table["taxon"] == taxon)]
        if len(rows):
            break
    row = rows.iloc[0]
    given = row["plants_per_brood"]
    count_row = row
    if math.isnan(given):
        count_row = knowledge.practice.loc[[row["practice_rule"]]].iloc[0]
        given = count_row["value"]
    count = int(given)
    disc_m2 = math.pi / 4.0 * min(float(about["spread_m"]), float(about["spacing_m"])) ** 2
    return BroodNeed(
        plant=plant,
        plants=count,
        with_spares=math.ceil(count * (1.0 + float(row["spare_share"])) - 1e-9),
        regrowths=int(row["regrowths"]),
        first_year={form: int(row[column]) for form, column in FORMS.items()},
        leaf_m2=count * disc_m2,
        count_source=row_source(str(count_row["source_kind"]), str(count_row["source"])),
        source=row_source(str(row["source_kind"]), str(row["source"])),
    )


def carries(stand: HostStand, need: BroodNeed, year: int) -> bool:
    """Return whether a stand carries a brood in a plan year (1, 2, ...)."""
    if stand.form == STANDING:
        return True
    return year - stand.planted_year + 1 >= need.first_year[stand.form]


@dataclass(frozen=True, slots=True)
class Feeding:
    """How far hosts feed the broods of a year.

    ``share`` is the part of one brood's need that hosts meet in every half-month in which it eats (1 or
    more is enough; a secondary host counts half); ``fed`` the broods that find a place for eggs and enough
    food, each after what the broods before it ate; ``lacking`` the others. ``gaps`` are the half-months
    without a place for eggs or without any food. ``carrying`` : plant -> half-months with food, as a mask,
    of the hosts that carry a brood by then. ``later`` is the plan year from which the hosts reach a full
    share, or None; ``grown`` is the share that they come to once all carry a brood, whenever they are
    eaten.
    """

    share: float
    fed: tuple[Brood, ...]
    lacking: tuple[Brood, ...]
    gaps: Gaps
    carrying: dict[str, int]
    later: int | None = None
    grown: float = 0.0


@dataclass(slots=True)
class _Offer:
    """A stand in the year: its share of a brood's need at a time, what is left of it, and when it serves."""

    share: float
    left: float
    host: HostYear


def feed(knowledge: Knowledge, butterfly: str, stands: Sequence[HostStand], *, year: int = 5) -> Feeding:
    """Return how far the hosts in a yard feed the broods of a butterfly in a plan year.

    Parameters
    ----------
    butterfly
        Accepted name.
    stands
        What stands or is planned; others than hosts, and doubtful hosts, are passed over.
    year
        Plan year (1, 2, ...).

    Notes
    -----
    Each stand offers ``preference x count / plants_per_brood`` of a brood's need at a time, and after being
    eaten bare grows back as often as its kind does. Broods take their turn; each needs a full share in every
    half-month in which it eats, and eats as much in each of them.
    """
    hosts, needs = hosts_by_time(knowledge, butterfly), needs_of(knowledge, butterfly)
    mine = [s for s in stands if s.plant in hosts and s.count > 0]
    offers = [offer for s in mine if (offer := _offer(knowledge, butterfly, s, hosts[s.plant], year))]
    fed: list[Brood] = []
    lacking: list[Brood] = []
    best = 0.0
    for brood in knowledge.once(lambda: _broods(knowledge, butterfly), "broods", butterfly):
        share = _share(offers, needs.by_brood[brood.number - 1])
        best = max(best, share)
        laid = any(o.host.eggs & needs.eggs_by_brood[brood.number - 1] for o in offers)
        if laid and share >= 1.0 - 1e-9:
            _eat(offers, needs.by_brood[brood.number - 1])
            fed.append(brood)
        else:
            lacking.append(brood)
    return Feeding(
        best,
        tuple(fed),
        tuple(lacking),
        gaps(knowledge, butterfly, [o.host.plant for o in offers]),
        {o.host.plant: o.host.food for o in offers if o.host.food},
        _later(knowledge, butterfly, mine, hosts, year),
        math.fsum(_share_of_stand(knowledge, butterfly, s, hosts[s.plant]) for s in mine),
    )


def _broods(knowledge: Knowledge, butterfly: str) -> tuple[Brood, ...]:
    row: Any = knowledge.butterflies.loc[butterfly]
    return broods(row, knowledge.region.winter_rest_months)


def plants_for_brood(knowledge: Knowledge, butterfly: str, plant: str) -> float:
    """Return how many of a plant feed one brood of a butterfly; a crowd strips what it hatches on.

    Examples
    --------
    >>> from habitat.knowledge import load_knowledge
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> knowledge = load_knowledge(KnowledgeSettings())
    >>> plants_for_brood(knowledge, "Danaus plexippus", "Asclepias incarnata")
    10.0
    """
    return knowledge.once(lambda: _plants_for_brood(knowledge, butterfly, plant), "crowd", butterfly, plant)


def _plants_for_brood(knowledge: Knowledge, butterfly: str, plant: str) -> float:
    row: Any = knowledge.butterflies.loc[butterfly]
    factor = float(row["brood_plants_factor"])
    crowded = 1.0 if knowledge.plants.at[plant, "form"] == "tree" else factor
    return brood_need(knowledge, plant).plants * crowded


def _share_of_stand(knowledge: Knowledge, butterfly: str, stand: HostStand, host: HostYear) -> float:
    return host.worth * stand.count / plants_for_brood(knowledge, butterfly, stand.plant)


def _offer(
    knowledge: Knowledge, butterfly: str, stand: HostStand, host: HostYear, year: int
) -> _Offer | None:
    """Return what a stand offers in a plan year, None while it is too young."""
    need = brood_need(knowledge, stand.plant)
    if not carries(stand, need, year):
        return None
    share = _share_of_stand(knowledge, butterfly, stand, host)
    return _Offer(share, share * (1 + need.regrowths), host)


def _share(offers: list[_Offer], meals: int) -> float:
    """Return the least share of a brood's need that is there in any half-month in which it eats."""
    return min(
        (math.fsum(min(o.share, o.left) for o in offers if o.host.food >> s & 1) for s in slots_of(meals)),
        default=0.0,
    )


def _eat(offers: list[_Offer], meals: int) -> None:
    """Take one brood's need off the offers, in equal parts in each half-month in which it eats."""
    usable = [min(o.share, o.left) for o in offers]
    slots = slots_of(meals)
    for slot in slots:
        there = [use if o.host.food >> slot & 1 else 0.0 for o, use in zip(offers, usable, strict=True)]
        each = 1.0 / (len(slots) * math.fsum(there))
        for offer, use in zip(offers, there, strict=True):
            offer.left -= each * use


def _later(
    knowledge: Knowledge, butterfly: str, stands: list[HostStand], hosts: dict[str, HostYear], year: int
) -> int | None:
    """Return the first year from now on in which the stands meet a brood's need, or None."""
    needs = needs_of(knowledge, butterfly)
    grown = {
        s.planted_year - 1 + brood_need(knowledge, s.plant).first_year[s.form]
        for s in stands
        if s.form != STANDING
    }
    for later in sorted({year, *(y for y in grown if y > year)}):  # offers change in no other year
        offers = [o for s in stands if (o := _offer(knowledge, butterfly, s, hosts[s.plant], later))]
        if any(_share(offers, meals) >= 1.0 - 1e-9 for meals in needs.by_brood):
            return later
    return None
