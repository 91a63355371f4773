"""Compiled loops of planting geometry: plain arrays in and out, nothing raised."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

TOLERANCE_M = 1e-6
"""Points this close to an edge count as on it."""

FINE = 10
"""Places tried per spacing, either way, where plants are set one by one."""


@njit(cache=True)
def rotate_edges(edges: NDArray[np.float64], angle: float) -> NDArray[np.float64]:
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
def row_crossings(edges: NDArray[np.float64], v: float, out: NDArray[np.float64]) -> int:
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
    edges: NDArray[np.float64], first_v: float, high: float, shape: tuple[float, float, float], least: int
) -> tuple[int, float]:
    """Return the greatest count over all phases of one lattice in its own axes, and a phase that reaches it.

    ``shape`` is (spacing, gap of rows, shift of odd rows). A stretch of length L holds floor(L / s) points,
    and one more while the phase lies in an arc of length L mod s that starts at the stretch's start: the
    deepest overlap of arcs on the circle of phases is the answer. ``high`` is where the last row may lie.
    Where no phase can reach ``least``, the floors alone come back.
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
    if n == 0 or base + n < least:
        return base, 0.0
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
) -> NDArray[np.float64]:
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
                total, phase = count_lattice(turned, first, high, shape, int(out[0]) + 1)
                if total > out[0]:
                    out[0], out[1], out[2], out[3], out[4] = total, triangular, angle, first, phase
    return out


@njit(cache=True)
def row_count(first: float, high: float, gap: float) -> int:
    """Return how many rows there are from the first to ``high``, one that ends just beyond it included."""
    return int((high - first + 4 * TOLERANCE_M) / gap) + 1


@njit(cache=True)
def row_offset(low: float, high: float, gap: float, k: int, steps: int) -> float:
    """Return where the first row lies in the k-th of ``2 steps`` tries, near side first."""
    if k < steps:
        return low + k * gap / steps
    first = high - (k - steps) * gap / steps
    return first - math.floor((first - low) / gap) * gap


@njit(cache=True)
def lattice_points(
    turned: NDArray[np.float64], first: float, phase: float, shape: tuple[float, float, float]
) -> NDArray[np.float64]:
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
) -> NDArray[np.int64]:
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
def fine_points(edges: NDArray[np.float64], step: float) -> NDArray[np.float64]:
    """Return points (n, 2) along edges (n, 4) and on a grid inside, at most ``step`` apart."""
    west, east = min(edges[:, 0].min(), edges[:, 2].min()), max(edges[:, 0].max(), edges[:, 2].max())
    south, north = min(edges[:, 1].min(), edges[:, 3].min()), max(edges[:, 1].max(), edges[:, 3].max())
    columns, rows = math.ceil((east - west) / step), math.ceil((north - south) / step)
    parts = np.empty(edges.shape[0], np.int64)
    for i in range(edges.shape[0]):
        length = math.hypot(edges[i, 2] - edges[i, 0], edges[i, 3] - edges[i, 1])
        parts[i] = max(1, math.ceil(length / step))
    out = np.empty((parts.sum() + rows * columns, 2))
    n = 0
    for i in range(edges.shape[0]):
        for k in range(parts[i]):
            share = k / parts[i]
            out[n, 0] = edges[i, 0] + share * (edges[i, 2] - edges[i, 0])
            out[n, 1] = edges[i, 1] + share * (edges[i, 3] - edges[i, 1])
            n += 1
    crossings = np.empty(edges.shape[0])
    for row in range(rows):
        v = south + row * step
        found = row_crossings(edges, v, crossings)
        for k in range(0, found - 1, 2):
            first = math.floor((crossings[k] - west) / step) + 1
            for column in range(first, math.ceil((crossings[k + 1] - west) / step)):
                out[n, 0], out[n, 1] = west + column * step, v
                n += 1
    return out[:n]


@njit(cache=True)
def best_lattice(
    edges: NDArray[np.float64],
    along: NDArray[np.float64],
    turns: NDArray[np.float64],
    spacing: float,
    numbers: tuple[int, int, float],
) -> NDArray[np.float64]:
    """Return the fullest lattice as ``search_lattice`` does; where few fit, ``turns`` are tried too.

    ``numbers`` are row offsets, the count below which few fit, and how many times more another turn needs.
    """
    steps, few, bonus = numbers
    best = search_lattice(edges, along, spacing, steps)
    if best[0] < few:
        other = search_lattice(edges, turns, spacing, steps)
        if other[0] > best[0] * bonus:
            best = other
    return best


@njit(cache=True)
def count_full(
    edges: NDArray[np.float64],
    along: NDArray[np.float64],
    turns: NDArray[np.float64],
    sweeps: NDArray[np.float64],
    spacings: NDArray[np.float64],
    numbers: tuple[int, int, float],
) -> NDArray[np.int64]:
    """Return how many plants fill a region at each spacing: on a lattice, or set one by one where few fit."""
    out = np.empty(spacings.size, np.int64)
    for k in range(spacings.size):
        out[k] = int(best_lattice(edges, along, turns, spacings[k], numbers)[0])
        if out[k] < numbers[1]:
            places = fine_points(edges, spacings[k] / FINE)
            out[k] = max(out[k], sweep_fill(places, sweeps, spacings[k]).size, 1)
    return out


@njit(cache=True)
def clear_of(
    points: NDArray[np.float64],
    reach: NDArray[np.float64],
    placed: NDArray[np.float64],
    radius: float,
) -> NDArray[np.bool_]:
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
def _free_arcs(x: float, y: float, r: float, starts: NDArray[np.float64], ends: NDArray[np.float64]) -> float:
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
def discs_area(x: NDArray[np.float64], y: NDArray[np.float64], r: NDArray[np.float64]) -> float:
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


@njit(cache=True)
def best_cuts(features: NDArray[np.float64], least: int, most: int, price: float) -> NDArray[np.int64]:
    """Return where the last stretch before each module (n + 1,) begins in the cheapest cut, -1 without one.

    A stretch of ``least`` to ``most`` modules costs ``price`` and the variance within it, summed over modules
    and averaged over factors.
    """
    n, factors = features.shape
    total, square = np.zeros((n + 1, factors)), np.zeros(n + 1)
    for i in range(n):
        square[i + 1] = square[i]
        for j in range(factors):
            total[i + 1, j] = total[i, j] + features[i, j]
            square[i + 1] += features[i, j] ** 2 / factors
    best, origin = np.full(n + 1, np.inf), np.full(n + 1, -1)
    best[0] = 0.0
    for stop in range(least, n + 1):
        for start in range(max(0, stop - most), stop - least + 1):
            if best[start] == np.inf:
                continue
            sums = 0.0
            for j in range(factors):
                sums += (total[stop, j] - total[start, j]) ** 2 / factors
            spread = square[stop] - square[start] - sums / (stop - start)
            cost = best[start] + max(spread, 0.0) + price
            if cost < best[stop]:
                best[stop], origin[stop] = cost, start
    return origin
