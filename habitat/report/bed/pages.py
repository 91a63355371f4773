"""A designed bed on two pages: drawn to scale, plants, butterflies; then cautions, care and its year."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import shapely

from habitat.bed.design import BedPlan
from habitat.report.bed.facts import bed_facts, bed_units
from habitat.report.bed.words import (
    LAYER_WORDS,
    butterfly_lines,
    care_words,
    lacking_words,
    mind_words,
    not_known_words,
    plant_kinds,
    size_words,
    taken_words,
)
from habitat.report.sheets.drawing import (
    Mark,
    Paper,
    area,
    frame,
    line,
    plant_circles,
    scale_bar,
    scale_for,
    scale_words,
)
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.numbers import plant_numbers
from habitat.report.sheets.year import year_strip
from habitat.report.typeset import MARGIN_MM, PAGE_MM, Typesetter
from habitat.report.words.numbers import Units, cost_words, money
from habitat.report.words.text import listed, plain

PAPER = "letter"
"""Paper of a country whose states are places here."""


@dataclass(frozen=True, slots=True)
class Size:
    """How large the pages are set, text [pt] and most height of the drawing [mm], and how full.

    eaters : butterflies named for a plant. lines : lines told in each list. The rest are counted.
    """

    text_pt: float
    drawing_mm: float
    eaters: int
    lines: int


SIZES = (
    Size(10.0, 110.0, 5, 12),
    Size(9.5, 100.0, 5, 10),
    Size(9.0, 95.0, 4, 8),
    Size(8.5, 90.0, 3, 6),
    Size(8.0, 85.0, 2, 5),
    Size(7.5, 75.0, 1, 4),
)
"""Tried in order until all of it takes two pages."""

MOST_IN_YEAR = 6
"""Butterflies with a row in the year."""

NO_DAY = [2000, 1, 1]
"""A bed has no date; the typesetter asks for one."""

NAMES = {"structure": "Structure", "season": "Seasons", "ground": "Ground layer"}


def bed_pdf(bed: BedPlan) -> bytes:
    """Return a designed bed as PDF: two pages, at the largest size at which it takes no more.

    Parameters
    ----------
    bed
        The design.

    Returns
    -------
    bytes
        Equal for equal designs.
    """
    facts, units = bed_facts(bed), Units(bed_units(bed))
    setter = Typesetter("bed.typ", None)
    for size in SIZES:
        page = {**_words(bed, facts, units, size), "drawing": _drawing(bed, facts, size.drawing_mm, units)}
        pdf = setter.pdf(_head(bed, units) | {"bed": page})
        if max(setter.ask("<pages>"), default=1) <= 2:
            break
    return pdf


def _head(bed: BedPlan, units: Units) -> dict[str, Any]:
    wide, high = PAGE_MM[PAPER]
    words = size_words(bed.facts.size, units)
    title = words[0].upper() + words[1:]
    return {"page": [wide, high], "width": wide - 2 * MARGIN_MM, "title": title, "sheets": [], "ymd": NO_DAY}


def _words(bed: BedPlan, facts: YardFacts, units: Units, size: Size) -> dict[str, Any]:
    """Return all words of the pages."""
    mind, told, year = mind_words(bed, facts, units), bed.facts.told, year_strip(facts)
    return {
        "place": plain(told["place"], 80),
        "figures": _figures(bed),
        "alt": f"Plan of the bed, north up, with {len(bed.planting.plant_points)} plants to scale.",
        "size": size.text_pt,
        "plants": _plant_rows(bed, units, size.eaters),
        "nothing": "No plant of the tables can live here: page 2 says why.",
        "layers": _layers(bed),
        "butterflies": _first(butterfly_lines(bed), size.lines, "more lines"),
        "rules": mind.rules,
        "last": mind.last,
        "care": [{"months": when, "text": what} for when, what in care_words(bed, facts, units)],
        "year": year | {"butterflies": year["butterflies"][:MOST_IN_YEAR]},
        "parts": [part for part in _parts(bed, facts, mind.more, size.lines) if part["rows"]],
    }


def _figures(bed: BedPlan) -> list[dict[str, str]]:
    breeds = int((bed.butterflies["verdict"] == "can breed").sum())
    return [
        {"value": f"{int(bed.plants['count'].sum()):,}", "words": "plants"},
        {"value": str(len(bed.plants)), "words": "kinds"},
        {"value": money(bed.cost), "words": cost_words(bed.settings.currency)},
        {"value": str(breeds), "words": "butterflies can breed"},
    ]


def _plant_rows(bed: BedPlan, units: Units, eaters: int) -> list[dict[str, str]]:
    forms = bed.knowledge.plants["form"]
    return [
        {
            "number": str(kind.number),
            "look": f"plant-{forms.get(kind.plant, 'forb')}",
            "common": kind.common_name,
            "scientific": kind.plant,
            "count": str(kind.count),
            "bought_as": kind.bought_as,
            "spacing": kind.spacing,
            "height": kind.height,
            "serves": kind.serves,
        }
        for kind in plant_kinds(bed, units, eaters)
    ]


def _layers(bed: BedPlan) -> list[dict[str, str]]:
    """Return where the kinds of each layer go, by their numbers."""
    out = []
    for layer, where in LAYER_WORDS.items():
        numbers = [str(int(n)) for n in bed.plants.loc[bed.plants["layer"] == layer, "number"]]
        if numbers:
            out.append({"name": NAMES[layer], "words": f"{listed(numbers)}: {where}"})
    return out


def _first(lines: list[str], most: int, what: str) -> list[str]:
    """Return the first of some lines, and how many more the text tells of."""
    more = len(lines) - most
    return lines if more <= 0 else [*lines[:most], f"{more} {what}: bed.txt tells of each."]


def _parts(bed: BedPlan, facts: YardFacts, more: list[str], most: int) -> list[dict[str, Any]]:
    return [
        {"title": "Please mind too", "rows": _first(more, 2 * most, "more cautions")},
        {"title": "Not possible here", "rows": _first(lacking_words(bed, facts), most // 2, "more wishes")},
        {"title": "What is not known", "rows": not_known_words(bed)},
        {"title": "What was taken", "rows": ["; ".join(taken_words(bed)) + "."]},
    ]


def _drawing(bed: BedPlan, facts: YardFacts, high_mm: float, units: Units) -> dict[str, Any] | None:
    """Return the bed to scale with the number of each plant; None where there is none."""
    points = facts.rows["plant_points"]
    if not points:
        return None
    outline = bed.facts.size.outline
    crowns = [p.geometry.buffer(p.crown_m / 2) for p in points]
    window = frame([outline, *crowns], 0.05)
    wide_mm = PAGE_MM[PAPER][0] - 2 * MARGIN_MM - 12.0
    scale = scale_for(window[2] - window[0], window[3] - window[1], (wide_mm, high_mm), units.system)
    paper = Paper(window, scale)
    forms = bed.knowledge.plants["form"].to_dict()
    placed = sorted(points, key=lambda p: (-p.crown_m, p.point_id))
    marks: list[Mark] = [*line(outline, "measure", paper)]
    for row in facts.rows["beds"]:
        marks += [*area(row.geometry, "bed", paper), *line(row.geometry, "bed-edge", paper)]
    marks += [*plant_circles(placed, forms, paper), *plant_numbers(placed, paper, every=True)]
    wide, tall = paper.size_mm
    return {
        "width": wide,
        "height": tall,
        "marks": marks,
        "bar": scale_bar(paper, units.system, 40.0),
        "words": _drawing_words(bed, paper, units),
    }


def _drawing_words(bed: BedPlan, paper: Paper, units: Units) -> str:
    walks = len(shapely.get_parts(shapely.union_all(bed.planting.beds.geometry.to_numpy()))) > 1
    path = f" The ground between is a walk {units.size(0.5)} wide." if walks else ""
    return (
        f"{scale_words(paper, units)} when printed at full size. Circles are full-grown plants, numbers "
        f"those of the list.{path}"
    )
