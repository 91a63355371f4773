"""A designed bed as plain text: a drawing in characters, plants, whom they serve, what to do and to mind."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from habitat.bed.design import BedPlan
from habitat.report.bed.facts import bed_facts, bed_units
from habitat.report.bed.words import (
    butterfly_lines,
    care_words,
    lacking_words,
    layer_words,
    mind_words,
    not_known_words,
    plant_kinds,
    taken_words,
    title_words,
)
from habitat.report.words.numbers import Units, cost_words, money

WIDE, WIDEST_CELL_M = 36, 0.5
"""Most cells across a drawing, two characters each; the coarsest cell [m] while the page is wide enough."""

LEAST_CELL_M = 0.05


@dataclass(frozen=True, slots=True)
class _Raster:
    """Cells of a drawing: centres x (columns) and y (rows, top first), side [m]."""

    x: np.ndarray
    y: np.ndarray
    cell_m: float


def bed_text(bed: BedPlan, width: int = 78) -> str:
    """Return a designed bed as text.

    Parameters
    ----------
    bed
        The design.
    width
        Most characters in a line.
    """
    facts, units = bed_facts(bed), Units(bed_units(bed))
    care, mind = care_words(bed, facts, units), mind_words(bed, facts, units)
    parts = [
        [title_words(bed, units), *_points(taken_words(bed), width)],
        [drawing_text(bed), _scale_words(bed, units)] if len(bed.plants) else [],
        _plant_lines(bed, units),
        _headed("Butterflies", butterfly_lines(bed), width),
        _headed("Not possible here", lacking_words(bed, facts), width),
        _headed("What is not known", not_known_words(bed), width),
        _headed("This year and after", (f"{when}: {what}" for when, what in care), width),
        _headed("Please mind", [*mind.rules, *mind.more, mind.last], width),
    ]
    return "\n\n".join("\n".join(lines) for lines in parts if lines)


def _headed(title: str, lines: Iterable[str], width: int) -> list[str]:
    told = _points(lines, width)
    return [title, *told] if told else []


def _points(lines: Iterable[str], width: int) -> list[str]:
    return [textwrap.fill(line, width, initial_indent="  - ", subsequent_indent="    ") for line in lines]


def drawing_text(bed: BedPlan) -> str:
    """Return the bed to scale in characters: each plant's number where it stands, north up.

    A cell is two characters wide and one line high, which is about as wide as high.
    """
    raster = _raster(bed)
    shown = np.full((len(raster.y), len(raster.x)), "  ", dtype="<U2")
    ground = shapely.union_all(bed.planting.beds.geometry.to_numpy())
    xx, yy = np.meshgrid(raster.x, raster.y)
    shown[shapely.contains_xy(ground.buffer(raster.cell_m / 4), xx, yy)] = " ."
    numbers = bed.plants.set_index("plant")["number"]
    points = bed.planting.plant_points
    free = np.ones(shown.shape, bool)
    for plant, point in zip(points["plant"], points.geometry, strict=True):
        row, col = _nearest_free(raster, free, point)
        shown[row, col] = f"{int(numbers[plant]):2d}"
        free[row, col] = False
    rim = "+" + "-" * (2 * len(raster.x) + 1) + "+"
    return "\n".join([rim, *("|" + "".join(row) + " |" for row in shown), rim])


def _raster(bed: BedPlan) -> _Raster:
    west, south, east, north = bed.facts.size.outline.bounds
    spacing = float(bed.plants["spacing_m"].min())
    cell = max((east - west) / WIDE, min(0.7 * spacing, (north - south) / 2.0, WIDEST_CELL_M), LEAST_CELL_M)
    cols, rows = (max(1, round((b - a) / cell)) for a, b in ((west, east), (south, north)))
    x = west + (np.arange(cols) + 0.5) * (east - west) / cols
    y = north - (np.arange(rows) + 0.5) * (north - south) / rows
    return _Raster(x, y, cell)


def _nearest_free(raster: _Raster, free: np.ndarray, point: Any) -> tuple[int, int]:
    """Return the cell nearest to a point that holds no number yet; the nearest of all where none is free."""
    away = np.hypot(raster.x[None, :] - point.x, raster.y[:, None] - point.y)
    away = np.where(free, away, away + 1e3) if free.any() else away
    row, col = np.unravel_index(int(np.argmin(away)), away.shape)
    return int(row), int(col)


def _scale_words(bed: BedPlan, units: Units) -> str:
    size = bed.facts.size
    across = f"{units.length(size.length_m)} across, {units.length(size.width_m)} from top to bottom"
    return f"North is up. {across}; each number is one plant."


def _plant_lines(bed: BedPlan, units: Units) -> list[str]:
    """Return the list of plants, two lines a kind."""
    if not len(bed.plants):
        return ["No plant of the tables can live here: see what is not possible here."]
    lines = ["Plants"]
    for kind in plant_kinds(bed, units):
        head = f" {kind.number:2d}  {kind.count:3d} x {kind.common_name} ({kind.plant}), {kind.bought_as}"
        lines += textwrap.wrap(head, 80, subsequent_indent=" " * 10)
        where = f"{layer_words(kind.layer)}; {kind.spacing} apart, {kind.height} high"
        lines += textwrap.wrap(
            f"{where}. {kind.serves}", 70, initial_indent=" " * 10, subsequent_indent=" " * 10
        )
    total = int(bed.plants["count"].sum())
    return [*lines, f"     {total:3d} plants in all, {cost_words(bed.settings.currency)}: {money(bed.cost)}"]
