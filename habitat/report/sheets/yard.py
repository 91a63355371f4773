"""The yard to scale: house, paving, what stands, beds with their numbers, every plant."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pandas as pd
import shapely
import shapely.affinity
import shapely.ops
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from habitat.report.sheets.drawing import (
    Box,
    Mark,
    Paper,
    area,
    circle,
    line,
    meets,
    plant_circles,
    scale_bar,
    scale_words,
    taken_by,
    words,
)
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.measures import Layout, layout_marks
from habitat.report.sheets.numbers import plant_numbers
from habitat.report.sheets.streets import street_names
from habitat.report.sheets.window import Framed, framed
from habitat.report.words.numbers import Units

NUMBER_OFF_MM = (2.6, 3.4, 4.5, 6.0, 8.0, 11.0, 15.0, 20.0)
"""How far from its bed the number of a bed may stand [mm]."""

WIDE_CROWN_MM = 4.0
"""Numbers of beds stand beside crowns from this width on."""

FAR_NUMBER_MM = 3.2
"""From here on a line leads from the number to its bed [mm]."""

DOWNSPOUT_M = 0.15
"""Radius of the mark of a downspout: about its splash block."""

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
    "downspout": "outlet of a downspout",
    "kept": "kept free, as you told",
    "low": "keep plants low (sight lines, wires)",
    "bed": "bed",
    "boundary": "edge of the yard, not surveyed",
}
"""What each look means, in the order of the legend; those of plants stand in the plant list."""


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
        width, height [mm], marks, legend (look and words), bar (scale bar), scale (words), ground (one to
        so much), cut: whether only a part of the yard is drawn, and turn: where north is [deg clockwise].
    """
    made = framed(facts, layout, room_mm, units.system)
    return facts.kept(
        ("yard", id(layout), made.scale, made.bounds, units.system), lambda: drawn_yard(made, units)
    )


def drawn_yard(
    made: Framed, units: Units, tapes: Callable[[list[Box]], list[Mark]] | None = None
) -> dict[str, Any]:
    """Return a framed yard as ``yard_drawing`` does.

    ``tapes``, given the paper that is written on, marks how the beds are laid out; then each group of plants
    has its number too. Without it there is a tape to each bed.
    """
    facts, paper = made.facts, Paper(made.bounds, made.scale)
    marks = [*_ground(facts, paper), *_standing(facts, paper), *_planned(facts, paper, every=bool(tapes))]
    if tapes is None:
        letters = layout_marks(made.layout, paper)
    else:
        letters = tapes([taken_by(m) for m in marks if m["kind"] == "words"])
    marks += [*letters, *_written(facts, paper, [m for m in (*marks, *letters) if m["kind"] == "words"])]
    used = {m["look"] for m in marks}
    return {
        "width": paper.size_mm[0],
        "height": paper.size_mm[1],
        "marks": marks,
        "legend": [{"look": look, "words": text} for look, text in LOOKS.items() if look in used],
        "bar": scale_bar(paper, units.system),
        "scale": scale_words(paper, units),
        "ground": made.scale,
        "cut": made.cut,
        "turn": -made.turn_deg,
    }


def ground_drawing(facts: YardFacts, room_mm: tuple[float, float], units: Units) -> dict[str, Any]:
    """Return the drawing of what is known of a yard's ground, without the plan: keys as ``yard_drawing``."""
    bare = replace(facts, rows={**facts.rows, "beds": [], "plant_points": [], "plantings": []})
    layout = Layout({}, {}, {}, (), (), from_house=False)
    return yard_drawing(bare, layout, room_mm, units)


def _layer(facts: YardFacts, name: str) -> list[BaseGeometry]:
    frame_ = facts.around.get(name)
    return [] if frame_ is None else list(frame_.geometry)


def _ground(facts: YardFacts, paper: Paper) -> list[Mark]:
    """Mark what lies in the yard; nothing of a neighbour's is drawn."""
    marks: list[Mark] = []
    here = facts.shape
    for row in facts.rows["height_limits"]:
        marks += area(row.geometry.intersection(here), "low", paper)
    for row in facts.rows["closed_ground"]:
        if row.what == "told" and row.growth_form in ("all", "herb"):
            marks += area(row.geometry, "kept", paper)
    for name, look in (("water", "water"), ("paving", "paving"), ("buildings", "building")):
        for shape in _layer(facts, name):
            marks += area(shape.intersection(here), look, paper)
    for name, look in (("septic", "septic"), ("fences", "fence"), ("buried", "buried"), ("wires", "wires")):
        for shape in _layer(facts, name):
            marks += line(shape.intersection(here.buffer(0.3)), look, paper)
    outlets = [p for p in _layer(facts, "downspouts") if here.covers(p)]
    marks += [circle(p, 2 * DOWNSPOUT_M, "downspout", paper) for p in outlets]
    return [*marks, *line(here, "boundary", paper)]


def _standing(facts: YardFacts, paper: Paper) -> list[Mark]:
    """Mark what stands: crowns as open outlines, cut where they reach over a building or another's yard."""
    marks: list[Mark] = []
    roofs = shapely.union_all(_layer(facts, "buildings"))
    seen = facts.shape.difference(roofs)
    trees = facts.around.get("trees")
    if trees is not None:
        widths = trees["crown_m"] if "crown_m" in trees else pd.Series(math.nan, index=trees.index)
        for shape, across in zip(trees.geometry, widths, strict=True):
            marks += _crown(shape.centroid, across if across > 0 else 3.0, "crown", seen, paper)
            if facts.shape.covers(shape.centroid):
                marks.append(circle(shape.centroid, 0.4, "trunk", paper))
    for plant in facts.rows["existing_plants"]:
        each = plant.crown_m2 / plant.count if plant.crown_m2 > 0 and plant.count > 0 else 0.2
        spot = plant.geometry.centroid
        marks += _crown(spot, math.sqrt(4 * each / math.pi), "standing", seen, paper)
        marks.append(words(paper.place(spot.x, spot.y), "+", "cross"))
    return marks


def _crown(middle: Point, across_m: float, look: str, seen: BaseGeometry, paper: Paper) -> list[Mark]:
    """Return the outline of a crown as far as it is seen from above the open ground of the yard."""
    ring = middle.buffer(across_m / 2, quad_segs=24).exterior
    return line(ring.intersection(seen), look, paper)


def _planned(facts: YardFacts, paper: Paper, *, every: bool) -> list[Mark]:
    """Mark trees to plant first, since their crowns will reach over everything else; numbers last."""
    forms = facts.plan.knowledge.plants["form"].to_dict()
    rows = sorted(facts.rows["plant_points"], key=lambda p: (-p.crown_m, p.point_id))
    trees = [p for p in rows if forms.get(p.plant) == "tree"]
    others = [p for p in rows if forms.get(p.plant) != "tree"]
    marks = plant_circles(trees, forms, paper)
    for bed in facts.rows["beds"]:
        marks += area(bed.geometry, "bed", paper)
    return [*marks, *plant_circles(others, forms, paper), *plant_numbers(rows, paper, every=every)]


def _written(facts: YardFacts, paper: Paper, before: list[Mark]) -> list[Mark]:
    """Write houses, the street and the numbers of beds, none over what was written ``before``."""
    taken = [taken_by(mark) for mark in before]
    marks = _building_words(facts, paper, taken)
    taken += [taken_by(mark) for mark in marks]
    streets = street_names(facts, paper, [*taken, *_crowded(facts, paper)])
    marks += streets
    taken += [taken_by(mark) for mark in streets]
    return [*marks, *_bed_numbers(facts, paper, taken)]


def _crowded(facts: YardFacts, paper: Paper) -> list[Box]:
    """Return what beds, plants and buildings take of the paper, so that no street is written over them."""
    shapes = [bed.geometry for bed in facts.rows["beds"]]
    shapes += [p.geometry.buffer(p.crown_m / 2) for p in facts.rows["plant_points"] if p.crown_m > 1.0]
    shapes += [b.intersection(facts.shape) for b in _layer(facts, "buildings")]
    return [paper_shape(shape, paper).bounds for shape in shapes if not shape.is_empty]


def _building_words(facts: YardFacts, paper: Paper, taken: list[Box]) -> list[Mark]:
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
            mark = words(paper.place(spot.x, spot.y), text, "on-building")
            if not meets(taken_by(mark), taken):
                marks.append(mark)
    return marks


def _bed_numbers(facts: YardFacts, paper: Paper, taken: list[Box]) -> list[Mark]:
    """Write each bed's number beside it where nothing else lies, with a line to it where that is far."""
    beds = facts.rows["beds"]
    solid = [shapely.union_all([paper_shape(bed.geometry, paper) for bed in beds])] if beds else []
    solid += [paper_shape(b, paper) for b in _layer(facts, "buildings")]
    wide = [p for p in facts.rows["plant_points"] if paper.mm(p.crown_m) >= WIDE_CROWN_MM]
    solid += [paper_shape(p.geometry.buffer(p.crown_m / 2), paper) for p in wide]
    marks: list[Mark] = []
    for bed in beds:
        shape = paper_shape(bed.geometry, paper)
        text = f"{int(bed.bed_number)}"
        spot = _number_spot(shape, text, solid, taken, paper)
        mark = words(spot, text, "bed-number")
        taken.append(taken_by(mark))
        near = shapely.ops.nearest_points(shape, Point(spot))[0]
        if near.distance(Point(spot)) > FAR_NUMBER_MM:
            marks.append(
                {"kind": "line", "look": "tie", "points": [[round(near.x, 3), round(near.y, 3)], spot]}
            )
        marks.append(mark)
    return marks


def paper_shape(shape: BaseGeometry, paper: Paper) -> BaseGeometry:
    """Return a shape on paper [mm], y downwards."""
    west, _, _, north = paper.bounds
    k = 1000 / paper.scale
    return shapely.affinity.affine_transform(shape, [k, 0, 0, -k, -west * k, north * k])


def _number_spot(
    bed: BaseGeometry, text: str, solid: list[BaseGeometry], taken: list[Box], paper: Paper
) -> list[float]:
    """Return the place nearest to a bed where its number lies on no bed, building, number or letter.

    Where there is none, it may lie on a bed, a crown or a building.
    """
    wide, high = paper.size_mm
    for shapes, off in itertools.product((solid, []), NUMBER_OFF_MM):
        ring = bed.convex_hull.buffer(off).exterior
        for k in range(16):
            at = ring.interpolate(k / 16, normalized=True)
            spot = [round(at.x, 3), round(at.y, 3)]
            box = taken_by(words(spot, text, "bed-number"))
            inside = box[0] >= 0 and box[1] >= 0 and box[2] <= wide and box[3] <= high
            if inside and not meets(box, taken) and not any(s.intersects(shapely.box(*box)) for s in shapes):
                return spot
    at = bed.representative_point()
    return [round(at.x, 3), round(at.y, 3)]
