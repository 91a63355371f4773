"""Plants on a lattice fitted to a bed: how many fit at a spacing, and where they stand.

Notes
-----
Triangular planting at spacing s needs s^2 sqrt(3)/2 of ground a plant, square planting s^2; in small beds
either can win, so both are tried (nursery charts state both; Groemer 1960 and Oler 1961 give the cap
N <= 2A/(sqrt3 s^2) + P/(2s) + 1 for any planting of a convex bed).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from habitat.errors import ParameterError
from habitat.planting._kernels import TOLERANCE_M, lattice_points, search_lattice

ROW_OFFSETS = 6
"""Row offsets tried from either side of the bed; along the rows every phase is tried, exactly."""

TURNS = 6
"""Directions tried besides those of the bed's own edges."""

EDGE_BONUS = 1.04
"""Rows along an edge of the bed are kept until another direction holds 4 % more: a tape follows an edge."""


@dataclass(frozen=True, slots=True)
class Lattice:
    """A lattice fitted to a region.

    kind : "triangular" or "square". angle : direction of rows [rad] from east. first, phase : where the first row
    and the first point of even rows lie [m] in turned axes. count : points inside.
    """

    kind: str
    spacing_m: float
    angle: float
    first: float
    phase: float
    count: int


def region_edges(region: BaseGeometry) -> NDArray[np.float64]:
    """Return the edges (n, 4) of a polygon or multipolygon, holes included: x0, y0, x1, y1 [m]."""
    parts = []
    for polygon in shapely.get_parts(region):
        for ring in (polygon.exterior, *polygon.interiors):
            xy = shapely.get_coordinates(ring)
            parts.append(np.hstack([xy[:-1], xy[1:]]))
    return np.vstack(parts) if parts else np.empty((0, 4))


def row_shape(kind: str, spacing_m: float) -> tuple[float, float]:
    """Return the distance between rows and the offset of odd rows [m].

    Examples
    --------
    >>> row_shape("square", 0.5)
    (0.5, 0.0)
    """
    if kind == "square":
        return spacing_m, 0.0
    return spacing_m * math.sqrt(3.0) / 2.0, spacing_m / 2.0


def edge_angles(edges: NDArray[np.float64], most: int = 3) -> NDArray[np.float64]:
    """Return the directions [rad, 0 to pi) of a region's longest edges, those within 3 degrees told once."""
    dx, dy = edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1]
    length, angle = np.hypot(dx, dy), np.mod(np.arctan2(dy, dx), math.pi)
    kept: list[float] = []
    for i in np.lexsort((angle, -np.round(length, 6))):
        turn = [abs((angle[i] - k + math.pi / 2) % math.pi - math.pi / 2) for k in kept]
        if all(t > math.radians(3) for t in turn):
            kept.append(float(angle[i]))
        if len(kept) == most:
            break
    return np.array(kept)


def fit_lattice(region: BaseGeometry, spacing_m: float) -> Lattice:
    """Return the lattice that holds most plants in a region, points on its edge allowed.

    Parameters
    ----------
    region
        Where plants may stand (polygon or multipolygon) [m].
    spacing_m
        Least distance between plants [m], more than 0.

    Returns
    -------
    Lattice
        The best found over triangular and square, the directions of the region's edges and regular turns, row
        offsets from either side and every phase along the rows; ``count`` 0 if no plant fits.

    Examples
    --------
    >>> from shapely import box
    >>> fit_lattice(box(0, 0, 10, 10), 1.0).count
    126
    """
    if not spacing_m > 0:
        raise ParameterError("spacing_m", spacing_m, "more than 0 m")
    edges = region_edges(region)
    if not len(edges):
        return Lattice("triangular", spacing_m, 0.0, 0.0, 0.0, 0)
    along = edge_angles(edges)
    found = [_best(edges, along, spacing_m, kind) for kind in ("triangular", "square")]
    best = max(found, key=lambda one: one.count)
    turns = np.arange(TURNS) * math.pi / 2 / TURNS + (along[0] if len(along) else 0.0) + math.pi / 4 / TURNS
    other = max((_best(edges, turns, spacing_m, k) for k in ("triangular", "square")), key=lambda o: o.count)
    return other if other.count > max(best.count * EDGE_BONUS, best.count) else best


def _best(edges: NDArray[np.float64], angles: NDArray[np.float64], spacing_m: float, kind: str) -> Lattice:
    # Rows of a triangular lattice run in three directions, so 30 degrees more is the other way to lay it.
    both = np.concatenate([angles, angles + math.pi / 2]) if kind == "triangular" else angles
    gap, shift = row_shape(kind, spacing_m)
    table = search_lattice(edges, both, spacing_m, gap, shift, ROW_OFFSETS)
    k = int(np.argmax(table[:, 0]))
    return Lattice(kind, spacing_m, float(both[k]), float(table[k, 1]), float(table[k, 2]), int(table[k, 0]))


def place_lattice(region: BaseGeometry, lattice: Lattice) -> NDArray[np.float64]:
    """Return the points (count, 2) of a lattice in a region [m]."""
    edges = region_edges(region)
    if not len(edges) or not lattice.count:
        return np.empty((0, 2))
    gap, shift = row_shape(lattice.kind, lattice.spacing_m)
    points = lattice_points(edges, lattice.angle, lattice.spacing_m, gap, shift, lattice.first, lattice.phase)
    inside = shapely.dwithin(region, shapely.points(points), 4 * TOLERANCE_M)
    return points[inside]


def convex_cap(area_m2: float, outline_m: float, spacing_m: float) -> int:
    """Return the most plants that any planting of a convex bed can hold at a spacing.

    References
    ----------
    H. Groemer, Math. Z. 73 (1960) 285-294; N. Oler, Acta Math. 105 (1961) 19-48:
    N <= 2A/(sqrt(3) s^2) + P/(2 s) + 1.
    """
    s = spacing_m
    return math.floor(2 * area_m2 / (math.sqrt(3) * s * s) + outline_m / (2 * s) + 1 + 1e-9)
