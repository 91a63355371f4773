"""Places for plants that people added, or whose bed they moved."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

STEP = 0.25
"""Places are sought on a lattice of this share of a plant's spacing."""

EDGE_M = 0.1
"""Plants that are put in keep this from the edge of a bed, where it is wide enough (judgement)."""


def places(bed: BaseGeometry, taken: Sequence[Point], count: int, spacing_m: float) -> list[Point]:
    """Return places for more plants in a bed, each as far from all others as can be.

    Parameters
    ----------
    bed
        Its shape.
    taken
        Where plants stand already.
    count
        How many places.
    spacing_m
        Distance between plants, which tells how fine the search is.
    """
    west, south, east, north = bed.bounds
    step = max(STEP * spacing_m, 0.05, math.sqrt((east - west) * (north - south) / 40_000))
    x, y = np.meshgrid(np.arange(west + step / 2, east, step), np.arange(south + step / 2, north, step))
    able: NDArray[np.float64] = np.column_stack([x.ravel(), y.ravel()])
    inner = bed.buffer(-EDGE_M)
    able = able[shapely.contains_xy(bed if inner.is_empty else inner, able)]
    if not len(able):
        able = shapely.get_coordinates(bed.representative_point())
    far = np.full(len(able), math.inf)
    for point in taken:
        far = np.minimum(far, np.hypot(*(able - (point.x, point.y)).T))
    out = []
    for _ in range(count):
        k = int(np.argmax(far))
        out.append(Point(able[k]))
        far = np.minimum(far, np.hypot(*(able - able[k]).T))
    return out


def clean(shape: BaseGeometry) -> BaseGeometry:
    """Return the polygons of a shape that somebody drew, mended if its outline crosses itself, or none."""
    mended = shape if shape.is_valid else shapely.make_valid(shape)
    parts = [
        p for p in shapely.get_parts(mended) if p.geom_type in ("Polygon", "MultiPolygon") and p.area > 0
    ]
    whole = shapely.union_all(parts)
    return shapely.get_geometry(whole, 0) if shapely.get_num_geometries(whole) == 1 else whole
