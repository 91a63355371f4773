"""Which yard a point belongs to: exactly one, also on a shared fence."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely

from habitat.layers.formats.raw import ShapeArray

FENCE_M = 0.05
"""A point this close to a yard is on its fence: rounding of coordinates moves a point by less."""


def yards_at(shapes: ShapeArray, yards: gpd.GeoDataFrame) -> list[str | None]:
    """Return the one yard of each point, None outside of all.

    A point in several yards, or on their common fence, belongs to the one whose id comes first.

    Examples
    --------
    >>> boxes = shapely.box([0, 10], [0, 0], [10, 20], [10, 10])
    >>> yards = gpd.GeoDataFrame({"yard_id": ["b", "a"]}, geometry=boxes)
    >>> yards_at(shapely.points([[10, 5], [5, 5], [50, 5]]), yards)
    ['a', 'b', None]
    """
    out: list[str | None] = [None] * len(shapes)
    there = np.flatnonzero(~shapely.is_missing(shapes) & ~shapely.is_empty(shapes))
    if not len(there) or not len(yards):
        return out
    ids = yards["yard_id"].to_numpy()
    polygons = yards.geometry.to_numpy()
    tree = shapely.STRtree(polygons)
    points = shapes[there]
    which, yard = tree.query(points, predicate="dwithin", distance=FENCE_M)
    gap = shapely.distance(points[which], polygons[yard])
    inside = gap <= 1e-6
    best: dict[int, tuple[bool, str]] = {}
    for w, y, clear in zip(which, yard, inside, strict=True):
        rank = (not clear, str(ids[y]))
        if int(w) not in best or rank < best[int(w)]:
            best[int(w)] = rank
    for w, (_, name) in best.items():
        out[int(there[w])] = name
    return out
