"""Closing the life cycle in a yard: egg, food, nectar while adults fly, a winter place, leaf for a brood."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from habitat.knowledge.broods import Feeding, HostStand, feed
from habitat.knowledge.food import gaps, needs_of
from habitat.knowledge.months import (
    month_range,
    month_span_words,
    month_words,
    months_in,
    months_text,
    slot_words,
)
from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import (
    DAY,
    Brood,
    feeding_months,
    flight_months,
    nectar_mask,
    nectar_time,
    takes_nectar,
    winter_place,
)

NO_HOST = "no host plant"
"""What is missing where nothing stands that a female lays on."""

VERDICTS = BREEDS, VISITS, NOT_YET = ("can breed", "will visit", "not yet")
"""What a yard is to a butterfly."""


def year_gaps(knowledge: Knowledge, butterflies: Sequence[str], plants: Sequence[str]) -> pd.DataFrame:
    """Return what a planting lacks in the year of each butterfly, a row per gap.

    Parameters
    ----------
    knowledge
        The tables.
    butterflies, plants
        Accepted names, as ``resolve_butterflies`` and ``resolve_plants`` give them.

    Returns
    -------
    DataFrame
        butterfly, gap ("nectar", "eggs" or "leaf"), brood (0 but for leaf), months (text), when (by name).
        Eggs find no place, and a brood no food, in half-months in which no host among the plants is in the
        right state; numbers of plants are not asked here (see ``close_life_cycle``).

    Raises
    ------
    KeyError
        If a name is in no table.

    Examples
    --------
    >>> import habitat
    >>> tables = habitat.knowledge.load_knowledge()
    >>> gaps = year_gaps(tables, ["Papilio polyxenes"], ["Symphyotrichum novae-angliae"])
    >>> gaps[["gap", "when"]].iloc[0].tolist()  # an aster blooms late and is no host
    ['nectar', 'April to July']
    """
    bloom = 0
    for _, row in knowledge.plants.loc[list(dict.fromkeys(plants))].iterrows():
        bloom |= nectar_mask(row)
    rows: list[tuple[str, str, int, str, str]] = []
    for name in butterflies:
        about: Any = knowledge.butterflies.loc[name]
        flight = set(flight_months(about)) if takes_nectar(about) else set()
        dry = {month for month in flight if not bloom >> month + nectar_time(about) & 1}
        if dry:
            rows.append((name, "nectar", 0, months_text(dry), month_span_words(dry)))
        lack = gaps(knowledge, name, plants)
        if lack.eggs:
            rows.append((name, "eggs", 0, months_text(months_in(lack.eggs)), slot_words(lack.eggs)))
        for number, meals in enumerate(needs_of(knowledge, name).by_brood, 1):
            if hungry := meals & lack.food:
                rows.append((name, "leaf", number, months_text(months_in(hungry)), slot_words(hungry)))
    return pd.DataFrame(rows, columns=["butterfly", "gap", "brood", "months", "when"])


WINTER_WORDS = {
    "leaf_litter": "leaf litter left under the plants",
    "on_stem": "stems left standing over winter",
    "bark": "tree with bark to winter in",
    "host": "host plants left as they are over winter",
    "soil": "soil and leaves left alone under the plants",
}
"""What keeps a winter place, in words."""


@dataclass(frozen=True, slots=True)
class LifeCycle:
    """Whether a butterfly can live its whole life in a yard, and what is missing.

    ``missing`` names each piece without which the cycle does not close; ``short`` names what would help but
    does not keep it open (a second brood without leaf). ``leaf_share`` is the part of one brood's need that
    is there, 0 where eggs find no place or caterpillars no food at some time. ``carried`` says in words
    what carries the caterpillars when; ``doubtful`` names hosts that close nothing, since it is not sure
    that she lays on them. ``breeding`` is 0 without leaf for a brood whatever the nectar, else nectar share
    x winter: the factor on host leaf in a yard's habitat.
    """

    butterfly: str
    closed: bool
    missing: tuple[str, ...]
    short: tuple[str, ...]
    leaf_share: float
    broods_fed: int
    broods: int
    nectar_share: float
    winter_kept: bool
    carried: str = ""
    doubtful: tuple[str, ...] = ()
    drinks: bool = True

    @property
    def breeding(self) -> float:
        """Nectar share x winter where hosts feed a brood, else 0; in [0, 1]."""
        return (
            self.nectar_share * self.winter_kept if self.broods_fed and self.leaf_share >= 1 - 1e-9 else 0.0
        )

    @property
    def verdict(self) -> str:
        """One of VERDICTS: visitors find nectar in a month of their flight, or food for some caterpillars."""
        if self.closed:
            return BREEDS
        return VISITS if (self.drinks and self.nectar_share > 0) or self.carried else NOT_YET


def close_life_cycle(
    knowledge: Knowledge,
    butterfly: str,
    stands: Sequence[HostStand],
    *,
    nectar_months: Collection[int] = (),
    winter_places: Collection[str] = (),
    year: int = 5,
    season: tuple[int, int] = (1, 12),
) -> LifeCycle:
    """Return whether a yard closes a butterfly's life cycle in a plan year.

    It does with an egg-laying host in the right state in every half-month in which eggs are laid, food in
    every half-month in which caterpillars eat, enough of it for one brood, nectar in every month of the
    flight, and the winter place.

    Parameters
    ----------
    knowledge
        The tables.
    butterfly
        Accepted name.
    stands
        Plants that stand or are planned; others than hosts are passed over.
    nectar_months
        Months with bloom here or within the foraging distance; for who flies at night, of flowers open then.
    winter_places
        Winter places that the yard's care keeps, keys of ``WINTER_PLACES``.
    year
        Plan year; hosts need some seasons before they carry a brood.
    season
        First and last month in which adults are asked nectar for.

    Examples
    --------
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> from habitat.knowledge import load_knowledge
    >>> knowledge = load_knowledge(KnowledgeSettings())
    >>> milkweed = HostStand(plant="Asclepias incarnata", count=12, form="plug")
    >>> close_life_cycle(knowledge, "Danaus plexippus", [milkweed], nectar_months=range(5, 12)).closed
    True
    >>> close_life_cycle(knowledge, "Danaus plexippus", [], nectar_months=range(5, 12)).breeding
    0.0
    """
    flight, drinks, place, at_night = knowledge.once(
        lambda: _habits(knowledge, butterfly), "habits", butterfly
    )
    feeding = feed(knowledge, butterfly, stands, year=year)
    flies = [m for m in flight if m in month_range(*season)]
    dry = [m for m in flies if m not in nectar_months] if drinks else []
    kept = not place or place in winter_places
    doubtful = _doubtful(knowledge, butterfly, stands)
    missing = [
        *_leaf_missing(feeding, year, doubtful),
        *([f"no nectar{at_night} in {month_words(dry)}"] if dry else []),
    ]
    if not kept:
        missing.append(f"no {WINTER_WORDS[place]}")
    return LifeCycle(
        butterfly=butterfly,
        closed=not missing,
        missing=tuple(missing),
        short=tuple(_brood_words(b) for b in feeding.lacking) if feeding.fed else (),
        leaf_share=0.0 if feeding.gaps else feeding.share,
        broods_fed=len(feeding.fed),
        broods=len(feeding.fed) + len(feeding.lacking),
        nectar_share=1.0 - len(dry) / max(len(flies), 1),
        winter_kept=kept,
        carried=carried_words(knowledge, feeding.carrying),
        doubtful=doubtful,
        drinks=drinks,
    )


def carried_words(knowledge: Knowledge, carrying: dict[str, int]) -> str:
    """Return which plants carry the caterpillars when, in words.

    Parameters
    ----------
    carrying
        Plant -> half-months with food, as a mask.

    Examples
    --------
    >>> from habitat.knowledge import load_knowledge
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> carried_words(load_knowledge(KnowledgeSettings()), {"Asclepias incarnata": 3 << 8})
    'swamp milkweed in May'
    """
    common = knowledge.once(knowledge.plants["common_name"].to_dict, "common names")
    return "; ".join(f"{common[plant]} in {slot_words(when)}" for plant, when in sorted(carrying.items()))


def _doubtful(knowledge: Knowledge, butterfly: str, stands: Sequence[HostStand]) -> tuple[str, ...]:
    """Return the common names of hosts that stand or are planned, on which she may not lay."""
    given = sorted({s.plant for s in stands if s.count > 0} & knowledge.doubtful_of(butterfly))
    return tuple(str(knowledge.plants.at[plant, "common_name"]) for plant in given)


def _habits(knowledge: Knowledge, butterfly: str) -> tuple[tuple[int, ...], bool, str, str]:
    """Return flight months, whether adults take nectar, the winter place, "" if none is needed, and when."""
    row: Any = knowledge.butterflies.loc[butterfly]
    place = winter_place(row)
    at_night = "" if nectar_time(row) == DAY else " at night"
    return tuple(flight_months(row)), takes_nectar(row), "" if place == "away_from_host" else place, at_night


def life_cycle_by_year(
    knowledge: Knowledge,
    butterfly: str,
    stands: Sequence[HostStand],
    years: Iterable[int],
    *,
    nectar_months: Collection[int] = (),
    winter_places: Collection[str] = (),
) -> pd.DataFrame:
    """Return the same for each plan year: year, closed, leaf_share, broods_fed, missing (text).

    Stands count from the year they are planted in; parameters as ``close_life_cycle``.
    """
    rows = []
    for year in years:
        found = close_life_cycle(
            knowledge,
            butterfly,
            stands,
            nectar_months=nectar_months,
            winter_places=winter_places,
            year=year,
        )
        rows.append((year, found.closed, found.leaf_share, found.broods_fed, "; ".join(found.missing)))
    return pd.DataFrame(rows, columns=["year", "closed", "leaf_share", "broods_fed", "missing"])


def _leaf_missing(feeding: Feeding, year: int, doubtful: tuple[str, ...]) -> list[str]:
    """Return what of egg and food is missing, the first reason first."""
    if not feeding.gaps and feeding.fed:
        return []
    if feeding.grown <= 0:
        return [f"{NO_HOST} but {', '.join(doubtful)}, which may be none" if doubtful else NO_HOST]
    if feeding.later is not None and feeding.later > year:
        return [f"host plants too young to carry a brood before year {feeding.later}"]
    if not feeding.carrying and feeding.later is None:
        return [f"host plants for only {feeding.grown:.0%} of one brood"]
    lack = [f"no plant for eggs in {slot_words(feeding.gaps.eggs)}"] if feeding.gaps.eggs else []
    lack += [f"no food for caterpillars in {slot_words(feeding.gaps.food)}"] if feeding.gaps.food else []
    if lack:
        return lack
    return [f"host plants for only {feeding.share or feeding.grown:.0%} of one brood"]


def _brood_words(brood: Brood) -> str:
    return f"leaf for brood {brood.number} ({month_words(feeding_months(brood))})"
