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
from habitat.planting.drawing import _kernels
from habitat.planting.drawing._kernels import (
    FINE,
    TOLERANCE_M,
    best_lattice,
    count_full,
    lattice_points,
    rotate_edges,
    sweep_fill,
)

ROW_OFFSETS = 3
"""Row offsets tried from either side of the bed; along the rows every phase is tried, exactly."""

FEW = 24
"""Below this many plants a bed's ends weigh more than its middle: more lattices are tried."""

TURNS = 6
"""Directions tried besides those of the bed's own edges where plants are few."""

SWEEPS = 8
"""Directions from which few plants are set one by one."""

EDGE_BONUS = 1.04
"""Rows along an edge of the bed are kept until another way holds 4 % more: a tape follows an edge."""

DIGITS = 6
"""Decimals of metres to which a bed is known in its own axes, so that no last digit of a coordinate on the
map decides which of two places as good a plant gets."""

NUMBERS = (ROW_OFFSETS, FEW, EDGE_BONUS)


@dataclass(frozen=True, slots=True)
class Lattice:
    """A lattice fitted to a region.

    kind : "triangular" or "square". angle : direction of rows [rad] from east. first, phase : where the first
    row and the first point of even rows lie [m] in turned axes. count : points inside.
    """

    kind: str
    spacing_m: float
    angle: float
    first: float
    phase: float
    count: int


def region_edges(region: BaseGeometry) -> NDArray[np.float64]:
    """Return the edges (n, 4) of a polygon or multipolygon, holes included: x0, y0, x1, y1 [m]."""
    xy, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(region)), return_index=True)
    if not len(xy):
        return np.empty((0, 4))
    same = ring[1:] == ring[:-1]
    return np.hstack([xy[:-1][same], xy[1:][same]])


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
    """Return the directions [rad, 0 to pi) of a region's longest edges, those within 3 degrees once."""
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
        The best found over triangular and square, the directions of the region's edges (and regular turns
        where plants are few), row offsets from either side and every phase along the rows; ``count`` 0 if
        none fits.

    Examples
    --------
    >>> from shapely import box
    >>> fit_lattice(box(0, 0, 10, 10), 1.0).count
    126
    """
    if not spacing_m > 0:
        raise ParameterError("spacing_m", spacing_m, "more than 0 m")
    edges = region_edges(region)
    return _fit(edges, edge_angles(edges), spacing_m)


def _fit(edges: NDArray[np.float64], along: NDArray[np.float64], spacing_m: float) -> Lattice:
    if not len(edges):
        return Lattice("triangular", spacing_m, 0.0, 0.0, 0.0, 0)
    best = best_lattice(edges, along, _turns(along[0]), spacing_m, NUMBERS)
    kind = "triangular" if best[1] else "square"
    return Lattice(kind, spacing_m, float(best[2]), float(best[3]), float(best[4]), int(best[0]))


def _turns(along: float) -> NDArray[np.float64]:
    """Return the directions [rad] tried besides those of a bed's edges."""
    return np.arange(TURNS) * math.pi / 2 / TURNS + along


def _sweeps(along: float) -> NDArray[np.float64]:
    """Return the directions [rad] from which plants are set one by one."""
    k = np.arange(SWEEPS)
    # Turned a little off the edge, so that ties along it go from one end to the other.
    return along + (k // 2) * 4 * math.pi / SWEEPS + 1e-3 * (-1.0) ** k


def place_lattice(region: BaseGeometry, lattice: Lattice) -> NDArray[np.float64]:
    """Return the points (count, 2) of a lattice in a region [m]."""
    edges = region_edges(region)
    if not len(edges) or not lattice.count:
        return np.empty((0, 2))
    gap, shift = row_shape(lattice.kind, lattice.spacing_m)
    turned = rotate_edges(edges, lattice.angle)
    u, v = lattice_points(turned, lattice.first, lattice.phase, (lattice.spacing_m, gap, shift)).T
    c, s = math.cos(lattice.angle), math.sin(lattice.angle)
    points = np.column_stack([c * u - s * v, s * u + c * v])
    inside = shapely.dwithin(region, shapely.points(points), 4 * TOLERANCE_M)
    return points[inside]


def pack(region: BaseGeometry, spacing_m: float) -> NDArray[np.float64]:
    """Return points (n, 2) that fill a region at a spacing: a lattice, or set one by one where few fit.

    At least 90 % of the best of square and triangular lattices over all offsets and turns, or one plant
    fewer.

    Examples
    --------
    >>> from shapely import box
    >>> len(pack(box(0, 0, 4, 1), 1.5))
    4
    """
    lattice = fit_lattice(region, spacing_m)
    return _filled(region, lattice)


def _filled(region: BaseGeometry, lattice: Lattice) -> NDArray[np.float64]:
    if lattice.count >= FEW or region.is_empty:
        return place_lattice(region, lattice)
    swept = _swept(region, edge_angles(region_edges(region), 1)[0], lattice.spacing_m)
    if len(swept) > max(lattice.count * EDGE_BONUS, lattice.count):
        return swept
    points = place_lattice(region, lattice)
    return points if len(points) else shapely.get_coordinates(region.representative_point())


def _swept(region: BaseGeometry, along: float, spacing_m: float) -> NDArray[np.float64]:
    """Return the most points found by setting plants one by one from one side, over ``SWEEPS`` sides."""
    candidates = fine_points(region, spacing_m / FINE)
    return candidates[sweep_fill(candidates, _sweeps(along), spacing_m)]


def fine_points(region: BaseGeometry, step_m: float) -> NDArray[np.float64]:
    """Return points (n, 2) on the outline of a region and on a grid inside, ``step_m`` apart at most."""
    edges = np.round(region_edges(region), DIGITS)
    return _kernels.fine_points(edges, step_m) if len(edges) else np.empty((0, 2))


def count_plants(region: BaseGeometry, spacings_m: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return how many plants ``pack`` sets in a region, for each of some spacings (n,)."""
    if region.is_empty or region.area <= 0:
        return np.zeros(len(spacings_m), np.int64)
    edges = region_edges(region)
    along = edge_angles(edges)
    return np.asarray(
        count_full(edges, along, _turns(along[0]), _sweeps(along[0]), spacings_m.astype(float), NUMBERS)
    )
