"""Spots for single trees and shrubs: a trunk inside open ground with room for the crown around it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

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
