"""Laying beds out with a tape: from one wall and square off it, or from two fixed points."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from habitat.report.sheets.drawing import Mark, Paper, line, words
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.squares import (
    FARTHEST_M,
    NEAR_M,
    SHORTEST_WALL_M,
    Square,
    off_an_edge,
    sees,
    straight_edges,
)
from habitat.report.words.numbers import Units
from habitat.report.words.text import listed

FAR_COST = 1000.0
"""What a tape longer than NEAR_M counts as more [m]: it is pulled where no other pair of points serves."""


SHARPEST_DEG = 25.0
"""Tapes that meet at a sharper angle than this do not fix a point well: common practice."""

NEARER = {
    "paving": "at a corner of the paving",
    "trees": "at the middle of a trunk",
    "fences": "at an end or bend of a fence",
}
"""What else stands still in a yard, by layer, and how its points are told."""

ON_EDGE_M = 0.5
"""A fence so near to the edge of the yard is reached from it."""

SMALL_M = 3.0
"""Round beds no wider than this are measured to their middle."""


@dataclass(frozen=True, slots=True)
class Tie:
    """A corner of a bed, and how far it is from two fixed points [m].

    Where no two points fix it, ``foot`` is a point on a wall or in line with it, ``first_m`` from ``first``,
    and the corner lies ``second_m`` square off there. The wall ends at ``first`` and ``second``; ``side`` as
    in ``squares.Square``.
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
    """What can be measured from: points, what each is, which of them are used so far in order; edges."""

    points: list[Point] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    used: list[int] = field(default_factory=list)
    edges: list[tuple[int, int]] = field(default_factory=list)

    def add(
        self, points: Sequence[Point], kind: str, name: str = "", walls: Sequence[BaseGeometry] = ()
    ) -> None:
        """Add points of a kind, and the straight edges between them; a corner of a bed has a name already."""
        before = len(self.points)
        self.edges += [(a + before, b + before) for a, b in straight_edges(points, walls)]
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
    those are farther than NEAR_M, what is nearer serves: a wall to go square off, a corner of paving, an end
    of a fence, the trunk of a tree, a corner of a bed that is laid out already, or an edge of these.
    """
    return facts.kept("layout", lambda: _laid_out(facts))


def _laid_out(facts: YardFacts) -> Layout:
    solid = [b.intersection(facts.shape) for b in _buildings(facts)]
    corners = [p for b in solid for p in _corners(b)]
    from_house = bool(corners)
    spots = _Spots()
    walls = solid if from_house else [facts.shape]
    spots.add(corners or _corners(facts.shape), BUILDING if from_house else YARD, walls=walls)
    main = len(spots.points), len(spots.edges)
    _add_nearer(spots, facts)
    ties: list[Tie] = []
    untied: list[int] = []
    fixed = shapely.MultiPoint(spots.points)
    for row in sorted(facts.rows["beds"], key=lambda row: row.geometry.distance(fixed)):
        found = _bed_ties(int(row.bed_number), row.geometry, spots, main, solid)
        ties += found
        if not found or found[-1].corner == "a":
            untied.append(int(row.bed_number))
    points = {spots.names[k]: spots.points[k] for k in spots.used}
    kinds = {spots.names[k]: spots.kinds[k] for k in spots.used if spots.kinds[k] != BED}
    fixed = {name: points[name] for name in kinds}
    return Layout(fixed, kinds, points, tuple(ties), tuple(sorted(untied)), from_house)


def _bed_ties(
    number: int, bed: BaseGeometry, spots: _Spots, main: tuple[int, int], solid: list[BaseGeometry]
) -> list[Tie]:
    """Return how a bed's corners are measured, as far as they can be, and note corners and side as spots."""
    ties: list[Tie] = []
    for corner, target in _targets(bed):
        found = _tie(number, corner, target, spots, main, solid)
        if found is None:
            return ties
        ties.append(found)
        if corner != "middle":
            spots.add([target], BED, f"{number}{corner}")
    if len(ties) > 1 and ties[0].at.distance(ties[1].at) >= SHORTEST_WALL_M:
        spots.edges.append((len(spots.points) - 2, len(spots.points) - 1))
    return ties


def _add_nearer(spots: _Spots, facts: YardFacts) -> None:
    """Add what else stands still in the yard: corners of paving, trunks, ends and bends of fences."""
    inner, wide = facts.shape.buffer(-0.5), facts.shape.buffer(ON_EDGE_M)
    for name, kind in NEARER.items():
        for shape in facts.around[name].geometry if name in facts.around else ():
            own = shape.intersection(wide if name == "fences" else facts.shape)
            if name == "fences":
                spots.add(_posts(own), kind, walls=[own])
                continue
            found = [own.centroid] if name == "trees" and not own.is_empty else _corners(own)
            spots.add([p for p in found if inner.covers(p)], kind, walls=[own])


def _posts(fence: BaseGeometry) -> list[Point]:
    """Return the ends and bends of a fence drawn as lines."""
    parts = shapely.get_parts(shapely.line_merge(fence) if fence.geom_type == "MultiLineString" else fence)
    lines = [part.simplify(0.2) for part in parts if isinstance(part, LineString)]
    return [Point(xy) for xy in dict.fromkeys(xy for one in lines for xy in one.coords)]


def _tie(
    bed: int,
    corner: str,
    target: Point,
    spots: _Spots,
    main: tuple[int, int],
    solid: list[BaseGeometry],
) -> Tie | None:
    """Return how a corner of a bed is measured, None if it cannot be; the points taken are noted.

    The first way with no measure over NEAR_M is taken: from the ``main`` first spots, square off the ``main``
    first edges, from any spots, off any edge; else the way whose longest measure is shortest.
    """
    way: tuple[int, int] | Square | None = None
    longest = math.inf
    for points, edges in (main, (len(spots.points), len(spots.edges))):
        near = spots.points[:points]
        for find in (
            partial(_best_pair, target, near, spots.used, solid),
            partial(off_an_edge, target, near, spots.edges[:edges], solid),
        ):
            if longest > NEAR_M:
                other = find()
                if _longest(other, target, spots.points) < longest:
                    way, longest = other, _longest(other, target, spots.points)
    if way is None:
        return None
    if isinstance(way, Square):
        first, second = spots.letters(way.start, way.end)
        return Tie(bed, corner, target, first, way.along_m, second, way.off_m, way.foot, way.side)
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
            long = max(spots[a].distance(target), spots[b].distance(target)) > NEAR_M
            worth[a, b] = far / max(math.sin(math.radians(angle)), 0.1) + 4.0 * new + FAR_COST * long
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
    wall = "wall or edge" if layout.from_house else "edge"
    far = "6 ft" if units.us else "2 m"
    if any(tie.foot and not tie.side for tie in layout.ties):
        text += f" “A {far} towards B”: along the {wall} from A to B, then square off it."
    if any(tie.side for tie in layout.ties):
        text += f" “A {far} on from B”: sight along the {wall} from B to A, go on past A, then turn square."
    if layout.untied:
        beds = f"Bed{'s' if len(layout.untied) > 1 else ''} {listed([str(n) for n in layout.untied])}"
        text += f" {beds}: out of sight or reach of fixed points; pace out from the drawing what is not told."
    return text
