"""Ground that is all to be bed, parted by walks so that every plant can be reached."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon

from habitat.planting.sites.edges import BED_LENGTH_M

WIDEST_M = 3.0
"""A bed that is reached from both sides is at most so wide (common practice: 1.5 to 3 m)."""

WALK_M = 0.5
"""Width of a walk between two beds: room for one person (judgement)."""


def sides_m(ground: Polygon) -> tuple[float, float]:
    """Return the longer and the shorter side [m] of the smallest rectangle around a polygon.

    Examples
    --------
    >>> [round(side, 6) for side in sides_m(shapely.box(0, 0, 0.8, 3))]
    [3.0, 0.8]
    """
    one, two = np.hypot(*_edges(ground).T)
    return float(max(one, two)), float(min(one, two))


def within_reach(ground: Polygon) -> list[Polygon]:
    """Return ground parted by walks into beds that can be reached into.

    Parameters
    ----------
    ground
        Parted along and across the smallest rectangle around it, so that no bed is wider than ``WIDEST_M``
        or longer than the longest border.

    Examples
    --------
    >>> [round(bed.area, 2) for bed in within_reach(shapely.box(0, 0, 6, 4))]
    [10.5, 10.5]
    >>> len(within_reach(shapely.box(0, 0, 6, 3)))
    1
    """
    longer = max(_edges(ground), key=lambda edge: float(np.hypot(*edge)))
    turn = math.degrees(math.atan2(longer[1], longer[0]))
    level = affinity.rotate(ground, -turn, origin=(0.0, 0.0))
    west, south, east, north = level.bounds
    cells = [
        shapely.box(x0, y0, x1, y1)
        for x0, x1 in _parted(west, east, BED_LENGTH_M[1])
        for y0, y1 in _parted(south, north, WIDEST_M)
    ]
    if len(cells) == 1:
        return [ground]
    pieces = [piece for cell in cells for piece in shapely.get_parts(level.intersection(cell))]
    beds = [p for p in pieces if p.geom_type == "Polygon" and p.area > 0]
    return [affinity.rotate(bed, turn, origin=(0.0, 0.0)) for bed in beds]


def _edges(ground: Polygon) -> np.ndarray:
    """Return two sides (2, 2) of the smallest rectangle around a polygon."""
    return np.diff(shapely.get_coordinates(shapely.oriented_envelope(ground))[:3], axis=0)


def _parted(start: float, stop: float, most: float) -> list[tuple[float, float]]:
    """Return a stretch parted into the fewest even ones of at most a length, with walks between."""
    many = max(1, math.ceil((stop - start + WALK_M) / (most + WALK_M) - 1e-6))
    each = (stop - start - (many - 1) * WALK_M) / many
    starts = [start + k * (each + WALK_M) for k in range(many)]
    return [(at, at + each) for at in starts]
