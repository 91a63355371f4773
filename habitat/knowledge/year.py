"""The year of a butterfly or moth: egg, larva, pupa and adult by half-month.

The tables say when adults fly, when eggs are laid and when caterpillars eat. Where a row (of an own table)
says only flight, broods and winter stage, the rest follows from these with development times that are
common practice: an egg about half a month, a caterpillar a month, a summer chrysalis half a month. The
result is good to half a month, no better.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from habitat.knowledge.columns import split_list
from habitat.knowledge.months import (
    SLOTS,
    first_of,
    mask_of,
    month_range,
    month_slots,
    months_in,
    run_mask,
    runs,
    slots_of,
    windows,
)
from habitat.knowledge.region import WINTER_REST

STAGES = ("egg", "larva", "pupa", "adult")
EGG, LARVA, PUPA = 1, 2, 1
"""Development in half-months in the growing season: common practice."""

WINTER_PLACES = {
    "leaf_litter": "in leaf litter on the ground",
    "on_stem": "on standing stems",
    "bark": "under loose bark, on trunks and in cracks",
    "host": "on the host plant or at its foot",
    "soil": "in the soil under and near the host plants",
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


def flight_months(butterfly: pd.Series[Any]) -> tuple[int, ...]:
    """Return the months in which adults fly; ``butterfly`` is a row of the butterfly table.

    Where the row has flight windows, the months between two flights are left out.
    """
    if butterfly.get("flight_windows"):
        return _in_order(mask_union(windows(str(butterfly["flight_windows"]))))
    return month_range(int(butterfly["flight_start_month"]), int(butterfly["flight_end_month"]))


def bloom_months(plant: pd.Series[Any]) -> tuple[int, ...]:
    """Return the months in which a plant flowers; ``plant`` is a row of the plant table."""
    return month_range(int(plant["bloom_start_month"]), int(plant["bloom_end_month"]))


def leaf_months(plant: pd.Series[Any]) -> tuple[int, ...]:
    """Return the months in which a plant has leaves to eat (April to October if the table does not say)."""
    return months_in(leaf_slots(plant))


def leaf_slots(plant: pd.Series[Any]) -> int:
    """Return the half-months with leaf as a mask: the windows, else leaf months, else April to October."""
    if plant.get("leaf_windows"):
        return mask_union(windows(str(plant["leaf_windows"])))
    first, last = plant.get("leaf_start_month"), plant.get("leaf_end_month")
    if first is None or last is None or pd.isna(first) or pd.isna(last):
        return month_slots(month_range(4, 10))
    return month_slots(month_range(int(first), int(last)))


def mask_union(masks: Iterable[int]) -> int:
    """Return the half-months of any of some masks."""
    out = 0
    for mask in masks:
        out |= mask
    return out


def _in_order(mask: int) -> tuple[int, ...]:
    """Return the months of a mask, from the one that begins its first run on."""
    months = months_in(mask)
    start = first_of(mask) // 2 + 1
    return tuple(sorted(months, key=lambda m: (m - start) % 12))


def takes_nectar(butterfly: pd.Series[Any]) -> bool:
    """Return whether nectar is among the adults' food."""
    return "nectar" in [f.strip() for f in str(butterfly["adult_food"]).split(";")]


DAY, NIGHT_SHORT, NIGHT_LONG = 0, 12, 24
"""What is added to a month [1-12] for nectar by day, at night to any tongue, and at night to a long one."""

NECTAR_TIMES = 37
"""One more than the greatest month so shifted: bits of a mask of nectar."""

LONG_TONGUES = ("Sphingidae",)
"""Families of moths whose tongues reach into long flowers: common knowledge, from memory."""


def nectar_time(butterfly: pd.Series[Any]) -> int:
    """Return when adults drink: DAY, NIGHT_SHORT or NIGHT_LONG; at dusk flowers of the day do (judgement)."""
    if str(butterfly.get("flies") or "day") != "night":
        return DAY
    return NIGHT_LONG if butterfly["family"] in LONG_TONGUES else NIGHT_SHORT


def nectar_mask(plant: pd.Series[Any]) -> int:
    """Return when a plant offers nectar, bit m for month m, shifted for the night as ``nectar_time`` says.

    At night only flowers count of which that is recorded; long ones for long tongues alone.

    Examples
    --------
    >>> import pandas as pd
    >>> row = {"bloom_start_month": 6, "bloom_end_month": 6, "nectar_value": 2}
    >>> pale = {"night_flower": "pale_scented", "night_tongue": "long"}
    >>> nectar_mask(pd.Series(row)) == 1 << 6, nectar_mask(pd.Series(row | pale)) == 1 << 6 | 1 << 30
    (True, True)
    """
    if not plant["nectar_value"] > 0:
        return 0
    days = sum(1 << month for month in bloom_months(plant))
    if str(plant.get("night_flower") or "none") == "none":
        return days
    short = str(plant.get("night_tongue") or "any") != "long"
    return days | days << NIGHT_LONG | (days << NIGHT_SHORT if short else 0)


def nectar_masks(plants: pd.DataFrame) -> list[int]:
    """Return ``nectar_mask`` of each row of a plant table."""
    return [nectar_mask(row) for _, row in plants.iterrows()]


def day_and_night(months: Iterable[int]) -> int:
    """Return the mask of months [1-12] by day and shifted for both kinds of night."""
    days = sum(1 << month for month in set(months))
    return days | days << NIGHT_SHORT | days << NIGHT_LONG


def migrates(butterfly: pd.Series[Any]) -> bool:
    """Return whether no stage winters here."""
    return str(butterfly["overwinter_stage"]) == "migrates"


def winter_place(butterfly: pd.Series[Any]) -> str:
    """Return where the winter stage is: a key of WINTER_PLACES ("away_from_host" for migrants)."""
    return "away_from_host" if migrates(butterfly) else str(butterfly["where_overwinters"])


@dataclass(frozen=True, slots=True)
class Window:
    """A window of a table: its half-months as a mask, and the broods that it is for."""

    slots: int
    broods: tuple[int, ...]


def egg_windows(butterfly: pd.Series[Any]) -> tuple[Window, ...]:
    """Return when eggs are laid, and which broods start then."""
    return _windows(butterfly, "egg") or tuple(
        Window(mask_of(s % SLOTS for s in range(first, max(last, first + 1))), (k + 1,))
        for k, (first, last) in enumerate(_laying(butterfly, str(butterfly["overwinter_stage"])))
    )


def feeding_windows(
    butterfly: pd.Series[Any], rest_months: Sequence[int] = WINTER_REST
) -> tuple[Window, ...]:
    """Return when caterpillars eat, and of which broods; without windows in the row as worked out.

    ``rest_months`` : the region's, in which none is worked out to eat.
    """
    return _windows(butterfly, "feeding") or tuple(
        Window(mask_of(brood.feeding), (brood.number,)) for brood in broods(butterfly, rest_months)
    )


def _windows(butterfly: pd.Series[Any], kind: str) -> tuple[Window, ...]:
    """Return the windows of a row with their broods, () if it has none."""
    masks = windows(str(butterfly.get(f"{kind}_windows") or ""))
    spans = [part.split("-") for part in split_list(str(butterfly.get(f"{kind}_broods") or ""))]
    numbers = [tuple(range(int(span[0]), int(span[-1]) + 1)) for span in spans]
    return tuple(Window(mask, of) for mask, of in zip(masks, numbers, strict=True))


def broods(butterfly: pd.Series[Any], rest_months: Sequence[int] = WINTER_REST) -> tuple[Brood, ...]:
    """Return the generations of a year, first eggs first; ``rest_months`` as for ``feeding_windows``."""
    stage = str(butterfly["overwinter_stage"])
    if _windows(butterfly, "egg") and _windows(butterfly, "feeding"):
        return _by_windows(butterfly, stage)
    laying = _laying(butterfly, stage)
    start = _slot(int(butterfly["flight_start_month"]))
    found = (_brood(k, laying, start, stage) for k in range(len(laying)))
    return tuple(replace(one, feeding=_awake(one.feeding, rest_months)) for one in found)


def _awake(feeding: Slots, rest_months: Sequence[int]) -> Slots:
    """Return half-months without those of winter rest, but where nothing would be left."""
    return frozenset(s for s in feeding if s // 2 + 1 not in rest_months) or feeding


def _by_windows(butterfly: pd.Series[Any], stage: str) -> tuple[Brood, ...]:
    """Return the broods of a row that has windows; one that several broods share is split evenly in order."""
    numbers = range(1, int(butterfly["broods_per_year"]) + 1)
    eggs, food = _windows(butterfly, "egg"), _windows(butterfly, "feeding")
    laid = [mask_union(share_of(w, k) for w in eggs) for k in numbers]
    eaten = [mask_union(share_of(w, k) for w in food) for k in numbers]
    flown = windows(str(butterfly.get("flight_windows") or ""))
    flights = list(flown) if len(flown) == len(laid) else laid
    return tuple(
        _stages_of(k, egg, feeding, flight, "" if k < len(laid) or stage == "migrates" else stage)
        for k, egg, feeding, flight in zip(numbers, laid, eaten, flights[1:] + flights[:1], strict=True)
    )


def _stages_of(number: int, egg: int, feeding: int, flight: int, winters: str) -> Brood:
    """Return a brood from its eggs, its meals and the flight that it comes to.

    Half-months are counted from the first egg on, so that a year that turns in between needs no care.
    """
    laid = first_of(egg)
    meals = [((first - laid) % SLOTS, length) for first, length in runs(feeding)]
    emerges = (first_of(flight) - laid) % SLOTS or SLOTS
    first, last = min(meals)[0], max(start + length - 1 for start, length in meals)
    hatches = min(EGG, first)
    adult = flight
    if winters == "egg":
        egg, hatches = run_mask(laid, max(first, 1)), first
    elif winters == "larva":
        last = max(last, emerges - 1 - PUPA)
    elif winters == "adult":
        adult |= run_mask(laid + last + 1 + PUPA, max(emerges - last - 1 - PUPA, 0))
    rests = emerges - last - 1 if winters in ("egg", "larva", "pupa") else PUPA
    larva = run_mask(laid + hatches, last - hatches + 1) if winters in ("egg", "larva") else feeding
    pupa = run_mask(laid + last + 1, max(rests, PUPA))
    sets = [frozenset(slots_of(mask)) for mask in (egg, larva, pupa, adult, feeding)]
    return Brood(number, sets[0], sets[1], sets[2], sets[3], sets[4], winters)


def share_of(window: Window, brood: int) -> int:
    """Return the part of a window that is a brood's: windows of several broods are split evenly, in order."""
    if brood not in window.broods:
        return 0
    start, length = first_of(window.slots), window.slots.bit_count()
    k, count = window.broods.index(brood), len(window.broods)
    cuts = [round(length * i / count) for i in (k, k + 1)]
    begin = min(cuts[0], length - 1)
    return run_mask(start + begin, max(cuts[1] - begin, 1))


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
    return Brood(k + 1, egg, larva, pupa, adult, larva, "" if stage == "migrates" else stage)
