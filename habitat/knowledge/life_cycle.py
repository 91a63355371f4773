"""Closing the life cycle in a yard: leaf for a brood, nectar while adults fly, a winter place."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

import pandas as pd

from habitat.knowledge.broods import Feeding, HostStand, feed
from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import (
    Brood,
    bloom_months,
    broods,
    feeding_months,
    finds_leaves,
    flight_months,
    leaf_months,
    migrates,
    month_range,
    month_span_words,
    month_words,
    months_text,
    takes_nectar,
    winter_place,
)


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
        butterfly, gap ("nectar" or "leaf"), brood (0 for nectar), months (text), when (by name). A brood
        lacks leaf if no host among the plants is in leaf for most of the time in which its caterpillars eat;
        numbers of plants are not asked here (see ``close_life_cycle``).

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
    bloom: set[int] = set()
    for _, row in knowledge.plants.loc[list(dict.fromkeys(plants))].iterrows():
        bloom |= set(bloom_months(row)) if row["nectar_value"] > 0 else set()
    rows = []
    for name in butterflies:
        about = knowledge.butterflies.loc[[name]].iloc[0]
        dry = set(flight_months(about)) - bloom if takes_nectar(about) else set()
        if dry:
            rows.append((name, "nectar", 0, months_text(dry), month_span_words(dry)))
        hosts = [p for p in knowledge.hosts_of(name)["plant"] if p in set(plants)]
        leaf = [leaf_months(knowledge.plants.loc[[p]].iloc[0]) for p in hosts]
        rows += [
            (
                name,
                "leaf",
                brood.number,
                months_text(feeding_months(brood)),
                month_span_words(feeding_months(brood)),
            )
            for brood in broods(about)
            if not any(finds_leaves(brood, months) for months in leaf)
        ]
    return pd.DataFrame(rows, columns=["butterfly", "gap", "brood", "months", "when"])


# Closing the life cycle in a yard: leaf for a brood, nectar while adults fly, a winter place.

WINTER_WORDS = {
    "leaf_litter": "leaf litter left under the plants",
    "on_stem": "stems left standing over winter",
    "bark": "a tree with bark to winter in",
    "host": "host plants left as they are over winter",
}
"""What keeps a winter place, in words."""


@dataclass(frozen=True, slots=True)
class LifeCycle:
    """Whether a butterfly can live its whole life in a yard, and what is missing.

    ``missing`` names each piece without which the cycle does not close; ``short`` names what would help but
    does not keep it open (a second brood without leaf). ``breeding`` is 0 without leaf for a brood whatever
    the nectar, else nectar share x winter: the factor on host leaf in a yard's habitat.
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

    @property
    def breeding(self) -> float:
        """Nectar share x winter where hosts feed a brood, else 0; in [0, 1]."""
        return self.nectar_share * self.winter_kept if self.broods_fed else 0.0


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

    Parameters
    ----------
    knowledge
        The tables.
    butterfly
        Accepted name.
    stands
        Plants that stand or are planned; others than hosts are passed over.
    nectar_months
        Months with bloom here or within the foraging distance.
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
    flight, drinks, place = knowledge.once(lambda: _habits(knowledge, butterfly), "habits", butterfly)
    feeding = feed(knowledge, butterfly, stands, year=year)
    flies = [m for m in flight if m in month_range(*season)]
    dry = [m for m in flies if m not in nectar_months] if drinks else []
    kept = not place or place in winter_places
    missing = [*_leaf_missing(feeding, year), *([f"no nectar in {month_words(dry)}"] if dry else [])]
    if not kept:
        missing.append(f"no {WINTER_WORDS[place]}")
    return LifeCycle(
        butterfly=butterfly,
        closed=not missing,
        missing=tuple(missing),
        short=tuple(_brood_words(b) for b in feeding.lacking) if feeding.fed else (),
        leaf_share=feeding.share,
        broods_fed=len(feeding.fed),
        broods=len(feeding.fed) + len(feeding.lacking),
        nectar_share=1.0 - len(dry) / max(len(flies), 1),
        winter_kept=kept,
    )


def _habits(knowledge: Knowledge, butterfly: str) -> tuple[tuple[int, ...], bool, str]:
    """Return flight months, whether adults take nectar, and the winter place, "" if none is needed."""
    row = knowledge.butterflies.loc[[butterfly]].iloc[0]
    return tuple(flight_months(row)), takes_nectar(row), "" if migrates(row) else winter_place(row)


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


def _leaf_missing(feeding: Feeding, year: int) -> list[str]:
    if feeding.fed:
        return []
    if feeding.later == year:
        return ["no host in leaf while caterpillars feed"]
    if feeding.later is not None:
        return [f"host plants too young to carry a brood before year {feeding.later}"]
    if feeding.grown <= 0:
        return ["no host plant"]
    return [f"host plants for only {feeding.share or feeding.grown:.0%} of one brood"]


def _brood_words(brood: Brood) -> str:
    return f"leaf for brood {brood.number} ({month_words(feeding_months(brood))})"
