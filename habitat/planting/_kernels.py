"""Compiled loops of planting geometry: plain arrays in and out, nothing raised."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

TOLERANCE_M = 1e-6
"""Points this close to an edge count as on it."""


@njit(cache=True)
def rotate_edges(edges: NDArray[np.float64], angle: float) -> NDArray[np.float64]:  # pragma: no cover
    """Return edges (n, 4) as (u0, v0, u1, v1) in axes turned by ``angle`` [rad]: u along rows, v across."""
    c, s = math.cos(angle), math.sin(angle)
    out = np.empty_like(edges)
    for i in range(edges.shape[0]):
        for k in (0, 2):
            x, y = edges[i, k], edges[i, k + 1]
            out[i, k] = c * x + s * y
            out[i, k + 1] = c * y - s * x
    return out


@njit(cache=True)
def row_intervals(edges: NDArray[np.float64], v: float) -> NDArray[np.float64]:  # pragma: no cover
    """Return the sorted crossings of the line at ``v`` with the edges: pairs are the stretches inside."""
    crossings = np.empty(edges.shape[0])
    n = 0
    for i in range(edges.shape[0]):
        v0, v1 = edges[i, 1], edges[i, 3]
        if (v0 <= v) != (v1 <= v):
            crossings[n] = edges[i, 0] + (v - v0) / (v1 - v0) * (edges[i, 2] - edges[i, 0])
            n += 1
    return np.sort(crossings[:n])


@njit(cache=True)
def lattice_rows(
    edges: NDArray[np.float64], first_v: float, gap: float, count: int, shift: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:  # pragma: no cover
    """Return start and length of every stretch inside, starts moved back by the shift of odd rows."""
    starts = np.empty(count * max(1, edges.shape[0] // 2 + 1))
    lengths = np.empty_like(starts)
    n = 0
    for row in range(count):
        crossings = row_intervals(edges, first_v + row * gap)
        back = shift if row % 2 else 0.0
        for k in range(0, crossings.size - 1, 2):
            starts[n] = crossings[k] - TOLERANCE_M - back
            lengths[n] = crossings[k + 1] - crossings[k] + 2 * TOLERANCE_M
            n += 1
    return starts[:n], lengths[:n]


@njit(cache=True)
def best_phase(
    starts: NDArray[np.float64], lengths: NDArray[np.float64], spacing: float
) -> tuple[int, float]:  # pragma: no cover
    """Return the greatest count of points ``spacing`` apart over all phases, and a phase that reaches it.

    A stretch of length L holds floor(L / s) points, and one more while the phase lies in an arc of length
    L mod s that starts at the stretch's start: the deepest overlap of arcs on the circle of phases is the answer.
    """
    n = starts.size
    if n == 0:
        return 0, 0.0
    base, wraps = 0, 0
    begin, end = np.empty(n), np.empty(n)
    for i in range(n):
        whole = math.floor(lengths[i] / spacing)
        base += whole
        begin[i] = starts[i] - math.floor(starts[i] / spacing) * spacing
        stop = begin[i] + lengths[i] - whole * spacing
        if stop >= spacing:
            wraps += 1
            stop -= spacing
        end[i] = stop
    begin.sort()
    end.sort()
    best, phase, closed = -1, 0.0, 0
    for i in range(n):
        while closed < n and end[closed] < begin[i]:
            closed += 1
        over = i + 1
        while over < n and begin[over] == begin[i]:
            over += 1
        depth = over + wraps - closed
        if depth > best:
            best, phase = depth, begin[i]
    return base + best, phase


@njit(cache=True)
def search_lattice(
    edges: NDArray[np.float64],
    angles: NDArray[np.float64],
    spacing: float,
    gap: float,
    shift: float,
    steps: int,
) -> NDArray[np.float64]:  # pragma: no cover
    """Return, per angle, (count, first row, phase) of the best of ``steps`` row offsets and all phases.

    ``edges`` (n, 4) are the region's edges; ``gap`` the distance of rows and ``shift`` the offset of odd rows [m].
    """
    out = np.zeros((angles.size, 3))
    for a in range(angles.size):
        turned = rotate_edges(edges, angles[a])
        low = min(turned[:, 1].min(), turned[:, 3].min()) + TOLERANCE_M
        high = max(turned[:, 1].max(), turned[:, 3].max()) - TOLERANCE_M
        for k in range(2 * steps):
            if k < steps:
                first = low + k * gap / steps
            else:  # the same, counted from the far side, so that its edge carries a row too
                first = high - k * gap / steps
                first -= math.floor((first - low) / gap) * gap
            if first > high:
                continue
            count = int(math.floor((high - first) / gap)) + 1
            starts, lengths = lattice_rows(turned, first, gap, count, shift)
            total, phase = best_phase(starts, lengths, spacing)
            if total > out[a, 0]:
                out[a, 0], out[a, 1], out[a, 2] = total, first, phase
    return out


@njit(cache=True)
def lattice_points(
    edges: NDArray[np.float64],
    angle: float,
    spacing: float,
    gap: float,
    shift: float,
    first: float,
    phase: float,
) -> NDArray[np.float64]:  # pragma: no cover
    """Return the points (n, 2) of one lattice inside the region, row by row."""
    turned = rotate_edges(edges, angle)
    high = max(turned[:, 1].max(), turned[:, 3].max())
    count = int(math.floor((high - first) / gap)) + 1
    c, s = math.cos(angle), math.sin(angle)
    rows = [row_intervals(turned, first + row * gap) for row in range(count)]
    size = 0
    for crossings in rows:
        for k in range(0, crossings.size - 1, 2):
            size += int((crossings[k + 1] - crossings[k]) / spacing) + 2
    out = np.empty((size, 2))
    n = 0
    for row in range(count):
        crossings = rows[row]
        v = first + row * gap
        origin = phase + (shift if row % 2 else 0.0)
        for k in range(0, crossings.size - 1, 2):
            lo, hi = crossings[k] - 2 * TOLERANCE_M, crossings[k + 1] + 2 * TOLERANCE_M
            u = origin + math.ceil((lo - origin) / spacing) * spacing
            while u <= hi:
                out[n, 0] = c * u - s * v
                out[n, 1] = s * u + c * v
                n += 1
                u += spacing
    return out[:n]


@njit(cache=True)
def clear_of(
    points: NDArray[np.float64],
    reach: NDArray[np.float64],
    placed: NDArray[np.float64],
    radius: float,
) -> NDArray[np.bool_]:  # pragma: no cover
    """Tell which points lie at least ``radius + reach`` from every placed point (reach per placed point)."""
    out = np.ones(points.shape[0], np.bool_)
    for i in range(points.shape[0]):
        for j in range(placed.shape[0]):
            dx, dy = points[i, 0] - placed[j, 0], points[i, 1] - placed[j, 1]
            need = radius + reach[j] - TOLERANCE_M
            if dx * dx + dy * dy < need * need:
                out[i] = False
                break
    return out


@njit(cache=True)
def zone_keys(
    points: NDArray[np.float64], zone: NDArray[np.float64]
) -> NDArray[np.float64]:  # pragma: no cover
    """Return how far each point lies outside a box (u0, v0, u1, v1), plus a little of its way from the middle."""
    u, v = (zone[0] + zone[2]) / 2, (zone[1] + zone[3]) / 2
    size = max(zone[2] - zone[0], zone[3] - zone[1]) + 1e-9
    out = np.empty(points.shape[0])
    for i in range(points.shape[0]):
        du = max(zone[0] - points[i, 0], points[i, 0] - zone[2], 0.0)
        dv = max(zone[1] - points[i, 1], points[i, 1] - zone[3], 0.0)
        out[i] = math.hypot(du, dv) + 0.05 * math.hypot(points[i, 0] - u, points[i, 1] - v) / size
    return out


@njit(cache=True)
def drift_points(
    edges: NDArray[np.float64],
    zone: NDArray[np.float64],
    placed: NDArray[np.float64],
    reach: NDArray[np.float64],
    spacing: float,
    wanted: int,
    tries: int,
) -> NDArray[np.float64]:  # pragma: no cover
    """Return up to ``wanted`` points of one lattice, clear of what is placed, nearest to a zone.

    Rows run along either axis of the frame; square and triangular, ``tries`` row offsets and phases are
    compared: most points first, then nearest to the zone. Nearest first in the result.
    """
    best = np.empty((0, 2))
    best_cost = np.inf
    for option in range(4):
        angle = 0.0 if option % 2 == 0 else math.pi / 2
        gap = spacing if option < 2 else spacing * math.sqrt(3.0) / 2
        shift = 0.0 if option < 2 else spacing / 2
        turned = rotate_edges(edges, angle)
        low = min(turned[:, 1].min(), turned[:, 3].min()) + TOLERANCE_M
        high = max(turned[:, 1].max(), turned[:, 3].max()) - TOLERANCE_M
        left = min(turned[:, 0].min(), turned[:, 2].min()) + TOLERANCE_M
        for k in range(2 * tries):
            first = low + k * gap / tries
            if k >= tries:
                first = high - (k - tries) * gap / tries
                first -= math.floor((first - low) / gap) * gap
            if first > high:
                continue
            for t in range(2 * tries):
                phase = left + t * spacing / (2 * tries)
                points = lattice_points(edges, angle, spacing, gap, shift, first, phase)
                points = points[clear_of(points, reach, placed, spacing / 2)]
                if points.shape[0] < min(wanted, best.shape[0]):
                    continue
                keys = zone_keys(points, zone)
                order = np.argsort(keys, kind="mergesort")[:wanted]
                cost = keys[order].sum()
                if order.size > best.shape[0] or cost < best_cost - 1e-9:
                    best, best_cost = points[order], cost
    return best


@njit(cache=True)
def discs_area(
    x: NDArray[np.float64], y: NDArray[np.float64], r: NDArray[np.float64]
) -> float:  # pragma: no cover
    """Return the area of a union of discs, exactly: the integral along the arcs that no other disc covers.

    Of equal discs the first counts. Green's theorem: area = half the sum over free arcs of x dy - y dx.
    """
    n = x.size
    total = 0.0
    cx, cy = x.mean(), y.mean()
    for i in range(n):
        starts, ends = np.empty(2 * n), np.empty(2 * n)
        m = 0
        hidden = False
        for j in range(n):
            if j == i:
                continue
            dx, dy = x[j] - x[i], y[j] - y[i]
            d = math.hypot(dx, dy)
            if d >= r[i] + r[j]:
                continue
            if d <= r[j] - r[i]:
                if r[j] > r[i] or d > 0 or j < i:
                    hidden = True
                    break
                continue
            if d <= r[i] - r[j]:
                continue
            half = math.acos(max(-1.0, min(1.0, (r[i] ** 2 + d * d - r[j] ** 2) / (2 * r[i] * d))))
            middle = math.atan2(dy, dx)
            a, b = middle - half, middle + half
            if a < -math.pi:
                starts[m], ends[m] = a + 2 * math.pi, math.pi
                starts[m + 1], ends[m + 1] = -math.pi, b
                m += 2
            elif b > math.pi:
                starts[m], ends[m] = a, math.pi
                starts[m + 1], ends[m + 1] = -math.pi, b - 2 * math.pi
                m += 2
            else:
                starts[m], ends[m] = a, b
                m += 1
        if hidden:
            continue
        order = np.argsort(starts[:m])
        at = -math.pi
        for k in range(m + 1):
            upto = starts[order[k]] if k < m else math.pi
            if upto > at:
                total += (
                    0.5
                    * r[i]
                    * (
                        r[i] * (upto - at)
                        + (x[i] - cx) * (math.sin(upto) - math.sin(at))
                        - (y[i] - cy) * (math.cos(upto) - math.cos(at))
                    )
                )
            if k < m:
                at = max(at, ends[order[k]])
    return total
