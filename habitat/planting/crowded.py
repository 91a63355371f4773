"""Full beds: kind after kind from one side of the bed, those of one spacing on one lattice.

Closer than drifts on lattices of their own, and harder to lay out by tape: only where those do not fit in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from habitat.planting._kernels import gap_points
from habitat.planting.lattice import fine_points, pack

STEPS, LEAST_STEP_M = 10, 0.04
"""Places tried per spacing either way where there is no lattice, and the least distance between two."""

Points = list[NDArray[np.float64]]


@dataclass(frozen=True, slots=True)
class Drift:
    """``count`` plants of one kind: spacing and height [m], and the region its stems may stand in.

    ``at`` (n, 2) are their places where these are fixed already.
    """

    count: int
    spacing_m: float
    height_m: float
    region: BaseGeometry
    at: NDArray[np.float64] | None = None


@dataclass(frozen=True, slots=True)
class _Crop:
    """Kinds of one spacing, in order, and places (n, 2) for them: on a lattice, and all over."""

    members: tuple[int, ...]
    spacing_m: float
    lattice: NDArray[np.float64]
    fine: NDArray[np.float64]

    @classmethod
    def read(cls, drifts: list[Drift], regions: list[BaseGeometry], members: list[int]) -> _Crop:
        region = min((regions[i] for i in members), key=lambda r: r.area)
        spacing = drifts[members[0]].spacing_m
        if region.is_empty:
            return cls(tuple(members), spacing, np.empty((0, 2)), np.empty((0, 2)))
        fine = fine_points(region, max(spacing / STEPS, LEAST_STEP_M))
        return cls(tuple(members), spacing, pack(region, spacing), fine)


def set_closer(drifts: list[Drift], regions: list[BaseGeometry], start: Points, *, layered: bool) -> Points:
    """Return the points (n, 2) of each drift in the fullest of some ways to fill a site.

    Tall kinds come first from the tall side (high v, low u), low ones first from the other.

    Parameters
    ----------
    drifts, regions
        What is to be planted, and where in the bed's axes.
    start
        Points that are fixed already, by drift.
    layered
        Whether tall kinds go in a row behind.
    """
    tall = sorted(range(len(drifts)), key=lambda i: (-drifts[i].height_m, i))
    crops = [_Crop.read(drifts, regions, members) for members in _by_spacing(drifts, tall)]
    turned = [replace(crop, members=crop.members[::-1]) for crop in crops[::-1]]
    ways = [((0.0, -1.0), crops), ((0.0, 1.0), turned)] if layered else []
    best = start
    for direction, order in (*ways, ((1.0, 0.0), crops), ((-1.0, 0.0), turned)):
        # A little off the axis, so that ties along it go from one end to the other.
        points = _filled_from(np.array(direction) + 1e-3, order, drifts, start)
        if ground_m2(drifts, points) > ground_m2(drifts, best) + 1e-9:
            best = points
        if complete(drifts, best):
            break
    return best


def complete(drifts: list[Drift], points: Points) -> bool:
    """Return whether every plant has its place."""
    return all(len(p) == d.count for p, d in zip(points, drifts, strict=True))


def ground_m2(drifts: list[Drift], points: Points) -> float:
    """Return the ground that the points placed take, by which drawings are compared."""
    return math.fsum(len(p) * d.spacing_m**2 for p, d in zip(points, drifts, strict=True))


def placed_so_far(drifts: list[Drift], points: Points) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return all points placed (n, 2), and half the spacing of each (n,)."""
    sizes = [np.full(len(p), d.spacing_m / 2) for p, d in zip(points, drifts, strict=True)]
    return np.vstack([np.empty((0, 2)), *points]), np.concatenate([np.empty(0), *sizes])


def _by_spacing(drifts: list[Drift], order: list[int]) -> list[list[int]]:
    """Return the drifts parted by spacing, each part at the place of its first."""
    parts: dict[float, list[int]] = {}
    for i in order:
        parts.setdefault(round(drifts[i].spacing_m, 3), []).append(i)
    return list(parts.values())


def _filled_from(
    direction: NDArray[np.float64], crops: list[_Crop], drifts: list[Drift], start: Points
) -> Points:
    """Return the points of crops set one after another, each foremost along a direction."""
    out = list(start)
    placed, reach = placed_so_far(drifts, start)
    for crop in crops:
        wanted = sum(drifts[i].count - len(out[i]) for i in crop.members)
        new = np.empty((0, 2))
        for places in (crop.lattice, crop.fine):
            if len(new) < wanted and len(places):
                found = gap_points(places, places @ direction, placed, reach, crop.spacing_m, wanted)
                new = found if len(found) > len(new) else new
        placed = np.vstack([placed, new])
        reach = np.concatenate([reach, np.full(len(new), crop.spacing_m / 2)])
        for i in crop.members:
            part = drifts[i].count - len(out[i])
            out[i], new = np.vstack([out[i], new[:part]]), new[part:]
    return out
