"""Numbers of plants on drawings: large enough to read, none over another, every plant tied to its own.

In the drawing of a bed a group of one kind has an outline and carries one number; a group on which there is
no room gets its number beside, on a leader (common practice of planting plans).
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Sequence
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from habitat.report.sheets.drawing import Box, Mark, Paper, meets, taken_by, words

SMALLEST_NUMBER_MM = 2.6
"""Circles narrower than this carry no number in the drawing of the yard; the drawing of the bed has it."""

APART, LEAST_APART_MM = 1.6, 2.5
"""Plants of a kind nearer than so many spreads, but for that of the least [mm], are one group: judgement."""

LEADERS_MM = (2.6, 3.6, 5.0, 7.0, 9.5, 13.0)
"""How far beside its plant a number may stand [mm]."""

WIDEST_OUTLINED_MM = 25.0
"""Crowns wider than this have their own line and no outline besides [mm]."""

DIRECTIONS = tuple((math.cos(math.pi * k / 8), math.sin(math.pi * k / 8)) for k in range(16))

Spot = tuple[float, float]
Group = tuple[list[int], shapely.Polygon]
"""Places of plants, and the outline round them on paper [mm]."""


def plant_numbers(placed: Sequence[Any], paper: Paper, *, every: bool) -> list[Mark]:
    """Return the numbers of plants, and the outlines of groups.

    Parameters
    ----------
    placed
        Rows of ``plant_points``, as named tuples.
    every
        Whether every plant has to have a number: each group of a kind is outlined and carries one; else
        circles wide enough carry one each.
    """
    if every:
        return _group_numbers(placed, paper)
    boxes: list[Box] = []
    marks: list[Mark] = []
    for k in _order(placed):
        if paper.mm(placed[k].crown_m) < SMALLEST_NUMBER_MM:
            continue
        mark = words(_spot(paper, placed[k]), str(placed[k].key_number), "key")
        box = taken_by(mark)
        if not meets(box, boxes) and _inside(box, paper):
            boxes.append(box)
            marks.append(mark)
    return marks


def _group_numbers(placed: Sequence[Any], paper: Paper) -> list[Mark]:
    """Return an outline and a number for each group of one kind, the number where it hides least."""
    spots = [_spot(paper, p) for p in placed]
    groups = [group for members in _kinds(placed) for group in _groups(members, placed, spots, paper)]
    lines = _outlines(groups, placed, paper)
    boxes: list[Box] = []
    marks: list[Mark] = []
    for group, _ in sorted(groups, key=lambda g: (len(g[0]), placed[g[0][0]].point_id)):
        key = placed[group[0]].key_number
        spot = _number_spot(group, key, spots, boxes, paper)
        if spot is None:
            first = spots[group[0]]
            spot = _free_spot(first, key, boxes, spots, paper)
            if spot != first:
                lines.append(_line(first, spot))
        marks.append(words(spot, str(key), "bed-key"))
        boxes.append(taken_by(marks[-1]))
    return [*lines, *marks]


def _outlines(groups: list[Group], placed: Sequence[Any], paper: Paper) -> list[Mark]:
    """Return the outlines of groups, cut where those of smaller plants are drawn over them."""
    over: list[BaseGeometry] = []
    marks: list[Mark] = []
    for group, shape in sorted(groups, key=lambda g: (placed[g[0][0]].crown_m, placed[g[0][0]].point_id)):
        if paper.mm(placed[group[0]].crown_m) < WIDEST_OUTLINED_MM:
            near = [o for o in over if o.intersects(shape.exterior)]
            seen = shape.exterior.difference(shapely.union_all(near))
            for part in shapely.get_parts(shapely.line_merge(seen) if seen.geom_type[0] == "M" else seen):
                if part.length > 0:
                    points = shapely.get_coordinates(part).round(3).tolist()
                    marks.append({"kind": "line", "look": "group", "points": points})
        over.append(shape.buffer(-0.05))
    return marks


def _number_spot(
    group: list[int], key: int, spots: list[Spot], boxes: list[Box], paper: Paper
) -> Spot | None:
    """Return the plant of a group on which its number hides fewest others, the middlemost of those."""
    middle = tuple(sum(spots[k][i] for k in group) / len(group) for i in (0, 1))
    others = [s for k, s in enumerate(spots) if k not in group]
    best: tuple[int, float, Spot] | None = None
    for k in group:
        box = taken_by(words(spots[k], str(key), "bed-key"))
        if meets(box, boxes) or not _inside(box, paper):
            continue
        hidden = sum(box[0] < x < box[2] and box[1] < y < box[3] for x, y in others)
        cost = (hidden, math.dist(spots[k], middle), spots[k])
        if best is None or cost < best:
            best = cost
    return None if best is None or best[0] else best[2]


def _groups(members: list[int], placed: Sequence[Any], spots: list[Spot], paper: Paper) -> list[Group]:
    """Return plants of a kind in groups, with the outline of each: each stands near another of its group."""
    across = max(paper.mm(placed[members[0]].crown_m), LEAST_APART_MM)
    gap = (APART - 1.0) * across / 2
    points = shapely.points([spots[k] for k in members])
    circles = shapely.buffer(points, across / 2 + gap, quad_segs=8)
    shapes = shapely.get_parts(shapely.union_all(circles))
    out = []
    for shape in shapes:
        covered = shapely.covers(shape, points)
        inside = [k for k, held in zip(members, covered, strict=True) if held]
        outline = shape.buffer(gap, quad_segs=8).buffer(-2 * gap, quad_segs=8).simplify(0.03)
        largest = max(shapely.get_parts(outline), key=lambda p: float(p.area))
        out.append((inside, shapely.Polygon(largest.exterior)))
    return out


def _spot(paper: Paper, point: Any) -> Spot:
    x, y = paper.place(point.geometry.x, point.geometry.y)
    return x, y


def _order(placed: Sequence[Any]) -> list[int]:
    """Return the order in which plants get their numbers: rare kinds first, then as they stand."""
    many = Counter((p.bed_id, p.plant) for p in placed)
    return sorted(
        range(len(placed)), key=lambda k: (many[placed[k].bed_id, placed[k].plant], placed[k].point_id)
    )


def _kinds(placed: Sequence[Any]) -> list[list[int]]:
    """Return the places of the plants of each kind and bed."""
    found: dict[tuple[str, str], list[int]] = {}
    for k, p in enumerate(placed):
        found.setdefault((p.bed_id, p.plant), []).append(k)
    return list(found.values())


def _line(start: Spot, end: Spot) -> Mark:
    return {"kind": "line", "look": "tie", "points": [list(start), list(end)]}


def _inside(box: Box, paper: Paper) -> bool:
    wide, high = paper.size_mm
    return box[0] >= 0 and box[1] >= 0 and box[2] <= wide and box[3] <= high


def _free_spot(at: Spot, key: int, boxes: list[Box], spots: list[Spot], paper: Paper) -> Spot:
    """Return a place for a number beside a plant: near, in the frame, on few others; else on the plant."""
    best: tuple[float, Spot] | None = None
    for far, (dx, dy) in itertools.product(LEADERS_MM, DIRECTIONS):
        spot = (round(at[0] + far * dx, 3), round(at[1] + far * dy, 3))
        box = taken_by(words(spot, str(key), "bed-key"))
        if not _inside(box, paper) or meets(box, boxes):
            continue
        covered = sum(box[0] < x < box[2] and box[1] < y < box[3] for x, y in spots)
        cost = far + 6.0 * covered
        if best is None or cost < best[0]:
            best = cost, spot
    return at if best is None else best[1]
