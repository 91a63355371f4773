"""Trees with room: published distances from walls and paving by mature height, and spots that keep them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from habitat.arrays import Flags, Floats

SMALL_TREE_M = 9.1
"""A tree of at most 30 ft is small (urban forestry council planting guide)."""

TREE_TO_WALL_M = ((SMALL_TREE_M, 3.0), (15.2, 4.6), (math.inf, 6.1))
"""Mature height up to which a trunk stays this far from a building: 10 ft to 30 ft of height, 15 ft to 50 ft,
20 ft above (regional urban forestry council planting guide; a city's tree-placement guide gives the same for
small and large ones). Utilities and town codes may ask for four times as much."""

TREE_TO_PAVING_M = 1.5
"""Trunks from walks, drives, patios and fences (5 ft; city tree-placement guide)."""

SHRUB_TO_WALL_M = 0.3
"""A shrub stands half its mature spread and this much more from a wall (1 ft; garden and trade press)."""

RING_M = 1.2
"""Radius of the ring of ground layer around a single tree: judgement; a mulched ring is 0.6 m and more."""

TALL_SHRUB_M = 2.0
"""Shrubs taller than this shade what grows beside them: they are chosen with the trees, and may have a place
of their own as trees have: judgement."""

RING_HERB_M = 0.7
"""Herbs around a new trunk grow no taller, so that they are a ground layer and leave it light: judgement."""

STEM_M = 0.25
"""Radius of the place of a new trunk: judgement."""

TRUNK_CLEAR_M = 0.45
"""Nothing else is planted this near to the stem of a new tree: judgement."""

SHRUB_TO_TRUNK_M = 1.5
"""New shrubs stand at least this far from the stem of a new tree: judgement."""

TREE_RADIUS_M = (1.5, 8.0)
"""Crown radius that a tree spot offers, least and most [m]."""

JOIN_M = 0.8
"""A trunk this near to a bed joins it: the ring reaches into it."""

JOINED_RADIUS_M = 4.0
"""Widest crown radius of a tree that joins a bed, since it shades it: judgement."""

PAIR_M = 2.2
"""Two tall shrubs in one island stand this far apart; kinds of wider spacing stand alone: judgement."""

PAIR_WAYS = 16
"""Directions tried for the second shrub of an island."""

APART_M = RING_M + 0.9
"""A ring of its own keeps a path between itself and beds."""

OVERHANG_M = 1.0
"""The crown of a tree apart may reach this far over a bed: judgement, since it shades the bed."""

WISHED_RADIUS_M = 6.5
"""More room for a crown than this is worth nothing where a spot is chosen, so that trees stand near an edge
and the lawn stays whole: judgement."""

SHRUB_RADIUS_M = 2.0
"""More room than this is worth nothing for a tall shrub: judgement."""

JOIN_WORTH_M = 1.0
"""Crown radius that joining a bed is worth where a spot is chosen: judgement."""

GRID_POINTS = 900
"""Places tried per yard, on an even grid of at least 0.5 m."""


def least_distance_m(height_m: Floats, table: tuple[tuple[float, float], ...]) -> Floats:
    """Return the distance [m] that a table asks of trees by their mature height [m].

    Examples
    --------
    >>> import numpy as np
    >>> least_distance_m(np.array([6.0, 12.0, 30.0]), TREE_TO_WALL_M).tolist()
    [3.0, 4.6, 6.1]
    """
    out = np.full(np.shape(height_m), table[-1][1])
    for most, metres in reversed(table[:-1]):
        out = np.where(np.asarray(height_m) <= most + 1e-9, metres, out)
    return out


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What trees and shrubs keep off, and the beds that are placed already.

    walls, paving, fences, standing : buildings, walks and drives, fences, crowns of what grows there. Wires
    are not among them: around these ``Site.height_limits`` keep all plants low, further out than published
    distances ask.
    """

    yard: BaseGeometry
    walls: BaseGeometry
    paving: BaseGeometry
    fences: BaseGeometry
    standing: BaseGeometry
    beds: tuple[Polygon, ...] = ()


@dataclass(frozen=True, slots=True)
class TreeSpot:
    """A place for one tree or tall shrub.

    at, radius_m : its trunk, and the crown's greatest radius [m]. joins : the bed that it joins, by index.
    beside : the place before it, by index, with which it shares one island.
    """

    at: Point
    radius_m: float
    joins: int | None
    beside: int | None = None

    @property
    def crown(self) -> Polygon:
        """The crown as a disc."""
        return Polygon(shapely.get_coordinates(self.at.buffer(self.radius_m, quad_segs=16)))


def tree_fits(spot: TreeSpot, around: Surroundings, height_m: Floats, spread_m: Floats) -> Flags:
    """Return which trees (plants,) have room at a spot, by their mature height and spread [m]."""
    fits = spread_m / 2 <= spot.radius_m + 1e-2
    if not around.walls.is_empty:
        fits = fits & (least_distance_m(height_m, TREE_TO_WALL_M) <= spot.at.distance(around.walls) + 1e-6)
    return np.asarray(fits, bool)


def shrub_fits(spot: TreeSpot, around: Surroundings, height_m: Floats, spread_m: Floats) -> Flags:
    """Return which shrubs (plants,) are tall enough for a place of their own and have room at a spot."""
    fits = (height_m > TALL_SHRUB_M) & (spread_m / 2 <= spot.radius_m + 1e-2)
    if not around.walls.is_empty:
        fits = fits & (spread_m / 2 + SHRUB_TO_WALL_M <= spot.at.distance(around.walls) + 1e-6)
    return np.asarray(fits, bool)


def tree_spots(
    ground: BaseGeometry,
    herb: BaseGeometry,
    around: Surroundings,
    shady: Floats,
    most: int = 2,
    shrubs: int = 0,
) -> list[TreeSpot]:
    """Return places for single trees: roomy ones first, rather beside a bed, on the shady side of the yard.

    Behind them come places for tall shrubs, which want less room and join a bed where they can.

    Parameters
    ----------
    ground
        Open ground of trees, where the trunk may stand.
    herb
        Ground where the ring around it may be dug.
    around
        What crowns and trunks keep off.
    shady
        Unit vector (x, y) to the side away from the noon sun.
    most, shrubs
        Most spots of trees, and of tall shrubs beside them.
    """
    inner = _inner(ground, herb, around)
    points = _grid(inner)
    if not len(points):
        return []
    room, joins, bonus = _offers(points, around, shady)
    out: list[TreeSpot] = []
    while len(out) < most + shrubs:
        wished = WISHED_RADIUS_M if len(out) < most else SHRUB_RADIUS_M
        worth = np.where(room >= TREE_RADIUS_M[0], np.minimum(room, wished) + bonus, -np.inf)
        k = int(np.argmax(np.round(worth, 6)))
        if worth[k] == -np.inf:
            break
        pair = None if len(out) <= most or joins[k] else _beside(out, most, inner, around, shady)
        if pair is None:
            where = shapely.points(points[k])
            bed = int(np.argmin([b.distance(where) for b in around.beds])) if joins[k] else None
            pair = TreeSpot(where, float(room[k]), bed)
        out.append(pair)
        away = np.linalg.norm(points - shapely.get_coordinates(pair.at), axis=1)
        room = np.where(away >= 2 * APART_M, np.minimum(room, away - pair.radius_m), 0.0)
    return out


def _offers(points: Floats, around: Surroundings, shady: Floats) -> tuple[Floats, Flags, Floats]:
    """Return the crown's room [m] at points (n, 2), whether they join a bed, and what else they are worth."""
    where = shapely.points(points)
    beds = shapely.union_all(around.beds)
    to_bed = shapely.distance(where, beds) if around.beds else np.full(len(points), np.inf)
    joins = to_bed <= JOIN_M
    room = np.minimum(_crown_room(where, around), TREE_RADIUS_M[1])
    room = np.where(joins, np.minimum(room, JOINED_RADIUS_M), np.minimum(room, to_bed + OVERHANG_M))
    room = np.where(joins | (to_bed >= APART_M), room, 0.0)
    side = points @ shady
    edge = shapely.distance(where, around.yard.boundary)
    return room, joins, JOIN_WORTH_M * joins + 0.02 * (side - side.min()) - 0.1 * edge


def _beside(
    spots: list[TreeSpot], first: int, inner: BaseGeometry, around: Surroundings, shady: Floats
) -> TreeSpot | None:
    """Return a place for a shrub in one island with a shrub's place before it; None where there is no room.

    ``first`` is the index of the first place of a shrub.
    """
    for index in range(first, len(spots)):
        if any(spot.beside == index for spot in spots) or spots[index].beside is not None:
            continue
        angle = np.linspace(0.0, 2 * np.pi, PAIR_WAYS, endpoint=False)
        at = shapely.get_coordinates(spots[index].at)[0]
        points = at + PAIR_M * np.column_stack([np.cos(angle), np.sin(angle)])
        room, joins, bonus = _offers(points, around, shady)
        others = [shapely.get_coordinates(s.at)[0] for k, s in enumerate(spots) if k != index]
        radii = [s.radius_m for k, s in enumerate(spots) if k != index]
        for other, radius in zip(others, radii, strict=True):
            away = np.linalg.norm(points - other, axis=1)
            room = np.where(away >= 2 * APART_M, np.minimum(room, away - radius), 0.0)
        free = shapely.contains_xy(inner, points[:, 0], points[:, 1]) & ~joins & (room >= TREE_RADIUS_M[0])
        if free.any():
            worth = np.where(free, np.minimum(room, SHRUB_RADIUS_M) + bonus, -np.inf)
            k = int(np.argmax(np.round(worth, 6)))
            return TreeSpot(shapely.points(points[k]), float(room[k]), None, index)
    return None


def _inner(ground: BaseGeometry, herb: BaseGeometry, around: Surroundings) -> BaseGeometry:
    """Return where a trunk may stand and its ring be dug."""
    near = [g.buffer(TREE_TO_PAVING_M) for g in (around.paving, around.fences) if not g.is_empty]
    inner = (
        ground.buffer(-STEM_M - 0.02)
        .intersection(herb.buffer(-RING_M - 0.05))
        .difference(shapely.union_all(near))
    )
    shapely.prepare(inner)
    return inner


def _grid(inner: BaseGeometry) -> Floats:
    """Return grid points (n, 2) inside some ground."""
    if inner.is_empty:
        return np.empty((0, 2))
    west, south, east, north = inner.bounds
    step = max(0.5, float(np.sqrt((east - west) * (north - south) / GRID_POINTS)))
    x, y = np.arange(west + step / 2, east, step), np.arange(south + step / 2, north, step)
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    return np.asarray(grid[shapely.contains_xy(inner, grid[:, 0], grid[:, 1])], float)


def _crown_room(where: Floats, around: Surroundings) -> Floats:
    """Return how wide a crown's radius [m] may grow at each point."""
    room = shapely.distance(where, around.yard.boundary)
    for obstacle in (around.walls, around.standing):
        if not obstacle.is_empty:
            room = np.minimum(room, shapely.distance(where, obstacle))
    return np.asarray(room - 1e-3, float)
