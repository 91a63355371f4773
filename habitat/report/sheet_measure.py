"""Laying beds out with a tape: corners of beds measured from two fixed points each."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from habitat.report.sheet_drawing import Mark, Paper, line, words
from habitat.report.sheet_facts import YardFacts
from habitat.report.words import Units

FARTHEST_M = 30.0
"""Longest tape that is pulled to a corner of a bed: common practice."""

SHARPEST_DEG = 25.0
"""Tapes that meet at a sharper angle than this do not fix a point well: common practice."""

OFF_WALL_M = 3.0
"""Beds farther from a wall than this are not measured along it."""

SMALL_M = 3.0
"""Round beds no wider than this are measured to their middle."""


@dataclass(frozen=True, slots=True)
class Tie:
    """A corner of a bed, and how far it is from two fixed points [m].

    Where no two points fix it, ``second`` is "" and the corner is ``first_m`` along a wall from ``first`` and
    ``second_m`` off it.
    """

    bed_number: int
    corner: str
    at: Point
    first: str
    first_m: float
    second: str
    second_m: float


@dataclass(frozen=True, slots=True)
class Layout:
    """Fixed points by letter, ties of all beds, and beds that no two fixed points reach."""

    fixed: dict[str, Point]
    ties: tuple[Tie, ...]
    untied: tuple[int, ...]
    from_house: bool


def lay_out(facts: YardFacts) -> Layout:
    """Return how to find the beds of a yard from corners of buildings, or of the yard where there is none.

    Each bed is tied at two corners (the ends of its longest side; its middle where it is round), each by
    tapes from two points that see it, at an angle far from flat; points used already are preferred.
    """
    solid = [b.intersection(facts.shape) for b in _buildings(facts)]
    spots = [p for b in solid for p in _corners(b)]
    from_house = bool(spots)
    spots = spots or _corners(facts.shape)
    used: list[int] = []
    ties: list[Tie] = []
    untied: list[int] = []
    for row in facts.rows["beds"]:
        for corner, target in _targets(row.geometry):
            found = _measured(target, spots, used, solid)
            if found is None:
                untied.append(int(row.bed_number))
                break
            points, far = found
            used += [k for k in points if k not in used]
            letters = [chr(65 + used.index(k)) for k in points] + [""]
            ties.append(Tie(int(row.bed_number), corner, target, letters[0], far[0], letters[1], far[1]))
    fixed = {chr(65 + n): spots[k] for n, k in enumerate(used)}
    return Layout(fixed, tuple(ties), tuple(untied), from_house)


def _measured(
    target: Point, spots: list[Point], used: list[int], solid: list[BaseGeometry]
) -> tuple[tuple[int, ...], tuple[float, float]] | None:
    """Return the points that a target is measured from, and two distances; None if it cannot be."""
    pair = _best_pair(target, spots, used, solid)
    if pair is not None:
        return pair, (spots[pair[0]].distance(target), spots[pair[1]].distance(target))
    return _by_the_wall(target, spots, solid)


def _by_the_wall(
    target: Point, spots: list[Point], solid: list[BaseGeometry]
) -> tuple[tuple[int], tuple[float, float]] | None:
    """Return the nearer end of the wall beside a target, the distance along that wall and off it [m]."""
    best: tuple[float, int, float] | None = None
    for shape in solid:
        ring = shapely.get_coordinates(shapely.boundary(shape))
        for a, b in itertools.pairwise(ring):
            wall = LineString([a, b])
            along = wall.project(target)
            off = wall.distance(target)
            if off > OFF_WALL_M or not 0.0 < along < wall.length:
                continue
            ends = [(along, Point(a)), (wall.length - along, Point(b))]
            for far, end in sorted(ends, key=lambda e: e[0]):
                k = next((k for k, p in enumerate(spots) if p.distance(end) < 0.25), None)
                if k is not None:
                    best = min(best or (off, k, far), (off, k, far))
                    break
    return None if best is None else ((best[1],), (best[2], best[0]))


def _buildings(facts: YardFacts) -> list[BaseGeometry]:
    frame = facts.around.get("buildings")
    if frame is None:
        return []
    big = [b for b in frame.geometry if b.intersection(facts.shape).area > 8.0]
    return sorted(big, key=lambda b: -b.area)


def _corners(shape: BaseGeometry) -> list[Point]:
    """Return the corners of a shape that a tape can be held to: bends of more than 30 degrees."""
    out = []
    for part in shapely.get_parts(shape):
        if not isinstance(part, Polygon):
            continue
        ring = shapely.get_coordinates(shapely.get_exterior_ring(part.simplify(0.2)))[:-1]
        before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
        turn = np.degrees(
            np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1))
        )
        out += [Point(xy) for xy, bend in zip(ring, turn, strict=True) if abs(bend) > 30.0]
    return out


def _targets(bed: BaseGeometry) -> list[tuple[str, Point]]:
    """Return the corners of a bed to measure: ends of its longest side, or its middle if it is round."""
    if bed.geom_type != "Polygon":
        bed = max(shapely.get_parts(bed), key=lambda p: p.area)
    round_ = 4 * math.pi * bed.area / bed.length**2 > 0.88
    if round_ and bed.minimum_rotated_rectangle.length / 4 <= SMALL_M:
        return [("middle", bed.centroid)]
    ring = shapely.get_coordinates(shapely.get_exterior_ring(bed.simplify(0.2)))
    sides = np.hypot(*np.diff(ring, axis=0).T)
    k = int(np.argmax(sides.round(3)))
    return [("a", Point(ring[k])), ("b", Point(ring[k + 1]))]


def _best_pair(
    target: Point, spots: list[Point], used: list[int], solid: list[BaseGeometry]
) -> tuple[int, int] | None:
    """Return the two points that fix a target best: near, at a good angle, already in use."""
    near = [
        k for k, p in enumerate(spots) if 0.05 < p.distance(target) <= FARTHEST_M and _sees(p, target, solid)
    ]
    worth = {}
    for a, b in itertools.combinations(near, 2):
        angle = _angle(spots[a], target, spots[b])
        if SHARPEST_DEG <= angle <= 180.0 - SHARPEST_DEG:
            far = spots[a].distance(target) + spots[b].distance(target)
            new = (a not in used) + (b not in used)
            worth[a, b] = far / max(math.sin(math.radians(angle)), 0.1) + 4.0 * new
    return min(worth, key=lambda pair: (worth[pair], pair)) if worth else None


def _sees(point: Point, target: Point, solid: list[BaseGeometry]) -> bool:
    tape = LineString([point, target])
    return not any(tape.intersection(b).length > 0.05 for b in solid)


def _angle(a: Point, at: Point, b: Point) -> float:
    one = math.atan2(a.y - at.y, a.x - at.x)
    two = math.atan2(b.y - at.y, b.x - at.x)
    turn = abs(math.degrees(one - two)) % 360.0
    return min(turn, 360.0 - turn)


def layout_marks(layout: Layout, paper: Paper) -> list[Mark]:
    """Return marks for the fixed points, with their letters, and for a tape to each bed's first corner."""
    marks: list[Mark] = []
    for tie in layout.ties:
        if tie.corner in ("a", "middle"):
            for letter in (tie.first, tie.second) if tie.second else (tie.first,):
                marks += line(LineString([layout.fixed[letter], tie.at]), "measure", paper)
    for letter, point in layout.fixed.items():
        marks.append(words(paper.place(point.x, point.y), letter, "fixed-words"))
    return marks


def layout_rows(layout: Layout, units: Units) -> list[dict[str, Any]]:
    """Return the table of ties: bed, corner, and two distances in words."""
    out = []
    for tie in layout.ties:
        far, off = units.length(tie.first_m), units.length(tie.second_m)
        first = f"{tie.first} {far}" if tie.second else f"{tie.first} {far} along"
        second = f"{tie.second} {off}" if tie.second else f"{off} off the wall"
        out.append({"bed": str(tie.bed_number), "corner": tie.corner, "first": first, "second": second})
    return out


def layout_words(layout: Layout) -> str:
    """Return what the letters are, and which beds could not be tied."""
    if not layout.ties:
        return "No corner of a building is near enough to measure from: pace the beds out from the drawing."
    start = "corners of buildings" if layout.from_house else "corners of the yard, not surveyed"
    text = f"Letters on the drawing are {start}. Pull two tapes; where they meet is the corner."
    if layout.untied:
        beds = ", ".join(str(n) for n in layout.untied)
        text += f" Bed {beds}: out of sight or reach of two fixed points; pace it out from the drawing."
    return text
