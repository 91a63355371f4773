"""The 12-month strip of a sheet: bloom, caterpillars, where the winter stage is, when not to cut back."""

from __future__ import annotations

from functools import partial
from typing import Any

import pandas as pd

from habitat.knowledge.months import SLOTS
from habitat.knowledge.year import broods, flight_months, winter_place
from habitat.report.rows import row_of
from habitat.report.sheets.facts import YardFacts, most_first
from habitat.report.words.months import month_set
from habitat.report.words.text import plain

STAGE_WORDS = {"egg": "egg", "larva": "caterpillar", "pupa": "chrysalis", "adult": "adult"}
WINTER_SHORT = {
    "leaf_litter": "in fallen leaves",
    "on_stem": "on stems",
    "bark": "under bark",
    "host": "at the host plant",
    "soil": "in the soil",
}
"""Where a stage winters, by ``knowledge.year.winter_place``, as short as the strip needs it."""

MOST_BUTTERFLIES = 8
STANDS = "+"
"""Stands for what blooms and stands already, as on the drawing of the yard."""


def year_strip(facts: YardFacts) -> dict[str, Any]:
    """Return the strip: bloom by month as key numbers, a row per butterfly, what to leave and when to plant.

    Returns
    -------
    dict
        bloom : 12 lists of key numbers, STANDS last where something that stands already blooms;
        season : first and last month; butterflies : name, adult, caterpillar and winter as runs of half
        months ``[first, last + 1]`` (0-24), words (how it winters), eats (numbers); care : words
        and runs.
    """
    return {
        "bloom": _bloom(facts),
        "season": list(facts.plan.study.study.season),
        "butterflies": [
            {
                **facts.remembered(("strip", name), partial(_butterfly, facts, name)),
                "eats": _eats(facts, name),
            }
            for name in butterflies_of(facts)[:MOST_BUTTERFLIES]
        ],
        "care": _care(facts),
    }


def butterflies_of(facts: YardFacts) -> list[str]:
    """Return the butterflies that have a host here, standing or planned, the one with most habitat first."""
    known = facts.plan.knowledge.butterflies.index
    rows = [r for r in facts.rows["yard_butterflies"] if r.leaf_m2 > 0 or r.habitat_m2 > 0]
    return [r.butterfly for r in most_first(rows) if r.butterfly in known]


def _bloom(facts: YardFacts) -> list[list[str]]:
    keys = facts.keys
    months: list[set[int]] = [set() for _ in range(12)]
    for row in facts.rows["plantings"]:
        if "nectar" in str(row.purpose):
            for month in month_set(str(row.bloom_months)):
                months[month - 1].add(keys[row.plant])
    standing = _standing_bloom(facts)
    return [
        [str(k) for k in sorted(found)] + ([STANDS] if month in standing else [])
        for month, found in enumerate(months, 1)
    ]


def _eats(facts: YardFacts, name: str) -> list[str]:
    """Return the numbers of the hosts of a butterfly in the plan, STANDS last if one grows here already."""
    numbers = {
        facts.keys[row.plant]
        for row in facts.rows["plantings"]
        if name in (part.strip() for part in str(row.butterflies).split(";"))
    }
    stands = any(
        name in (part.strip() for part in str(row.butterflies).split(";"))
        for row in facts.rows["existing_plants"]
    )
    return [str(k) for k in sorted(numbers)] + ([STANDS] if stands else [])


def _standing_bloom(facts: YardFacts) -> frozenset[int]:
    """Return the months in which a nectar plant blooms that grows here already."""
    plants = facts.plan.knowledge.plants
    found = {p.plant for p in facts.rows["existing_plants"] if p.plant in plants.index}
    rows = [row_of(plants, name) for name in sorted(found)]
    spans = (f"{r.bloom_start_month:.0f}-{r.bloom_end_month:.0f}" for r in rows if r.nectar_value > 0)
    return frozenset[int]().union(*map(month_set, spans))


def _butterfly(facts: YardFacts, name: str) -> dict[str, Any]:
    row: pd.Series[Any] = row_of(facts.plan.knowledge.butterflies, name)
    found = broods(row)
    feeding = frozenset[int]().union(*(b.feeding for b in found))
    adult = {2 * (m - 1) + half for m in flight_months(row) for half in (0, 1)}
    stage = str(row["overwinter_stage"])
    rests = [b for b in found if b.winters_as]
    winter: frozenset[int] = frozenset()
    if rests:
        held = getattr(rests[-1], stage)
        winter = frozenset(s for s in held if s // 2 + 1 in (10, 11, 12, 1, 2, 3, 4)) - feeding - adult
    place = WINTER_SHORT.get(winter_place(row))
    words = (
        f"winter: {STAGE_WORDS[stage]} {place}" if place and stage != "migrates" else "leaves for the winter"
    )
    return {
        "name": plain(row["common_name"], 34),
        "adult": runs(adult),
        "caterpillar": runs(feeding),
        "winter": runs(winter),
        "words": words,
    }


def _care(facts: YardFacts) -> list[dict[str, Any]]:
    rule = facts.plan.knowledge.practice_value
    spring, cut = int(rule("spring_plant_start")), int(rule("cleanup_month_earliest"))
    plant = _months(spring, int(rule("spring_plant_end")))
    plant |= _months(int(rule("fall_plant_start")), int(rule("fall_plant_end")))
    leave = _months(10, 12) | _months(1, 12 if cut == 1 else cut - 1)
    return [
        {"words": "plant", "runs": runs(plant)},
        {"words": "water in dry weeks, first year", "runs": runs(_months(spring, 9))},
        {"words": "leave stems and leaves alone", "runs": runs(leave)},
    ]


def _months(first: int, last: int) -> set[int]:
    return {s for m in range(first, last + 1) for s in (2 * m - 2, 2 * m - 1)}


def runs(slots: Any) -> list[list[int]]:
    """Return half months as runs ``[first, last + 1]``, in order; runs do not wrap.

    Examples
    --------
    >>> runs({0, 1, 5, 22, 23})
    [[0, 2], [5, 6], [22, 24]]
    """
    have = sorted(s for s in slots if 0 <= s < SLOTS)
    starts = [s for s in have if s - 1 not in have]
    ends = [s + 1 for s in have if s + 1 not in have]
    return [[a, b] for a, b in zip(starts, ends, strict=True)]
