"""Everything that the template sets for one yard, put together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from habitat.knowledge.life_cycle import BREEDS
from habitat.report.sheets.beds import bed_drawings
from habitat.report.sheets.care import DEFER, care_lines, left_out_lines, safety
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.known import holes, old_words, unseen_words
from habitat.report.sheets.measures import Layout, layout_rows, layout_words
from habitat.report.sheets.walked import DRAFT, is_draft, told_lines
from habitat.report.sheets.words import (
    ground_m2,
    measure_lines,
    missing_lines,
    plant_rows,
    relaxed_lines,
    standing_words,
    unknown_lines,
    unplaced_lines,
)
from habitat.report.sheets.yard import yard_drawing
from habitat.report.sheets.year import year_strip
from habitat.report.typeset import MARGIN_MM, PAGE_MM
from habitat.report.words.numbers import Units, cost_words, money
from habitat.report.words.text import counted, in_address, plain
from habitat.terms import CANDIDATE

MEASURE_TITLES = ("", "The measurement that would help most", "Two measurements that would help most")
"""By how many there are."""

AIR_MM = 3.0
"""Above and below the drawing of the yard together [mm]."""


def sheet_data(facts: YardFacts, layout: Layout) -> dict[str, Any]:
    """Return what is set for a yard, whatever the size; ``sized`` adds the drawings."""
    units = Units(facts.plan.study.report.units)
    mind = safety(facts, units)
    return {
        "title": title_of(facts),
        "subtitle": _subtitle(facts),
        "draft": DRAFT if is_draft(facts) else "",
        "figures": _figures(facts, units),
        "alt": _alternative(facts),
        "layout": {"rows": layout_rows(layout, units), "words": layout_words(layout, units)},
        "plants": plant_rows(facts, units),
        "nothing": _nothing(facts),
        "standing": standing_words(facts),
        "year": year_strip(facts),
        "care": care_lines(facts, units),
        "safety": mind.rules,
        "defer": DEFER,
        "parts": _below_the_beds(facts, units),
        "mind": mind.more,
        "link": f"page.html#yard={in_address(facts.yard_id)}",
    }


def title_of(facts: YardFacts) -> str:
    """Return what a sheet is headed by: the yard's address where it has one, else its id."""
    address = plain(facts.given.get("address"), 48)
    return address or f"Yard {plain(facts.yard_id, 28)}"


def sized(
    facts: YardFacts,
    layout: Layout,
    sizes_pt: Sequence[float],
    rooms_mm: tuple[float, float],
) -> dict[str, Any]:
    """Return what of a sheet depends on the sizes of its pages: the drawings and the sizes of the text.

    Parameters
    ----------
    layout
        Fixed points and tapes.
    sizes_pt
        Of the text of the three pages.
    rooms_mm
        How high the drawings of the first and second page may be.
    """
    units = Units(facts.plan.study.report.units)
    wide = PAGE_MM[facts.plan.study.report.paper][0] - 2 * MARGIN_MM
    yard = yard_drawing(facts, layout, (wide - 14.0, rooms_mm[0] - AIR_MM), units)
    return {
        "text_sizes": list(sizes_pt),
        "room": yard["height"] + AIR_MM,
        "yard": yard,
        "yard_words": _yard_words(yard, units, unseen_words(facts), old_words(facts)),
        "beds": bed_drawings(facts, layout, (wide, rooms_mm[1]), units),
    }


def _subtitle(facts: YardFacts) -> str:
    told = "your planting plan"
    if facts.yard.get("role") == CANDIDATE:
        told = "what your yard could grow"
    if is_draft(facts):
        told += ", a draft until somebody has walked the yard"
    if title_of(facts).startswith("Yard "):
        return told[0].upper() + told[1:]
    return f"Yard {plain(facts.yard_id, 28)} · {told}"


def _figures(facts: YardFacts, units: Units) -> list[dict[str, str]]:
    plantings, beds = facts.rows["plantings"], facts.rows["beds"]
    ground, many = sum(bed.area_m2 for bed in beds), len(facts.bed_numbers)
    if not beds:
        ground = sum(ground_m2(row) for row in plantings)
    many_plants = sum(int(p.count) for p in plantings)
    breeds = sum(row.verdict == BREEDS for row in facts.rows["yard_butterflies"])
    return [
        {"value": f"{many_plants:,}", "words": "plant" if many_plants == 1 else "plants"},
        {
            "value": units.area(ground),
            "words": counted(many, "bed").split()[1] + f" ({many})",
        },
        {
            "value": money(sum(p.cost for p in plantings)),
            "words": cost_words(facts.plan.study.planting.currency),
        },
        {"value": str(breeds), "words": "butterflies and moths can breed here"},
    ]


def _yard_words(yard: dict[str, Any], units: Units, unseen: str, old: str) -> str:
    cut = " Only a part of the yard is drawn." if yard["cut"] else ""
    cut += f" Not drawn, since nobody told of them: {unseen}." if unseen else ""
    cut += f" {old}" if old else ""
    return (
        f"{yard['scale']} when printed at full size. Parcel lines are not a survey: they may be off by "
        f"{'several feet' if units.us else 'metres'}, so measure from the house.{cut}"
    )


def _alternative(facts: YardFacts) -> str:
    beds, points = len(facts.rows["beds"]), len(facts.rows["plant_points"])
    return f"Plan of the yard with {counted(beds, 'bed')} and {counted(points, 'plant')} to scale."


def _nothing(facts: YardFacts) -> str:
    """Return what a sheet without plants says first; why, what is not known and what to measure follow."""
    told = "Nothing is planned for this yard."
    if holes(facts):
        told += (
            " Part of what plants need to know of it is unknown, and was counted as the worst that it could "
            "be: the measurements named here may change that."
        )
    return told


def _below_the_beds(facts: YardFacts, units: Units) -> list[dict[str, Any]]:
    """Return the headed parts of the second page; those without a line are left out."""
    wanted = measure_lines(facts, units)
    parts: list[dict[str, Any]] = [
        {"title": "Beds to find a place for", "rows": unplaced_lines(facts, units)},
        {"title": "What you told of your yard", "rows": told_lines(facts)},
        {"title": "Not possible here", "rows": lacking_lines(facts)},
        {"title": "Left out for who lives here", "rows": left_out_lines(facts)},
        {"title": "What is not known", "rows": unknown_lines(facts)},
        {"title": MEASURE_TITLES[len(wanted)], "rows": wanted},
    ]
    return [part for part in parts if part["rows"]]


def lacking_lines(facts: YardFacts) -> list[str]:
    """Return what was wished for and could not be had, and what butterflies lack."""
    lacks = [f"{line[0].upper() + line[1:]}." for line in relaxed_lines(facts)]
    lacks += [f"Still missing for {line}." for line in missing_lines(facts)]
    return lacks
