"""Drawings for drawing programs: the whole plan, and a yard with measures, legend and plant schedule."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from shapely.geometry import Point

from habitat.report.handover.blocks import LAYERS, Sheet
from habitat.report.handover.schedule import HEADINGS, schedule_rows
from habitat.report.plan import Plan
from habitat.report.rows import each_row
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.measures import Layout, lay_out
from habitat.report.sheets.yard import DOWNSPOUT_M
from habitat.report.words.numbers import Units
from habitat.report.words.text import plain
from habitat.site.types import GROWTH_FORM

GROUND = {
    "buildings": "BUILDING",
    "paving": "PAVING",
    "water": "WATER",
    "fences": "FENCE",
    "wires": "WIRES",
    "buried": "BURIED",
    "septic": "SEPTIC",
}
"""Layer of the study -> layer of the drawing."""

MEANINGS = {
    "YARD": "edge of the yard, not surveyed",
    "BUILDING": "building",
    "PAVING": "paving",
    "WATER": "water",
    "TREE": "crown of a tree that stands",
    "FENCE": "fence",
    "WIRES": "overhead wires",
    "BURIED": "buried line, as far as known",
    "SEPTIC": "septic field",
    "DOWNSPOUT": "outlet of a downspout",
    "BED": "bed",
}
"""Layers of lines as the legend tells them."""

CAUTION = (
    "Parcel lines are not a survey.",
    "Have buried lines marked by the utility locating service before anybody digs.",
    "Local codes and licensed practice come before this drawing.",
)
TEXT_M, ROW_M, GAP_M = 0.25, 0.5, 2.0
"""Height of words, distance of rows, and air beside the drawing, for a plot at 1:100 (2.5 mm letters)."""

COLUMNS_M = (1.2, 6.0, 6.0, 1.6, 2.0, 3.4, 3.6)
"""Widths of the columns of the schedule."""


def write_dxf(plan: Plan, path: Path) -> None:
    """Write yards, buildings, paving, trees, beds and plants as one drawing, in metres of the study's CRS.

    Every plant is the symbol of its kind at its mature spread with its number on the sheet.

    Raises
    ------
    OutputError
        If the package ezdxf is not installed.
    """
    sheet = Sheet()
    for name, shape in zip(plan.yards["yard_id"], plan.yards.geometry, strict=True):
        sheet.outline(shape, "YARD")
        spot = shape.representative_point()
        sheet.words(spot.x, spot.y, plain(name, 60), 1.2)
    frames = {layer: plan.layers.frame(layer) for layer in ("buildings", "paving", "trees")}
    _ground(sheet, {layer: frame for layer, frame in frames.items() if frame is not None})
    _beds(sheet, each_row(plan.beds))
    _plants(sheet, plan, each_row(plan.plant_points))
    _legend(sheet, *_beside(plan.yards.total_bounds))
    sheet.write(path)


def write_yard_dxf(facts: YardFacts, path: Path) -> None:
    """Write what stands and what is planned in one yard, with the measures, a legend and the plant schedule.

    Measures are aligned dimensions from the fixed points of the sheet; nothing of a neighbour's is drawn.
    """
    sheet, units = Sheet(), Units(facts.plan.study.report.units)
    sheet.outline(facts.shape, "YARD")
    near = facts.shape.buffer(0.3)
    frames = {k: f.set_geometry(f.geometry.intersection(near)) for k, f in facts.around.items()}
    _ground(sheet, frames)
    _beds(sheet, facts.rows["beds"])
    _plants(sheet, facts.plan, facts.rows["plant_points"])
    layout = lay_out(facts)
    for letter, point in layout.fixed.items():
        sheet.words(point.x + 0.1, point.y + 0.1, letter, TEXT_M, "FIXED-POINT")
    for start, end in measures(layout):
        sheet.dimension(start, end, units.length(start.distance(end)) if units.us else "<>")
    x, y = _beside(facts.shape.bounds)
    _schedule(sheet, facts, units, x, _legend(sheet, x, y) - GAP_M)
    sheet.write(path)


def measures(layout: Layout) -> list[tuple[Point, Point]]:
    """Return the ends of all tapes that lay the beds out: along a wall and off it, or from two points."""
    out: dict[tuple[Any, ...], tuple[Point, Point]] = {}
    for tie in layout.ties:
        first, second = layout.points[tie.first], layout.points[tie.second]
        ends = [(first, tie.foot), (tie.foot, tie.at)] if tie.foot else [(first, tie.at), (second, tie.at)]
        for start, end in ends:
            if start.distance(end) > 0.05:
                out[start.x, start.y, end.x, end.y] = start, end
    return list(out.values())


def _beside(bounds: Any) -> tuple[float, float]:
    return float(bounds[2]) + GAP_M, float(bounds[3])


def _ground(sheet: Sheet, frames: dict[str, Any]) -> None:
    for layer, frame in frames.items():
        for shape in frame.geometry if layer in GROUND else ():
            sheet.outline(shape, GROUND[layer])
    for shape in frames["downspouts"].geometry if "downspouts" in frames else ():
        sheet.circle(shape, 2 * DOWNSPOUT_M, "DOWNSPOUT")
    trees = frames.get("trees")
    if trees is not None and "crown_m" in trees:
        for point, crown in zip(trees.geometry, trees["crown_m"].astype(float), strict=True):
            if crown > 0 and point is not None and not point.is_empty:
                sheet.circle(point.centroid, crown, "TREE")


def _beds(sheet: Sheet, beds: Iterable[Any]) -> None:
    for bed in beds:
        sheet.outline(bed.geometry, "BED")
        spot = bed.geometry.representative_point()
        sheet.words(spot.x, spot.y, f"bed {int(bed.bed_number)}", 0.5)


def _plants(sheet: Sheet, plan: Plan, rows: list[Any]) -> None:
    """Set every plant; its symbol is as wide as most of its kind."""
    forms = plan.knowledge.plants["form"].to_dict()
    widths: dict[str, Counter[float]] = {}
    for row in rows:
        widths.setdefault(row.plant, Counter())[float(row.crown_m)] += 1
    for plant in sorted(widths):
        across = max(sorted(widths[plant]), key=widths[plant].__getitem__)
        sheet.define(plant, GROWTH_FORM.get(str(forms.get(plant)), "herb"), across)
    for row in rows:
        layer = f"PLANT-{GROWTH_FORM.get(str(forms.get(row.plant)), 'herb').upper()}"
        sheet.plant(row.geometry, row.plant, float(row.crown_m), layer, str(int(row.key_number)))


def _legend(sheet: Sheet, x: float, y: float) -> float:
    """Write what lines and symbols mean, those that are drawn, down from a place; return where it ends."""
    used = {entity.dxf.layer for entity in sheet.space}
    sheet.words(x, y, "Legend", TEXT_M * 1.4, "LEGEND")
    for layer, told in MEANINGS.items():
        if layer in used:
            y -= ROW_M
            sheet.line([(x, y + TEXT_M / 2), (x + 1.0, y + TEXT_M / 2)], "LEGEND", colour=LAYERS[layer])
            sheet.words(x + 1.4, y, told, TEXT_M, "LEGEND")
    for plant, (name, across) in sorted(sheet.blocks.items()):
        y -= ROW_M
        size = dict.fromkeys(("xscale", "yscale", "zscale"), 0.4 / across)
        at = (x + 0.5, y + TEXT_M / 2)
        sheet.space.add_blockref(name, at, dxfattribs={"layer": "LEGEND", **size})
        sheet.words(x + 1.4, y, plant, TEXT_M, "LEGEND")
    for caution in CAUTION:
        y -= ROW_M
        sheet.words(x, y, caution, TEXT_M, "LEGEND")
    return y


def _schedule(sheet: Sheet, facts: YardFacts, units: Units, x: float, y: float) -> None:
    """Write the planting schedule as a table of words, ruled, down from a place."""
    sheet.words(x, y, "Planting schedule", TEXT_M * 1.4, "SCHEDULE")
    for k, row in enumerate([HEADINGS, *schedule_rows(facts, units)]):
        y -= ROW_M
        for text, column in zip(row, itertools.accumulate((0.0, *COLUMNS_M[:-1])), strict=True):
            sheet.words(x + column, y, text, TEXT_M, "SCHEDULE")
        if k == 0:
            sheet.line([(x, y - 0.12), (x + sum(COLUMNS_M), y - 0.12)], "SCHEDULE")
