"""What ground the drawing of a yard shows, which way it is turned, and at what scale."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from habitat.grid import Bounds
from habitat.report.sheets.drawing import Paper, frame, level, scale_for, turned
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.measures import Layout

PART_COST, TURN_COST = 1.3, 1.3
"""So many times as large has a drawing to be that shows a part of the yard, or is not north up: judgement."""

NEAR_HOUSE_M = 25.0
"""A building so near to a bed is drawn with it."""

AIR_M = 3.0
"""Ground round what has to be drawn where the yard is cut."""


@dataclass(frozen=True, slots=True)
class Framed:
    """A yard and its fixed points, turned as they are drawn, the ground in the frame, scale and turn.

    ``turn_deg`` is how far the ground is turned anticlockwise; ``cut`` whether only a part of it is shown.
    """

    facts: YardFacts
    layout: Layout
    bounds: Bounds
    scale: int
    cut: bool
    turn_deg: float


def framed(facts: YardFacts, layout: Layout, room_mm: tuple[float, float], system: str) -> Framed:
    """Return the frame that draws a yard largest; the whole yard, north up, where that is nearly as large."""
    return facts.kept(("window", id(layout)), lambda: _Window(facts, layout)).framed(room_mm, system)


def framed_at(
    facts: YardFacts, layout: Layout, rooms_mm: Sequence[tuple[float, float]], scales: Sequence[int]
) -> tuple[Framed, int]:
    """Return the frame for a plan at one of a few scales, and the place of its room in a list.

    The whole yard at the first two scales comes before a part of it, that before the whole at smaller ones,
    and an earlier room before a later one; what fits nowhere is drawn at the last scale.
    """
    return facts.kept(("window", id(layout)), lambda: _Window(facts, layout)).at(rooms_mm, scales)


class _Window:
    """The frames that a yard's drawing may have, whatever the room; the yard is turned once for each way."""

    def __init__(self, facts: YardFacts, layout: Layout) -> None:
        self.facts, self.layout = facts, layout
        self._turned: dict[float, tuple[YardFacts, Layout]] = {}
        angles = dict.fromkeys(
            (0.0, *(round(level(s), 1) for s in (facts.shape, _needed(facts, layout, 0.0))))
        )
        self._frames = [frame for angle in angles for frame in _frames(facts, layout, angle)]

    def framed(self, room_mm: tuple[float, float], system: str) -> Framed:
        """Return the best frame for a room."""
        scales = [scale_for(b[2] - b[0], b[3] - b[1], room_mm, system) for b, _, _ in self._frames]
        costs = [
            scale * (PART_COST if cut else 1.0) * (TURN_COST if angle else 1.0)
            for scale, (_, cut, angle) in zip(scales, self._frames, strict=True)
        ]
        best = costs.index(min(costs))
        return self._made(best, scales[best])

    def at(self, rooms_mm: Sequence[tuple[float, float]], scales: Sequence[int]) -> tuple[Framed, int]:
        """Return the first frame that fits a room at one of these scales, as ``framed_at`` says."""
        turns = [(s, False) for s in scales[:2]] + [(s, True) for s in scales[:2]]
        turns += [(s, cut) for s in scales[2:] for cut in (False, True)]
        for (scale, part), (k, room) in itertools.product(turns, enumerate(rooms_mm)):
            for frame_number, (bounds, cut, _) in enumerate(self._frames):
                wide, high = Paper(bounds, scale).size_mm
                if cut == part and wide <= room[0] and high <= room[1]:
                    return self._made(frame_number, scale), k
        return self._made(0, scales[-1]), len(rooms_mm) - 1

    def _made(self, number: int, scale: int) -> Framed:
        bounds, cut, angle = self._frames[number]
        if angle not in self._turned:
            self._turned[angle] = _turned(self.facts, self.layout, angle)
        return Framed(*self._turned[angle], bounds, scale, cut, angle)


def _frames(facts: YardFacts, layout: Layout, angle: float) -> Iterator[tuple[Bounds, bool, float]]:
    """Yield bounds of the ground to show with the yard turned: all of it, and what it takes to find beds."""
    about = facts.shape.centroid
    whole = frame(turned([facts.shape], angle, about), 1.0 + 0.03 * math.sqrt(facts.shape.area))
    yield whole, False, angle
    if facts.rows["beds"]:
        part = frame([_needed(facts, layout, angle)], AIR_M)
        yield (
            (max(part[0], whole[0]), max(part[1], whole[1]), min(part[2], whole[2]), min(part[3], whole[3])),
            True,
            angle,
        )


def _needed(facts: YardFacts, layout: Layout, angle: float) -> BaseGeometry:
    """Return the hull of what it takes to find the beds: beds, plants, houses near them, fixed points.

    The yard is turned by ``angle`` [deg, anticlockwise] about its middle.
    """
    about, points = facts.shape.centroid, facts.rows["plant_points"]
    (shape,) = turned([facts.shape], angle, about)
    beds = turned([bed.geometry for bed in facts.rows["beds"]], angle, about)
    if not beds:
        return shape
    around = facts.around.get("buildings")
    built = [] if around is None else turned(around.geometry, angle, about)
    houses = [b.intersection(shape) for b in built]
    away = [b.distance(shapely.union_all(beds)) for b in houses]
    near = [b for b, far in zip(houses, away, strict=True) if far <= max(NEAR_HOUSE_M, min(away))]
    spots = turned([p.geometry for p in points], angle, about)
    crowns = shapely.buffer(np.array(spots, object), [p.crown_m / 2 for p in points], quad_segs=16)
    fixed = turned(layout.fixed.values(), angle, about)
    parts = [*beds, *near, *shapely.intersection(crowns, shape), *fixed]
    return shapely.convex_hull(shapely.geometrycollections(parts))


def _turned(facts: YardFacts, layout: Layout, angle_deg: float) -> tuple[YardFacts, Layout]:
    """Return a yard and its fixed points turned anticlockwise about the middle of the yard."""
    if not angle_deg:
        return facts, layout
    about = facts.shape.centroid
    yard = facts.yard.copy()
    yard["geometry"] = turned([facts.shape], angle_deg, about)[0]
    rows = {
        name: [
            row._replace(geometry=turned([row.geometry], angle_deg, about)[0])
            if getattr(row, "geometry", None) is not None
            else row
            for row in table
        ]
        for name, table in facts.rows.items()
    }
    around = {
        name: layer.set_geometry(layer.geometry.rotate(angle_deg, origin=about))
        for name, layer in facts.around.items()
    }
    return replace(facts, yard=yard, rows=rows, around=around), _layout_turned(layout, angle_deg, about)


def _layout_turned(layout: Layout, angle_deg: float, about: Point) -> Layout:
    def moved(points: dict[str, Point]) -> dict[str, Point]:
        return dict(zip(points, turned(points.values(), angle_deg, about), strict=True))

    ties = tuple(
        replace(
            tie,
            at=turned([tie.at], angle_deg, about)[0],
            foot=None if tie.foot is None else turned([tie.foot], angle_deg, about)[0],
        )
        for tie in layout.ties
    )
    return replace(layout, fixed=moved(layout.fixed), points=moved(layout.points), ties=ties)
