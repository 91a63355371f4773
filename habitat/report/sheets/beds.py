"""The drawings of single beds: every plant with its number, at the largest scale at which all beds fit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import shapely

from habitat.grid import Bounds
from habitat.report.sheets.drawing import (
    SCALES,
    Mark,
    Paper,
    area,
    frame,
    level,
    line,
    plant_circles,
    scale_bar,
    scale_words,
    turned,
    words,
)
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.known import sun_words
from habitat.report.sheets.measures import Layout
from habitat.report.sheets.numbers import plant_numbers
from habitat.report.words.numbers import Units

GAP_MM = 6.0
LETTER_MM = 1.7
TITLE_MM = 9.5
LEAST_WIDTH_MM = 40.0
"""The line on length, width and edge above a drawing takes so much."""
MOST_CROWN_M = 2.5
"""Wider crowns are cut off at the edge of a bed's drawing."""

NUMBER_MM = 1.9
"""A circle narrower than so much a digit is hidden by its number [mm]."""

LEAST_SCALE = 150
"""Beds are not drawn smaller than 1 to this: numbers could not be read."""


@dataclass(frozen=True, slots=True)
class _Bed:
    """A bed, turned to lie level, with what is drawn round it."""

    row: Any
    shape: Any
    points: list[Any]
    solid: list[Any]
    corners: dict[str, Any]
    turn_deg: float
    bounds: Bounds


def bed_drawings(
    facts: YardFacts, layout: Layout, room_mm: tuple[float, float], units: Units
) -> dict[str, Any]:
    """Return the drawings of a yard's beds, in rows, at one scale; a tree needs no drawing of its own.

    Parameters
    ----------
    layout
        Says which corners are measured; they get their letters.
    room_mm
        Width and height for all of them [mm]; the height is passed only where the scale would fall
        below 1 to LEAST_SCALE.

    Returns
    -------
    dict
        rows (lists of drawings: width, height, marks, title, turn, and wide, with what is written), bar,
        scale, height of all [mm]; rows are empty without beds.
    """
    beds = _all_turned(facts, layout)
    if not beds:
        return {"rows": [], "bar": None, "scale": "", "height": 0.0}
    scale = _scale(beds, room_mm, units)
    papers = [Paper(b.bounds, scale) for b in beds]
    drawn = facts.kept(
        ("drawn beds", id(layout), scale, units.system),
        lambda: [_drawing(facts, b, p, units) for b, p in zip(beds, papers, strict=True)],
    )
    return {
        "rows": [[drawn[k] for k in row] for row in _rows([p.size_mm[0] for p in papers], room_mm[0])],
        "bar": scale_bar(papers[0], units.system, 30.0),
        "scale": scale_words(papers[0], units),
        "height": _height(beds, scale, room_mm[0]),
    }


def beds_height(facts: YardFacts, layout: Layout, room_mm: tuple[float, float], units: Units) -> float:
    """Return how high ``bed_drawings`` are for a room [mm], without drawing them."""
    beds = _all_turned(facts, layout)
    return _height(beds, _scale(beds, room_mm, units), room_mm[0]) if beds else 0.0


def _scale(beds: list[_Bed], room_mm: tuple[float, float], units: Units) -> int:
    able = [s for s in SCALES[units.system] if s <= LEAST_SCALE]
    return next((s for s in able if _height(beds, s, room_mm[0]) <= room_mm[1]), able[-1])


def _all_turned(facts: YardFacts, layout: Layout) -> list[_Bed]:
    rows = [row for row in facts.rows["beds"] if row.growth_form != "tree"]
    beds, _ = facts.kept(
        ("beds", id(layout)), lambda: ([_turned(facts, layout, row) for row in rows], layout)
    )
    return beds


def _turned(facts: YardFacts, layout: Layout, row: Any) -> _Bed:
    """Return a bed turned to lie level, and what is drawn with it turned alike."""
    angle, about = level(row.geometry), row.geometry.centroid
    mine = [p for p in facts.rows["plant_points"] if p.bed_id == row.bed_id]
    spots = turned([p.geometry for p in mine], angle, about)
    letters = {t.corner: t.at for t in layout.ties if t.bed_number == int(row.bed_number)}
    solid = [
        s.intersection(facts.shape)
        for name in ("buildings", "paving")
        for s in (facts.around[name].geometry if name in facts.around else [])
        if s.distance(row.geometry) < 1.0
    ]
    shape = turned([row.geometry], angle, about)[0]
    crowns = [s.buffer(min(p.crown_m, MOST_CROWN_M) / 2) for p, s in zip(mine, spots, strict=True)]
    return _Bed(
        row,
        shape,
        [p._replace(geometry=s) for p, s in zip(mine, spots, strict=True)],
        turned(solid, angle, about),
        dict(zip(letters, turned(letters.values(), angle, about), strict=True)),
        angle,
        frame([shape, *crowns], 0.25),
    )


def _rows(widths: list[float], room: float) -> list[list[int]]:
    """Return which drawings stand side by side: as many as fit, in order."""
    rows: list[list[int]] = []
    left = 0.0
    for k, width in enumerate(widths):
        if rows and width <= left:
            rows[-1].append(k)
        else:
            rows.append([k])
            left = room
        left -= max(width, LEAST_WIDTH_MM) + GAP_MM
    return rows


def _height(beds: list[_Bed], scale: int, room: float) -> float:
    sizes = [Paper(b.bounds, scale).size_mm for b in beds]
    if max(w for w, _ in sizes) > room:
        return math.inf
    rows = _rows([w for w, _ in sizes], room)
    return sum(max(sizes[k][1] for k in row) + TITLE_MM + GAP_MM for row in rows)


def _drawing(facts: YardFacts, bed: _Bed, paper: Paper, units: Units) -> dict[str, Any]:
    marks = [m for s in bed.solid for m in area(s, "building-near", paper)]
    marks += [*area(bed.shape, "bed", paper), *line(bed.shape, "bed-edge", paper)]
    forms = facts.plan.knowledge.plants["form"].to_dict()
    placed = sorted(bed.points, key=lambda p: (-p.crown_m, p.point_id))
    numbers = plant_numbers(placed, paper, every=True)
    circles = [m | {"thin": True} for m in plant_circles(placed, forms, paper) if not _hidden(m, numbers)]
    marks += [*circles, *numbers]
    marks += _corner_letters(bed, paper)
    wide, high = paper.size_mm
    row = bed.row
    return {
        "width": wide,
        "height": high,
        "wide": max(wide, LEAST_WIDTH_MM),
        "marks": marks,
        "number": str(int(row.bed_number)),
        "title": f"{units.area(row.area_m2)}, sun {sun_words(facts, row.sun_h_mean)}",
        "edge": f"{_extent(row.geometry, units)}, edge {units.run(row.edge_m)}",
        "turn": round(-bed.turn_deg, 1),
    }


def _hidden(circle: Mark, numbers: list[Mark]) -> bool:
    """Return whether a number stands in for a plant too small for it: at its place, wider than its circle."""
    return any(
        m["kind"] == "words" and m["at"] == circle["at"] and 2 * circle["r"] < NUMBER_MM * len(m["text"])
        for m in numbers
    )


def _extent(bed: Any, units: Units) -> str:
    """Return length and width of the smallest rectangle round a bed, whichever way it lies."""
    ring = shapely.get_coordinates(bed.minimum_rotated_rectangle)
    one, two = (math.dist(ring[k], ring[k + 1]) for k in (0, 1))
    return f"{units.length(max(one, two))} × {units.length(min(one, two))}"


def _corner_letters(bed: _Bed, paper: Paper) -> list[Mark]:
    """Write the letters of measured corners just outside them."""
    middle = bed.shape.centroid
    marks: list[Mark] = []
    for letter, at in bed.corners.items():
        if letter == "middle":
            continue
        dx, dy = at.x - middle.x, at.y - middle.y
        out = LETTER_MM * paper.scale / 1000 / max(math.hypot(dx, dy), 1e-9)
        marks.append(words(paper.place(at.x + dx * out, at.y + dy * out), letter, "corner"))
    return marks
