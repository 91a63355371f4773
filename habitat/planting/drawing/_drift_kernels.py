"""Compiled loops of drifts in a bed: lattice points near a place and clear of others; plain arrays."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from habitat.planting.drawing._kernels import (
    TOLERANCE_M,
    clear_of,
    rotate_edges,
    row_count,
    row_crossings,
    row_offset,
)


@njit(cache=True)
def zone_keys(points: NDArray[np.float64], zone: NDArray[np.float64]) -> NDArray[np.float64]:
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
def near_zone(
    placed: NDArray[np.float64], reach: NDArray[np.float64], zone: NDArray[np.float64], margin: float
) -> NDArray[np.bool_]:
    """Tell which placed points (n, 2) lie, with their reach, within ``margin`` of a box (u0, v0, u1, v1)."""
    out = np.empty(placed.shape[0], np.bool_)
    for j in range(placed.shape[0]):
        wide = margin + reach[j]
        across = zone[0] - wide <= placed[j, 0] <= zone[2] + wide
        out[j] = across and zone[1] - wide <= placed[j, 1] <= zone[3] + wide
    return out


@njit(cache=True)
def stretches_near(
    turned: NDArray[np.float64],
    rows: tuple[float, float, float],
    shift: float,
    box: tuple[float, float, float, float],
) -> NDArray[np.float64]:
    """Return the stretches (n, 4) of a lattice's rows inside edges and a box: v, shift, from and to.

    ``rows`` are the first row, their gap and where the last may lie; the box is (u0, v0, u1, v1) [m].
    """
    first, gap, high = rows
    begin = max(0, math.ceil((box[1] - first) / gap)) if box[1] > -np.inf else 0
    end = row_count(first, high, gap)
    if box[3] < np.inf:
        end = min(end, math.floor((box[3] - first) / gap) + 1)
    out = np.empty((max(0, end - begin) * max(1, turned.shape[0] // 2), 4))
    crossings = np.empty(turned.shape[0])
    n = 0
    for row in range(begin, end):
        v = min(first + row * gap, high)
        found = row_crossings(turned, v, crossings)
        for k in range(0, found - 1, 2):
            low = max(crossings[k] - 2 * TOLERANCE_M, box[0])
            high_u = min(crossings[k + 1] + 2 * TOLERANCE_M, box[2])
            if low <= high_u:
                out[n, 0], out[n, 1], out[n, 2], out[n, 3] = v, (shift if row % 2 else 0.0), low, high_u
                n += 1
    return out[:n]


@njit(cache=True)
def free_of(
    stretches: NDArray[np.float64], placed: NDArray[np.float64], reach: NDArray[np.float64], radius: float
) -> NDArray[np.float64]:
    """Return the parts of stretches (v, shift, from, to) at least ``radius + reach`` from every placed point.

    Placed points (n, 2) are in the lattice's axes; each blocks a chord of its circle on the rows it reaches.
    """
    n, size = 0, placed.shape[0]
    out = np.empty((stretches.shape[0] * (size + 1), 4))
    begin, end = np.empty(size), np.empty(size)
    for i in range(stretches.shape[0]):
        v, low, high = stretches[i, 0], stretches[i, 2], stretches[i, 3]
        m = 0
        for j in range(size):
            need, dv = radius + reach[j] - TOLERANCE_M, placed[j, 1] - v
            if need <= abs(dv):
                continue
            half = math.sqrt(need * need - dv * dv)
            if placed[j, 0] + half <= low or placed[j, 0] - half >= high:
                continue
            k = m
            while k > 0 and begin[k - 1] > placed[j, 0] - half:
                begin[k], end[k] = begin[k - 1], end[k - 1]
                k -= 1
            begin[k], end[k] = placed[j, 0] - half, placed[j, 0] + half
            m += 1
        at = low
        for k in range(m + 1):
            upto = min(begin[k], high) if k < m else high
            if upto >= at:
                out[n, 0], out[n, 1], out[n, 2], out[n, 3] = v, stretches[i, 1], at, upto
                n += 1
            if k < m:
                at = max(at, end[k])
    return out[:n]


@njit(cache=True)
def points_on(stretches: NDArray[np.float64], phase: float, spacing: float) -> NDArray[np.float64]:
    """Return the points (n, 2) of a lattice's phase on stretches (v, shift, from, to), row by row."""
    most = 0
    for i in range(stretches.shape[0]):
        most += int((stretches[i, 3] - stretches[i, 2]) / spacing) + 2
    out = np.empty((most, 2))
    n = 0
    for i in range(stretches.shape[0]):
        origin = phase + stretches[i, 1]
        step = math.ceil((stretches[i, 2] - origin) / spacing)
        while origin + step * spacing <= stretches[i, 3]:
            out[n, 0], out[n, 1] = origin + step * spacing, stretches[i, 0]
            n += 1
            step += 1
    return out[:n]


@njit(cache=True)
def drift_points(
    edges: NDArray[np.float64],
    zone: NDArray[np.float64],
    placed: NDArray[np.float64],
    reach: NDArray[np.float64],
    spacing: float,
    wanted: int,
    tries: int,
) -> NDArray[np.float64]:
    """Return up to ``wanted`` points of one lattice, clear of what is placed, nearest to a zone first.

    Rows run along either axis of the frame; square and triangular, ``2 tries`` row offsets and phases are
    compared: most points first, then nearest to the zone. Points far from the zone are looked at only where
    those near it are too few: their keys are greater than their distance from it.
    """
    margin = 2.0 * spacing
    while margin < 16.0 * spacing:
        near = near_zone(placed, reach, zone, margin + spacing)
        found = drift_within(edges, zone, (placed[near], reach[near]), (spacing, margin), wanted, tries)
        best, cost, other = found
        if best.shape[0] == wanted and other >= cost:
            return best
        margin *= 2.0
    return drift_within(edges, zone, (placed, reach), (spacing, np.inf), wanted, tries)[0]


@njit(cache=True)
def drift_within(
    edges: NDArray[np.float64],
    zone: NDArray[np.float64],
    others: tuple[NDArray[np.float64], NDArray[np.float64]],
    sizes: tuple[float, float],
    wanted: int,
    tries: int,
) -> tuple[NDArray[np.float64], float, float]:
    """Return what ``drift_points`` does among points whose key is at most a margin, and what to make of it.

    ``others`` are what is placed and its reach; ``sizes`` are spacing and margin [m]. With the points come
    the sum of their keys, and the least that lattices with too few points within the margin come to.
    """
    (placed, reach), (spacing, margin) = others, sizes
    turned_placed = np.column_stack((placed[:, 1], -placed[:, 0]))
    best, best_cost, other = np.empty((0, 2)), np.inf, np.inf
    for option in range(4):
        across = option % 2 == 1
        gap = spacing if option < 2 else spacing * math.sqrt(3.0) / 2
        turned = rotate_edges(edges, math.pi / 2) if across else edges
        box = (zone[0] - margin, zone[1] - margin, zone[2] + margin, zone[3] + margin)
        if across:
            box = (zone[1] - margin, -zone[2] - margin, zone[3] + margin, -zone[0] + margin)
        low = min(turned[:, 1].min(), turned[:, 3].min()) + TOLERANCE_M
        high = max(turned[:, 1].max(), turned[:, 3].max()) - TOLERANCE_M
        left = min(turned[:, 0].min(), turned[:, 2].min()) + TOLERANCE_M
        beyond = np.minimum(turned[:, 1], turned[:, 3]) > box[3]
        turned = turned[~(beyond | (np.maximum(turned[:, 1], turned[:, 3]) < box[1]))]
        for k in range(2 * tries):
            first = row_offset(low, high, gap, k, tries)
            if first > high:
                continue
            rows = stretches_near(turned, (first, gap, high), 0.0 if option < 2 else spacing / 2, box)
            rows = free_of(rows, turned_placed if across else placed, reach, spacing / 2)
            for t in range(2 * tries):
                points = points_on(rows, left + t * spacing / (2 * tries), spacing)
                if across:  # back into the frame's axes
                    points = np.column_stack((-points[:, 1], points[:, 0]))
                keys = zone_keys(points, zone)
                use = keys <= margin
                points, keys = points[use], keys[use]
                if points.shape[0] < wanted:
                    other = min(other, keys.sum() + (wanted - points.shape[0]) * margin)
                if points.shape[0] < min(wanted, best.shape[0]):
                    continue
                order = np.argsort(keys, kind="mergesort")[:wanted]
                cost = keys[order].sum()
                if order.size > best.shape[0] or cost < best_cost - 1e-9:
                    best, best_cost = points[order], cost
    return best, best_cost, other


@njit(cache=True)
def gap_points(
    candidates: NDArray[np.float64],
    keys: NDArray[np.float64],
    placed: NDArray[np.float64],
    reach: NDArray[np.float64],
    spacing: float,
    wanted: int,
) -> NDArray[np.float64]:
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
