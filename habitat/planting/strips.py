"""Strips for beds along the edges of open ground: sides between corners, cut where fit changes."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from habitat.planting._kernels import best_cuts

BED_DEPTH_M = 1.8
"""Depth of a border: no plant is more than an arm's reach (0.9 m) from an edge; common practice 1.2-2.4 m."""

BED_WIDTH_MIN_M = 1.2
"""A bed is nowhere narrower."""

BED_LENGTH_M = (2.4, 10.0)
"""Shortest and longest border [m]: 4 to 18 m2 at full depth; judgement."""

CORNER_DEG = 35.0
"""An edge that turns more than this starts a new side."""

SMOOTH_M = 0.25
"""Edges are straightened by up to this much before sides are told apart."""

ISLAND_MIN_M2 = 20.0
"""Holes smaller than this (a trunk, a well) get no border of their own."""

CUT_PRICE = 0.15
"""Summed variance of fit that a cut must save: judgement; keeps beds from being chopped into confetti."""


def sides(ground: Polygon) -> list[LineString]:
    """Return the sides of a polygon as lines with the ground on their left, longest first."""
    smooth = orient(shapely.get_parts(ground.simplify(SMOOTH_M))[0])
    rings = [smooth.exterior, *(r for r in smooth.interiors if Polygon(r).area >= ISLAND_MIN_M2)]
    out = [line for ring in rings for line in _split_at_corners(shapely.get_coordinates(ring))]
    out = [line for line in out if line.length >= BED_LENGTH_M[0]]
    return sorted(out, key=lambda line: (-round(line.length, 3), *line.coords[0]))


def _split_at_corners(ring: NDArray[np.float64]) -> list[LineString]:
    steps = np.diff(ring, axis=0)
    heading = np.arctan2(steps[:, 1], steps[:, 0])
    turn = np.abs((heading - np.roll(heading, 1) + math.pi) % (2 * math.pi) - math.pi)
    corners = np.flatnonzero(turn > math.radians(CORNER_DEG))
    points = ring[:-1]
    if not len(corners):
        return [LineString(ring)]
    lines = []
    for start, stop in zip(corners, [*corners[1:], corners[0] + len(points)], strict=True):
        lines.append(LineString(points[np.arange(start, stop + 1) % len(points)]))
    return lines


def strip(line: LineString, start: float, stop: float, depth: float) -> BaseGeometry:
    """Return the ground up to ``depth`` [m] left of a stretch of a line."""
    return _stretch(line, start, stop).buffer(depth, single_sided=True, join_style="mitre", mitre_limit=2.0)


def _stretch(line: LineString, start: float, stop: float) -> LineString:
    xy = shapely.get_coordinates(line)
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    ends = np.column_stack([np.interp((start, stop), at, xy[:, k]) for k in (0, 1)])
    return LineString(np.vstack([ends[:1], xy[(at > start) & (at < stop)], ends[1:]]))


def sample_points(line: LineString, depth: float) -> NDArray[np.float64]:
    """Return points (modules, 3, 2) in the strip along a line: one module a metre, at three depths."""
    n = max(1, round(line.length))
    at = (np.arange(n) + 0.5) * line.length / n
    before = shapely.get_coordinates(shapely.line_interpolate_point(line, np.maximum(at - 0.2, 0)))
    after = shapely.get_coordinates(shapely.line_interpolate_point(line, np.minimum(at + 0.2, line.length)))
    along = (after - before) / np.linalg.norm(after - before, axis=1, keepdims=True)
    left = np.column_stack([-along[:, 1], along[:, 0]])
    middle = (before + after) / 2
    return np.stack([middle + left * depth * share for share in (0.2, 0.5, 0.8)], axis=1)


def cut_even(
    features: NDArray[np.float64], length: float, longest: float = BED_LENGTH_M[1]
) -> list[tuple[float, float]]:
    """Return the stretches of a side that are cut so that each is alike within itself.

    Parameters
    ----------
    features
        ``(modules, factors)``, each 0-1: what grows how well along the side.
    length
        Length of the side [m], shared evenly by the modules.

    Returns
    -------
    list of (start, stop)
        Least sum of within-stretch variance plus ``CUT_PRICE`` a stretch, each between the bounds of
        ``BED_LENGTH_M`` where the side allows it (a dynamic programme, so the best there is).

    Examples
    --------
    >>> import numpy as np
    >>> sunny = np.repeat([[1.0], [0.2]], 6, axis=0)
    >>> cut_even(sunny, 12.0)
    [(0.0, 6.0), (6.0, 12.0)]
    """
    n, step = len(features), length / len(features)
    least = min(math.ceil(BED_LENGTH_M[0] / step - 1e-9), n)
    most = max(1, math.floor(longest / step + 1e-9))
    origin = best_cuts(np.ascontiguousarray(features, float), least, most, CUT_PRICE)
    if origin[n] < 0:
        return _even(length, longest)
    ends = [n]
    while ends[-1]:
        ends.append(int(origin[ends[-1]]))
    return [(a * step, b * step) for a, b in zip(ends[:0:-1], ends[-2::-1], strict=True)]


def _even(length: float, longest: float) -> list[tuple[float, float]]:
    pieces = max(1, math.ceil(length / longest))
    return [(k * length / pieces, (k + 1) * length / pieces) for k in range(pieces)]


def tidy(shape: BaseGeometry, ground: BaseGeometry) -> Polygon:
    """Return the largest clean polygon of a shape inside the ground, nowhere narrower than a bed may be."""
    half = BED_WIDTH_MIN_M / 2 - 1e-3
    inside = shape.intersection(ground)
    opened = inside.buffer(-half, join_style="mitre").buffer(half, join_style="mitre", mitre_limit=2.0)
    clean = opened.simplify(0.05).intersection(inside)
    parts = [p for p in shapely.get_parts(clean) if p.geom_type == "Polygon" and p.area > 0]
    if not parts:
        return Polygon()
    largest = max(parts, key=lambda p: (round(p.area, 6), *p.bounds))
    return Polygon(largest.exterior, [r for r in largest.interiors if Polygon(r).area > 1e-3])
