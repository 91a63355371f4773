"""Beds as a tape measure finds them: each corner by its distances from two fixed points; the plant schedule.

Two distances meet in two points, so the side is told: standing at the first point and looking at the second,
the corner lies left or right. The sharper or flatter the two tapes cross, the worse the corner is fixed: an
error e in a distance moves it by about e / sin(angle), so pairs of points that cross near a right angle are
chosen.
"""

from __future__ import annotations

import math
from itertools import combinations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from habitat.knowledge.tables import Knowledge

TAPE_M = 30.0
"""The longest distance that is given: a common tape."""

CROSS_MIN_DEG = 20.0
"""Tapes that cross at less than this (or more than 160 degrees) fix a corner badly: judgement."""

CORNER_TURN_DEG = 3.0
"""A straightened outline turns at least this much at a corner that is measured."""

STRAIGHT_M = 0.05
"""Outlines are straightened by up to this much before their corners are measured: a spade's width."""

POINTS_MOST = 24
"""Most fixed points that are compared for a bed, nearest first."""

DIMENSION_COLUMNS = [
    "yard_id", "bed_id", "corner", "point_1", "distance_1_m", "point_2", "distance_2_m", "side", "x", "y",
]  # fmt: skip


def fixed_points(yard: BaseGeometry, buildings: BaseGeometry, fences: BaseGeometry) -> gpd.GeoDataFrame:
    """Return points that a tape can be hooked to: corners of buildings, then fence posts, in or by a yard.

    Parameters
    ----------
    yard
        The yard's polygon.
    buildings, fences
        Polygons and lines around it; may be empty.

    Returns
    -------
    GeoDataFrame
        name ("house corner 1" counted clockwise from the north-west, "fence post 1"), geometry.
    """
    near = yard.buffer(1.0)
    corners = [p for part in shapely.get_parts(buildings) for p in _corners(part) if near.covers(p)]
    lines = fences.boundary if fences.geom_type.endswith("Polygon") else fences
    ends = [shapely.Point(xy) for xy in shapely.get_coordinates(lines.simplify(0.1))]
    posts = [p for p in ends if near.covers(p) and all(p.distance(c) > 0.3 for c in corners)]
    posts = [p for k, p in enumerate(posts) if all(p.distance(q) > 0.1 for q in posts[:k])]
    middle = yard.centroid
    corners.sort(key=lambda p: _clockwise(p, middle))
    posts.sort(key=lambda p: _clockwise(p, middle))
    names = [f"house corner {k}" for k in range(1, len(corners) + 1)]
    names += [f"fence post {k}" for k in range(1, len(posts) + 1)]
    return gpd.GeoDataFrame({"name": names}, geometry=[*corners, *posts])


def _clockwise(point: shapely.Point, middle: shapely.Point) -> tuple[float, float, float]:
    turn = math.atan2(point.x - middle.x, point.y - middle.y) + math.pi / 4  # from the north-west
    return (round(turn % (2 * math.pi), 6), point.x, point.y)


def _corners(polygon: BaseGeometry) -> list[shapely.Point]:
    """Return the corners of a polygon's outline, in its order."""
    ring = shapely.get_coordinates(shapely.get_exterior_ring(polygon.simplify(STRAIGHT_M)))[:-1]
    into, out = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    turn = np.arctan2(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1))
    return [shapely.Point(xy) for xy in ring[np.abs(turn) >= math.radians(CORNER_TURN_DEG)]]


def bed_dimensions(
    beds: gpd.GeoDataFrame, points: gpd.GeoDataFrame, walls: BaseGeometry | None = None
) -> pd.DataFrame:
    """Return a row per corner of each bed: its distances from two fixed points of the yard.

    Parameters
    ----------
    beds
        Rows of the plan's ``beds`` for one yard.
    points
        As ``fixed_points`` returns them.
    walls
        What a tape cannot go through; None if nothing.

    Returns
    -------
    DataFrame
        Columns DIMENSION_COLUMNS: corner is A, B, ... around the bed, "centre" for a tree's or shrub's ring;
        side is "left" or "right" of the way from the first point to the second. One pair of points a bed, the
        pair whose tapes cross best at its worst corner; where no pair reaches all of it, one for each corner.
        A corner that no pair reaches has no points.
    """
    rows: list[tuple[object, ...]] = []
    for bed in beds.itertuples():
        ring = getattr(bed, "growth_form", "herb") != "herb"  # a planting ring: its centre is enough
        corners = shapely.get_coordinates([bed.geometry.centroid] if ring else _corners(bed.geometry))
        pair = _best_pair(corners, points, walls)
        for k, corner in enumerate(corners):
            own = pair if pair is not None else _best_pair(corners[k : k + 1], points, walls)
            head = (bed.yard_id, bed.bed_id, "centre" if ring else _letter(k))
            rows.append((*head, *_measured(corner, points, own), *corner))
    return pd.DataFrame(rows, columns=DIMENSION_COLUMNS)


def _letter(k: int) -> str:
    return chr(ord("A") + k) if k < 26 else f"{chr(ord('A') + k // 26 - 1)}{chr(ord('A') + k % 26)}"


def _best_pair(
    corners: NDArray[np.float64], points: gpd.GeoDataFrame, walls: BaseGeometry | None
) -> tuple[int, int] | None:
    if len(points) < 2 or not len(corners):
        return None
    xy = shapely.get_coordinates(points.geometry.to_numpy())
    reach = np.linalg.norm(corners[:, None] - xy[None], axis=2)
    seen = (reach <= TAPE_M).all(axis=0) & (reach > 0.2).all(axis=0)
    if walls is not None and not walls.is_empty:
        seen &= _in_sight(corners, xy, walls)
    able = np.flatnonzero(seen)
    able = able[np.argsort(np.round(reach[:, able].max(axis=0), 3), kind="stable")][:POINTS_MOST]
    best, chosen = math.sin(math.radians(CROSS_MIN_DEG)), None
    for a, b in combinations(sorted(able.tolist()), 2):
        one, two = corners - xy[a], corners - xy[b]
        cross = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
        if (cross > 0).any() and (cross < 0).any():
            continue  # the line through both points cuts the bed: corners would lie on both sides
        sine = float((np.abs(cross) / (reach[:, a] * reach[:, b])).min())
        if sine > best + 1e-3:
            best, chosen = sine, (a, b)
    return chosen


def _in_sight(
    corners: NDArray[np.float64], xy: NDArray[np.float64], walls: BaseGeometry
) -> NDArray[np.bool_]:
    """Tell which points see every corner past the walls."""
    solid = walls.buffer(-0.05)
    pairs = np.stack(np.broadcast_arrays(corners[:, None], xy[None]), axis=2).reshape(-1, 2, 2)
    free = ~shapely.intersects(shapely.linestrings(pairs), solid)
    return np.asarray(free.reshape(len(corners), len(xy)).all(axis=0))


def _measured(
    corner: NDArray[np.float64], points: gpd.GeoDataFrame, pair: tuple[int, int] | None
) -> tuple[object, ...]:
    if pair is None:
        return ("", math.nan, "", math.nan, "")
    ends = shapely.get_coordinates(points.geometry.iloc[list(pair)].to_numpy())
    away = np.linalg.norm(ends - corner, axis=1)
    way, to = ends[1] - ends[0], corner - ends[0]
    side = "left" if way[0] * to[1] - way[1] * to[0] > 0 else "right"
    names = points["name"].iloc[list(pair)].tolist()
    return (names[0], float(away[0]), names[1], float(away[1]), side)


def corner_from_tapes(
    first: tuple[float, float],
    second: tuple[float, float],
    distance_1_m: float,
    distance_2_m: float,
    side: str,
) -> tuple[float, float]:
    """Return the place that two distances from two fixed points mean, on the side told.

    Examples
    --------
    >>> corner_from_tapes((0.0, 0.0), (6.0, 0.0), 5.0, 5.0, "left")
    (3.0, 4.0)
    """
    way = np.subtract(second, first)
    base = float(np.hypot(*way))
    along = (base**2 + distance_1_m**2 - distance_2_m**2) / (2 * base)
    off = math.sqrt(max(distance_1_m**2 - along**2, 0.0)) * (1 if side == "left" else -1)
    u = way / base
    x, y = np.asarray(first) + along * u + off * np.array([-u[1], u[0]])
    return (float(x), float(y))


SIZE_ORDER = {"bare root": 0, "pot": 1, "plug": 2, "seed": 3}
"""Larger stock first, as nurseries list it."""

SCHEDULE_COLUMNS = [
    "key_number", "plant", "common_name", "form", "count", "spacing_m", "height_m", "spread_m", "beds",
]  # fmt: skip


def plant_schedule(
    plantings: gpd.GeoDataFrame, points: gpd.GeoDataFrame, knowledge: Knowledge
) -> pd.DataFrame:
    """Return the plant schedule of a yard: a row per kind and form it is bought in, larger stock first.

    Parameters
    ----------
    plantings, points
        The plan's rows for one yard; points may be empty.

    Returns
    -------
    DataFrame
        Columns SCHEDULE_COLUMNS; key_number is missing if nothing is placed, beds is text.
    """
    if not len(plantings):
        return pd.DataFrame({c: [] for c in SCHEDULE_COLUMNS})
    table = (
        plantings.groupby(["plant", "form"], sort=True)
        .agg(
            common_name=("common_name", "first"),
            count=("count", "sum"),
            spacing_m=("spacing_m", "first"),
            height_m=("height_m", "first"),
            beds=("bed_id", lambda ids: "; ".join(dict.fromkeys(ids))),
        )
        .reset_index()
    )
    keys = dict(zip(points["plant"], points["key_number"], strict=True))
    table["key_number"] = table["plant"].map(keys).astype("Int64")
    table["spread_m"] = table["plant"].map(knowledge.plants["spread_m"]).astype(float)
    size = table["form"].map(SIZE_ORDER).fillna(len(SIZE_ORDER))
    order = np.lexsort((table["plant"], -table["height_m"], size))
    return table.iloc[order][SCHEDULE_COLUMNS].reset_index(drop=True)
