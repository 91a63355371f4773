"""A section through the main bed of a yard: its plants full grown, side on, to scale, in plain figures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from scipy.interpolate import PchipInterpolator
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from habitat.grid import Bounds
from habitat.report.sheets.drawing import (
    Box,
    Mark,
    Paper,
    area,
    line,
    meets,
    scale_bar,
    scale_words,
    taken_by,
    words,
)
from habitat.report.sheets.facts import YardFacts
from habitat.report.words.numbers import Units

EYE_M = 1.6
"""Height of the eyes of an adult who stands (common practice)."""

MOUND_M = 0.3
"""Herbs no taller are drawn as a mound."""

SCALES = {"metric": (20, 25, 50, 100, 200, 500), "us": (24, 32, 48, 96, 192, 480)}
"""Scales of the section, one to so much."""

LABELS_MM = 14.0
"""Room above the tallest plant for numbers."""

RULER_MM = 19.0
"""Room on the left for heights."""

SIDE_M = 0.6
"""Ground beside the bed."""

Profile = tuple[tuple[float, float], ...]
PROFILES: dict[str, Profile] = {
    "mound": ((0.0, 0.9), (0.4, 1.0), (0.75, 0.75), (1.0, 0.2)),
    "forb": ((0.0, 0.1), (0.3, 0.5), (0.6, 0.9), (0.8, 1.0), (0.94, 0.7), (1.0, 0.2)),
    "graminoid": ((0.0, 0.12), (0.5, 0.5), (0.85, 1.0), (1.0, 0.7)),
    "vine": ((0.0, 0.2), (0.15, 0.8), (0.5, 1.0), (0.85, 0.8), (1.0, 0.3)),
    "shrub": ((0.12, 0.3), (0.3, 0.8), (0.6, 1.0), (0.85, 0.75), (1.0, 0.2)),
    "tree": ((0.3, 0.3), (0.45, 0.85), (0.65, 1.0), (0.85, 0.75), (1.0, 0.15)),
}
"""By habit: share of the height, and how wide a plant is there as a share of its spread: plain figures."""

STEMS = {"mound": 0, "forb": 5, "graminoid": 9, "vine": 1, "shrub": 3, "tree": 1}
"""How many stems are drawn."""


@dataclass(frozen=True, slots=True)
class Section:
    """Where a bed is cut: from ``start`` to ``end``; plants that are seen are left of who walks so."""

    bed: Any
    start: Point
    end: Point

    def place(self, point: Point) -> tuple[float, float]:
        """Return how far along the cut a point lies, and how far beyond it [m]; negative is in front."""
        long = self.start.distance(self.end)
        ux, uy = (self.end.x - self.start.x) / long, (self.end.y - self.start.y) / long
        dx, dy = point.x - self.start.x, point.y - self.start.y
        return dx * ux + dy * uy, ux * dy - uy * dx

    @property
    def looking(self) -> str:
        """Which way one looks, by eight winds."""
        east, north = self.start.y - self.end.y, self.end.x - self.start.x
        winds = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")
        return winds[round(math.degrees(math.atan2(east, north)) / 45.0) % 8]


def main_section(facts: YardFacts) -> Section | None:
    """Return the cut along the middle of the largest bed, seen from where most plants stand beyond it.

    None without a bed.
    """
    beds = [b for b in facts.rows["beds"] if b.growth_form != "tree"]
    if not beds:
        return None
    bed = max(beds, key=lambda b: (b.area_m2, -b.bed_number))
    corners = shapely.get_coordinates(bed.geometry.minimum_rotated_rectangle)[:4]
    if math.dist(corners[0], corners[1]) > math.dist(corners[1], corners[2]):
        corners = np.roll(corners, -1, axis=0)
    ends = sorted([tuple((corners[0] + corners[1]) / 2), tuple((corners[2] + corners[3]) / 2)])
    cut = Section(bed, Point(ends[0]), Point(ends[1]))
    off = [cut.place(p.geometry)[1] for p in facts.rows["plant_points"] if p.bed_id == bed.bed_id]
    in_front = sum(far < 0 for far in off) > len(off) / 2
    return Section(bed, cut.end, cut.start) if in_front else cut


def section_drawing(facts: YardFacts, room_mm: tuple[float, float], units: Units) -> dict[str, Any] | None:
    """Return the section of the main bed in a room on paper; None where no plant of it has a place.

    Returns
    -------
    dict
        width, height [mm], marks, bar, scale (words), ground (one to so much), bed (its number), looking.
    """
    cut = main_section(facts)
    if cut is None:
        return None
    found = [(*cut.place(p.geometry), p) for p in facts.rows["plant_points"] if p.bed_id == cut.bed.bed_id]
    seen = sorted((f for f in found if f[1] >= -f[2].crown_m / 2), key=lambda f: (-f[1], f[0]))
    if not seen:
        return None
    bounds, scale = _window(cut, seen, room_mm, units)
    paper = Paper(bounds, scale)
    marks = _rulers(paper, units)
    for along, beyond, plant in seen:
        look = "habit-cut" if beyond <= plant.crown_m / 2 else "habit-behind"
        marks += _figure_marks(facts, plant, along, look, paper)
    marks += _numbers(seen, paper, [taken_by(m) for m in marks if m["kind"] == "words"])
    return {
        "width": paper.size_mm[0],
        "height": paper.size_mm[1],
        "marks": marks,
        "bar": scale_bar(paper, units.system),
        "scale": scale_words(paper, units),
        "ground": scale,
        "bed": str(int(cut.bed.bed_number)),
        "looking": cut.looking,
    }


def _window(
    cut: Section, seen: list[tuple[float, float, Any]], room_mm: tuple[float, float], units: Units
) -> tuple[Bounds, int]:
    """Return along and up what is drawn [m], and the largest scale at which it fits, at worst the last."""
    west = min(0.0, *(along - p.crown_m / 2 for along, _, p in seen)) - SIDE_M
    east = max(cut.start.distance(cut.end), *(along + p.crown_m / 2 for along, _, p in seen)) + SIDE_M
    top = max(EYE_M, *(p.height_m for _, _, p in seen))
    bounds: Bounds = (west, 0.0, east, top)
    for scale in SCALES[units.system]:
        mm = scale / 1000
        bounds = (west - RULER_MM * mm, -4.0 * mm, east, top + LABELS_MM * mm)
        wide, high = Paper(bounds, scale).size_mm
        if wide <= room_mm[0] and high <= room_mm[1]:
            break
    return bounds, scale


def _rulers(paper: Paper, units: Units) -> list[Mark]:
    """Mark the ground, heights on the left, and how high eyes are."""
    mm = paper.scale / 1000
    west, _, east, north = paper.bounds
    middle, ground = west + RULER_MM / 2 * mm, west + (RULER_MM - 1.0) * mm
    marks = line(LineString([(ground, 0.0), (east, 0.0)]), "ground-line", paper)
    marks += line(LineString([(ground, EYE_M), (east, EYE_M)]), "eye", paper)
    step = 0.3048 if units.us else 0.5
    step *= max(1, math.ceil(3.6 * mm / step))
    for k in range(int((north - LABELS_MM * mm) / step + 1e-6) + 1):
        at = k * step
        marks += line(LineString([(ground, at), (ground - 1.0 * mm, at)]), "ground-line", paper)
        text = f"{at / 0.3048:.0f} ft" if units.us else f"{at:g} m"
        if abs(at - EYE_M) > 3.0 * mm:
            marks.append(words(paper.place(middle, at), text, "measure-words"))
    marks.append(words(paper.place(middle, EYE_M), f"eye {units.length(EYE_M)}", "measure-words"))
    return marks


def habit(form: str, height_m: float) -> str:
    """Return which figure stands for a plant: a name of PROFILES."""
    if form not in ("shrub", "tree", "vine") and height_m <= MOUND_M:
        return "mound"
    return form if form in PROFILES else "forb"


def figure(name: str, height_m: float, spread_m: float) -> tuple[Polygon, list[BaseGeometry]]:
    """Return the outline and the stems of a plant side on, its foot at (0, 0) [m].

    Examples
    --------
    >>> outline, stems = figure("tree", 6.0, 4.0)
    >>> [round(end, 6) for end in outline.bounds], len(stems)
    ([-2.0, 1.8, 2.0, 6.0], 1)
    """
    up, wide = np.array(PROFILES[name]).T
    steps = np.linspace(up[0], 1.0, 41)
    half = PchipInterpolator(up, wide)(steps) * spread_m / 2
    half *= spread_m / 2 / half.max()
    side = np.column_stack([half, steps * height_m])
    outline = Polygon(np.vstack([side, (side * (-1, 1))[::-1]]))
    many = STEMS[name]
    tips = np.linspace(-0.4, 0.4, many) * spread_m if many > 1 else np.zeros(many)
    top = 0.9 - 0.5 * np.abs(tips / max(spread_m, 1e-9))
    stems = [
        LineString([(0.0, 0.0), (x * 0.35, t * height_m / 2), (x, t * height_m)])
        for x, t in zip(tips, top, strict=True)
    ]
    return outline, list(stems)


def _figure_marks(facts: YardFacts, plant: Any, along: float, look: str, paper: Paper) -> list[Mark]:
    form = str(facts.plan.knowledge.plants["form"].get(plant.plant, "forb"))
    height, spread = max(float(plant.height_m), 0.02), max(float(plant.crown_m), 0.02)
    outline, stems = figure(habit(form, height), height, spread)
    marks = area(affinity.translate(outline, along), look, paper)
    for stem in stems:
        marks += line(affinity.translate(stem, along), "stem", paper)
    return marks


def _numbers(seen: Sequence[tuple[float, float, Any]], paper: Paper, boxes: list[Box]) -> list[Mark]:
    """Write the number of each kind over its plants, at least once, none over another."""
    marks: list[Mark] = []
    told: set[int] = set()
    for along, _, plant in sorted(seen, key=lambda f: (-f[2].height_m, f[0])):
        for up in (1.6, 4.2, 6.8, 9.4, 12.0):
            x, y = paper.place(along, plant.height_m)
            mark = words([x, round(y - up, 3)], str(int(plant.key_number)), "key")
            if up > 1.6 and plant.key_number in told:
                break
            if not meets(taken_by(mark), boxes):
                boxes.append(taken_by(mark))
                marks.append(mark)
                told.add(plant.key_number)
                if up > 1.6:
                    points = [[x, y], [x, round(y - up + 1.1, 3)]]
                    marks.insert(0, {"kind": "line", "look": "tie", "points": points})
                break
    return marks
