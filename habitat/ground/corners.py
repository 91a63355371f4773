"""Sight triangles: where streets meet, and where drives meet streets, so that drivers see who comes."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon

Vector = NDArray[np.float64]

LOOK_M = 10.0
"""A street's direction at a corner is that of its first metres from there."""

LEAST_DEG, MOST_DEG = 20.0, 160.0
"""Arms that meet at a flatter or sharper angle make no corner."""


@dataclass(frozen=True, slots=True)
class _Arm:
    """A street leaving a corner: unit direction, bearing [radians, anticlockwise from east], half width."""

    direction: Vector
    bearing: float
    half_m: float


def corner_triangles(lines: list[LineString], width_m: NDArray[np.float64], leg_m: float) -> list[Polygon]:
    """Return the sight triangles at all street corners.

    Parameters
    ----------
    lines
        Centre lines of streets; they may cross without being cut there.
    width_m
        (lines,) width of each street [m].
    leg_m
        Length of the triangle's two legs along the street edges, from where the edges meet [m].
    """
    if not lines or leg_m <= 0:
        return []
    out = []
    for _, arms in sorted(_arms(lines, width_m).items()):
        if len(arms) < 3:
            continue
        arms.sort(key=lambda arm: arm.bearing)
        for one, two in zip(arms, [*arms[1:], arms[0]], strict=True):
            between = np.degrees((two.bearing - one.bearing) % (2 * np.pi))
            if LEAST_DEG < between < MOST_DEG:
                out.append((_, one, two))
    return [_triangle(np.array(node), one, two, leg_m) for node, one, two in out]


def _arms(lines: list[LineString], width_m: NDArray[np.float64]) -> dict[tuple[float, float], list[_Arm]]:
    """Return the street arms at every place where street pieces end, the streets being cut at crossings."""
    pieces = shapely.get_parts(shapely.line_merge(shapely.node(shapely.union_all(lines))))
    pieces = pieces[shapely.length(pieces) > 0]
    source = shapely.STRtree(lines).nearest(shapely.line_interpolate_point(pieces, 0.5, normalized=True))
    out: dict[tuple[float, float], list[_Arm]] = {}
    for piece, width in zip(pieces, width_m[source], strict=True):
        for line in (piece, shapely.reverse(piece)):
            start, ahead = line.coords[0], line.interpolate(min(LOOK_M, line.length)).coords[0]
            away = np.subtract(ahead[:2], start[:2])
            length = float(np.hypot(*away))
            if length > 0:
                arm = _Arm(away / length, float(np.arctan2(away[1], away[0])), float(width) / 2)
                out.setdefault((round(start[0], 3), round(start[1], 3)), []).append(arm)
    return out


def _triangle(node: Vector, one: _Arm, two: _Arm, leg_m: float) -> Polygon:
    """Return the triangle between two arms, ``two`` anticlockwise of ``one``."""
    left, right = (
        np.array([-one.direction[1], one.direction[0]]),
        np.array([two.direction[1], -two.direction[0]]),
    )
    corner = node + np.linalg.solve(np.array([left, right]), np.array([one.half_m, two.half_m]))
    return Polygon([corner, corner + leg_m * one.direction, corner + leg_m * two.direction])


def drive_triangles(
    drives: gpd.GeoSeries, streets: gpd.GeoSeries, width_m: NDArray[np.float64], leg_m: float
) -> list[Polygon]:
    """Return the two sight triangles of each drive that reaches a street.

    The legs run along the street from the drive's side, and along the drive's side away from the street. A
    drive reaches a street if it comes within 4 m of its edge (a footway may lie between).

    Parameters
    ----------
    drives
        Their paving as polygons.
    streets
        Centre lines, in the CRS of the drives.
    width_m
        (streets,) width of each street [m].
    leg_m
        Length of the legs [m]; none are drawn for 0.
    """
    lines = [line for line in streets if line is not None and not line.is_empty]
    if not lines or leg_m <= 0:
        return []
    tree = shapely.STRtree(lines)
    out: list[Polygon] = []
    for drive in drives:
        if drive is None or drive.is_empty:
            continue
        nearest = int(tree.nearest(drive))
        gap = lines[nearest].distance(drive) - width_m[nearest] / 2
        if gap <= 4.0:
            out += _beside(drive, lines[nearest], leg_m)
    return out


def _beside(drive: Polygon, street: LineString, leg_m: float) -> list[Polygon]:
    """Return the triangles at either side of a drive's mouth."""
    near = shapely.get_coordinates(drive)
    away = np.array([street.distance(Point(p)) for p in near])
    mouth = near[away <= away.min() + 1.5]
    at = street.project(Point(mouth.mean(axis=0)))
    foot = np.array(street.interpolate(at).coords[0][:2])
    ends = [street.interpolate(np.clip(at + d, 0, street.length)).coords[0][:2] for d in (-1.0, 1.0)]
    along = np.subtract(ends[1], ends[0])
    if not np.hypot(*along) > 0:
        return []
    along = along / np.hypot(*along)
    inward = np.array([-along[1], along[0]])
    if inward @ (mouth.mean(axis=0) - foot) < 0:
        inward = -inward
    sides = (mouth - foot) @ along
    depth = float(away.min())
    out = []
    for side, sign in ((sides.min(), -1.0), (sides.max(), 1.0)):
        corner = foot + side * along + depth * inward
        out.append(Polygon([corner, corner + sign * leg_m * along, corner + leg_m * inward]))
    return out
