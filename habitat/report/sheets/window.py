"""What ground the drawing of a yard shows, which way it is turned, and at what scale."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from habitat.grid import Bounds
from habitat.report.sheets.drawing import frame, level, scale_for, turned
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
    return min(_frames(facts, layout, room_mm, system), key=_cost)


def _cost(one: Framed) -> float:
    return one.scale * (PART_COST if one.cut else 1.0) * (TURN_COST if one.turn_deg else 1.0)


def _frames(facts: YardFacts, layout: Layout, room_mm: tuple[float, float], system: str) -> Iterator[Framed]:
    angles = dict.fromkeys((0.0, round(level(facts.shape), 1), round(level(_needed(facts, layout)), 1)))
    for angle in angles:
        there, spots = _turned(facts, layout, angle)
        whole = frame([there.shape], 1.0 + 0.03 * math.sqrt(facts.shape.area))
        shown = [(whole, False)]
        if there.rows["beds"]:
            part = frame([_needed(there, spots)], AIR_M)
            part = (
                max(part[0], whole[0]), max(part[1], whole[1]), min(part[2], whole[2]), min(part[3], whole[3])
            )  # fmt: skip
            shown.append((part, True))
        for bounds, cut in shown:
            scale = scale_for(bounds[2] - bounds[0], bounds[3] - bounds[1], room_mm, system)
            yield Framed(there, spots, bounds, scale, cut, angle)


def _needed(facts: YardFacts, layout: Layout) -> BaseGeometry:
    """Return the hull of what it takes to find the beds: beds, plants, houses near them, fixed points."""
    beds = [bed.geometry for bed in facts.rows["beds"]]
    if not beds:
        return facts.shape
    around = facts.around.get("buildings")
    houses = [] if around is None else [b.intersection(facts.shape) for b in around.geometry]
    away = [b.distance(shapely.union_all(beds)) for b in houses]
    near = [b for b, far in zip(houses, away, strict=True) if far <= max(NEAR_HOUSE_M, min(away))]
    plants = [p.geometry.buffer(p.crown_m / 2).intersection(facts.shape) for p in facts.rows["plant_points"]]
    return shapely.union_all([*beds, *near, *plants, *layout.fixed.values()]).convex_hull


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
