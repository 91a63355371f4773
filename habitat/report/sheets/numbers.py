"""Numbers of plants on drawings: large enough to read, none over another, every plant tied to its own.

Where circles are too small for a number each, only some carry one; the others of the kind are joined to it by
a thin line from middle to middle, and a kind for which there is no room gets its number beside, on a leader
(common practice of planting plans).
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Sequence
from typing import Any

from habitat.report.sheets.drawing import Box, Mark, Paper, meets, taken_by, words

SMALLEST_NUMBER_MM = 2.6
"""Circles narrower than this carry no number in the drawing of the yard; the drawing of the bed has it."""

LONGEST_TIE_MM = 14.0
"""Plants of a kind farther apart than this are not joined by a line [mm]: judgement."""

LEADERS_MM = (2.6, 3.6, 5.0, 7.0, 9.5, 13.0)
"""How far beside its plant a number may stand [mm]."""

DIRECTIONS = tuple((math.cos(math.pi * k / 8), math.sin(math.pi * k / 8)) for k in range(16))

Spot = tuple[float, float]


def plant_numbers(placed: Sequence[Any], paper: Paper, *, every: bool) -> list[Mark]:
    """Return the numbers of plants, and the lines that join plants without one to a plant that has one.

    Parameters
    ----------
    placed
        Rows of ``plant_points``, as named tuples.
    every
        Whether every plant has to reach a number; else only circles wide enough carry one, without lines.
    """
    look = "bed-key" if every else "key"
    spots = [_spot(paper, p) for p in placed]
    boxes: list[Box] = []
    numbered: set[int] = set()
    marks: list[Mark] = []
    for k in _order(placed):
        if not every and paper.mm(placed[k].crown_m) < SMALLEST_NUMBER_MM:
            continue
        mark = words(spots[k], str(placed[k].key_number), look)
        box = taken_by(mark)
        if not meets(box, boxes) and _inside(box, paper):
            boxes.append(box)
            numbered.add(k)
            marks.append(mark)
    if not every:
        return marks
    lines: list[Mark] = []
    for members in _kinds(placed):
        tied, beside = _ties(members, numbered, placed, spots, boxes, paper)
        lines += tied
        marks += beside
    return [*lines, *marks]


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


def _ties(
    members: list[int],
    numbered: set[int],
    placed: Sequence[Any],
    spots: list[Spot],
    boxes: list[Box],
    paper: Paper,
) -> tuple[list[Mark], list[Mark]]:
    """Join the plants of one kind, nearest first; return lines, and numbers beside plants."""
    reached = [k for k in members if k in numbered]
    waiting = [k for k in members if k not in numbered]
    lines: list[Mark] = []
    beside: list[Mark] = []
    while waiting:
        pairs = itertools.product(waiting, reached)
        far, k, to = min(
            ((math.dist(spots[a], spots[b]), a, b) for a, b in pairs), default=(math.inf, -1, -1)
        )
        if far <= LONGEST_TIE_MM:
            lines.append(_line(spots[k], spots[to]))
        else:
            k = waiting[0]
            key = placed[k].key_number
            spot = _free_spot(spots[k], key, boxes, spots, paper)
            beside.append(words(spot, str(key), "bed-key"))
            boxes.append(taken_by(beside[-1]))
            if spot != spots[k]:
                lines.append(_line(spots[k], spot))
        waiting.remove(k)
        reached.append(k)
    return lines, beside


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
