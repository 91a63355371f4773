"""What beds keep free in a yard: walls, doors and the ways to them, room to walk, a lawn to play on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from habitat.planting.types import YardContext

WALL_GAP_M = 0.6
"""Strip along a house kept free of plants (2 ft; garden and trade press, several accounts)."""

BACK_GAP_M = 0.5
"""Strip between a bed and a fence or the edge of the yard, to work from and to mend the fence (working path
of 18 to 24 in; garden and trade press, several accounts)."""

DOOR_REACH_M = 0.75
"""Ground kept free around the place where paving meets a house, where doors are: judgement."""

DOOR_GAP_M = 0.8
"""Paving that ends this near to a wall meets it."""

WAY_M = 1.2
"""Width of the way that is kept free from the front of a house to the street where no paving shows it:
judgement; a path for a wheelbarrow takes 0.75 to 0.9 m."""

TOUCH_M = 1e-6
"""A side this near to its own middle is that side."""

PASS_M = 0.9
"""A bed leaves a way at least this wide to all parts of a yard (path for a wheelbarrow, 36 in; garden and
trade press, several accounts)."""

PLAY_RADIUS_M = (2.0, 4.0)
"""Least and greatest radius of the round of lawn that is kept whole where children live: judgement."""

BARRED_TO_FEET = ("building", "water", "fence", "keep", "plant", "trunk")
"""Keys of closed ground on which nobody stands to tend a bed."""


@dataclass(frozen=True, slots=True)
class Ways:
    """What beds of one yard keep off.

    yard : its outline. walls : buildings inside it. fences : thin strips. paving : walks, drives, patios.
    house : the largest building. doors : ground kept free for doors and the way to them. play : the round of
    lawn kept whole. feet : ground that people may walk on. known : whether anything tells where the door is;
    without, the way from the middle of the front is kept where a street tells the front, and nothing where
    none does.
    """

    yard: BaseGeometry
    walls: BaseGeometry
    fences: BaseGeometry
    paving: BaseGeometry
    house: BaseGeometry
    doors: BaseGeometry
    play: BaseGeometry
    feet: BaseGeometry
    known: bool

    @property
    def free(self) -> BaseGeometry:
        """All ground that no bed takes."""
        gaps = [self.yard.boundary.buffer(BACK_GAP_M, join_style="mitre"), self.doors, self.play]
        for what, gap_m in ((self.walls, WALL_GAP_M), (self.fences, BACK_GAP_M)):
            if not what.is_empty:
                gaps.append(what.buffer(gap_m, join_style="mitre"))
        return shapely.union_all(gaps)


def read_ways(
    yard: BaseGeometry, context: YardContext, lawn: BaseGeometry, *, keep_lawn: bool = False
) -> Ways:
    """Return what beds of a yard keep off, as far as its layers tell.

    Parameters
    ----------
    yard
        The parcel.
    context
        Closed ground with its reasons, and the street.
    lawn
        Ground that is open to herbs.
    keep_lawn
        Whether a round of lawn is kept whole to play on.
    """
    walls, paving = without_setback(context.closed_ground, ("building",)), paved(context)
    house = max(shapely.get_parts(walls), key=lambda p: (p.area, *p.bounds), default=Polygon())
    meets = paving.intersection(house.buffer(DOOR_GAP_M)) if not house.is_empty else Polygon()
    doors: BaseGeometry = meets.buffer(DOOR_REACH_M).intersection(yard) if not meets.is_empty else Polygon()
    known = not meets.is_empty
    if not known and not house.is_empty and context.street is not None:
        way = front_way(house, context.street, whole_front=not context.paving_known)
        doors = way.intersection(yard)
    feet = yard.difference(_barred_to_feet(context))
    fences = without_setback(context.closed_ground, ("fence",), keep_m=0.01)
    play = _play(lawn) if keep_lawn else Polygon()
    return Ways(yard, walls, fences, paving, house, doors, play, feet, known)


def front_way(house: BaseGeometry, street: BaseGeometry, *, whole_front: bool = False) -> BaseGeometry:
    """Return the straight way from the middle of a house's front to the street.

    The front is the side of the smallest rectangle around the house that is nearest to the street. The way
    is as wide as the ``whole_front`` where nobody knows on which side of it the drive lies.

    Examples
    --------
    >>> way = front_way(shapely.box(0, 10, 12, 20), LineString([(-50, 0), (50, 0)]))
    >>> [round(v, 1) + 0.0 for v in way.bounds]
    [5.4, 0.0, 6.6, 10.0]
    """
    corners = shapely.get_coordinates(shapely.oriented_envelope(house))
    sides = [LineString(pair) for pair in pairwise(corners)]
    middles = [side.interpolate(0.5, normalized=True) for side in sides]
    front = min(middles, key=lambda p: (round(p.distance(street), 3), p.x, p.y))
    way = shapely.shortest_line(front, street)
    wide = max(side.length for side in sides if side.distance(front) < TOUCH_M) if whole_front else WAY_M
    return way.buffer(wide / 2, cap_style="flat") if way.length > 0 else Polygon()


def without_setback(closed: pd.DataFrame, what: Sequence[str], *, keep_m: float = 0.0) -> BaseGeometry:
    """Return what stands there: closed ground of some keys, less the setback around it.

    ``keep_m`` leaves that much around, so that something is left of lines.
    """
    if not len(closed):
        return Polygon()
    rows = closed[closed["what"].isin(what)]
    rows = rows[rows["growth_form"].isin(["all", "herb"])] if "growth_form" in rows else rows
    setback = np.nan_to_num(rows["setback_m"].to_numpy(float)) - keep_m
    return shapely.union_all(shapely.buffer(rows.geometry.to_numpy(), -setback, join_style="mitre"))


def paved(context: YardContext) -> BaseGeometry:
    """Return walks, drives and patios of a yard."""
    return without_setback(context.closed_ground, ("paving",))


def _barred_to_feet(context: YardContext) -> BaseGeometry:
    return without_setback(context.closed_ground, BARRED_TO_FEET)


def _play(lawn: BaseGeometry) -> BaseGeometry:
    """Return the largest round of lawn up to ``PLAY_RADIUS_M``; empty where none is large enough."""
    if lawn.is_empty:
        return Polygon()
    radius = shapely.maximum_inscribed_circle(lawn, tolerance=0.1)
    middle, least, most = Point(radius.coords[0]), *PLAY_RADIUS_M
    return middle.buffer(min(radius.length, most) - 0.05) if radius.length >= least else Polygon()


def passable(feet: BaseGeometry, taken: BaseGeometry) -> bool:
    """Return whether beds leave a way ``PASS_M`` wide to all that was in reach of one without them.

    Parameters
    ----------
    feet
        Ground that people may walk on.
    taken
        The beds.
    """
    half = PASS_M / 2 - 1e-3
    before = feet.buffer(-half, join_style="mitre")
    after = shapely.get_parts(feet.difference(taken).buffer(-half, join_style="mitre"))
    after = after[shapely.area(after) > 0.5]
    for part in shapely.get_parts(before):
        if part.area > 0.5 and (shapely.intersects(after, part)).sum() > 1:
            return False
    return True
