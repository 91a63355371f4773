"""Everything that the template sets for one yard, put together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from habitat.report.sheets.beds import bed_drawings
from habitat.report.sheets.care import care_lines, caution_lines, stage_rows
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.measures import Layout, layout_rows, layout_words
from habitat.report.sheets.words import (
    chain_lines,
    ground_m2,
    holes,
    measure_lines,
    missing_lines,
    plant_rows,
    relaxed_lines,
    standing_words,
    unknown_lines,
    unplaced_lines,
    why_lines,
)
from habitat.report.sheets.yard import yard_drawing
from habitat.report.sheets.year import year_strip
from habitat.report.typeset import MARGIN_MM, PAGE_MM
from habitat.report.words.numbers import Units, cost_words, money
from habitat.report.words.text import counted, plain
from habitat.terms import CANDIDATE

MANY_PLANTS = 12
"""Longer plant lists are set in one line a plant."""

MOST_MISSING = 5
"""So many lines tell what butterflies still lack."""

MEASURE_TITLES = ("", "The measurement that would help most", "Two measurements that would help most")
"""By how many there are."""


@dataclass(frozen=True, slots=True)
class Size:
    """How large a sheet is set: text [pt], most height of the drawings of yard and beds [mm]."""

    text_pt: float
    yard_mm: float
    beds_mm: float


def sheet_data(facts: YardFacts, layout: Layout) -> dict[str, Any]:
    """Return what is set for a yard, whatever the size; ``sized`` adds the drawings."""
    units = Units(facts.plan.study.report.units)
    plants = plant_rows(facts, units)
    compact = len(plants) > MANY_PLANTS
    return {
        "title": f"Yard {plain(facts.yard_id, 28)}",
        "subtitle": _subtitle(facts),
        "figures": _figures(facts, units),
        "alt": _alternative(facts),
        "layout": {"rows": layout_rows(layout, units), "words": layout_words(layout)},
        "plants": plants,
        "compact": compact,
        "table_size": 7.6 if compact else 8.0,
        "nothing": _nothing(facts),
        "standing": standing_words(facts),
        "year": year_strip(facts),
        "sides": _sides(facts),
        "parts": _parts_of_text(facts, units),
    }


def sized(facts: YardFacts, layout: Layout, size: Size, plants: int) -> dict[str, Any]:
    """Return what of a sheet depends on its size: the drawings and the size of the text.

    Parameters
    ----------
    layout
        Fixed points and tapes.
    plants
        Rows of the plant list, which the yard's drawing leaves room for.
    """
    units = Units(facts.plan.study.report.units)
    wide, high = PAGE_MM[facts.plan.study.report.paper]
    wide -= 2 * MARGIN_MM
    table_mm = 6.0 + plants * (5.0 if plants > MANY_PLANTS else 7.2)
    room = min(size.yard_mm, max(72.0, high - 69.0 - table_mm))
    yard = yard_drawing(facts, layout, (wide - 14.0, room), units)
    return {
        "text_size": size.text_pt,
        "room": min(room, yard["height"] + 3.0),
        "yard": yard,
        "yard_words": _yard_words(yard, units),
        "beds": bed_drawings(facts, layout, (wide, size.beds_mm), units),
    }


def _subtitle(facts: YardFacts) -> str:
    if facts.yard.get("role") == CANDIDATE:
        return "What your yard could grow: a planting plan to look at"
    return "Your planting plan"


def _figures(facts: YardFacts, units: Units) -> list[dict[str, str]]:
    plantings, beds = facts.rows["plantings"], facts.rows["beds"]
    ground, many = sum(bed.area_m2 for bed in beds), len(facts.bed_numbers)
    if not beds:
        ground = sum(ground_m2(row) for row in plantings)
    closed = sum(plain(row.missing) == "" for row in facts.rows["yard_butterflies"])
    return [
        {"value": f"{sum(int(p.count) for p in plantings):,}", "words": "plants"},
        {
            "value": units.area(ground),
            "words": counted(many, "bed").split()[1] + f" ({many})",
        },
        {
            "value": money(sum(p.cost for p in plantings)),
            "words": cost_words(facts.plan.study.planting.currency),
        },
        {"value": str(closed), "words": "butterflies find all they need"},
    ]


def _yard_words(yard: dict[str, Any], units: Units) -> str:
    cut = " Only a part of the yard is drawn." if yard["cut"] else ""
    return (
        f"{yard['scale']} when printed at full size. Parcel lines are not a survey: they may be off by "
        f"{'several feet' if units.us else 'metres'}, so measure from the house.{cut}"
    )


def _alternative(facts: YardFacts) -> str:
    beds, points = len(facts.rows["beds"]), len(facts.rows["plant_points"])
    return f"Plan of the yard, north up, with {counted(beds, 'bed')} and {counted(points, 'plant')} to scale."


def _nothing(facts: YardFacts) -> str:
    """Return what a sheet without plants says first; why, what is not known and what to measure follow."""
    told = "Nothing is planned for this yard."
    if holes(facts):
        told += (
            " Part of what plants need to know of it is unknown, and was counted as the worst that it could "
            "be: the measurements named here may change that."
        )
    return told


def _sides(facts: YardFacts) -> list[list[dict[str, Any]]]:
    """Return what stands side by side under the plant list: what lacks, and what is not known."""
    lacks = [f"{line[0].upper() + line[1:]}." for line in relaxed_lines(facts)]
    missing = missing_lines(facts)
    lacks += [f"Still missing for {line}." for line in missing[:MOST_MISSING]]
    if len(missing) > MOST_MISSING:
        lacks.append("More butterflies lack something here: the page tells which.")
    unknown = {"title": "What is not known", "kind": "points", "rows": unknown_lines(facts)}
    wanted = measure_lines(facts)
    measure = {"title": MEASURE_TITLES[len(wanted)], "kind": "points", "rows": wanted}
    if not lacks:
        return [[part] for part in (unknown, measure) if part["rows"]]
    left = {"title": "What could not be had", "kind": "points", "rows": lacks}
    return [[left], [part for part in (unknown, measure) if part["rows"]]]


def _parts_of_text(facts: YardFacts, units: Units) -> list[dict[str, Any]]:
    """Return the headed parts of the second page; those without a line are left out."""
    parts: list[dict[str, Any]] = [
        {"title": "Beds to find a place for", "kind": "points", "rows": unplaced_lines(facts, units)},
        {"title": "Why these plants here", "kind": "keyed", "rows": why_lines(facts)},
        {"title": "How this yard helps the chain", "kind": "points", "rows": chain_lines(facts, units)},
        {"title": "Eggs and caterpillars to look for", "kind": "stages", "rows": stage_rows(facts)},
        {"title": "Planting and the first years", "kind": "points", "rows": care_lines(facts, units)},
        {"title": "Please mind", "kind": "points", "rows": caution_lines(facts, units)},
    ]
    return [part for part in parts if part["rows"]]
