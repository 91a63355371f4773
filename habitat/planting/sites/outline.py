"""Outlines that can be dug and mown around: no sharp corners, no sharp nooks, nowhere too narrow."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from habitat.arrays import Floats

LEAST_CORNER_DEG = 90.0
"""A bed's corner is no sharper, nor is a nook of the lawn beside it: a mower cannot follow either (common
practice)."""

CUT_M = 0.8
"""Length of the cut across a corner that is too sharp: judgement, about the width of a mower."""

SIMPLE_M = 0.05
"""Outlines are straightened by up to this much, so that few corners are to be measured."""

SHORT_M = 0.2
"""Shorter steps of an outline are no corners that anybody would see."""

MOWN_SHARE = 0.5
"""A nook is mown where more than this share of it is open ground."""

ROUNDS = 8
"""Most rounds of cutting corners; each round leaves only blunter ones."""


def corner_degrees(ring: Floats) -> Floats:
    """Return the angle inside a polygon at each corner of its outline, 0 to 360 degrees.

    Parameters
    ----------
    ring
        Corners ``(n, 2)``, anticlockwise, the first not repeated at the end.

    Examples
    --------
    >>> import numpy as np
    >>> corner_degrees(np.array([(0, 0), (4, 0), (4, 3), (0, 3)], float)).round(1).tolist()
    [90.0, 90.0, 90.0, 90.0]
    """
    ahead, behind = np.roll(ring, -1, axis=0) - ring, np.roll(ring, 1, axis=0) - ring
    turn = np.arctan2(behind[:, 1], behind[:, 0]) - np.arctan2(ahead[:, 1], ahead[:, 0])
    return np.asarray(np.degrees(turn) % 360.0, float)


def bed_outline(shape: BaseGeometry, ground: BaseGeometry, width_m: float) -> Polygon:
    """Return the largest bed in a shape whose outline a mower can follow, nowhere narrower than a width.

    Parameters
    ----------
    shape
        Where the bed may be.
    ground
        Where nooks of the lawn may be filled, at least the shape.
    width_m
        Least width [m].

    Returns
    -------
    Polygon
        Inside the ground, without corners under ``LEAST_CORNER_DEG`` or over its complement; empty if nothing
        is left. Holes are what stands in the bed.
    """
    inner = ground.buffer(-SIMPLE_M - 1e-3, join_style="mitre")
    bed = _largest(opened(shape.intersection(inner), width_m))
    bed = _largest(shapely.simplify(bed, SIMPLE_M))
    for _ in range(ROUNDS):
        sharp = _sharp(bed, inner)
        if sharp is None:
            return bed
        cut, fill = sharp
        bed = bed.difference(cut).union(fill.intersection(inner))
        bed = _largest(shapely.simplify(_largest(opened(bed, width_m)), SIMPLE_M))
    return bed if _sharp(bed, inner) is None else Polygon()


def opened(shape: BaseGeometry, width_m: float) -> BaseGeometry:
    """Return a shape without its parts that are narrower than a width, corners kept."""
    half = width_m / 2 - 1e-3
    core = shape.buffer(-half, join_style="mitre")
    return core.buffer(half, join_style="mitre", mitre_limit=2.0).intersection(shape)


def _largest(shape: BaseGeometry) -> Polygon:
    parts = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > 0]
    if not parts:
        return Polygon()
    best = max(parts, key=lambda p: (round(p.area, 6), *p.bounds))
    return Polygon(best.exterior, [r for r in best.interiors if Polygon(r).area > 1e-2])


def outline_corners(bed: Polygon) -> tuple[Floats, Floats]:
    """Return the corners (n, 2) of a bed's outer edge, steps under ``SHORT_M`` left out, and their angles."""
    ring = shapely.get_coordinates(shapely.geometry.polygon.orient(bed).exterior)[:-1]
    kept = [ring[0]]
    for point in ring[1:]:
        if math.dist(point, kept[-1]) >= SHORT_M:
            kept.append(point)
    if len(kept) > 3 and math.dist(kept[0], kept[-1]) < SHORT_M:
        kept.pop()
    corners = np.array(kept)
    return corners, corner_degrees(corners)


def _sharp(bed: Polygon, ground: BaseGeometry) -> tuple[BaseGeometry, BaseGeometry] | None:
    """Return what to cut from a bed, and what to fill beside it; None if no corner is too sharp.

    A nook counts where it is of the ground: a wall or trunk that pokes into the bed is not mown.
    """
    if bed.is_empty:
        return None
    corners, degrees = outline_corners(bed)
    if len(corners) < 3:
        return None
    cut = np.flatnonzero(degrees < LEAST_CORNER_DEG - 1.0)
    nooks = np.flatnonzero(degrees > 360.0 - LEAST_CORNER_DEG + 1.0)
    cuts, fills = ([_triangle(corners, degrees, int(k)) for k in which] for which in (cut, nooks))
    fills = [t for t in fills if t.intersection(ground).area > MOWN_SHARE * t.area]
    return (shapely.union_all(cuts), shapely.union_all(fills)) if cuts or fills else None


def _triangle(corners: Floats, degrees: Floats, k: int) -> Polygon:
    """Return the triangle at a corner whose far side is ``CUT_M`` long, or as long as the sides allow."""
    at, ahead, behind = corners[k], corners[(k + 1) % len(corners)], corners[k - 1]
    angle = math.radians(min(degrees[k], 360.0 - degrees[k]))
    leg = CUT_M / (2.0 * max(math.sin(angle / 2.0), 0.05))
    leg = min(leg, math.dist(at, ahead), math.dist(at, behind))
    ends = [at + (to - at) * (leg / math.dist(at, to)) for to in (ahead, behind)]
    return shapely.convex_hull(shapely.multipoints([at, *ends])).buffer(1e-4, join_style="mitre")
