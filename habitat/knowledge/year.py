"""The year of a butterfly: egg, larva, pupa and adult by half month, worked out from its flight.

The tables say when adults fly, how many broods there are and which stage winters. From these follow the other
stages, with development times that are common practice: an egg about half a month, a caterpillar a month, a
summer chrysalis half a month. The result is good to half a month, no better.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

import pandas as pd

from habitat.terms import MONTHS

STAGES = ("egg", "larva", "pupa", "adult")
SLOTS = 24
"""Half months in a year; slot 0 is the first half of January."""

EGG, LARVA, PUPA = 1, 2, 1
"""Development in half months in the growing season: common practice."""

LEAF_SHARE = 0.5
"""A host feeds a brood if it is in leaf for this share of the feeding time: judgement."""

WINTER_MONTHS = (11, 12, 1, 2, 3)
"""Months in which a wintering stage rests: common practice for the region."""

WINTER_PLACES = {
    "leaf_litter": "in leaf litter on the ground",
    "on_stem": "on standing stems",
    "bark": "under loose bark, on trunks and in cracks",
    "host": "on the host plant or at its foot",
    "away_from_host": "not here: it leaves for the winter",
}

Slots = frozenset[int]


@dataclass(frozen=True, slots=True)
class Brood:
    """One generation, as sets of half months (0-23), from the eggs to the adults that come of them.

    ``feeding`` are the half months in which caterpillars eat: those of ``larva`` without winter rest.
    ``adult`` of a last brood that winters as egg, larva or pupa is the first flight of the next year.
    """

    number: int
    egg: Slots
    larva: Slots
    pupa: Slots
    adult: Slots
    feeding: Slots
    winters_as: str


def month_range(first: int, last: int) -> tuple[int, ...]:
    """Return the months from first to last, over the turn of the year if last comes before first.

    Examples
    --------
    >>> month_range(11, 2)
    (11, 12, 1, 2)
    """
    return tuple((first - 1 + k) % 12 + 1 for k in range((last - first) % 12 + 1))


def months_text(months: Iterable[int]) -> str:
    """Return months as text, runs with a hyphen; a run may go over the turn of the year.

    Examples
    --------
    >>> months_text([6, 7, 8]), months_text([1, 11, 12]), months_text([4, 9]), months_text([])
    ('6-8', '11-1', '4, 9', '')
    """
    have = sorted(set(months))
    if len(have) == 12:
        return "1-12"
    starts = [m for m in have if (m - 2) % 12 + 1 not in have]
    runs = []
    for first in starts:
        last = first
        while last % 12 + 1 in have:
            last = last % 12 + 1
        runs.append(str(first) if first == last else f"{first}-{last}")
    return ", ".join(runs)


def month_words(months: Iterable[int]) -> str:
    """Return months by name, in the order given.

    Examples
    --------
    >>> month_words([9, 10])
    'September, October'
    """
    return ", ".join(MONTHS[m - 1] for m in months)


def month_span_words(months: Iterable[int]) -> str:
    """Return months by name, runs as "April to June"; a run may go over the turn of the year.

    Examples
    --------
    >>> month_span_words([4, 5, 6, 9])
    'April to June, September'
    """
    runs = [part.split("-") for part in months_text(months).split(", ") if part]
    return ", ".join(" to ".join(MONTHS[int(m) - 1] for m in run) for run in runs)


def flight_months(butterfly: pd.Series[Any]) -> tuple[int, ...]:
    """Return the months in which adults fly; ``butterfly`` is a row of the butterfly table."""
    return month_range(int(butterfly["flight_start_month"]), int(butterfly["flight_end_month"]))


def bloom_months(plant: pd.Series[Any]) -> tuple[int, ...]:
    """Return the months in which a plant flowers; ``plant`` is a row of the plant table."""
    return month_range(int(plant["bloom_start_month"]), int(plant["bloom_end_month"]))


def leaf_months(plant: pd.Series[Any]) -> tuple[int, ...]:
    """Return the months in which a plant has leaves to eat (April to October if the table does not say)."""
    first, last = plant.get("leaf_start_month"), plant.get("leaf_end_month")
    if first is None or last is None or pd.isna(first) or pd.isna(last):
        return month_range(4, 10)
    return month_range(int(first), int(last))


def takes_nectar(butterfly: pd.Series[Any]) -> bool:
    """Return whether nectar is among the adults' food."""
    return "nectar" in [f.strip() for f in str(butterfly["adult_food"]).split(";")]


def migrates(butterfly: pd.Series[Any]) -> bool:
    """Return whether no stage winters here."""
    return str(butterfly["overwinter_stage"]) == "migrates"


def winter_place(butterfly: pd.Series[Any]) -> str:
    """Return where the winter stage is: a key of WINTER_PLACES ("away_from_host" for migrants)."""
    return "away_from_host" if migrates(butterfly) else str(butterfly["where_overwinters"])


def broods(butterfly: pd.Series[Any]) -> tuple[Brood, ...]:
    """Return the generations of a year, first eggs first."""
    stage = str(butterfly["overwinter_stage"])
    windows = _laying(butterfly, stage)
    start = _slot(int(butterfly["flight_start_month"]))
    return tuple(_brood(k, windows, start, stage) for k in range(len(windows)))


def stages(butterfly: pd.Series[Any]) -> pd.DataFrame:
    """Return which stages of a butterfly are there in which month, by half months rounded outward.

    Parameters
    ----------
    butterfly
        A row of ``Knowledge.butterflies``.

    Returns
    -------
    DataFrame
        bool; index month 1-12, columns egg, larva, pupa, adult.

    Examples
    --------
    >>> import habitat
    >>> tables = habitat.knowledge.load_knowledge()
    >>> year = stages(tables.butterflies.loc["Papilio polyxenes"])
    >>> year.index[year["pupa"]].tolist()[:3]  # it winters as a chrysalis
    [1, 2, 3]
    """
    frame = pd.DataFrame(False, index=pd.RangeIndex(1, 13, name="month"), columns=list(STAGES))
    for brood in broods(butterfly):
        for stage in ("egg", "larva", "pupa"):
            frame.loc[_months(getattr(brood, stage)), stage] = True
        if brood.winters_as == "adult":
            frame.loc[_months(brood.adult), "adult"] = True
    frame.loc[list(flight_months(butterfly)), "adult"] = True
    return frame


def feeding_months(brood: Brood) -> tuple[int, ...]:
    """Return the months in which a brood's caterpillars eat, in the order in which they come."""
    return tuple(_months(brood.feeding))


def finds_leaves(brood: Brood, leaf: Collection[int]) -> bool:
    """Return whether a host in leaf in some months has leaves for most of a brood's feeding time."""
    there = sum(slot // 2 + 1 in leaf for slot in brood.feeding)
    return there >= LEAF_SHARE * len(brood.feeding)


def _slot(month: int) -> int:
    return 2 * (month - 1)


def _months(slots: Iterable[int]) -> list[int]:
    return sorted({s // 2 + 1 for s in slots})


def _span(first: int, last: int) -> Slots:
    """Return the slots from first up to, not with, last; at least one."""
    return frozenset(s % SLOTS for s in range(first, max(last, first + 1)))


def _laying(butterfly: pd.Series[Any], stage: str) -> list[tuple[int, int]]:
    """Return each time of egg-laying as (first slot, slot after the last), counted on past December."""
    start, count = _slot(int(butterfly["flight_start_month"])), int(butterfly["broods_per_year"])
    length = 2 * len(flight_months(butterfly))
    grow = EGG + LARVA + PUPA
    if stage == "adult":
        step = max(grow, (length - grow) // count)
        return [(start + k * step, start + k * step + grow) for k in range(count)]
    if stage == "migrates":  # the last brood must be on the wing before the flight ends
        length = max(count, length - grow)
    edges = [start + round(k * length / count) for k in range(count + 1)]
    windows = list(itertools.pairwise(edges))
    late = butterfly.get("egg_start_month")
    if late is not None and not pd.isna(late):
        first, last = windows[0]
        windows[0] = (first + (_slot(int(late)) - first) % SLOTS, last)
    return windows


def _brood(k: int, windows: list[tuple[int, int]], start: int, stage: str) -> Brood:
    first, last = windows[k]
    final = k == len(windows) - 1
    spring = start + SLOTS
    egg, larva = _span(first, last), _span(first + EGG, last + LARVA)
    pupa = _span(first + EGG + LARVA, last + EGG + LARVA)
    adult = _span(first + EGG + LARVA + PUPA, last + EGG + LARVA + PUPA)
    if not final:
        follows = windows[k + 1]
        adult = _span(*follows) if stage != "adult" else _span(first + 4, follows[1])
        return Brood(k + 1, egg, larva, pupa, adult, larva, "")
    if stage == "egg":
        egg, larva, pupa = _span(first, spring - 4), _span(spring - 4, spring - 1), _span(spring - 2, spring)
        adult = _span(start, last)
    elif stage == "larva":
        larva, pupa = _span(first + EGG, spring - 1), _span(spring - 2, spring)
        adult = _span(*windows[0])
    elif stage == "pupa":
        pupa, adult = _span(first + EGG + LARVA, spring), _span(*windows[0])
    elif stage == "adult":
        adult = _span(first + EGG + LARVA + PUPA, spring + 4)
    feeding = frozenset(s for s in larva if s // 2 + 1 not in WINTER_MONTHS) if stage == "larva" else larva
    return Brood(k + 1, egg, larva, pupa, adult, feeding, "" if stage == "migrates" else stage)
