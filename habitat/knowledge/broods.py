"""What a brood needs: how many plants of a host, how often they grow back, when they first carry one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from habitat.errors import ParameterError
from habitat.knowledge.sources import row_source
from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import Brood, broods, finds_leaves, leaf_months

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

    ``share`` is the part of one brood's need that hosts in leaf meet (1 or more is enough; a secondary host
    counts half); ``fed`` the broods that find enough leaf, each after what the broods before it ate;
    ``lacking`` the others. ``later`` is the plan year from which the hosts reach a full share, or None;
    ``grown`` is the share that they come to once all carry a brood, whenever they are in leaf.
    """

    share: float
    fed: tuple[Brood, ...]
    lacking: tuple[Brood, ...]
    later: int | None = None
    grown: float = 0.0


def feed(knowledge: Knowledge, butterfly: str, stands: Sequence[HostStand], *, year: int = 5) -> Feeding:
    """Return how far the hosts in a yard feed the broods of a butterfly in a plan year.

    Notes
    -----
    Each stand offers ``preference x count / plants_per_brood`` of a brood's need at a time, and after being
    eaten bare grows back as often as its kind does. Broods take their turn, each from hosts that are in
    leaf for most of its feeding time.
    """
    hosts, generations = knowledge.once(lambda: _eating(knowledge, butterfly), "eating", butterfly)
    mine = [s for s in stands if s.plant in hosts and s.count > 0]
    offers = [_offer(knowledge, s, hosts[s.plant], year) for s in mine]
    left = [share * (1 + regrowths) for share, regrowths, _ in offers]
    fed: list[Brood] = []
    lacking: list[Brood] = []
    best = 0.0
    for brood in generations:
        usable = [
            min(share, rest) if finds_leaves(brood, leaves) else 0.0
            for (share, _, leaves), rest in zip(offers, left, strict=True)
        ]
        best = max(best, math.fsum(usable))
        part = min(1.0, 1.0 / math.fsum(usable)) if math.fsum(usable) >= 1.0 - 1e-9 else 0.0
        left = [rest - part * use for rest, use in zip(left, usable, strict=True)]
        (fed if part else lacking).append(brood)
    grown = math.fsum(hosts[s.plant] * s.count / brood_need(knowledge, s.plant).plants for s in mine)
    return Feeding(best, tuple(fed), tuple(lacking), _later(knowledge, mine, hosts, year), grown)


def _offer(
    knowledge: Knowledge, stand: HostStand, preference: float, year: int
) -> tuple[float, int, frozenset[int]]:
    """Return a stand's share of a brood's need at a time, its regrowths, and its months in leaf."""
    need = brood_need(knowledge, stand.plant)
    share = preference * stand.count / need.plants if carries(stand, need, year) else 0.0
    return share, need.regrowths, knowledge.once(lambda: _leaves(knowledge, stand.plant), "leaf", stand.plant)


def _leaves(knowledge: Knowledge, plant: str) -> frozenset[int]:
    return frozenset(leaf_months(knowledge.plants.loc[[plant]].iloc[0]))


def _eating(knowledge: Knowledge, butterfly: str) -> tuple[dict[str, float], tuple[Brood, ...]]:
    """Return a butterfly's hosts with preference, and its broods."""
    table = knowledge.hosts_of(butterfly)
    hosts = dict(zip(table["plant"].astype(str), table["preference"].astype(float), strict=True))
    return hosts, broods(knowledge.butterflies.loc[[butterfly]].iloc[0])


def _later(
    knowledge: Knowledge, stands: list[HostStand], preference: dict[str, float], year: int
) -> int | None:
    """Return the first year from now on in which the stands meet a brood's need, or None."""
    for later in range(year, year + 21):
        shares = (_offer(knowledge, s, preference[s.plant], later)[0] for s in stands)
        if math.fsum(shares) >= 1.0 - 1e-9:
            return later
    return None
