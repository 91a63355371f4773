"""A yard's plan at true scale on chosen paper, with measures and the planting schedule."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import shapely
from shapely.geometry import LineString, Point

from habitat.grid import Bounds
from habitat.report.handover.bloom import bloom_strips
from habitat.report.handover.dxf import measures
from habitat.report.handover.schedule import schedule_rows
from habitat.report.handover.section import main_section, section_drawing
from habitat.report.sheets.care import DEFER, safety
from habitat.report.sheets.data import title_of
from habitat.report.sheets.drawing import Box, Mark, Paper, frame, line, meets, scale_bar, taken_by, words
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.known import old_words, unseen_words
from habitat.report.sheets.measures import lay_out
from habitat.report.sheets.walked import DRAFT, is_draft
from habitat.report.sheets.window import Framed, framed_at
from habitat.report.sheets.yard import drawn_yard
from habitat.report.typeset import MARGIN_MM, head
from habitat.report.words.numbers import Units
from habitat.report.words.text import listed, plain

PAPER_MM = {"letter": (279.4, 215.9), "tabloid": (431.8, 279.4), "a4": (297.0, 210.0), "a3": (420.0, 297.0)}
"""Paper lying: ANSI/ASME Y14.1 sizes A and B, ISO 216 A4 and A3."""

SCALES = {"metric": (50, 100, 200, 500, 1000), "us": (48, 96, 192, 480, 960)}
"""Scales of plans, one to so much; in US units a quarter and an eighth of an inch to the foot come first."""

SCHEDULE_MM, GAP_MM = 108.0, 6.0
"""Width of the schedule beside the plan, and air between them."""

ABOVE_MM, BELOW_MM = 27.0, 45.0
"""What the heading takes of a page, and what stands below the plan, margins included."""

DETAIL_MM, MOST_CROWN_M = 52.0, 3.0
"""What heading, scale bar and margins take of a page with beds, and how much of a crown is drawn there."""

ROW_MM = 7.4
"""Height of a row of the schedule."""

WORD_PLACES = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9, 0.05, 0.95)
WORD_OFF_MM = (0.0, 2.4, -2.4, 4.8, -4.8)
"""Where on its line, and how far beside it, the length of a measure may stand, best first."""

TICK_MM, BAR_MM = 1.2, 60.0
"""Half of the stroke across the end of a measure, and the longest scale bar."""


def plan_data(facts: YardFacts) -> dict[str, Any]:
    """Return what ``plan.typ`` sets for a yard: the plan, the schedule, bloom by month, the section."""
    settings = facts.plan.study.report
    units, page = Units(settings.units), PAPER_MM[settings.plan_paper]
    rows = schedule_rows(facts, units)
    wide, high = page[0] - 2 * MARGIN_MM, page[1] - ABOVE_MM - BELOW_MM
    rooms = [(wide - SCHEDULE_MM - GAP_MM, high)] if (len(rows) + 2) * ROW_MM <= high else []
    layout = lay_out(facts)
    made, room = framed_at(facts, layout, [*rooms, (wide, high)], SCALES[units.system])
    large = SCALES[units.system][:2]
    cut = main_section(facts)
    main = int(cut.bed.bed_number) if cut else 0
    yard = _drawn(made, units, main, measured=made.scale in large)
    top = head(facts.plan, title_of(facts))
    return {
        **top,
        "page": list(page),
        "subtitle": f"Yard {plain(facts.yard_id, 28)} · planting plan",
        "draft": DRAFT if is_draft(facts) else "",
        "plan": yard,
        "room": list([*rooms, (wide, high)][room]),
        "details": _details(made, (wide, page[1] - DETAIL_MM), units, main) if made.scale > large[0] else [],
        "beside": room < len(rooms),
        "schedule": [list(row) for row in rows],
        "cautions": _cautions(facts, yard["cut"], units),
        "bloom": bloom_strips(facts),
        "section": section_drawing(facts, (wide, page[1] - 70.0), units),
    }


def _drawn(made: Framed, units: Units, main: int, *, measured: bool = True) -> dict[str, Any]:
    """Return the drawing of a frame: with measures and every number, or for the general view without."""
    tapes = (lambda taken: _over_the_plan(made, units, main, taken)) if measured else None
    bar = scale_bar(Paper(made.bounds, made.scale), units.system, BAR_MM)
    return {**drawn_yard(made, units, tapes), "bar": bar}


def _details(made: Framed, room_mm: tuple[float, float], units: Units, main: int) -> list[dict[str, Any]]:
    """Return beds at the largest scale at which each fits, those together that fit one page.

    Each is drawn as the yard is, and has besides ``beds``, their numbers.
    """
    pages: list[tuple[list[int], Bounds, int]] = []
    for bed in sorted(made.facts.rows["beds"], key=lambda b: b.geometry.centroid.x):
        own, beds = _around(made.facts, bed), [int(bed.bed_number)]
        scale = _fitting(own, room_mm, units)
        for k, (others, bounds, same) in enumerate(pages):
            both = _joined(bounds, own)
            if same == scale == _fitting(both, room_mm, units):
                pages[k] = [*others, *beds], both, scale
                break
        else:
            if scale < made.scale:
                pages.append((beds, own, scale))
    return [
        {
            **_drawn(_window(made, bounds, scale), units, main),
            "beds": listed([str(n) for n in sorted(beds)]),
        }
        for beds, bounds, scale in pages
    ]


def _window(made: Framed, bounds: Bounds, scale: int) -> Framed:
    """Return a part of a frame, with the beds that lie in it whole, their plants and their measures."""
    facts, layout, ground = made.facts, made.layout, shapely.box(*bounds)
    beds = [b for b in facts.rows["beds"] if ground.covers(b.geometry)]
    ids, numbers = {b.bed_id for b in beds}, {int(b.bed_number) for b in beds}
    points = [p for p in facts.rows["plant_points"] if p.bed_id in ids]
    rows = {**facts.rows, "beds": beds, "plant_points": points}
    layout = replace(layout, ties=tuple(t for t in layout.ties if t.bed_number in numbers))
    facts = replace(facts, rows=rows)
    return replace(made, facts=facts, layout=layout, bounds=bounds, scale=scale, cut=True)


def _around(facts: YardFacts, bed: Any) -> Bounds:
    """Return the bounds of a bed and its plants with some air; a crown over MOST_CROWN_M is cut."""
    mine = [p for p in facts.rows["plant_points"] if p.bed_id == bed.bed_id]
    return frame([bed.geometry, *(p.geometry.buffer(min(p.crown_m, MOST_CROWN_M) / 2) for p in mine)], 1.0)


def _joined(one: Bounds, two: Bounds) -> Bounds:
    return min(one[0], two[0]), min(one[1], two[1]), max(one[2], two[2]), max(one[3], two[3])


def _fitting(bounds: Bounds, room_mm: tuple[float, float], units: Units) -> int:
    """Return the largest scale of plans at which bounds fit a room, the last if they fit at none."""
    sizes = {scale: Paper(bounds, scale).size_mm for scale in SCALES[units.system]}
    fits = (scale for scale, (w, h) in sizes.items() if w <= room_mm[0] and h <= room_mm[1])
    return next(fits, SCALES[units.system][-1])


def _cautions(facts: YardFacts, cut: bool, units: Units) -> list[str]:
    unseen, old = unseen_words(facts), old_words(facts)
    return [
        "Parcel lines are not a survey: measure from what stands."
        + (" Only a part of the yard is drawn." if cut else "")
        + (f" Not drawn, since nobody told of them: {unseen}." if unseen else "")
        + (f" {old}" if old else ""),
        *safety(facts, units).rules,
        DEFER,
    ]


def _over_the_plan(made: Framed, units: Units, main: int, taken: list[Box]) -> list[Mark]:
    """Return fixed points, measures with their lengths, and where the section is cut.

    A measure that comes from a point beyond the frame has its letter before the length.
    """
    paper = Paper(made.bounds, made.scale)
    marks: list[Mark] = [
        words(paper.place(p.x, p.y), letter, "fixed-words") for letter, p in made.layout.fixed.items()
    ]
    marks += _cut_marks(made, paper, main)
    boxes = [*taken, *(taken_by(m) for m in marks if m["kind"] == "words")]
    names = {(p.x, p.y): f"{name} " for name, p in made.layout.points.items()}
    ground = shapely.box(*made.bounds)
    for start, end in measures(made.layout):
        unseen = "" if ground.covers(start) else names.get((start.x, start.y), "")
        marks += _measure(start, end, unseen + units.length(start.distance(end)), paper, boxes)
    return marks


def _measure(start: Point, end: Point, text: str, paper: Paper, boxes: list[Box]) -> list[Mark]:
    """Return a measure: its line, a stroke across each end, its length where nothing else is written."""
    a, b = (paper.place(p.x, p.y) for p in (start, end))
    long = max(math.dist(a, b), 1e-9)
    ux, uy = (b[0] - a[0]) / long, (b[1] - a[1]) / long
    marks = line(LineString([start, end]), "dimension", paper)
    for x, y in (a, b):
        dx, dy = (ux + uy) * TICK_MM / 1.5, (uy - ux) * TICK_MM / 1.5
        ends = [[round(x - dx, 3), round(y - dy, 3)], [round(x + dx, 3), round(y + dy, 3)]]
        marks.append({"kind": "line", "look": "dimension", "points": ends})
    turn = math.degrees(math.atan2(uy, ux))
    turn += 180.0 if turn <= -90.0 else -180.0 if turn > 90.0 else 0.0
    wide, high = paper.size_mm
    tried = [
        words(
            [round(a[0] + ux * long * t - uy * off, 3), round(a[1] + uy * long * t + ux * off, 3)],
            text,
            "measure-words",
            turn,
        )
        for off in WORD_OFF_MM
        for t in WORD_PLACES
    ]
    inside = [m for m in tried if 2.0 < m["at"][0] < wide - 2.0 and 2.0 < m["at"][1] < high - 2.0]
    chosen = next((m for m in inside if not meets(taken_by(m), boxes)), (inside or tried)[0])
    boxes.append(taken_by(chosen))
    return [*marks, chosen]


def _cut_marks(made: Framed, paper: Paper, main: int) -> list[Mark]:
    """Mark where the ``main`` bed is cut for the section: a line a little beyond the bed, S at both ends."""
    cut = main_section(made.facts)
    if cut is None or int(cut.bed.bed_number) != main:
        return []
    away = 4.0 * paper.scale / 1000 / max(cut.start.distance(cut.end), 1e-9)
    ends = [_beyond(cut.end, cut.start, away), _beyond(cut.start, cut.end, away)]
    marks = line(LineString(ends), "cut", paper)
    return [*marks, *(words(paper.place(p.x, p.y), "S", "cut-words") for p in ends)]


def _beyond(start: Point, end: Point, share: float) -> Point:
    return Point(end.x + (end.x - start.x) * share, end.y + (end.y - start.y) * share)
