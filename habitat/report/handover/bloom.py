"""Bloom by month of each bed: a row per kind in the colour of its flowers."""

from __future__ import annotations

from typing import Any

from habitat.knowledge.looks import flower_colors
from habitat.report.sheets.facts import YardFacts
from habitat.report.words.months import month_set
from habitat.report.words.text import plain

COLOURS = {
    "white": "#fbfaf2",
    "yellow": "#e9c62f",
    "orange": "#e28a2b",
    "red": "#bf3b35",
    "pink": "#e3a0bd",
    "purple": "#8a62a8",
    "blue": "#6c8fc9",
    "green": "#8fb068",
    "brown": "#8d6a47",
}
"""Colour of flowers -> how it is printed; the word stands beside, so that nobody has to tell colours."""

NOT_KNOWN = "#b9b9b2"
"""Stands for flowers of which no colour is known."""


def bloom_strips(facts: YardFacts) -> list[dict[str, Any]]:
    """Return for each bed its kinds in the order in which they come into bloom.

    Returns
    -------
    list of dict
        number : of the bed; rows : key, name, told (colours in words), colours (at most two, as printed),
        runs of months in bloom ``[first, last + 1]`` (0-12). Kinds without flowers to see have no runs.
    """
    by_bed: dict[str, dict[str, Any]] = {}
    for row in facts.by_key:
        by_bed.setdefault(row.bed_id, {}).setdefault(row.plant, row)
    numbers = sorted((number, bed) for bed, number in facts.bed_numbers.items() if bed in by_bed)
    return [
        {"number": str(number), "rows": _rows(facts, list(by_bed[bed].values()))} for number, bed in numbers
    ]


def _rows(facts: YardFacts, plantings: list[Any]) -> list[dict[str, Any]]:
    rows = [_row(facts, planting) for planting in plantings]
    return sorted(rows, key=lambda r: (r["runs"] or [[99, 99]], int(r["key"])))


def _row(facts: YardFacts, planting: Any) -> dict[str, Any]:
    known = facts.plan.knowledge.plants
    cell = known["flower_color"].get(planting.plant, "") if "flower_color" in known else ""
    colours = flower_colors(cell)[:2]
    unseen = isinstance(cell, str) and cell.strip() == "none"
    months = sorted(month_set(str(planting.bloom_months)))
    starts = [m - 1 for m in months if m - 1 not in months]
    ends = [m for m in months if m + 1 not in months]
    told = " and ".join(colours) or ("no flower to see" if unseen else "colour not known")
    return {
        "key": str(facts.keys[planting.plant]),
        "name": plain(planting.common_name, 34),
        "told": told,
        "colours": [COLOURS.get(c, NOT_KNOWN) for c in colours] or [NOT_KNOWN],
        "runs": [] if unseen else [list(run) for run in zip(starts, ends, strict=True)],
    }
