"""Compiled search for the cells that patches touch: rings of segments laid on a raster."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
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
def _fill(seg: Floats, r0: int, c0: int, hit: Bools) -> None:
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
def _trace(end: Floats, r0: int, c0: int, hit: Bools) -> None:
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
