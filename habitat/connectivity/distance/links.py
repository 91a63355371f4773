"""Direct links: which patches lie within reach of each other, edge to edge."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from habitat.arrays import Floats, Ints, Shapes
from habitat.connectivity.distance import _kernels
from habitat.connectivity.graph.passages import threads_for
from habitat.errors import ParameterError


@dataclass(frozen=True, slots=True)
class Links:
    """Pairs of nodes i < j and the distance between them [m], 0 where they touch or overlap."""

    i: Ints
    j: Ints
    distance_m: Floats

    def up_to(self, longest_m: float) -> Links:
        """Return the links that are not longer than ``longest_m``."""
        keep = self.distance_m <= longest_m
        if keep.all():
            return self
        return Links(self.i[keep], self.j[keep], self.distance_m[keep])


@dataclass(frozen=True, slots=True)
class Outlines:
    """Patches as plain arrays for compiled distances.

    rings : (patches + 1,) ring limits. ring_seg : (rings + 1,) segment limits. seg : (segments, 4) ends x,
        y, x, y
    from an origin of their own. ring_box, box : (rings, 4), (patches, 4) west, south, east, north.
    """

    rings: Ints
    ring_seg: Ints
    seg: Floats
    ring_box: Floats
    box: Floats


def straight_links(shapes: Shapes, longest_m: float) -> Links:
    """Return all links up to a length, edge to edge, sorted by i, then j.

    Parameters
    ----------
    shapes
        (patches,) polygons, several parts allowed; overlapping and nested ones have distance 0.
    longest_m
        Longest link [m].

    Raises
    ------
    ParameterError
        If a shape is missing or empty.

    Examples
    --------
    >>> squares = np.array([shapely.box(x, 0, x + 20, 20) for x in (0, 50, 55)], object)
    >>> straight_links(squares, 100.0).distance_m.tolist()
    [30.0, 35.0, 0.0]
    """
    if len(shapes) < 2:
        return Links(np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0))
    lines = outlines(shapes)
    limit2 = _squared(longest_m)
    i, j = _in_order(*_near(lines.box, longest_m, limit2))
    with threads_for(100.0 * len(i)):
        gaps = _kernels.pair_gaps(
            i, j, lines.rings, lines.ring_seg, lines.ring_box, lines.seg, lines.box, limit2
        )
    return Links(i, j, gaps).up_to(longest_m)


def _in_order(one: Ints, two: Ints) -> tuple[Ints, Ints]:
    """Return pairs of nodes as i < j, sorted by i, then j.

    One array after the other, so that no more than needed is held of millions of pairs.
    """
    low, high = np.minimum(one, two), np.maximum(one, two)
    order = np.lexsort((high, low))
    low = low[order]
    return low, high[order]


def links_between(new: Shapes, old: Shapes, longest_m: float) -> Links:
    """Return the links from new shapes (i) to old ones (j), edge to edge, sorted by i, then j."""
    none = Links(np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0))
    if not len(new) or not len(old):
        return none
    boxes = shapely.bounds(new)
    out = np.array([-longest_m, -longest_m, longest_m, longest_m])
    wide = shapely.box(*(boxes + out).T)
    tree = shapely.STRtree(np.asarray(shapely.box(*shapely.bounds(old).T), object))
    i, j = tree.query(wide)
    order = np.lexsort((j, i))
    i, j = i[order].astype(np.int64), j[order].astype(np.int64)
    lines = outlines(np.concatenate([new, old]))
    limit2 = _squared(longest_m)
    with threads_for(100.0 * len(i)):
        gaps = _kernels.pair_gaps(
            i, j + len(new), lines.rings, lines.ring_seg, lines.ring_box, lines.seg, lines.box, limit2
        )
    keep = gaps <= longest_m
    return Links(i[keep], j[keep], gaps[keep])


def _squared(longest_m: float) -> float:
    """Return a limit just above the square of a link, so that links of exactly that length are kept."""
    return float(np.nextafter(longest_m * longest_m * (1.0 + 1e-12), np.inf))


def outlines(shapes: Shapes) -> Outlines:
    """Return patches as plain arrays; points and lines among them count as ground of 0.1 m around them."""
    if np.any(shapely.is_missing(shapes) | shapely.is_empty(shapes)):
        raise ParameterError("shapes", "a patch without ground", "polygons that are not empty")
    parts, owner = shapely.get_parts(polygons_of(shapes), return_index=True)
    rings, part = shapely.get_rings(parts, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    xy = xy - np.floor(xy.min(axis=0))
    inner = ring[1:] == ring[:-1]
    seg = np.ascontiguousarray(np.hstack([xy[:-1], xy[1:]])[inner])
    ring_seg = np.concatenate([[0], np.cumsum(np.bincount(ring[:-1][inner], minlength=len(rings)))])
    ring_box = _boxes(xy, np.concatenate([[0], np.cumsum(np.bincount(ring, minlength=len(rings)))[:-1]]))
    limits = np.concatenate([[0], np.cumsum(np.bincount(owner[part], minlength=len(shapes)))])
    box = _boxes_of(ring_box, limits[:-1])
    return Outlines(limits.astype(np.int64), ring_seg.astype(np.int64), seg, ring_box, box)


def polygons_of(shapes: Shapes) -> Shapes:
    """Return shapes with 0.1 m of ground around points and lines."""
    odd = ~np.isin(shapely.get_type_id(shapes), (3, 6))
    if odd.any():
        shapes = shapes.copy()
        shapes[odd] = shapely.buffer(shapes[odd], 0.1)
    return shapes


def _boxes(xy: Floats, first: Ints) -> Floats:
    low, high = np.minimum.reduceat(xy, first, axis=0), np.maximum.reduceat(xy, first, axis=0)
    return np.ascontiguousarray(np.hstack([low, high]))


def _boxes_of(boxes: Floats, first: Ints) -> Floats:
    low = np.minimum.reduceat(boxes[:, :2], first, axis=0)
    high = np.maximum.reduceat(boxes[:, 2:], first, axis=0)
    return np.ascontiguousarray(np.hstack([low, high]))


def _near(box: Floats, longest_m: float, limit2: float) -> tuple[Ints, Ints]:
    """Return the pairs whose boxes lie within a link, by a grid of cells as wide as the link."""
    west, south = box[:, :2].min(axis=0)
    east, north = box[:, 2:].max(axis=0)
    side = max(longest_m, (east - west) / 2_000, (north - south) / 2_000, 1e-6)
    wide = np.maximum(box[:, 2] - box[:, 0], box[:, 3] - box[:, 1]) > side
    across, down = int((east - west) // side) + 1, int((north - south) // side) + 1
    col = (((box[:, 0] + box[:, 2]) / 2 - west) // side).astype(np.int64)
    row = (((box[:, 1] + box[:, 3]) / 2 - south) // side).astype(np.int64)
    cell = row * across + col
    small = np.flatnonzero(~wide)
    order = small[np.argsort(cell[small], kind="stable")]
    first = np.zeros(across * down + 1, np.int64)
    np.cumsum(np.bincount(cell[small], minlength=across * down), out=first[1:])
    with threads_for(float(len(box)) ** 2):
        i, j = _kernels.near_pairs(box, limit2, cell, order, first, across, down, wide)
    return i, j


def longest_affordable_m(nodes: int, extent_m2: float, most: int) -> float:
    """Return the link length [m] at which evenly spread patches make about ``most`` links."""
    return math.sqrt(2.0 * most * extent_m2 / (math.pi * max(nodes, 1) ** 2))
