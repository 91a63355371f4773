"""A way to a point square off a straight edge: along it from one end, or in line with it, then off."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

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
    return off_an_edge(target, spots, straight_edges(spots, walls), solid)


def off_an_edge(
    target: Point, spots: Sequence[Point], edges: Sequence[tuple[int, int]], solid: Sequence[BaseGeometry]
) -> Square | None:
    """Return the shortest way to a point from straight edges between two spots, None if there is none."""
    ways = [_way(target, spots, a, b) for a, b in edges]
    able = [w for w in ways if w is not None and _open(target, spots[w.start], w, solid)]
    return min(able, key=_trouble, default=None)


def _trouble(way: Square) -> tuple[bool, float, int]:
    """Return by what ways are compared: a long measure first, then how far off or on the tape goes."""
    long = max(way.along_m, way.off_m) > NEAR_M
    return long, way.off_m + (way.along_m / 3 if way.side else 0.0), way.start


def sees(point: Point, target: Point, solid: Sequence[BaseGeometry]) -> bool:
    """Return whether a tape between two points crosses nothing solid by more than 5 cm."""
    tape = LineString([point, target])
    return not any(tape.intersection(b).length > 0.05 for b in solid)


def straight_edges(spots: Sequence[Point], walls: Sequence[BaseGeometry]) -> list[tuple[int, int]]:
    """Return pairs of fixed points with a straight wall from one to the other."""
    out = []
    edges = [(b.boundary if b.area else b).buffer(0.25) for b in walls]
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
