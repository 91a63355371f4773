"""Reach: where people stand to tend a bed, and the stepping places that a wide bed needs."""

from __future__ import annotations

import numpy as np
import shapely
from scipy.spatial.distance import cdist
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from habitat.arrays import Floats
from habitat.planting.sites.edges import long_axis

REACH_M = 0.6
"""Reach of an arm into a bed from where one stands (2 ft; garden and trade press, several accounts): 0.6 m
from one side, 1.2 m between two."""

STAND_M = 0.45
"""A strip at least this wide is room to stand and work in (working path of 18 in, the same accounts)."""

STONE_M = 0.3
"""Width of a stepping place, a flat stone or a patch left bare: common practice."""

CLEAR_M = 0.2
"""Stems stand at least this far from the middle of a stepping place: judgement."""

STEP_M = 0.15
"""Grid on which a bed is searched for ground out of reach, and for stepping places."""

PASSES = 3
"""How often what lies between the points of the grid is looked at again."""

LEFT_M2 = 0.1
"""Less ground out of reach is nothing to set a stone for."""


def standing_room(open_to_feet: BaseGeometry, beds: BaseGeometry) -> BaseGeometry:
    """Return where people stand beside beds: ground open to feet, as far as it is ``STAND_M`` wide.

    Parameters
    ----------
    open_to_feet
        Lawn, paths, bare ground; not walls, water, other beds.
    beds
        Beds, which nobody stands in.
    """
    half = STAND_M / 2 - 1e-3
    free = open_to_feet.difference(beds)
    return free.buffer(-half, join_style="mitre").buffer(half, join_style="mitre", mitre_limit=2.0)


def out_of_reach(bed: BaseGeometry, feet: BaseGeometry, stones: Floats) -> BaseGeometry:
    """Return the ground of a bed that nobody reaches.

    Parameters
    ----------
    bed
        The bed.
    feet
        Where people stand beside it.
    stones
        Middles of stepping places ``(n, 2)``.
    """
    reached = [feet.buffer(REACH_M + 0.02)]
    if len(stones):
        reached += list(shapely.buffer(shapely.points(stones), STONE_M / 2 + REACH_M))
    return bed.difference(shapely.union_all(reached))


def stepping_places(bed: Polygon, feet: BaseGeometry) -> Floats:
    """Return the middles (n, 2) of the stepping places that bring all of a bed within reach.

    From one end of the bed to the other, each is the place that reaches the next ground out of reach and most
    of what lies beyond it.
    """
    places = _grid(bed.buffer(-STONE_M / 2))
    stones = np.empty((0, 2))
    for _ in range(PASSES):
        far = out_of_reach(bed, feet, stones)
        if far.area < LEFT_M2 or not len(places):
            break
        stones = np.vstack([stones, _covering(places, far, np.array(long_axis(bed)))])
    return stones


def _covering(places: Floats, far: BaseGeometry, along: Floats) -> Floats:
    """Return places (n, 2) from which the points of a grid over some ground are within reach."""
    need = _grid(far.buffer(STEP_M / 2))
    need = need[np.argsort(np.round(need @ along, 6), kind="stable")]
    near = cdist(places, need) <= STONE_M / 2 + REACH_M - 0.02
    left = near.any(axis=0)
    out: list[Floats] = []
    while left.any():
        able = np.flatnonzero(near[:, int(np.argmax(left))])
        k = able[int(np.argmax((near[able] & left).sum(axis=1)))]
        out.append(places[k])
        left &= ~near[k]
    return np.array(out).reshape(-1, 2)


def _grid(shape: BaseGeometry) -> Floats:
    """Return points (n, 2) of an even grid inside a shape, west to east, then south to north."""
    if shape.is_empty:
        return np.empty((0, 2))
    west, south, east, north = shape.bounds
    x = np.arange(west + STEP_M / 2, east + STEP_M / 2, STEP_M)
    y = np.arange(south + STEP_M / 2, north + STEP_M / 2, STEP_M)
    xx, yy = (a.ravel() for a in np.meshgrid(x, y, indexing="ij"))
    shapely.prepare(shape)
    inside = shapely.contains_xy(shape, xx, yy)
    return np.column_stack([xx[inside], yy[inside]])
