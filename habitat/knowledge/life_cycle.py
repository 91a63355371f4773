"""Closing the life cycle in a yard: leaf for a brood, nectar while adults fly, a winter place."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

import pandas as pd

from habitat.knowledge.broods import Feeding, HostStand, feed
from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import (
    Brood,
    feeding_months,
    flight_months,
    migrates,
    month_range,
    month_words,
    takes_nectar,
    winter_place,
)

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
    >>> from habitat.study import KnowledgeSettings
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
