"""Exact shadows of extruded footprints, position by position, and sun paths of a fixed declination."""

from __future__ import annotations

import numpy as np
import shapely

from habitat.sun.path import SunPath


def lit_positions(footprints, heights, x, y, path: SunPath):
    """Count, for points on level ground outside all footprints, the positions that no prism shades.

    A point is shaded when the way towards the sun meets a footprint before the ray has risen to its height.
    """
    footprints, heights = np.asarray(footprints, object), np.asarray(heights, float)
    tree = shapely.STRtree(footprints)
    start = np.column_stack([x, y])
    points = shapely.points(start)
    lit = np.zeros(len(x), int)
    for azimuth, elevation in zip(path.azimuth, path.elevation, strict=True):
        reach = heights / np.tan(elevation)
        toward = np.array([np.sin(azimuth), np.cos(azimuth)])
        rays = shapely.linestrings(np.stack([start, start + toward * reach.max()], axis=1))
        ray, hit = tree.query(rays, predicate="intersects")
        met = shapely.distance(points[ray], shapely.intersection(rays[ray], footprints[hit]))
        dark = np.zeros(len(x), bool)
        dark[ray[met < reach[hit]]] = True
        lit += ~dark
    return lit


def declination_path(latitude_deg: float, declination_deg: float, step_minutes: float = 2.0) -> SunPath:
    """The sun's way over a day of fixed declination, from the sun vector; month holds the hour of the day."""
    count = round(1440 / step_minutes)
    hour = (np.arange(count) + 0.5) * step_minutes / 60
    h, lat, d = np.radians((hour - 12) * 15), np.radians(latitude_deg), np.radians(declination_deg)
    east = -np.cos(d) * np.sin(h)
    north = np.sin(d) * np.cos(lat) - np.cos(d) * np.sin(lat) * np.cos(h)
    up = np.sin(d) * np.sin(lat) + np.cos(d) * np.cos(lat) * np.cos(h)
    keep = up > 0
    azimuth = np.arctan2(east, north)[keep] % (2 * np.pi)
    return SunPath(hour[keep].astype(int), azimuth, np.arcsin(up[keep]), hour[keep], step_minutes / 60)
