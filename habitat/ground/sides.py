"""Front, back, left and right of a house, as people in the street would say it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from habitat.arrays import Floats

FRONT, BACK, LEFT, RIGHT = SIDES = ("front", "back", "left", "right")

DRIVE_M = 3.5
"""Width of the ground beside a house that is kept where only the side of the drive is told: 3 m (10 ft), and
half a metre to open a door; common practice."""

PLAY_M = 4.0
"""Greatest radius of the round of lawn that is kept to play on, as for yards with children: judgement."""

FAR_M = 1000.0
"""Beyond every yard."""


@dataclass(frozen=True, slots=True)
class Facing:
    """How a house stands: its middle, unit vectors to the street and left, half its depth and width [m].

    Left is that of somebody who looks at the house from the street.
    """

    middle: Floats
    ahead: Floats
    left: Floats
    depth_m: float
    width_m: float

    @classmethod
    def of(cls, house: BaseGeometry, street: BaseGeometry) -> Facing:
        """Read it off the smallest rectangle around a house; its front is turned most to the street."""
        corners = shapely.get_coordinates(shapely.oriented_envelope(house))[:4]
        ends = shapely.get_coordinates(shapely.shortest_line(house.centroid, street))
        edges = [corners[1] - corners[0], corners[2] - corners[1]]
        normals = [sign * edge / np.hypot(*edge) for edge in edges for sign in (1.0, -1.0)]
        ahead = max(normals, key=lambda n: round(float(n @ (ends[-1] - ends[0])), 6))
        left = np.array([ahead[1], -ahead[0]])
        middle = corners.mean(axis=0)
        depth, width = (float(np.abs((corners - middle) @ way).max()) for way in (ahead, left))
        return cls(middle, ahead, left, depth, width)

    def strip(self, ahead_m: tuple[float, float], left_m: tuple[float, float]) -> Polygon:
        """Return the rectangle between two distances ahead of the middle and two to its left."""
        ends = [(ahead_m[a], left_m[b]) for a, b in ((0, 0), (0, 1), (1, 1), (1, 0))]
        return Polygon([self.middle + a * self.ahead + b * self.left for a, b in ends])


def sides(yard: BaseGeometry, house: BaseGeometry, street: BaseGeometry) -> dict[str, BaseGeometry]:
    """Return the parts of a yard in front of, behind and beside its house.

    Parameters
    ----------
    yard
        The parcel.
    house
        Its largest building, or the yard itself where none is known: then its middle parts front and back.
    street
        The street that it faces.

    Returns
    -------
    dict
        Of SIDES -> polygon, perhaps empty; left and right reach from the street to the end of the yard.

    Examples
    --------
    >>> parts = sides(shapely.box(0, 0, 20, 40), shapely.box(4, 10, 14, 22), shapely.box(-9, -8, 99, -2))
    >>> {name: round(part.area) for name, part in parts.items()}  # the street lies south: right is east
    {'front': 200, 'back': 360, 'left': 160, 'right': 240}
    """
    to, whole = Facing.of(house, street), (-FAR_M, FAR_M)
    deep, wide = (0.0, 0.0) if house.equals(yard) else (to.depth_m, to.width_m)
    zones = {
        FRONT: to.strip((deep, FAR_M), whole),
        BACK: to.strip((-FAR_M, -deep), whole),
        LEFT: to.strip(whole, (wide, FAR_M)),
        RIGHT: to.strip(whole, (-FAR_M, -wide)),
    }
    return {name: yard.intersection(zone) for name, zone in zones.items()}


def drive_strip(yard: BaseGeometry, house: BaseGeometry, street: BaseGeometry, side: str) -> BaseGeometry:
    """Return the ground kept for a drive of which only the side is told: from the street to the house's back.

    Examples
    --------
    >>> yard, house = shapely.box(0, 0, 20, 40), shapely.box(4, 10, 14, 22)
    >>> drive_strip(yard, house, shapely.box(-9, -8, 99, -2), "right").bounds
    (14.0, 0.0, 17.5, 22.0)
    """
    if side not in (LEFT, RIGHT):
        return sides(yard, house, street)[side]
    to = Facing.of(house, street)
    near, far = to.width_m, to.width_m + DRIVE_M
    return yard.intersection(to.strip((-to.depth_m, FAR_M), (near, far) if side == LEFT else (-far, -near)))


def play_round(part: BaseGeometry) -> BaseGeometry:
    """Return the largest round of ground in a part of a yard, up to ``PLAY_M`` in radius; it may be empty.

    Examples
    --------
    >>> round(play_round(shapely.box(0, 0, 6, 30)).area, 1)
    28.2
    """
    if part.is_empty or part.area <= 0:
        return Polygon()
    radius = shapely.maximum_inscribed_circle(part, tolerance=0.05)
    return shapely.Point(radius.coords[0]).buffer(min(radius.length, PLAY_M))
