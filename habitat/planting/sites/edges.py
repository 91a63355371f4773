"""Where beds may be dug: ground less what stands, strips along edges, spots for trees and shrubs."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from habitat.knowledge.tables import Knowledge
from habitat.planting.drawing._kernels import best_cuts
from habitat.planting.types import YardContext
from habitat.site.types import GROWTH_FORM

INSET_M = 0.02
"""Beds stay this far inside the open ground, so that rounding never puts one outside."""

TRUNK_ROOM_M = 1.0
"""No digging closer than this to the trunk of a standing tree; more on old trees (common practice)."""

UNKNOWN_ROOM_M = 0.5
"""Room kept around a standing plant whose name or size is not known: judgement."""

KEEP_ROOM_M = 0.3
"""Path kept between a bed that stays as it is and a new one: judgement."""


def usable_ground(
    open_ground: pd.DataFrame, context: YardContext, knowledge: Knowledge
) -> dict[str, BaseGeometry]:
    """Return the ground for new plants by growth form: herb, shrub, tree.

    Parameters
    ----------
    open_ground
        Rows of ``Site.open_ground`` for one yard.
    context
        Standing plants and what is kept.

    Returns
    -------
    dict
        Growth form -> polygon or multipolygon, may be empty, ``INSET_M`` inside the open ground.
    """
    taken = shapely.union_all([*_standing(context, knowledge), *_kept(context)])
    out: dict[str, BaseGeometry] = {"herb": Polygon(), "shrub": Polygon(), "tree": Polygon()}
    for form, geometry in zip(open_ground["growth_form"], open_ground["geometry"], strict=True):
        if geometry is not None and not geometry.is_empty:
            out[form] = polygonal(geometry.buffer(-INSET_M, join_style="mitre").difference(taken))
    return out


def polygonal(geometry: BaseGeometry) -> BaseGeometry:
    """Return only the polygons of a geometry, as one polygon or multipolygon."""
    parts = [p for p in shapely.get_parts(geometry) if p.geom_type == "Polygon" and p.area > 0]
    return parts[0] if len(parts) == 1 else shapely.multipolygons(parts) if parts else Polygon()


def standing_radius_m(existing: pd.DataFrame, knowledge: Knowledge) -> NDArray[np.float64]:
    """Return the room [m] that standing plants take from new beds: a tree its trunk, others the crown."""
    forms = [
        GROWTH_FORM[str(knowledge.plants.loc[p, "form"])] if isinstance(p, str) else ""
        for p in existing["plant"]
    ]
    crown = np.sqrt(existing["crown_m2"].to_numpy(float) / math.pi)
    crown = np.where(np.isnan(crown), UNKNOWN_ROOM_M, crown)
    return np.array([TRUNK_ROOM_M if f == "tree" else r for f, r in zip(forms, crown, strict=True)], float)


def _standing(context: YardContext, knowledge: Knowledge) -> list[BaseGeometry]:
    if not len(context.existing):
        return []
    radius = standing_radius_m(context.existing, knowledge)
    return list(shapely.buffer(context.existing.geometry.to_numpy(), radius, quad_segs=4))


def _kept(context: YardContext) -> list[BaseGeometry]:
    if context.keep is None or not len(context.keep):
        return []
    return list(shapely.buffer(context.keep.geometry.to_numpy(), KEEP_ROOM_M, quad_segs=4))


def crown_obstacles(context: YardContext) -> BaseGeometry:
    """Return the walls that crowns must stay off: the closed ground of buildings less its setback."""
    closed = context.closed_ground
    if not len(closed):
        return Polygon()
    built = closed[closed["reason"].astype(str).str.contains("build|house|wall", case=False)]
    setback = np.nan_to_num(built["setback_m"].to_numpy(float))
    return shapely.union_all(shapely.buffer(built.geometry.to_numpy(), -setback, join_style="mitre"))


# Strips for beds along the edges of open ground: sides between corners, cut where fit changes.

BED_DEPTH_M = 1.8
"""Depth of a border: no plant is more than an arm's reach (0.9 m) from an edge; common practice 1.2-2.4 m."""

BED_WIDTH_MIN_M = 1.2
"""A bed is nowhere narrower."""

BED_LENGTH_M = (2.4, 10.0)
"""Shortest and longest border [m]: 4 to 18 m2 at full depth; judgement."""

CORNER_DEG = 35.0
"""An edge that turns more than this starts a new side."""

SMOOTH_M = 0.25
"""Edges are straightened by up to this much before sides are distinguished."""

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
    """Return the stretches of a side that are cut so that each is as even as can be.

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


# Spots for single trees and shrubs: a trunk inside open ground with room for the crown around it.

RING_M = 0.6
"""Radius of the dug and mulched ring around a trunk."""

TREE_RADIUS_M = (2.0, 10.0)
"""Crown radius that a tree spot offers, least and most [m]."""

SHRUB_RADIUS_M = (0.8, 2.25)
"""Crown radius that a spot for a single shrub offers, least and most [m]."""

TREE_TO_BED_M = 1.0
"""Room between a tree's ring and a bed, so that digging spares its roots: judgement."""

OVERHANG_M = 1.0
"""A mature tree's crown may reach this far over a bed: judgement, since it shades the bed."""

GRID_POINTS = 900
"""Places tried per yard and growth form, on an even grid of at least 0.5 m."""


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What crowns keep off: the yard's edge, walls, standing plants; and the beds already placed."""

    yard: BaseGeometry
    walls: BaseGeometry
    standing: BaseGeometry
    beds: BaseGeometry


def tree_spots(
    ground: BaseGeometry, around: Surroundings, shady: NDArray[np.float64], most: int = 2
) -> list[Polygon]:
    """Return discs with crown room for trees: the roomiest first, then others clear of it; shady side first.

    Parameters
    ----------
    ground
        Open ground of trees.
    shady
        Unit vector (x, y) to the side away from the noon sun.
    most
        Most spots.
    """
    points = _candidates(ground, around.beds, RING_M + TREE_TO_BED_M)
    room = np.minimum(_crown_room(points, around), TREE_RADIUS_M[1])
    if len(points) and not around.beds.is_empty:
        room = np.minimum(room, shapely.distance(shapely.points(points), around.beds) + OVERHANG_M)
    out: list[Polygon] = []
    while len(out) < most and len(points):
        k = int(np.argmax(np.round(room + 0.02 * (points @ shady - (points @ shady).min()), 6)))
        if room[k] < TREE_RADIUS_M[0]:
            break
        out.append(_disc(points[k], float(room[k])))
        room = np.minimum(room, np.linalg.norm(points - points[k], axis=1) - room[k])
    return out


def shrub_spots(
    ground: BaseGeometry, around: Surroundings, taken: list[Polygon], most: int = 2
) -> list[Polygon]:
    """Return discs with crown room for single shrubs: near the edges, off the lawn's middle."""
    rings = [shapely.Point(d.centroid).buffer(min(3.0, np.sqrt(d.area / np.pi))) for d in taken]
    beds = shapely.union_all([around.beds, *rings])
    points = _candidates(ground, beds, RING_M)
    room = _crown_room(points, around)
    if len(points) and not beds.is_empty:
        room = np.minimum(room, shapely.distance(shapely.points(points), beds))
    out: list[Polygon] = []
    for wanted in (SHRUB_RADIUS_M[1], 1.5, SHRUB_RADIUS_M[0])[: most + 1]:
        if len(out) == most or not len(points):
            break
        fits = np.flatnonzero(room >= wanted)
        if not len(fits):
            continue
        edge = shapely.distance(shapely.points(points[fits]), around.yard.boundary)
        k = fits[int(np.argmin(np.round(edge, 6)))]
        out.append(_disc(points[k], wanted))
        room = np.minimum(room, np.linalg.norm(points - points[k], axis=1) - wanted)
    return out


def _disc(centre: NDArray[np.float64], radius_m: float) -> Polygon:
    return Polygon(shapely.get_coordinates(Point(centre).buffer(radius_m, quad_segs=16)))


def _candidates(ground: BaseGeometry, beds: BaseGeometry, clear_m: float) -> NDArray[np.float64]:
    """Return grid points (n, 2) whose ring lies inside the ground and clear of beds."""
    inner: BaseGeometry = ground.buffer(-RING_M - 1e-3)
    if not beds.is_empty:
        inner = inner.difference(beds.buffer(clear_m, quad_segs=4))
    if inner.is_empty:
        return np.empty((0, 2))
    west, south, east, north = inner.bounds
    step = max(0.5, float(np.sqrt((east - west) * (north - south) / GRID_POINTS)))
    x, y = np.arange(west + step / 2, east, step), np.arange(south + step / 2, north, step)
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    shapely.prepare(inner)
    return grid[shapely.contains_xy(inner, grid[:, 0], grid[:, 1])]


def _crown_room(points: NDArray[np.float64], around: Surroundings) -> NDArray[np.float64]:
    """Return how wide a crown's radius [m] may grow at each point."""
    where = shapely.points(points)
    room = shapely.distance(where, around.yard.boundary)
    for obstacle in (around.walls, around.standing):
        if not obstacle.is_empty:
            room = np.minimum(room, shapely.distance(where, obstacle))
    return np.asarray(room - 1e-3, float)
