"""Drifts in a bed: which part each kind gets and where its plants stand, full beds kind after kind."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.affinity import affine_transform
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from habitat.planting.drawing._drift_kernels import drift_points, gap_points, zone_keys
from habitat.planting.drawing.lattice import DIGITS, fine_points, pack, region_edges

STEPS, LEAST_STEP_M = 10, 0.04
"""Places tried per spacing either way where there is no lattice, and the least distance between two."""

Points = list[NDArray[np.float64]]


@dataclass(frozen=True, slots=True)
class Drift:
    """``count`` plants of one kind: spacing and height [m], and the region its stems may stand in.

    ``at`` (n, 2) are their places where these are fixed already; ``turn`` is which group of its kind it is.
    """

    count: int
    spacing_m: float
    height_m: float
    region: BaseGeometry
    at: NDArray[np.float64] | None = None
    turn: int = 0


@dataclass(frozen=True, slots=True)
class Placed:
    """Plants that stand already: places (n, 2), and half the spacing of each (n,) [m]."""

    xy: NDArray[np.float64]
    reach: NDArray[np.float64]

    def beside(self, points: Points, spacing_m: Sequence[float]) -> Placed:
        """Return this with the points (n, 2) of some kinds, each with its spacing."""
        reach = [np.full(len(p), s / 2) for p, s in zip(points, spacing_m, strict=True)]
        return Placed(np.vstack([self.xy, *points]), np.concatenate([self.reach, *reach]))


NOTHING_PLACED = Placed(np.empty((0, 2)), np.empty(0))


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


def set_closer(
    drifts: list[Drift],
    regions: list[BaseGeometry],
    start: Points,
    *,
    layered: bool,
    near: Placed = NOTHING_PLACED,
) -> Points:
    """Return the points (n, 2) of each drift in the fullest of some layouts of a site.

    Tall kinds come first from the tall side (high v, low u), low ones first from the other.

    Parameters
    ----------
    drifts, regions
        What is to be planted, and where in the bed's axes.
    start
        Points that are fixed already, by drift.
    layered
        Whether tall kinds go in a row behind.
    near
        What stands in other beds.
    """
    tall = sorted(range(len(drifts)), key=lambda i: (-drifts[i].height_m, i))
    crops = [_Crop.read(drifts, regions, members) for members in _by_spacing(drifts, tall)]
    turned = [replace(crop, members=crop.members[::-1]) for crop in crops[::-1]]
    layouts = [((0.0, -1.0), crops), ((0.0, 1.0), turned)] if layered else []
    best = start
    for direction, order in (*layouts, ((1.0, 0.0), crops), ((-1.0, 0.0), turned)):
        # A little off the axis, so that ties along it go from one end to the other.
        points = _filled_from(np.array(direction) + 1e-3, order, drifts, start, near)
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


def placed_so_far(
    drifts: list[Drift], points: Points, near: Placed
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return all points placed (n, 2), in this bed and near it, and half the spacing of each (n,)."""
    all_of_it = near.beside(points, [d.spacing_m for d in drifts])
    return all_of_it.xy, all_of_it.reach


def _by_spacing(drifts: list[Drift], order: list[int]) -> list[list[int]]:
    """Return the drifts parted by spacing, each part at the place of its first."""
    parts: dict[float, list[int]] = {}
    for i in order:
        parts.setdefault(round(drifts[i].spacing_m, 3), []).append(i)
    return list(parts.values())


def _filled_from(
    direction: NDArray[np.float64], crops: list[_Crop], drifts: list[Drift], start: Points, near: Placed
) -> Points:
    """Return the points of crops set one after another, each foremost along a direction."""
    out = list(start)
    placed, reach = placed_so_far(drifts, start, near)
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


# Drifts in a bed: which part of the bed each kind gets, and the points its plants stand at.

TRIANGULAR_SHARE = math.sqrt(3.0) / 2.0
"""Ground per plant is this x spacing^2 in a triangular planting."""

ROOM_EACH = 1.05
"""A drift takes at least this much more than its lattice's ground, for its outline: judgement."""

LENGTH_STEP = 0.06
"""Share of the site by which a bed that is too small grows until all plants fit."""

TALLER_M = 0.3
"""Kinds that differ by less count as equally tall."""

WIDE_SHARE = 0.7
"""A kind whose spacing is more than this share of the bed's depth takes an end of the bed."""

TRIES = 3
"""Row offsets tried from either side for every drift."""


GAP_STEPS = 6
"""Places tried per spacing, either way, where gaps between drifts are filled."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Axes of a bed: ``u`` along it, ``v`` across towards the tall side; unit vectors (x, y)."""

    u: NDArray[np.float64]
    v: NDArray[np.float64]
    origin: NDArray[np.float64]

    def into(self, geometry: BaseGeometry) -> BaseGeometry:
        """Return a geometry in the bed's axes."""
        shift = (-float(self.u @ self.origin), -float(self.v @ self.origin))
        return affine_transform(geometry, [*self.u, *self.v, *shift])

    def points_into(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points (n, 2) of the map in the bed's axes."""
        return (points - self.origin) @ np.column_stack([self.u, self.v])

    def back(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points (n, 2) of the bed's axes as points on the map."""
        return points[:, :1] * self.u + points[:, 1:] * self.v + self.origin

    def back_shape(self, geometry: BaseGeometry) -> BaseGeometry:
        """Return a geometry of the bed's axes on the map."""
        return affine_transform(geometry, [self.u[0], self.v[0], self.u[1], self.v[1], *self.origin])


def frame_of(
    polygon: Polygon, along: tuple[float, float], back: tuple[float, float], latitude_deg: float
) -> tuple[Frame, bool]:
    """Return a bed's axes, and whether tall kinds go in a row behind (else at the far end of the bed).

    The tall side is away from the noon sun (north where the latitude is positive), half as much towards the
    wall or fence at the bed's back, and so away from the path or lawn.
    """
    tall = np.array([0.0, 1.0 if latitude_deg >= 0 else -1.0]) + 0.5 * np.asarray(back)
    u = np.asarray(along, float)
    v = np.array([-u[1], u[0]])
    layered = abs(float(v @ tall)) >= abs(float(u @ tall))
    u = u if u @ tall <= 0 else -u  # the tall end comes first
    v = v if v @ tall >= 0 else -v
    return Frame(u, v, shapely.get_coordinates(polygon.centroid)[0]), layered


def arrange(
    polygon: Polygon, drifts: list[Drift], frame: Frame, *, layered: bool, near: Placed = NOTHING_PLACED
) -> tuple[BaseGeometry, list[NDArray[np.float64]]]:
    """Return the bed, no longer than it must be, and the points (n, 2) of each drift.

    Parameters
    ----------
    polygon
        The bed site.
    drifts
        What is to be planted.
    frame, layered
        As ``frame_of`` returns them.
    near
        What stands in other beds, on the map.

    Returns
    -------
    tuple
        The bed (a part of the site that covers all points) and, per drift, its points on the map: fewer than
        wanted where the whole site does not hold them.
    """
    site = frame.into(polygon)
    regions = [frame.into(d.region) for d in drifts]
    near = Placed(np.round(frame.points_into(near.xy), DIGITS), near.reach)
    west, south, east, north = np.round(site.bounds, DIGITS).tolist()
    need = ROOM_EACH * sum(d.count * TRIANGULAR_SHARE * d.spacing_m**2 for d in drifts)
    start = [np.empty((0, 2)) if d.at is None else frame.points_into(d.at) for d in drifts]
    reach = max(
        (float(p[:, 0].max()) + d.spacing_m / 2 for p, d in zip(start, drifts, strict=True) if len(p)),
        default=west,
    )
    share = min(1.0, max(need / site.area, max(1.2, reach - west) / (east - west)))
    best = start
    while True:
        cut = round(west + share * (east - west), DIGITS)
        for tiers in (2, 1) if layered else (1,):
            zones = _zones(drifts, (west, south, cut, north), tiers)
            points = _place(drifts, regions, zones, cut, start, near)
            if ground_m2(drifts, points) > ground_m2(drifts, best) + 1e-9:
                best = points
        if share >= 1.0 or complete(drifts, best):
            break
        share = min(1.0, share + LENGTH_STEP)
    if not complete(drifts, best):
        closer = set_closer(drifts, regions, start, layered=layered, near=near)
        best = closer if ground_m2(drifts, closer) > ground_m2(drifts, best) + 1e-9 else best
    bed = _around(site, drifts, best)
    return frame.back_shape(bed), [frame.back(p) for p in best]


def _zones(
    drifts: list[Drift], box: tuple[float, float, float, float], tiers: int
) -> list[NDArray[np.float64]]:
    """Return a box per drift, as large as it needs: tall kinds in the back tier or at the tall end."""
    order = sorted(range(len(drifts)), key=lambda i: (-drifts[i].height_m, i))
    area = {i: drifts[i].count * drifts[i].spacing_m ** 2 for i in order}
    out: list[NDArray[np.float64]] = [np.zeros(4) for _ in drifts]
    # A shrub as wide as the bed would part the drifts beside it: it takes an end of the bed for itself.
    wide = [i for i in order if drifts[i].spacing_m > WIDE_SHARE * (box[3] - box[1])]
    rest = [i for i in order if i not in wide]
    whole = sum(area.values())
    turn = box[0] + (box[2] - box[0]) * sum(area[i] for i in wide) / whole
    groups = [(wide, (box[0], box[1], turn, box[3]))]
    lower = _lower_tier(rest, area, drifts) if tiers == 2 else 0
    if lower:
        share = sum(area[i] for i in rest[:lower]) / sum(area[i] for i in rest)
        middle = box[3] - (box[3] - box[1]) * share
        groups.append((rest[:lower], (turn, middle, box[2], box[3])))
        groups.append((rest[lower:], (turn, box[1], box[2], middle)))
    else:
        groups.append((rest, (turn, box[1], box[2], box[3])))
    for members, (u0, v0, u1, v1) in groups:
        at, total = u0, sum(area[i] for i in members)
        for i in sorted(members, key=lambda i: drifts[i].turn):  # groups of one kind stand apart
            stop = at + (u1 - u0) * area[i] / total
            out[i] = np.array([at, v0, stop, v1])
            at = stop
    return out


def _lower_tier(rest: list[int], area: dict[int, float], drifts: list[Drift]) -> int:
    """Return where the kinds, tallest first, part into a back and a front tier; 0 for one tier."""
    if len(rest) < 2 or drifts[rest[0]].height_m - drifts[rest[-1]].height_m < TALLER_M:
        return 0
    sums = np.cumsum([area[i] for i in rest])
    return 1 + int(np.argmin(np.abs(sums[:-1] - sums[-1] / 2)))


def _place(
    drifts: list[Drift],
    regions: list[BaseGeometry],
    zones: list[NDArray[np.float64]],
    cut: float,
    start: list[NDArray[np.float64]],
    near: Placed,
) -> list[NDArray[np.float64]]:
    """Place the drifts one after another beside what stands, wide spacings first, then along the bed."""
    out = list(start)
    placed, reach = placed_so_far(drifts, start, near)
    order = sorted(range(len(drifts)), key=lambda i: (-drifts[i].spacing_m, zones[i][0], -zones[i][3], i))
    for lattice in (True, False):
        for i in order:
            drift, wanted = drifts[i], drifts[i].count - len(out[i])
            if wanted <= 0 or regions[i].is_empty:
                continue
            if lattice:
                edges = _cut_edges(np.round(region_edges(regions[i]), DIGITS), cut)
                new = np.empty((0, 2))
                if len(edges):
                    new = drift_points(edges, zones[i], placed, reach, drift.spacing_m, wanted, TRIES)
            else:  # what the lattices left over is set into the gaps
                fine = fine_points(regions[i], drift.spacing_m / GAP_STEPS)
                fine = fine[fine[:, 0] <= cut]
                new = gap_points(fine, zone_keys(fine, zones[i]), placed, reach, drift.spacing_m, wanted)
            out[i] = np.vstack([out[i], new])
            placed = np.vstack([placed, new])
            reach = np.concatenate([reach, np.full(len(new), drift.spacing_m / 2)])
    return out


def _cut_edges(edges: NDArray[np.float64], cut: float) -> NDArray[np.float64]:
    """Return the edges of the part of a region up to ``cut``, closed along the cut."""
    if not len(edges) or edges[:, [0, 2]].max() <= cut:
        return edges
    out = edges[(edges[:, 0] <= cut) | (edges[:, 2] <= cut)].copy()
    for a, b in ((0, 2), (2, 0)):
        over = out[:, a] > cut
        t = (cut - out[over, b]) / (out[over, a] - out[over, b])
        out[over, a + 1] = out[over, b + 1] + t * (out[over, a + 1] - out[over, b + 1])
        out[over, a] = cut
    crossings = np.sort(np.concatenate([out[out[:, 0] == cut, 1], out[out[:, 2] == cut, 3]]))
    caps = [[cut, low, cut, high] for low, high in zip(crossings[::2], crossings[1::2], strict=False)]
    return np.vstack([out, caps]) if caps else out


def _around(site: BaseGeometry, drifts: list[Drift], points: list[NDArray[np.float64]]) -> BaseGeometry:
    """Return the part of the site that the points need, cut straight, at least 1.2 m wide."""
    kept = [(p, d) for p, d in zip(points, drifts, strict=True) if len(p)]
    if not kept:
        return Polygon()
    low = np.min([p.min(axis=0) - d.spacing_m / 2 for p, d in kept], axis=0)
    high = np.max([p.max(axis=0) + d.spacing_m / 2 for p, d in kept], axis=0)
    west, south, east, north = site.bounds
    low, high = np.maximum(low, (west, south)), np.minimum(high, (east, north))
    short = np.maximum(1.2 - (high - low), 0.0)
    low = np.maximum(low - short / 2, (west, south))
    high = np.minimum(low + np.maximum(high - low, 1.2), (east, north))
    low = np.maximum(np.minimum(low, high - 1.2), (west, south))
    bed = site.intersection(shapely.box(*low, *high))
    stems = shapely.multipoints(np.vstack([p for p, _ in kept]))
    if bed.geom_type != "Polygon" or not bed.buffer(1e-6).covers(stems):
        return site
    return bed
