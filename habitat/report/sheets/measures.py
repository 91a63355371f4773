"""Laying beds out with a tape: from one wall and square off it, or from two fixed points."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from habitat.report.sheets.drawing import Mark, Paper, line, words
from habitat.report.sheets.facts import YardFacts
from habitat.report.words.numbers import Units
from habitat.report.words.text import listed

FARTHEST_M = 30.0
"""Longest tape that is pulled: common practice."""

FARTHEST_ON_M = 60.0
"""Two tapes: farther than this nobody sights along a wall well (judgement)."""

SHORTEST_WALL_M = 2.0
"""Along a shorter wall nobody can sight (judgement)."""


@dataclass(frozen=True, slots=True)
class Square:
    """A way to a point: from the end ``start`` of a wall ``along_m`` to ``foot``, then ``off_m`` square off.

    ``start`` and ``end`` are places in the list of fixed points. ``side`` is "" where the foot lies on the
    wall; else the foot lies beyond ``start``, away from ``end``, and ``side`` is "left" or "right" of whoever
    walks on there.
    """

    start: int
    end: int
    along_m: float
    off_m: float
    foot: Point
    side: str


def by_a_wall(
    target: Point, spots: Sequence[Point], walls: Sequence[BaseGeometry], solid: Sequence[BaseGeometry]
) -> Square | None:
    """Return the shortest way to a point from a wall, None if there is none in reach and sight.

    Parameters
    ----------
    target
        The point to find.
    spots
        Fixed points: corners of ``walls``.
    walls
        Shapes whose straight edges may be measured along.
    solid
        What blocks the view.
    """
    ways = [_way(target, spots, a, b) for a, b in _edges(spots, walls)]
    able = [w for w in ways if w is not None and _open(target, spots[w.start], w, solid)]
    return min(able, key=lambda w: (w.off_m + (w.along_m / 3 if w.side else 0.0), w.start), default=None)


def sees(point: Point, target: Point, solid: Sequence[BaseGeometry]) -> bool:
    """Return whether a tape between two points crosses nothing solid by more than 5 cm."""
    tape = LineString([point, target])
    return not any(tape.intersection(b).length > 0.05 for b in solid)


def _edges(spots: Sequence[Point], walls: Sequence[BaseGeometry]) -> list[tuple[int, int]]:
    """Return pairs of fixed points with a straight wall from one to the other."""
    out = []
    edges = [b.boundary.buffer(0.25) for b in walls]
    for a, b in itertools.combinations(range(len(spots)), 2):
        wall = LineString([spots[a], spots[b]])
        if wall.length >= SHORTEST_WALL_M and any(e.covers(wall) for e in edges):
            out.append((a, b))
    return out


def _way(target: Point, spots: Sequence[Point], a: int, b: int) -> Square | None:
    one, two = spots[a], spots[b]
    long = one.distance(two)
    ux, uy = (two.x - one.x) / long, (two.y - one.y) / long
    dx, dy = target.x - one.x, target.y - one.y
    t, off = dx * ux + dy * uy, ux * dy - uy * dx
    foot = Point(one.x + t * ux, one.y + t * uy)
    if abs(off) > FARTHEST_M:
        return None
    if 0.0 <= t <= long:
        start, end, along = (a, b, t) if t <= long / 2 else (b, a, long - t)
        return Square(start, end, along, abs(off), foot, "")
    start, end, along = (a, b, -t) if t < 0 else (b, a, t - long)
    left = (off > 0) == (t > long)
    if along > FARTHEST_ON_M:
        return None
    return Square(start, end, along, abs(off), foot, "left" if left else "right")


def _open(target: Point, start: Point, way: Square, solid: Sequence[BaseGeometry]) -> bool:
    return sees(way.foot, target, solid) and (not way.side or sees(start, way.foot, solid))


# Laying beds out with a tape: corners of beds measured from two fixed points each, or square off a wall.

SHARPEST_DEG = 25.0
"""Tapes that meet at a sharper angle than this do not fix a point well: common practice."""

SMALL_M = 3.0
"""Round beds no wider than this are measured to their middle."""


@dataclass(frozen=True, slots=True)
class Tie:
    """A corner of a bed, and how far it is from two fixed points [m].

    Where no two points fix it, ``foot`` is a point on a wall or in line with it, ``first_m`` from ``first``,
    and the corner lies ``second_m`` square off there. The wall ends at ``first`` and ``second``; ``side`` as
    in ``sheet_walls.Square``.
    """

    bed_number: int
    corner: str
    at: Point
    first: str
    first_m: float
    second: str
    second_m: float
    foot: Point | None = None
    side: str = ""


@dataclass(frozen=True, slots=True)
class Layout:
    """Fixed points by letter, ties of all beds, and beds that cannot be measured from them."""

    fixed: dict[str, Point]
    ties: tuple[Tie, ...]
    untied: tuple[int, ...]
    from_house: bool


def lay_out(facts: YardFacts) -> Layout:
    """Return how to find the beds of a yard from corners of buildings, or of the yard where there is none.

    Each bed is tied at two corners (the ends of its longest side; its middle where it is round), each by
    tapes from two points that see it, at an angle far from flat; points used already are preferred. Where no
    two do, it is measured square off a wall, or off the edge of a yard without buildings.
    """
    solid = [b.intersection(facts.shape) for b in _buildings(facts)]
    spots = [p for b in solid for p in _corners(b)]
    from_house = bool(spots)
    spots = spots or _corners(facts.shape)
    walls = solid if from_house else [facts.shape]
    used: list[int] = []
    ties: list[Tie] = []
    untied: list[int] = []
    for row in facts.rows["beds"]:
        for corner, target in _targets(row.geometry):
            found = _tie(int(row.bed_number), corner, target, spots, used, solid, walls)
            if found is None:
                untied.append(int(row.bed_number))
                break
            ties.append(found)
    fixed = {chr(65 + n): spots[k] for n, k in enumerate(used)}
    return Layout(fixed, tuple(ties), tuple(untied), from_house)


def _tie(
    bed: int,
    corner: str,
    target: Point,
    spots: list[Point],
    used: list[int],
    solid: list[BaseGeometry],
    walls: list[BaseGeometry],
) -> Tie | None:
    """Return how a corner of a bed is measured, None if it cannot be; ``used`` grows by the points taken."""
    pair = _best_pair(target, spots, used, solid)
    if pair is not None:
        first, second = _letters(used, *pair)
        far = [spots[k].distance(target) for k in pair]
        return Tie(bed, corner, target, first, far[0], second, far[1])
    way = by_a_wall(target, spots, walls, solid)
    if way is None:
        return None
    first, second = _letters(used, way.start, way.end)
    return Tie(bed, corner, target, first, way.along_m, second, way.off_m, way.foot, way.side)


def _letters(used: list[int], *points: int) -> list[str]:
    """Return the letters of fixed points, and note those that are new."""
    used += [k for k in points if k not in used]
    return [chr(65 + used.index(k)) for k in points]


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
        k for k, p in enumerate(spots) if 0.05 < p.distance(target) <= FARTHEST_M and sees(p, target, solid)
    ]
    worth = {}
    for a, b in itertools.combinations(near, 2):
        angle = _angle(spots[a], target, spots[b])
        if SHARPEST_DEG <= angle <= 180.0 - SHARPEST_DEG:
            far = spots[a].distance(target) + spots[b].distance(target)
            new = (a not in used) + (b not in used)
            worth[a, b] = far / max(math.sin(math.radians(angle)), 0.1) + 4.0 * new
    return min(worth, key=lambda pair: (worth[pair], pair)) if worth else None


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
            marks += [m for tape in _tapes(layout, tie) for m in line(LineString(tape), "measure", paper)]
    for letter, point in layout.fixed.items():
        marks.append(words(paper.place(point.x, point.y), letter, "fixed-words"))
    return marks


def _tapes(layout: Layout, tie: Tie) -> list[list[Point]]:
    first, second = layout.fixed[tie.first], layout.fixed[tie.second]
    return [[first, tie.foot, tie.at]] if tie.foot else [[first, tie.at], [second, tie.at]]


def layout_rows(layout: Layout, units: Units) -> list[dict[str, Any]]:
    """Return the table of ties: bed, corner, and two distances in words."""
    out = []
    for tie in layout.ties:
        far, off = units.length(tie.first_m), units.length(tie.second_m)
        first, second = f"{tie.first} {far}", f"{tie.second} {off}"
        if tie.foot:
            first += f" on from {tie.second}" if tie.side else f" towards {tie.second}"
            second = f"{off} to the {tie.side}" if tie.side else f"{off} off it"
        out.append({"bed": str(tie.bed_number), "corner": tie.corner, "first": first, "second": second})
    return out


def layout_words(layout: Layout) -> str:
    """Return what the letters are, and which beds could not be tied."""
    if not layout.ties:
        return "No corner of a building is near enough to measure from: pace the beds out from the drawing."
    start = "corners of buildings" if layout.from_house else "corners of the yard, not surveyed"
    text = f"Letters on the drawing are {start}."
    if any(not tie.foot for tie in layout.ties):
        text += " Pull two tapes; where they meet is the corner."
    wall = "wall" if layout.from_house else "edge"
    if any(tie.foot and not tie.side for tie in layout.ties):
        text += f" “A 2 m towards B”: along the {wall} from A to B, then square off it."
    if any(tie.side for tie in layout.ties):
        text += f" “A 2 m on from B”: sight along the {wall} from B to A, go on past A, then turn square."
    if layout.untied:
        beds = f"Bed{'s' if len(layout.untied) > 1 else ''} {listed([str(n) for n in layout.untied])}"
        text += f" {beds}: out of sight or reach of fixed points; pace out from the drawing what is not told."
    return text
