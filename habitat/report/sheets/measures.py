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

NEAR_M = 15.0
"""No measure is longer where anything nearer serves: a tape sags and drifts beyond it (common practice)."""

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
    """Fixed points by letter and what each is, ties of all beds, and beds that cannot be measured.

    ``points`` has besides the corners of beds that others are measured from, named by bed and corner ("1b").
    """

    fixed: dict[str, Point]
    kinds: dict[str, str]
    points: dict[str, Point]
    ties: tuple[Tie, ...]
    untied: tuple[int, ...]
    from_house: bool


@dataclass
class _Spots:
    """What can be measured from: points, what each is, and which of them are used so far, in that order."""

    points: list[Point]
    kinds: list[str]
    names: list[str]
    used: list[int]

    def add(self, points: Sequence[Point], kind: str, name: str = "") -> None:
        """Add points of a kind; a corner of a bed has a name already."""
        self.points += points
        self.kinds += [kind] * len(points)
        self.names += [name] * len(points)

    def letters(self, *places: int) -> list[str]:
        """Return the names of points, and note those that are new."""
        for k in places:
            if k not in self.used:
                self.used.append(k)
            if not self.names[k]:
                n = sum(bool(name) and kind != BED for name, kind in zip(self.names, self.kinds, strict=True))
                self.names[k] = chr(65 + n % 26) + (str(n // 26 + 1) if n >= 26 else "")
        return [self.names[k] for k in places]


BUILDING, YARD, BED = "at a corner of a building", "at a corner of the yard, not surveyed", "bed"


def lay_out(facts: YardFacts) -> Layout:
    """Return how to find the beds of a yard from corners of buildings, or of the yard where there is none.

    Each bed is tied at two corners (the ends of its longest side; its middle where it is round), each by
    tapes from two points that see it, at an angle far from flat; points used already are preferred. Where
    those are farther than NEAR_M, what is nearer serves: a wall to go square off, a corner of paving, the
    trunk of a tree, or a corner of a bed that is laid out already.
    """
    return facts.kept("layout", lambda: _laid_out(facts))


def _laid_out(facts: YardFacts) -> Layout:
    solid = [b.intersection(facts.shape) for b in _buildings(facts)]
    corners = [p for b in solid for p in _corners(b)]
    from_house = bool(corners)
    spots = _Spots([], [], [], [])
    spots.add(corners or _corners(facts.shape), BUILDING if from_house else YARD)
    main = len(spots.points)
    _add_nearer(spots, facts)
    walls = solid if from_house else [facts.shape]
    ties: list[Tie] = []
    untied: list[int] = []
    for row in facts.rows["beds"]:
        number = int(row.bed_number)
        for corner, target in _targets(row.geometry):
            found = _tie(number, corner, target, spots, main, solid, walls)
            if found is None:
                untied.append(number)
                break
            ties.append(found)
            if corner != "middle":
                spots.add([target], BED, f"{number}{corner}")
    points = {spots.names[k]: spots.points[k] for k in spots.used}
    kinds = {spots.names[k]: spots.kinds[k] for k in spots.used if spots.kinds[k] != BED}
    fixed = {name: points[name] for name in kinds}
    return Layout(fixed, kinds, points, tuple(ties), tuple(untied), from_house)


def _add_nearer(spots: _Spots, facts: YardFacts) -> None:
    """Add what else stands still in the yard: corners of paving, trunks of trees."""
    inner = facts.shape.buffer(-0.5)
    for name, kind in (("paving", "at a corner of the paving"), ("trees", "at the middle of a trunk")):
        for shape in facts.around[name].geometry if name in facts.around else ():
            own = shape.intersection(facts.shape)
            found = [own.centroid] if name == "trees" and not own.is_empty else _corners(own)
            spots.add([p for p in found if inner.covers(p)], kind)


def _tie(
    bed: int,
    corner: str,
    target: Point,
    spots: _Spots,
    main: int,
    solid: list[BaseGeometry],
    walls: list[BaseGeometry],
) -> Tie | None:
    """Return how a corner of a bed is measured, None if it cannot be; the points taken are noted.

    The first way with no measure over NEAR_M is taken: from the ``main`` first spots, square off a wall, from
    any spots; else the way whose longest measure is shortest.
    """
    pairs = [_best_pair(target, spots.points[:n], spots.used, solid) for n in (main, len(spots.points))]
    wall = by_a_wall(target, spots.points[:main], walls, solid)
    ways: list[tuple[int, int] | Square | None] = [pairs[0], wall, pairs[1]]
    lengths = [_longest(way, target, spots.points) for way in ways]
    if min(lengths) == math.inf:
        return None
    chosen = next((k for k, far in enumerate(lengths) if far <= NEAR_M), int(np.argmin(lengths)))
    way = ways[chosen]
    if isinstance(way, Square):
        first, second = spots.letters(way.start, way.end)
        return Tie(bed, corner, target, first, way.along_m, second, way.off_m, way.foot, way.side)
    assert way is not None
    first, second = spots.letters(*way)
    far = [spots.points[k].distance(target) for k in way]
    return Tie(bed, corner, target, first, far[0], second, far[1])


def _longest(way: tuple[int, int] | Square | None, target: Point, points: Sequence[Point]) -> float:
    """Return the longest measure of a way [m]; inf if there is none."""
    if way is None:
        return math.inf
    if isinstance(way, Square):
        return max(way.along_m, way.off_m)
    return max(points[k].distance(target) for k in way)


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
    first, second = layout.points[tie.first], layout.points[tie.second]
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


def _letters_in_words(kinds: dict[str, str]) -> str:
    """Return what letters stand for: those of a kind together."""
    by_kind: dict[str, list[str]] = {}
    for letter, kind in kinds.items():
        by_kind.setdefault(kind, []).append(letter)
    return "; ".join(f"{', '.join(letters)} {kind}" for kind, letters in by_kind.items())


def layout_words(layout: Layout, units: Units) -> str:
    """Return what the letters are, and which beds could not be tied."""
    if not layout.ties:
        return "No corner of a building is near enough to measure from: pace the beds out from the drawing."
    text = f"Letters on the plan: {_letters_in_words(layout.kinds)}."
    if own := [name for name in layout.points if name not in layout.fixed]:
        text += f" {own[0]} is corner {own[0][-1]} of bed {own[0][:-1]}."
    if any(not tie.foot for tie in layout.ties):
        text += " Pull two tapes; where they meet is the corner."
    wall = "wall" if layout.from_house else "edge"
    far = "6 ft" if units.us else "2 m"
    if any(tie.foot and not tie.side for tie in layout.ties):
        text += f" “A {far} towards B”: along the {wall} from A to B, then square off it."
    if any(tie.side for tie in layout.ties):
        text += f" “A {far} on from B”: sight along the {wall} from B to A, go on past A, then turn square."
    if layout.untied:
        beds = f"Bed{'s' if len(layout.untied) > 1 else ''} {listed([str(n) for n in layout.untied])}"
        text += f" {beds}: out of sight or reach of fixed points; pace out from the drawing what is not told."
    return text
