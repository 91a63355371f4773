"""Crowns as discs: their shapes on the map, and the ground that they cover, overlaps once."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from habitat.planting.drawing._kernels import discs_area

SEGMENTS = 8
"""Segments per quarter of a circle where a crown must be a polygon; its area is kept equal to the disc's."""

EQUAL_AREA = math.sqrt(math.pi / (2 * SEGMENTS * math.sin(math.pi / (2 * SEGMENTS))))


def crown_polygons(xy: NDArray[np.float64], radius_m: NDArray[np.float64]) -> NDArray[np.object_]:
    """Return discs (n,) as polygons of the same area."""
    return np.asarray(shapely.buffer(shapely.points(xy), radius_m * EQUAL_AREA, quad_segs=SEGMENTS))


def weighted_cover_m2(
    xy: NDArray[np.float64],
    radius_m: NDArray[np.float64],
    weight: NDArray[np.float64],
    clip: BaseGeometry | None = None,
) -> float:
    """Return the area that crowns cover x weight [m2]; where crowns overlap the greatest weight counts, once.

    Parameters
    ----------
    xy, radius_m
        Centres (n, 2) and radii (n,) of the crowns [m].
    weight
        (n,), 0-1: fit x preference.
    clip
        Ground outside this does not count; None if all crowns are known to lie inside.

    Examples
    --------
    >>> import numpy as np
    >>> one = np.zeros((2, 2)), np.ones(2)
    >>> round(weighted_cover_m2(*one, np.array([0.5, 1.0])), 4)
    3.1416
    """
    use = (radius_m > 0) & (weight > 0)
    xy, radius_m, weight = xy[use], radius_m[use], weight[use]
    total, covered = 0.0, 0.0
    for level in np.unique(weight)[::-1]:
        above = weight >= level
        if clip is None:
            area = discs_area(xy[above, 0], xy[above, 1], radius_m[above])
        else:
            area = shapely.union_all(crown_polygons(xy[above], radius_m[above])).intersection(clip).area
        total += float(level) * (area - covered)
        covered = area
    return total
