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
def row_crossings(edges: NDArray[np.float64], v: float, out: NDArray[np.float64]) -> int:  # pragma: no cover
    """Write the sorted crossings of the line at ``v`` with the edges into ``out``, and return how many.

    Pairs of crossings are the stretches inside.
    """
    n = 0
    for i in range(edges.shape[0]):
        v0, v1 = edges[i, 1], edges[i, 3]
        if (v0 <= v) != (v1 <= v):
            u = edges[i, 0] + (v - v0) / (v1 - v0) * (edges[i, 2] - edges[i, 0])
            k = n
            while k > 0 and out[k - 1] > u:
                out[k] = out[k - 1]
                k -= 1
            out[k] = u
            n += 1
    return n


@njit(cache=True)
def count_lattice(
    edges: NDArray[np.float64], first_v: float, high: float, shape: tuple[float, float, float]
) -> tuple[int, float]:  # pragma: no cover
    """Return the greatest count over all phases of one lattice in its own axes, and a phase that reaches it.

    ``shape`` is (spacing, gap of rows, shift of odd rows). A stretch of length L holds floor(L / s) points,
    and one more while the phase lies in an arc of length L mod s that starts at the stretch's start: the
    deepest overlap of arcs on the circle of phases is the answer. ``high`` is where the last row may lie.
    """
    spacing, gap, shift = shape
    rows = row_count(first_v, high, gap)
    most = rows * max(1, edges.shape[0] // 2)
    begin, end, crossings = np.empty(most), np.empty(most), np.empty(edges.shape[0])
    base, wraps, n = 0, 0, 0
    for row in range(rows):
        found = row_crossings(edges, min(first_v + row * gap, high), crossings)
        back = shift if row % 2 else 0.0
        for k in range(0, found - 1, 2):
            start = crossings[k] - TOLERANCE_M - back
            length = crossings[k + 1] - crossings[k] + 2 * TOLERANCE_M
            whole = math.floor(length / spacing)
            base += whole
            begin[n] = start - math.floor(start / spacing) * spacing
            end[n] = begin[n] + length - whole * spacing
            if end[n] >= spacing:
                wraps += 1
                end[n] -= spacing
            n += 1
    if n == 0:
        return 0, 0.0
    begin, end = np.sort(begin[:n]), np.sort(end[:n])
    best, phase, closed = -1, 0.0, 0
    for i in range(n):
        while closed < n and end[closed] < begin[i]:
            closed += 1
        if i + 1 < n and begin[i + 1] == begin[i]:
            continue
        if i + 1 + wraps - closed > best:
            best, phase = i + 1 + wraps - closed, begin[i]
    return base + best, phase


@njit(cache=True)
def search_lattice(
    edges: NDArray[np.float64], angles: NDArray[np.float64], spacing: float, steps: int
) -> NDArray[np.float64]:  # pragma: no cover
    """Return (count, triangular 1 or square 0, angle, first row, phase) of the fullest lattice found.

    Both kinds, each angle [rad], ``2 steps`` row offsets and all phases; the first found wins ties. Rows of a
    triangular lattice run in three directions, so that it is tried at a right angle too.
    """
    out = np.zeros(5)
    for a in range(2 * angles.size):
        angle = angles[a % angles.size] + (math.pi / 2 if a >= angles.size else 0.0)
        turned = rotate_edges(edges, angle)
        low = min(turned[:, 1].min(), turned[:, 3].min()) + TOLERANCE_M
        high = max(turned[:, 1].max(), turned[:, 3].max()) - TOLERANCE_M
        for triangular in (1, 0):
            if a >= angles.size and not triangular:
                continue
            gap = spacing * math.sqrt(0.75) if triangular else spacing
            shape = (spacing, gap, spacing / 2 if triangular else 0.0)
            for k in range(2 * steps):
                first = row_offset(low, high, gap, k, steps)
                if first > high:
                    continue
                total, phase = count_lattice(turned, first, high, shape)
                if total > out[0]:
                    out[0], out[1], out[2], out[3], out[4] = total, triangular, angle, first, phase
    return out


@njit(cache=True)
def row_count(first: float, high: float, gap: float) -> int:  # pragma: no cover
    """Return how many rows there are from the first to ``high``, one that ends just beyond it included."""
    return int((high - first + 4 * TOLERANCE_M) / gap) + 1


@njit(cache=True)
def row_offset(low: float, high: float, gap: float, k: int, steps: int) -> float:  # pragma: no cover
    """Return where the first row lies in the k-th of ``2 steps`` tries, near side first."""
    if k < steps:
        return low + k * gap / steps
    first = high - (k - steps) * gap / steps
    return first - math.floor((first - low) / gap) * gap


@njit(cache=True)
def lattice_points(
    turned: NDArray[np.float64], first: float, phase: float, shape: tuple[float, float, float]
) -> NDArray[np.float64]:  # pragma: no cover
    """Return the points (n, 2) of one lattice inside edges in the lattice's own axes, row by row.

    ``shape`` is (spacing, gap of rows, shift of odd rows) [m].
    """
    spacing, gap, shift = shape
    high = max(turned[:, 1].max(), turned[:, 3].max()) - TOLERANCE_M
    left = min(turned[:, 0].min(), turned[:, 2].min())
    right = max(turned[:, 0].max(), turned[:, 2].max())
    rows = row_count(first, high, gap)
    out = np.empty((rows * (int((right - left) / spacing) + 1 + turned.shape[0]), 2))
    crossings = np.empty(turned.shape[0])
    n = 0
    for row in range(rows):
        v = min(first + row * gap, high)
        origin = phase + (shift if row % 2 else 0.0)
        found = row_crossings(turned, v, crossings)
        for k in range(0, found - 1, 2):
            lo, hi = crossings[k] - 2 * TOLERANCE_M, crossings[k + 1] + 2 * TOLERANCE_M
            u = origin + math.ceil((lo - origin) / spacing) * spacing
            while u <= hi:
                out[n, 0], out[n, 1] = u, v
                n += 1
                u += spacing
    return out[:n]


@njit(cache=True)
def sweep_fill(
    candidates: NDArray[np.float64], turns: NDArray[np.float64], spacing: float
) -> NDArray[np.int64]:  # pragma: no cover
    """Return the most candidates kept, over the directions, when each stays if clear of all kept before it.

    A sweep takes the candidates in order along one direction [rad]; a point is clear at ``spacing`` or more.
    """
    n = candidates.shape[0]
    best = np.empty(0, np.int64)
    kept = np.empty(n, np.int64)
    least = (spacing - TOLERANCE_M) ** 2
    for turn in turns:
        key = candidates[:, 0] * math.cos(turn) + candidates[:, 1] * math.sin(turn)
        order = np.argsort(key, kind="mergesort")
        m = 0
        for i in order:
            free = True
            for j in range(m - 1, -1, -1):
                if key[i] - key[kept[j]] >= spacing:
                    continue
                dx = candidates[i, 0] - candidates[kept[j], 0]
                dy = candidates[i, 1] - candidates[kept[j], 1]
                if dx * dx + dy * dy < least:
                    free = False
                    break
            if free:
                kept[m] = i
                m += 1
        if m > best.size:
            best = kept[:m].copy()
    return best


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
    """Return how far points lie outside a box (u0, v0, u1, v1), and a little of the way from its middle."""
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
    """Return up to ``wanted`` points of one lattice, clear of what is placed, nearest to a zone first.

    Rows run along either axis of the frame; square and triangular, ``2 tries`` row offsets and phases are
    compared: most points first, then nearest to the zone.
    """
    best = np.empty((0, 2))
    best_cost = np.inf
    for option in range(4):
        across = option % 2 == 1
        gap = spacing if option < 2 else spacing * math.sqrt(3.0) / 2
        shape = (spacing, gap, 0.0 if option < 2 else spacing / 2)
        turned = rotate_edges(edges, math.pi / 2) if across else edges
        low = min(turned[:, 1].min(), turned[:, 3].min()) + TOLERANCE_M
        high = max(turned[:, 1].max(), turned[:, 3].max()) - TOLERANCE_M
        left = min(turned[:, 0].min(), turned[:, 2].min()) + TOLERANCE_M
        for k in range(2 * tries):
            first = row_offset(low, high, gap, k, tries)
            if first > high:
                continue
            for t in range(2 * tries):
                points = lattice_points(turned, first, left + t * spacing / (2 * tries), shape)
                if across:  # back into the frame's axes
                    points = np.column_stack((-points[:, 1], points[:, 0]))
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
def gap_points(
    candidates: NDArray[np.float64],
    keys: NDArray[np.float64],
    placed: NDArray[np.float64],
    reach: NDArray[np.float64],
    spacing: float,
    wanted: int,
) -> NDArray[np.float64]:  # pragma: no cover
    """Return up to ``wanted`` candidates, smallest keys first, clear of all others."""
    clear = clear_of(candidates, reach, placed, spacing / 2)
    free = candidates[clear]
    order = np.argsort(keys[clear], kind="mergesort")
    kept = np.empty((wanted, 2))
    n = 0
    least = (spacing - TOLERANCE_M) ** 2
    for i in order:
        if n == wanted:
            break
        alone = True
        for j in range(n - 1, -1, -1):
            dx, dy = free[i, 0] - kept[j, 0], free[i, 1] - kept[j, 1]
            if dx * dx + dy * dy < least:
                alone = False
                break
        if alone:
            kept[n] = free[i]
            n += 1
    return kept[:n]


@njit(cache=True)
def _free_arcs(
    x: float, y: float, r: float, starts: NDArray[np.float64], ends: NDArray[np.float64]
) -> float:  # pragma: no cover
    """Return half the sum of x dy - y dx along a circle, outside the covered arcs [rad]."""
    order = np.argsort(starts)
    total, at = 0.0, -math.pi
    for k in range(starts.size + 1):
        upto = starts[order[k]] if k < starts.size else math.pi
        if upto > at:
            turn = r * (upto - at) + x * (math.sin(upto) - math.sin(at)) - y * (math.cos(upto) - math.cos(at))
            total += 0.5 * r * turn
        if k < starts.size:
            at = max(at, ends[order[k]])
    return total


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
        total += _free_arcs(x[i] - cx, y[i] - cy, r[i], starts[:m], ends[:m])
    return total
