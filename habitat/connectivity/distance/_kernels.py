"""Compiled distances between patches: rings of segments edge to edge, and the cells that patches touch."""

from __future__ import annotations

import math

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from habitat.arrays import Flags, Floats, Ints

CHUNKS = 16


@njit(cache=True)
def box_gap2(one: Floats, two: Floats) -> float:
    """Return the squared distance between two boxes, 0 where they touch."""
    dx = max(0.0, one[0] - two[2], two[0] - one[2])
    dy = max(0.0, one[1] - two[3], two[1] - one[3])
    return dx * dx + dy * dy


@njit(cache=True)
def _point_gap2(px: float, py: float, ax: float, ay: float, bx: float, by: float) -> float:
    """Return the squared distance from a point to a segment."""
    dx, dy = bx - ax, by - ay
    length2 = dx * dx + dy * dy
    t = 0.0
    if length2 > 0.0:
        t = min(1.0, max(0.0, ((px - ax) * dx + (py - ay) * dy) / length2))
    ex, ey = ax + t * dx - px, ay + t * dy - py
    return ex * ex + ey * ey


@njit(cache=True)
def _side(ax: float, ay: float, bx: float, by: float, px: float, py: float) -> float:
    return (bx - ax) * (py - ay) - (by - ay) * (px - ax)


@njit(cache=True)
def _ring_gap2(seg: Floats, r0: int, r1: int, s0: int, s1: int, other: Floats, best: float) -> float:
    """Return the lower of ``best`` and the squared distance between two rings; ``other`` boxes the second.

    Between segments that do not cross, the nearest points include an end; rings are closed, so every end
    is the first point of one segment.
    """
    for m in range(r0, r1):
        ax, ay, bx, by = seg[m, 0], seg[m, 1], seg[m, 2], seg[m, 3]
        west, east, south, north = min(ax, bx), max(ax, bx), min(ay, by), max(ay, by)
        dx = max(0.0, west - other[2], other[0] - east)
        dy = max(0.0, south - other[3], other[1] - north)
        if dx * dx + dy * dy >= best:
            continue
        for n in range(s0, s1):
            cx, cy, ex, ey = seg[n, 0], seg[n, 1], seg[n, 2], seg[n, 3]
            dx = max(0.0, west - max(cx, ex), min(cx, ex) - east)
            dy = max(0.0, south - max(cy, ey), min(cy, ey) - north)
            gap = dx * dx + dy * dy
            if gap >= best:
                continue
            if gap == 0.0:
                one = _side(ax, ay, bx, by, cx, cy) * _side(ax, ay, bx, by, ex, ey)
                two = _side(cx, cy, ex, ey, ax, ay) * _side(cx, cy, ex, ey, bx, by)
                if one < 0.0 and two < 0.0:
                    return 0.0
            best = min(best, _point_gap2(ax, ay, cx, cy, ex, ey), _point_gap2(cx, cy, ax, ay, bx, by))
    return best


@njit(cache=True)
def _inside(x: float, y: float, seg: Floats, first: int, last: int) -> bool:
    """Whether a point lies inside a patch (even-odd over all of its rings, so holes count)."""
    odd = False
    for m in range(first, last):
        ay, by = seg[m, 1], seg[m, 3]
        if (ay > y) != (by > y) and x < seg[m, 0] + (y - ay) / (by - ay) * (seg[m, 2] - seg[m, 0]):
            odd = not odd
    return odd


@njit(cache=True)
def _nested(i: int, j: int, rings: Ints, ring_seg: Ints, seg: Floats) -> bool:
    """Whether some ring of patch i starts inside patch j."""
    first, last = ring_seg[rings[j]], ring_seg[rings[j + 1]]
    for r in range(rings[i], rings[i + 1]):
        if _inside(seg[ring_seg[r], 0], seg[ring_seg[r], 1], seg, first, last):
            return True
    return False


@njit(cache=True)
def patch_gap2(
    i: int, j: int, rings: Ints, ring_seg: Ints, ring_box: Floats, seg: Floats, box: Floats, limit2: float
) -> float:
    """Return the squared distance between two patches, ``limit2`` if it is not less."""
    best = limit2
    near, near_r, near_s = np.inf, -1, -1
    for r in range(rings[i], rings[i + 1]):
        for s in range(rings[j], rings[j + 1]):
            gap = box_gap2(ring_box[r], ring_box[s])
            if gap < near:
                near, near_r, near_s = gap, r, s
    if near >= limit2:
        return limit2
    if box_gap2(box[i], box[j]) == 0.0 and (
        _nested(i, j, rings, ring_seg, seg) or _nested(j, i, rings, ring_seg, seg)
    ):
        return 0.0
    r, s = near_r, near_s
    best = _ring_gap2(seg, ring_seg[r], ring_seg[r + 1], ring_seg[s], ring_seg[s + 1], ring_box[s], best)
    for r in range(rings[i], rings[i + 1]):
        for s in range(rings[j], rings[j + 1]):
            if (r != near_r or s != near_s) and box_gap2(ring_box[r], ring_box[s]) < best:
                best = _ring_gap2(
                    seg, ring_seg[r], ring_seg[r + 1], ring_seg[s], ring_seg[s + 1], ring_box[s], best
                )
    return best


@njit(cache=True)
def _list_near(
    k: int, box: Floats, limit2: float, cell: Ints, order: Ints, first: Ints, across: int, down: int,
    is_wide: NDArray[np.bool_], out: Ints,
) -> int:  # fmt: skip
    """List the patches after k whose boxes lie within the limit of its own; return how many.

    Small patches lie in cells by their middle, cells as wide as the limit, so that two cells either way
    hold all that can be near; wide patches are held against everything. ``out`` empty only counts.
    """
    found = 0
    n = len(box)
    if is_wide[k]:
        for j in range(n):
            if (j > k or not is_wide[j]) and j != k and box_gap2(box[k], box[j]) < limit2:
                if len(out) > 0:
                    out[found] = j
                found += 1
        return found
    row, col = cell[k] // across, cell[k] % across
    for r in range(max(0, row - 2), min(down, row + 3)):
        for c in range(max(0, col - 2), min(across, col + 3)):
            for m in range(first[r * across + c], first[r * across + c + 1]):
                j = order[m]
                if j > k and box_gap2(box[k], box[j]) < limit2:
                    if len(out) > 0:
                        out[found] = j
                    found += 1
    return found


@njit(cache=True, parallel=True)
def near_pairs(
    box: Floats, limit2: float, cell: Ints, order: Ints, first: Ints, across: int, down: int,
    is_wide: NDArray[np.bool_],
) -> tuple[Ints, Ints]:  # fmt: skip
    """Return the pairs of patches whose boxes lie within the limit, each once."""
    n = len(box)
    start = np.zeros(n + 1, np.int64)
    for chunk in prange(CHUNKS):
        none = np.empty(0, np.int64)
        for k in range(chunk, n, CHUNKS):
            start[k + 1] = _list_near(k, box, limit2, cell, order, first, across, down, is_wide, none)
    for k in range(n):
        start[k + 1] += start[k]
    i, j = np.empty(start[n], np.int64), np.empty(start[n], np.int64)
    for chunk in prange(CHUNKS):
        for k in range(chunk, n, CHUNKS):
            i[start[k] : start[k + 1]] = k
            if start[k + 1] > start[k]:
                _list_near(
                    k, box, limit2, cell, order, first, across, down, is_wide,
                    j[start[k] : start[k + 1]],
                )  # fmt: skip
    return i, j


@njit(cache=True, parallel=True)
def pair_gaps(
    i: Ints, j: Ints, rings: Ints, ring_seg: Ints, ring_box: Floats, seg: Floats, box: Floats, limit2: float
) -> Floats:
    """Return the distance of each pair of patches, infinity where it is beyond the limit."""
    out = np.empty(len(i))
    for chunk in prange(8 * CHUNKS):
        for m in range(chunk * len(i) // (8 * CHUNKS), (chunk + 1) * len(i) // (8 * CHUNKS)):
            gap2 = patch_gap2(i[m], j[m], rings, ring_seg, ring_box, seg, box, limit2)
            out[m] = np.sqrt(gap2) if gap2 < limit2 else np.inf
    return out


# Compiled search for the cells that patches touch: rings of segments laid on a raster.

NEAR_EDGE = 1e-6
"""Share of a cell by which a patch may reach over a cell's edge without touching the cell: judgement."""


@njit(cache=True)
def touched(seg: Floats, first: Ints, rows: int, cols: int) -> tuple[Ints, Ints]:
    """Return (patches + 1,) limits and the flat cells that each patch has ground in, in order.

    seg : (segments, 4) ends x, y, x, y of all rings, in cells from the corner of the first, y downwards.
    first : (patches + 1,) stretches of segments. A patch beside the raster has no cells.
    """
    start, found, at = np.zeros(len(first), np.int64), np.empty(64, np.int64), 0
    for p in range(len(first) - 1):
        own = seg[first[p] : first[p + 1]]
        r0, r1 = _window(own[:, 1::2], rows)
        c0, c1 = _window(own[:, ::2], cols)
        hit = np.zeros((r1 - r0, c1 - c0), np.bool_)
        _fill(own, r0, c0, hit)
        for m in range(len(own)):
            _trace(own[m], r0, c0, hit)
        if hit.size > 0 and not hit.any():
            hit[0, 0] = True
        while at + hit.size > len(found):
            found = np.concatenate((found, np.empty(len(found), np.int64)))
        for r in range(r1 - r0):
            for c in range(c1 - c0):
                if hit[r, c]:
                    found[at] = (r0 + r) * cols + c0 + c
                    at += 1
        start[p + 1] = at
    return start, found[:at].copy()


@njit(cache=True)
def _window(ends: Floats, size: int) -> tuple[int, int]:
    """Return the first cell and the one after the last that coordinates touch along one axis, clipped."""
    low, high = ends.min(), ends.max()
    first = math.floor(low + NEAR_EDGE)
    last = max(math.ceil(high - NEAR_EDGE), first + 1)
    first = min(max(first, 0), size)
    return first, max(first, min(last, size))


@njit(cache=True)
def _fill(seg: Floats, r0: int, c0: int, hit: Flags) -> None:
    """Mark the cells whose centre lies inside (even-odd over all rings, so holes count)."""
    for r in range(hit.shape[0]):
        y = r0 + r + 0.5
        for m in range(len(seg)):
            ax, ay, bx, by = seg[m, 0], seg[m, 1], seg[m, 2], seg[m, 3]
            if (ay > y) != (by > y):
                x = ax + (y - ay) / (by - ay) * (bx - ax)
                c = max(math.floor(x - c0 - 0.5) + 1, 0)
                if c < hit.shape[1]:
                    hit[r, c] = not hit[r, c]
        for c in range(1, hit.shape[1]):
            hit[r, c] = hit[r, c] != hit[r, c - 1]


@njit(cache=True)
def _trace(end: Floats, r0: int, c0: int, hit: Flags) -> None:
    """Mark the cells that a segment passes through; along the edge between two it passes through none."""
    ax, ay, bx, by = end[0] - c0, end[1] - r0, end[2] - c0, end[3] - r0
    low, high = min(ay, by), max(ay, by)
    for r in range(max(math.floor(low + NEAR_EDGE), 0), min(math.ceil(high - NEAR_EDGE), hit.shape[0])):
        one, two = ax, bx
        if by != ay:
            one = ax + (min(max(r, low), high) - ay) / (by - ay) * (bx - ax)
            two = ax + (min(max(r + 1.0, low), high) - ay) / (by - ay) * (bx - ax)
        left, right = math.floor(min(one, two) + NEAR_EDGE), math.ceil(max(one, two) - NEAR_EDGE)
        for c in range(max(left, 0), min(right, hit.shape[1])):
            hit[r, c] = True
