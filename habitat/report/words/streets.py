"""Names of streets, and how they are written along the street."""

from __future__ import annotations

import math
from typing import Any

import shapely
from shapely.geometry import LineString, Point

from habitat.report.words.text import plain

NEAR_M = 5.0
"""So much of a street before and behind a point gives the direction there [m]."""


def named_streets(frame: Any) -> dict[str, LineString]:
    """Return the longest piece of each street that has a name, in the order of the layer."""
    found: dict[str, LineString] = {}
    if frame is None or "name" not in frame:
        return found
    for given, shape in zip(frame["name"], frame.geometry, strict=True):
        name = plain(given, 40)
        parts = shapely.get_parts(shape) if name and shape is not None else []
        for part in parts:
            if isinstance(part, LineString) and part.length > getattr(found.get(name), "length", 0.0):
                found[name] = part
    return found


def reading_angle(line: LineString, at: Point) -> float:
    """Return the angle [deg, clockwise, -90 to 90] at which a name is written along a line at a point.

    Examples
    --------
    >>> reading_angle(LineString([(0, 0), (100, 100)]), Point(50, 50))
    -45.0
    >>> reading_angle(LineString([(100, 0), (0, 0)]), Point(50, 0)) % 180
    0.0
    """
    along = line.project(at)
    one, two = line.interpolate(max(along - NEAR_M, 0.0)), line.interpolate(along + NEAR_M)
    angle = -math.degrees(math.atan2(two.y - one.y, two.x - one.x))
    return round((angle + 90.0) % 180.0 - 90.0, 1)
