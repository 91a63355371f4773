"""The names of streets on the drawing of a yard: beside its edge, or at the edge of the paper."""

from __future__ import annotations

import math

import pandas as pd
import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from habitat.report.sheets.drawing import Box, Mark, Paper, meets, taken_by, words
from habitat.report.sheets.facts import YardFacts
from habitat.report.words.text import plain

MOST_STREETS = 2
"""So many streets are named beside a yard."""

STREET_OFF_MM = 2.6
STREET_STEPS_MM = (0.0, 6.0, -6.0, 12.0, -12.0, 20.0, -20.0, 30.0, -30.0, 42.0, -42.0, 60.0, -60.0)
"""How far outside the edge of the yard a street is named, and how far to either side along it [mm]."""

STREET_OVER_MM = 1.0
"""So far may a street's name reach over the edge of the drawing [mm]."""


def street_names(facts: YardFacts, paper: Paper, taken: list[Box]) -> list[Mark]:
    """Return the names of the streets beside a yard, nearest first, where nothing lies yet (``taken``)."""
    around = facts.around.get("streets")
    if around is None:
        return []
    names = around["name"] if "name" in around else pd.Series("", index=around.index)
    near = sorted(
        zip(around.geometry, names, strict=True), key=lambda row: float(row[0].distance(facts.shape))
    )
    marks: list[Mark] = []
    told: set[str] = set()
    for street, given in near:
        name = plain(given, 30) or "street"
        mark = None if name in told else _street(facts, paper, street, name, taken)
        if mark is not None and len(told) < MOST_STREETS:
            told.add(name)
            marks.append(mark)
            taken = [*taken, taken_by(mark)]
    return marks


def _street(facts: YardFacts, paper: Paper, street: BaseGeometry, name: str, taken: list[Box]) -> Mark | None:
    """Write a street's name outside the edge of the yard that faces it, or at the edge of the paper there."""
    edge = facts.shape.boundary
    here, there = nearest_points(edge, nearest_points(street, facts.shape.centroid)[0])
    dx, dy = there.x - here.x, there.y - here.y
    long = math.hypot(dx, dy)
    if long == 0 or street.intersects(facts.shape):
        return None
    west, south, east, north = paper.bounds
    if not (west <= here.x <= east and south <= here.y <= north):
        return _at_the_frame(paper, there, name, taken)
    off = STREET_OFF_MM * paper.scale / 1000
    turn = -((math.degrees(math.atan2(-dx, dy)) + 90.0) % 180.0 - 90.0)
    near = shapely.line_interpolate_point(edge, edge.project(here))
    for step in STREET_STEPS_MM:
        along = step * paper.scale / 1000
        x, y = near.x + dx / long * off - dy / long * along, near.y + dy / long * off + dx / long * along
        mark = words(paper.place(x, y), name, "street", turn)
        if _free(mark, paper, taken, STREET_OVER_MM):
            return mark
    return _at_the_frame(paper, there, name, taken)


def _at_the_frame(paper: Paper, there: Point, name: str, taken: list[Box]) -> Mark | None:
    """Write a street's name with an arrow at the edge of the paper on the side where the street lies."""
    wide, high = paper.size_mm
    x, y = paper.place(there.x, there.y)
    over = {"←": -x, "→": x - wide, "↑": -y, "↓": y - high}
    side = max(over, key=lambda k: over[k])
    text = f"{name} {side}" if side in "→↓" else f"{side} {name}"
    half = taken_by(words((0.0, 0.0), text, "street"))[2]
    level_, upright = [], []
    for step in STREET_STEPS_MM:
        level_.append((min(max(x + step, half), wide - half), 1.6 if side == "↑" else high - 1.6))
        upright.append((half if side == "←" else wide - half, min(max(y + step, 2.0), high - 2.0)))
    for spot in level_ if side in "↑↓" else upright:
        mark = words(spot, text, "street")
        if _free(mark, paper, taken, 0.1):
            return mark
    return None


def _free(mark: Mark, paper: Paper, taken: list[Box], over_mm: float) -> bool:
    """Return whether words lie on the paper, or so much over its edge, and over no others."""
    wide, high = paper.size_mm
    west, top, east, bottom = taken_by(mark)
    inside = west >= -over_mm and top >= -over_mm and east <= wide + over_mm and bottom <= high + over_mm
    return inside and not meets((west, top, east, bottom), taken)
