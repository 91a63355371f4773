"""Blocks between the streets, cut into lots that run from a frontage to the middle of the block."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Polygon
from town_streets import EXTENT, Street, anchors, creek_water

LOT_DEPTH_M = 46.0
SAMPLE_M = 1.5


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot: block and number in the block, its street, the frontage it was cut from, its shape."""

    block: int
    number: int
    street: str
    frontage: LineString
    shape: Polygon


def blocks(streets: list[Street]) -> list[Polygon]:
    """Return the ground that lots are cut from, one polygon per block, north to south."""
    ways = shapely.union_all([s.line.buffer(s.row_m / 2, cap_style="flat") for s in streets])
    near = shapely.union_all([s.line.buffer(s.row_m / 2 + LOT_DEPTH_M, cap_style="flat") for s in streets])
    shut = shapely.union_all([creek_water().buffer(22.0), *[a.buffer(9.0) for _, _, a in anchors()]])
    land = near.difference(ways.buffer(0.01)).difference(shut).intersection(EXTENT.buffer(-14.0))
    parts = [p for p in shapely.get_parts(land.buffer(-6).buffer(6)).tolist() if p.area > 1500]
    parts = [
        Polygon(p.exterior, [h for h in p.interiors if Polygon(h).area > 700]).intersection(land)
        for p in parts
    ]
    parts = [max(shapely.get_parts(p).tolist(), key=lambda q: q.area) for p in parts]
    return sorted(parts, key=lambda p: (-round(p.centroid.y / 60), p.centroid.x))


def _side_streets(block: Polygon, streets: list[Street]) -> list[tuple[Street, LineString]]:
    """Return the streets that lots of a block face, each with the frontage line along the block."""
    sides = []
    for street in streets:
        edge = block.boundary.intersection(street.line.buffer(street.row_m / 2 + 0.6, cap_style="flat"))
        merged = shapely.line_merge(edge)
        sides += [
            (street, p)
            for p in shapely.get_parts(merged).tolist()
            if p.geom_type == "LineString" and p.length > 30
        ]
    if len(sides) < 3:
        return sides
    box = block.minimum_rotated_rectangle
    a, b, c = (np.array(p) for p in box.exterior.coords[:3])
    long_axis = max((b - a, c - b), key=np.linalg.norm)
    along = [(s, p) for s, p in sides if _aligned(p, long_axis)]
    return along if along else sides


def _aligned(line: LineString, axis: np.ndarray) -> bool:
    chord = np.subtract(line.coords[-1], line.coords[0])
    cosine = abs(chord @ axis) / (np.linalg.norm(chord) * np.linalg.norm(axis))
    return bool(cosine > 0.75)


def _frontages(line: LineString, rng: np.random.Generator) -> list[LineString]:
    """Return a frontage cut into stretches of about 23 to 36 m."""
    count = max(1, round(line.length / 29.0))
    widths = rng.uniform(0.8, 1.25, count)
    cuts = np.r_[0.0, np.cumsum(widths / widths.sum()) * line.length]
    return [shapely.ops.substring(line, a, b) for a, b in itertools.pairwise(cuts)]


def _cells(block: Polygon, fronts: list[LineString]) -> list[Polygon]:
    """Return for each stretch of frontage the part of the block that lies nearest to it."""
    points, owner = [], []
    for k, front in enumerate(fronts):
        at = np.arange(SAMPLE_M / 2, front.length, SAMPLE_M)
        points += shapely.get_coordinates(shapely.line_interpolate_point(front, at)).tolist()
        owner += [k] * len(at)
    cells = shapely.get_parts(shapely.voronoi_polygons(shapely.MultiPoint(points), extend_to=block))
    inside, at = shapely.STRtree(cells).query(shapely.points(points), predicate="intersects")
    groups = {k: [] for k in range(len(fronts))}
    for i, j in zip(inside, at, strict=True):
        groups[owner[i]].append(cells[j])
    merged = [shapely.union_all(g).intersection(block) for g in groups.values()]
    merged = [max(shapely.get_parts(m).tolist(), key=lambda p: p.area) for m in merged]
    return [_without_slits(cell) for cell in shapely.coverage_simplify(merged, 0.8)]


def _without_slits(cell: Polygon) -> Polygon:
    """Return a cell without arms narrower than 5 m, which nobody would call part of a yard."""
    opened = cell.buffer(-2.5, join_style="mitre").buffer(2.5, join_style="mitre").intersection(cell)
    kept = max(shapely.get_parts(opened).tolist(), key=lambda p: p.area, default=cell)
    return kept if cell.area - kept.area > 4.0 else cell


def lots(streets: list[Street], rng: np.random.Generator) -> list[Lot]:
    """Return the lots of all blocks that are wide and deep enough to live on."""
    found = []
    for number, block in enumerate(blocks(streets), 1):
        fronts, names = [], []
        for street, side in _side_streets(block, streets):
            pieces = _frontages(side, rng)
            fronts += pieces
            names += [street.name] * len(pieces)
        if not fronts:
            continue
        shapes = _cells(block, fronts)
        good = [(n, f, s) for n, f, s in zip(names, fronts, shapes, strict=True) if 560 < s.area < 2900]
        found += [Lot(number, k, n, f, s) for k, (n, f, s) in enumerate(good, 1)]
    return found
