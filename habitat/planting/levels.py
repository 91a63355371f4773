"""What counts as bloom, a brood's need and a winter place: one set of rules for choosing and for recounting.

The program that chooses and the recount from drawn plants both use these, so that they differ only by
geometry.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

from habitat.knowledge import year
from habitat.knowledge.broods import brood_need
from habitat.knowledge.tables import Knowledge
from habitat.site.types import GROWTH_FORM

STEM_HEIGHT_M = 0.6
"""A herb at least this tall leaves stems to winter on after cutting back to the usual 0.3 to 0.6 m:
judgement."""


def nectar_months(plant: str, knowledge: Knowledge) -> frozenset[int]:
    """Return the months in which a plant offers nectar; none for plants without nectar for butterflies."""
    row: Any = knowledge.plants.loc[plant]
    return frozenset(year.bloom_months(row)) if row["nectar_value"] > 0 else frozenset()


def season_flight(butterfly: str, knowledge: Knowledge, season: tuple[int, int]) -> frozenset[int]:
    """Return the months of the season in which adults of a butterfly fly."""
    row: Any = knowledge.butterflies.loc[butterfly]
    return frozenset(year.flight_months(row)) & frozenset(year.month_range(*season))


def winter_kept(place: str, grown: Iterable[str], knowledge: Knowledge, *, cared_for: bool) -> bool:
    """Return whether a yard keeps a winter place.

    Parameters
    ----------
    place
        As ``habitat.knowledge.year.winter_place`` returns it.
    grown
        Plants that stand or are planned in the yard.
    cared_for
        Whether the plan's care holds there (litter left under the plants, stems left till spring). Without a
        plan nothing is known of litter and stems, so they do not count; hosts and bark stand anyway.
    """
    if place in ("away_from_host", "host"):
        return True  # the host itself stands wherever there is habitat at all
    names = list(grown)
    if place == "bark":
        return any(gives_bark(plant, knowledge) for plant in names)
    if not cared_for:
        return False
    if place == "on_stem":
        return any(gives_stems(plant, knowledge) for plant in names)
    return bool(names)


def gives_stems(plant: str, knowledge: Knowledge) -> bool:
    """Return whether a plant leaves stems or twigs that a chrysalis can winter on."""
    row: Any = knowledge.plants.loc[plant]
    return GROWTH_FORM[row["form"]] != "herb" or float(row["height_m"]) >= STEM_HEIGHT_M


def gives_bark(plant: str, knowledge: Knowledge) -> bool:
    """Return whether a plant grows into a trunk with bark to winter in."""
    return GROWTH_FORM[str(knowledge.plants.loc[plant, "form"])] == "tree"


def brood_share(counts: Mapping[str, float], butterfly: str, knowledge: Knowledge) -> float:
    """Return how much of one brood's need a yard's hosts meet: the sum of count / need over its host plants.

    Habitat is 0 while this is below 1. A secondary host counts by its preference, as its leaf does.
    """
    hosts = knowledge.hosts_of(butterfly)
    return math.fsum(
        counts[plant] * preference / brood_need(knowledge, plant).plants
        for plant, preference in zip(hosts["plant"], hosts["preference"], strict=True)
        if plant in counts
    )


def habitat_m2(leaf_m2: float, fed: float, nectar: float, winter: bool, enough_m2: float) -> float:
    """Return a yard's habitat for a butterfly [m2].

    Parameters
    ----------
    leaf_m2
        Crown area of hosts x fit x preference [m2].
    fed
        Share of one brood's need, as ``brood_share`` returns it.
    nectar
        Share of the flight months with bloom within reach, 0-1; 1 if it takes no nectar.
    winter
        Whether the winter place is kept, or none is needed.
    enough_m2
        Leaf beyond this adds nothing.

    Examples
    --------
    >>> habitat_m2(30.0, 2.0, 0.5, True, 20.0)
    10.0
    >>> habitat_m2(30.0, 0.9, 0.5, True, 20.0)
    0.0
    """
    if fed < 1.0 - 1e-9 or not winter:
        return 0.0
    return min(leaf_m2, enough_m2) * nectar
