"""Where beds may be dug: ground less what stands, strips along edges, spots for trees and shrubs."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

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
    built = closed[closed["what"] == "building"]
    setback = np.nan_to_num(built["setback_m"].to_numpy(float))
    return shapely.union_all(shapely.buffer(built.geometry.to_numpy(), -setback, join_style="mitre"))


# Strips for beds along the edges of open ground: sides between corners, cut where fit changes.

BED_LENGTH_M = (2.7, 14.0)
"""Shortest and longest border: judgement; a fair border is about three times as long as deep (garden and
trade press)."""

SMOOTH_M = 0.25
"""Edges are straightened by up to this much before sides are distinguished."""

ISLAND_MIN_M2 = 20.0
"""Holes smaller than this (a trunk, a well) get no border of their own."""

CUT_PRICE = 0.15
"""Summed variance of fit that a cut must save: judgement; keeps beds from being chopped into confetti."""


def stretch(line: LineString, start: float, stop: float) -> LineString:
    """Return the stretch of a line between two distances [m] along it."""
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


def long_axis(polygon: Polygon) -> tuple[float, float]:
    """Return the unit vector, pointing east, along the longer side of the smallest rectangle around."""
    corners = shapely.get_coordinates(shapely.oriented_envelope(polygon))
    edges = np.diff(corners[:3], axis=0)
    edge = edges[int(np.argmax(np.round(np.hypot(edges[:, 0], edges[:, 1]), 6)))]
    edge = edge / max(float(np.hypot(*edge)), 1e-12)
    if edge[0] < -1e-9 or (abs(edge[0]) <= 1e-9 and edge[1] < 0):
        edge = -edge
    return float(edge[0]), float(edge[1])


SQUARE_SHARE = 0.8
"""An outline is square to two directions if its sides go by them so far: 1 all of them; judgement."""

SQUARE_OFF = 0.4
"""Fourfold angle [rad] by which a side may be off the mean of all, about 6 degrees: judgement."""


def bed_axis(polygon: Polygon) -> tuple[float, float]:
    """Return the unit vector, pointing east, along which a bed is laid out and, where it is long, cut off.

    By its own sides where these are square to each other, also around a corner; else as ``long_axis``.

    Notes
    -----
    The mean of the sides' directions, by length, with turns by 90 degrees left out (their fourfold angle).

    Examples
    --------
    >>> around_corner = Polygon([(0, 0), (6, 0), (6, 6), (4, 6), (4, 2), (0, 2)])
    >>> bed_axis(around_corner) in ((1.0, 0.0), (0.0, 1.0))
    True
    """
    sides = np.diff(shapely.get_coordinates(polygon.exterior), axis=0)
    length = np.hypot(sides[:, 0], sides[:, 1])
    turned = complex((length * np.exp(4j * np.arctan2(sides[:, 1], sides[:, 0]))).sum())
    if abs(turned) < SQUARE_SHARE * length.sum():
        return long_axis(polygon)
    # the longest of the sides that go by the mean: a direction beside that of every side draws poor lattices
    off = np.abs(np.angle(np.exp(4j * np.arctan2(sides[:, 1], sides[:, 0])) / turned))
    side = sides[int(np.argmax(np.round(np.where(off < SQUARE_OFF, length, 0.0), 6)))]
    side = side / np.hypot(*side)
    axes = np.array([side, (-side[1], side[0])])
    reach = np.round(np.ptp(shapely.get_coordinates(polygon) @ axes.T, axis=0), 6)
    east, north = axes[int(np.argmax(reach))].tolist()
    return (-east, -north) if east < -1e-9 or (abs(east) <= 1e-9 and north < 0) else (east, north)
