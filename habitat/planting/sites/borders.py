"""Few, large, connected beds: along what stands and the edges of a yard, or one island in the lawn."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from habitat.arrays import Floats
from habitat.grid import Grid
from habitat.planting.sites import edges as strips
from habitat.planting.sites.outline import bed_outline
from habitat.planting.sites.ways import Ways, passable
from habitat.suitability.types import Fit

BED_LEAST_M2 = 4.0
"""A smaller bed is a scrap: it holds no community, and its edge is long (judgement)."""

ISLAND_LEAST_M2 = 12.0
"""An island in the lawn is at least this large: judgement."""

BED_WISHED_M2 = 12.0
"""Ground for which one more bed is opened, so that a yard has few: judgement; 9.3 m2 is what a bed of natives
meant for monarchs takes (100 sq ft; garden and trade press)."""

BEDS_MOST = 3
"""Most borders and islands in a yard; with a tree's ring that joins none of them there are four."""

DEPTHS_M = (1.8, 1.5, 1.2)
"""Depths of a border, tried in turn: at most 1.8 m against a wall, fence or hedge (6 ft; garden and trade
press). Beds of 1.2 m are for yards that have no room for wider ones."""

DEEP_M, DEEP_FROM_M2 = 2.1, 75.0
"""Depth where all beds together may take this much: judgement; at most 2.4 m where people reach in from two
sides (8 ft; extension text)."""

WIDEST_M = 2.95
"""No bed is wider anywhere, not in its corners either: judgement."""

ISLAND_WIDTH_M = 2.4
"""Width of an island (8 ft; extension text)."""

GAP_M = 0.9
"""Path between two beds (36 in, for a wheelbarrow; garden and trade press)."""

ISLAND_WORTH = 0.8
"""An island is worth this share of a border as good, since it cuts up the lawn: judgement."""

ISLAND_LAWN_M = 1.5
"""Lawn around an island, two turns of a mower: judgement."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A place that could become a bed, its mean fit (plants,), and the line that it follows.

    backed : whether the line is its back; an island has none.
    """

    polygon: Polygon
    line: LineString
    fit: Floats
    backed: bool = True


@dataclass(frozen=True, slots=True)
class BedGround:
    """Ground for the beds of one yard: where they may be, and what they leave free.

    room_m2 : most ground of all beds together.
    """

    herb: BaseGeometry
    ways: Ways
    room_m2: float
    fit: Fit
    grid: Grid
    parts: list[Polygon] = field(default_factory=list)

    @classmethod
    def of(cls, herb: BaseGeometry, ways: Ways, room_m2: float, fit: Fit, grid: Grid) -> BedGround:
        """Return the ground less what beds leave free, in parts that could hold one."""
        parts = [p for p in shapely.get_parts(herb.difference(ways.free)) if p.area >= BED_LEAST_M2]
        parts.sort(key=lambda p: (-round(p.area, 3), *p.bounds))
        return cls(herb, ways, room_m2, fit, grid, parts)

    @property
    def depth_m(self) -> float:
        """Depth of borders [m], before narrower ones are tried."""
        return DEEP_M if self.room_m2 >= DEEP_FROM_M2 else DEPTHS_M[0]


def choose_beds(ground: BedGround) -> list[Candidate]:
    """Return the beds of a yard, best first.

    Parameters
    ----------
    ground
        Where they may be, and how much of it.

    Returns
    -------
    list of Candidate
        At most ``BEDS_MOST``, none under ``BED_LEAST_M2``, ``GAP_M`` apart, together at most ``room_m2``;
        what grows well there, and what grows there better than in those chosen before.
    """
    for depth in dict.fromkeys((ground.depth_m, *DEPTHS_M)):
        found = _candidates(ground, depth)
        chosen = _chosen(found, ground, min(depth, DEPTHS_M[1])) if found else []
        if chosen:
            return chosen
    return []


def _candidates(ground: BedGround, depth: float) -> list[Candidate]:
    out = []
    for part in ground.parts:
        for line in rings_of(part):
            out += _stretches(line, part, depth, ground)
    return out + _islands(ground)


def rings_of(part: Polygon) -> list[LineString]:
    """Return the outlines of open ground with the ground on their left, beginning at the sharpest corner."""
    smooth = orient(max(shapely.get_parts(part.simplify(strips.SMOOTH_M)), key=lambda p: p.area))
    rings = [smooth.exterior, *(r for r in smooth.interiors if Polygon(r).area >= strips.ISLAND_MIN_M2)]
    out = []
    for ring in rings:
        points = shapely.get_coordinates(ring)[:-1]
        steps = np.roll(points, -1, axis=0) - points
        heading = np.arctan2(steps[:, 1], steps[:, 0])
        turn = np.abs((heading - np.roll(heading, 1) + math.pi) % (2 * math.pi) - math.pi)
        start = int(np.lexsort((points[:, 1], points[:, 0], -np.round(turn, 3)))[0])
        points = np.roll(points, -start, axis=0)
        out.append(LineString([*points, points[0]]))
    return [line for line in out if line.length >= strips.BED_LENGTH_M[0]]


def _stretches(line: LineString, part: Polygon, depth: float, ground: BedGround) -> list[Candidate]:
    points = strips.sample_points(line, depth)
    features = _fit_at(points, ground).mean(axis=1)
    step = line.length / len(features)
    out = []
    for start, stop in strips.cut_even(features, line.length, strips.BED_LENGTH_M[1]):
        shape = band(line, start, stop, depth, part)
        polygon = bed_outline(shape, part, min(depth, DEPTHS_M[1]))
        if polygon.area >= BED_LEAST_M2:
            first = round(start / step)
            mean = features[first : max(round(stop / step), first + 1)].mean(axis=0)
            out.append(Candidate(polygon, line, mean))
    return out


def _fit_at(points: Floats, ground: BedGround) -> Floats:
    """Return the fit [0-1] at points (..., 2) as (..., plants)."""
    rows, cols = ground.grid.rowcol(points[..., 0], points[..., 1])
    rows = np.clip(rows, 0, ground.grid.shape[0] - 1)
    cols = np.clip(cols, 0, ground.grid.shape[1] - 1)
    return np.asarray(np.moveaxis(ground.fit.low[:, rows, cols], 0, -1) / 255.0, float)


def band(line: LineString, start: float, stop: float, depth: float, part: BaseGeometry) -> BaseGeometry:
    """Return the piece of ground within a depth [m] of a stretch of its outline, round corners too."""
    stretch = strips.stretch(line, start, stop)
    shape = stretch.buffer(depth, cap_style="flat", join_style="mitre", mitre_limit=1.5).intersection(part)
    near = stretch.buffer(0.3, cap_style="flat")
    pieces = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon"]
    return max(pieces, key=lambda p: (round(p.intersection(near).area, 4), p.area), default=Polygon())


def _islands(ground: BedGround) -> list[Candidate]:
    """Return islands in the middle of open parts, along the longer side; none where lawn would be cut up."""
    if ground.room_m2 < ISLAND_LEAST_M2:
        return []
    half = ISLAND_WIDTH_M / 2
    length = (ISLAND_LEAST_M2 + 0.5 - math.pi * half**2) / ISLAND_WIDTH_M
    length *= max(1.0, min(2.0, ground.room_m2 / (2.0 * ISLAND_LEAST_M2)))
    out = []
    for part in ground.parts[:2]:
        inner = part.buffer(-half - ISLAND_LAWN_M)
        if inner.is_empty:
            continue
        circle = shapely.maximum_inscribed_circle(inner, tolerance=0.1)
        middle = np.asarray(circle.coords[0])
        along = np.array(strips.long_axis(part)) * length / 2.0
        axis = LineString([middle - along, middle + along])
        if inner.covers(axis):
            shape = shapely.simplify(axis.buffer(half, quad_segs=6), 0.02)
            mean = _fit_at(strips.sample_points(axis, half), ground).mean(axis=(0, 1))
            out.append(Candidate(shape, axis, mean, backed=False))
    return out


def _chosen(found: list[Candidate], ground: BedGround, width_m: float) -> list[Candidate]:
    """Pick candidates one by one: what grows well there, and what grows there better than in those picked."""
    if not found[0].fit.size:
        return []
    room = ground.room_m2
    number = int(np.clip(room // BED_WISHED_M2, 1, BEDS_MOST))
    picked: list[Candidate] = []
    best = np.zeros(found[0].fit.size)
    left = list(found)
    while left and len(picked) < number and room >= BED_LEAST_M2:
        take = left.pop(_worthiest(left, best, room / (number - len(picked))))
        taken = shapely.union_all([c.polygon for c in picked])
        fitted = _fitted(take, taken, room / (number - len(picked)), ground, width_m)
        if fitted is None or not passable(ground.ways.feet, taken.union(fitted.polygon)):
            continue
        picked.append(fitted)
        best = np.maximum(best, fitted.fit)
        room -= fitted.polygon.area
    return picked


def _worthiest(left: list[Candidate], best: Floats, wanted_m2: float) -> int:
    fits = np.stack([c.fit for c in left])
    top = np.sort(fits, axis=1)[:, :-11:-1].mean(axis=1)
    size = np.minimum(1.0, np.sqrt(np.array([c.polygon.area for c in left]) / wanted_m2))
    more = np.maximum(fits - best, 0.0).mean(axis=1)
    place = np.array([1.0 if c.backed else ISLAND_WORTH for c in left])
    return int(np.argmax(np.round((top + more) * size * place, 6)))


def _fitted(
    take: Candidate, taken: BaseGeometry, room: float, ground: BedGround, width_m: float
) -> Candidate | None:
    """Return a candidate clear of the beds picked before and no larger than its room; None if too small."""
    polygon = take.polygon
    part = next(p for p in ground.parts if p.intersects(polygon))
    if not taken.is_empty and polygon.distance(taken) < GAP_M:
        if not take.backed:
            return None
        gap = taken.buffer(GAP_M, join_style="mitre")
        part = part.difference(gap)
        polygon = bed_outline(polygon.difference(gap), part, width_m)
    if polygon.area > room:
        # straightening an outline may give back a little of what was cut
        polygon = _shortened(take, polygon, 0.98 * room, part, width_m) if take.backed else Polygon()
        polygon = polygon if polygon.area <= room else Polygon()
    if polygon.area < (BED_LEAST_M2 if take.backed else ISLAND_LEAST_M2):
        return None
    widest = 2.0 * shapely.maximum_inscribed_circle(polygon, tolerance=0.05).length
    return replace(take, polygon=polygon) if widest <= WIDEST_M else None


def _shortened(take: Candidate, polygon: Polygon, room: float, part: BaseGeometry, width_m: float) -> Polygon:
    """Return a bed cut to an area, straight across, from the end of its line."""
    at = sorted(take.line.project(p) for p in map(shapely.Point, polygon.exterior.coords))
    start, low, high = at[0], at[0], at[-1]
    for _ in range(20):
        middle = (low + high) / 2
        piece = band(take.line, start, middle, 2 * DEEP_M, polygon) if middle - start > 0.1 else Polygon()
        low, high = (middle, high) if piece.area <= room else (low, middle)
    if low - start < 0.1:
        return Polygon()
    piece = band(take.line, start, low, 2 * DEEP_M, polygon)
    return bed_outline(piece, part, width_m)
