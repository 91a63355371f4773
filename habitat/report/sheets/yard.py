"""The yard to scale: house, paving, what stands, beds with their numbers, every plant."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from habitat.report.sheets.drawing import (
    Mark,
    Paper,
    area,
    circle,
    frame,
    line,
    plant_circles,
    scale_bar,
    scale_for,
    scale_words,
    words,
)
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.measures import Layout, layout_marks
from habitat.report.sheets.numbers import plant_numbers
from habitat.report.words.numbers import Units

COARSEST = 400
"""Where the whole yard would need a smaller scale than 1 to this, what it takes to find the beds is drawn."""

LOOKS = {
    "building": "building",
    "paving": "paving",
    "water": "water",
    "crown": "crown of a tree that stands",
    "standing": "plant that stands already",
    "fence": "fence",
    "wires": "overhead wires",
    "buried": "buried line, as far as known",
    "septic": "septic field",
    "low": "keep plants low (sight lines, wires)",
    "plant-forb": "flower",
    "plant-graminoid": "grass or sedge",
    "plant-vine": "vine",
    "plant-shrub": "shrub",
    "plant-tree": "tree to plant",
    "bed": "bed",
    "boundary": "edge of the yard, not surveyed",
}
"""What each look means, in the order of the legend."""


def yard_drawing(
    facts: YardFacts, layout: Layout, room_mm: tuple[float, float], units: Units
) -> dict[str, Any]:
    """Return the drawing of a yard that fits a room on paper.

    Parameters
    ----------
    facts
        The yard.
    layout
        Fixed points and tapes.
    room_mm
        Width and height that there is [mm].

    Returns
    -------
    dict
        width, height [mm], marks, legend (look and words), bar (scale bar), scale (words), and cut:
        whether only a part of the yard is drawn.
    """
    window, cut = _window(facts, layout, room_mm, units.system)
    scale = scale_for(window[2] - window[0], window[3] - window[1], room_mm, units.system)
    paper = Paper(window, scale)
    marks = [*_ground(facts, paper), *_standing(facts, paper), *_planned(facts, paper)]
    marks += [*layout_marks(layout, paper), *_written(facts, paper)]
    used = {m["look"] for m in marks}
    return {
        "width": paper.size_mm[0],
        "height": paper.size_mm[1],
        "marks": marks,
        "legend": [{"look": look, "words": text} for look, text in LOOKS.items() if look in used],
        "bar": scale_bar(paper, units.system),
        "scale": scale_words(paper, units),
        "cut": cut,
    }


def _window(
    facts: YardFacts, layout: Layout, room_mm: tuple[float, float], system: str
) -> tuple[tuple[float, float, float, float], bool]:
    """Return the ground to draw: the yard, or of a large one the part with beds, house and fixed points."""
    margin = 1.0 + 0.03 * math.sqrt(facts.shape.area)
    whole = frame([facts.shape], margin)
    beds = [bed.geometry for bed in facts.rows["beds"]]
    if not beds or scale_for(whole[2] - whole[0], whole[3] - whole[1], room_mm, system) <= COARSEST:
        return whole, False
    houses = [b.intersection(facts.shape) for b in _layer(facts, "buildings")]
    away = [b.distance(shapely.union_all(beds)) for b in houses]
    near = [b for b, far in zip(houses, away, strict=True) if far <= max(25.0, min(away))]
    part = frame([*beds, *near, *layout.fixed.values()], 3.0)
    part = (max(part[0], whole[0]), max(part[1], whole[1]), min(part[2], whole[2]), min(part[3], whole[3]))
    extents = [(b[2] - b[0], b[3] - b[1]) for b in (part, whole)]
    scales = [scale_for(wide, high, room_mm, system) for wide, high in extents]
    return (part, True) if scales[0] < scales[1] else (whole, False)


def _layer(facts: YardFacts, name: str) -> list[BaseGeometry]:
    frame_ = facts.around.get(name)
    return [] if frame_ is None else list(frame_.geometry)


def _ground(facts: YardFacts, paper: Paper) -> list[Mark]:
    """Mark what lies in the yard; nothing of a neighbour's is drawn."""
    marks: list[Mark] = []
    here = facts.shape
    for row in facts.rows["height_limits"]:
        marks += area(row.geometry.intersection(here), "low", paper)
    for name, look in (("water", "water"), ("paving", "paving"), ("buildings", "building")):
        for shape in _layer(facts, name):
            marks += area(shape.intersection(here), look, paper)
    for name, look in (("septic", "septic"), ("fences", "fence"), ("buried", "buried"), ("wires", "wires")):
        for shape in _layer(facts, name):
            marks += line(shape.intersection(here.buffer(0.3)), look, paper)
    return [*marks, *line(here, "boundary", paper)]


def _standing(facts: YardFacts, paper: Paper) -> list[Mark]:
    marks: list[Mark] = []
    trees = facts.around.get("trees")
    if trees is not None:
        widths = trees["crown_m"] if "crown_m" in trees else pd.Series(math.nan, index=trees.index)
        for shape, across in zip(trees.geometry, widths, strict=True):
            marks.append(circle(shape.centroid, across if across > 0 else 3.0, "crown", paper))
            marks.append(circle(shape.centroid, 0.4, "trunk", paper))
    for plant in facts.rows["existing_plants"]:
        each = plant.crown_m2 / plant.count if plant.crown_m2 > 0 and plant.count > 0 else 0.2
        spot = plant.geometry.centroid
        marks.append(circle(spot, math.sqrt(4 * each / math.pi), "standing", paper))
        marks.append(words(paper.place(spot.x, spot.y), "+", "cross"))
    return marks


def _planned(facts: YardFacts, paper: Paper) -> list[Mark]:
    """Mark trees to plant first, since their crowns will reach over everything else; numbers last."""
    forms = facts.plan.knowledge.plants["form"].to_dict()
    rows = sorted(facts.rows["plant_points"], key=lambda p: (-p.crown_m, p.point_id))
    trees = [p for p in rows if forms.get(p.plant) == "tree"]
    others = [p for p in rows if forms.get(p.plant) != "tree"]
    marks = plant_circles(trees, forms, paper)
    for bed in facts.rows["beds"]:
        marks += area(bed.geometry, "bed", paper)
    return [*marks, *plant_circles(others, forms, paper), *plant_numbers(rows, paper, every=False)]


def _written(facts: YardFacts, paper: Paper) -> list[Mark]:
    marks = _building_words(facts, paper)
    street = _street(facts, paper)
    if street is not None:
        marks.append(street)
    return [*marks, *_bed_numbers(facts, paper)]


def _building_words(facts: YardFacts, paper: Paper) -> list[Mark]:
    """Write "house" into the largest building and "building" into others that have the room."""
    marks: list[Mark] = []
    shapes = sorted((b.intersection(facts.shape) for b in _layer(facts, "buildings")), key=lambda b: -b.area)
    for k, shape in enumerate(shapes):
        inside = paper.clip(shape)
        if inside.is_empty:
            continue
        text = "house" if k == 0 and shape.area > 40.0 else "building"
        west, south, east, north = inside.bounds
        if paper.mm(east - west) > 1.6 * len(text) + 2 and paper.mm(north - south) > 4.5:
            spot = inside.representative_point()
            marks.append(words(paper.place(spot.x, spot.y), text, "on-building"))
    return marks


def _street(facts: YardFacts, paper: Paper) -> Mark | None:
    """Write "street" outside the edge that is nearest to one, along that edge."""
    streets = facts.plan.layers.frame("streets")
    if streets is None or not len(streets):
        return None
    middle = facts.shape.centroid
    near = streets.geometry.iloc[int(np.argmin(shapely.distance(streets.geometry.to_numpy(), middle)))]
    away = nearest_points(facts.shape.boundary, near)
    if away[0].distance(away[1]) > 30.0 or near.intersects(facts.shape):
        return None
    here = nearest_points(facts.shape.boundary, nearest_points(near, middle)[0])[0]
    dx, dy = away[1].x - away[0].x, away[1].y - away[0].y
    long = math.hypot(dx, dy)
    if long == 0:
        return None
    off = 2.6 * paper.scale / 1000
    spot = paper.place(here.x + dx / long * off, here.y + dy / long * off)
    angle = math.degrees(math.atan2(-dx, dy))
    turn = -((angle + 90.0) % 180.0 - 90.0)
    wide, high = paper.size_mm
    inside = 4 <= spot[0] <= wide - 4 and 1.5 <= spot[1] <= high - 1.5
    return words(spot, "street side", "quiet", turn) if inside else None


def _bed_numbers(facts: YardFacts, paper: Paper) -> list[Mark]:
    """Write each bed's number beside it where nothing else lies, else into it."""
    beds = facts.rows["beds"]
    solid = [*(bed.geometry for bed in beds), *_layer(facts, "buildings")]
    taken: list[BaseGeometry] = []
    marks: list[Mark] = []
    half = 2.3 * paper.scale / 1000
    for bed in beds:
        spot = _number_spot(bed.geometry, [*solid, *taken], facts.shape, half)
        taken.append(shapely.box(spot.x - half, spot.y - half, spot.x + half, spot.y + half))
        marks.append(words(paper.place(spot.x, spot.y), f"{int(bed.bed_number)}", "bed-number"))
    return marks


def _number_spot(bed: BaseGeometry, solid: list[BaseGeometry], yard: BaseGeometry, half: float) -> Point:
    """Return the first place round a bed where a number of half width ``half`` [m] touches nothing solid."""
    ring = bed.convex_hull.buffer(half * 1.25).exterior
    for share in (0.0, 0.5, 0.25, 0.75, 0.125, 0.375, 0.625, 0.875):
        spot = ring.interpolate(share, normalized=True)
        square = shapely.box(spot.x - half, spot.y - half, spot.x + half, spot.y + half)
        if yard.contains(square) and not any(s.intersects(square) for s in solid):
            return spot
    return bed.representative_point()
