"""Compiled loops of the site: the shadow sweep, crowns set on a raster. Plain arrays; nothing raises."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

LOW = np.float32(-1e9)
"""Height that casts no shadow: outside the raster, or unknown."""


@njit(cache=True, nogil=True)
def sweep_flat(caster, receiver, shift, drop, first, base, wall, state, lit) -> None:
    """Carry shadow heights down a strip, row by row away from the sun, and count lit positions.

    caster, receiver : float32 (rows + 1, cols + 2) [m], rows in the order that the shadows run, with the row
    before the strip first and a rim of LOW at either side. shift : (positions,) columns that shadows move per
    row, -1 to 1. drop : (positions,) fall of the sun's ray per row [m]. first : number of the strip's first
    row, counted from the grid's own edge, so that strips join. base : (positions,) where line 0 lies in
    state. wall : fall from one cell to the next that counts as a wall [m]. state : float32 (positions, lines)
    [m], carried on. lit : uint8 (rows, cols), added to.
    """
    rows, cols = lit.shape
    count = np.empty(cols, np.int32)
    for i in range(rows):
        count[:] = 0
        for p in range(shift.shape[0]):
            offset = math.floor((first + i) * shift[p] + 0.5)
            step = offset - math.floor((first + i - 1) * shift[p] + 0.5)
            fall = np.float32(drop[p])
            half = np.float32(0.5) * fall
            line = state[p, base[p] - offset : base[p] - offset + cols]
            here = caster[i + 1, 1 : cols + 1]
            before = caster[i, 1 - step : cols + 1 - step]
            ground = receiver[i + 1, 1 : cols + 1]
            for c in range(cols):
                shadow = line[c] - fall
                top = before[c]
                edge = top - half if top - here[c] > wall else LOW
                shadow = max(shadow, edge)
                count[c] += ground[c] >= shadow
                line[c] = max(shadow, here[c])
        for c in range(cols):
            lit[i, c] += np.uint8(count[c])


@njit(cache=True, nogil=True)
def sweep_sloped(caster, receiver, tilt, shift, drop, first, base, wall, state, lit) -> None:
    """Do as ``sweep_flat``, with heights moved from the cell's centre onto the line along the ground's slope.

    tilt : float32 (rows + 1, cols + 2), rise of the ground per column [m]. Without it a ray over a sloping
    plane would meet its neighbours too high or too low, by up to half a cell's rise.
    """
    rows, cols = lit.shape
    count = np.empty(cols, np.int32)
    for i in range(rows):
        count[:] = 0
        for p in range(shift.shape[0]):
            exact, exact_before = (first + i) * shift[p], (first + i - 1) * shift[p]
            offset = math.floor(exact + 0.5)
            offset_before = math.floor(exact_before + 0.5)
            step = offset - offset_before
            aside, aside_before = np.float32(exact - offset), np.float32(exact_before - offset_before)
            fall = np.float32(drop[p])
            half = np.float32(0.5) * fall
            line = state[p, base[p] - offset : base[p] - offset + cols]
            here, ground = caster[i + 1, 1 : cols + 1], receiver[i + 1, 1 : cols + 1]
            lean = tilt[i + 1, 1 : cols + 1]
            before = caster[i, 1 - step : cols + 1 - step]
            lean_before = tilt[i, 1 - step : cols + 1 - step]
            for c in range(cols):
                move = aside * lean[c]
                height = here[c] + move
                top = before[c] + aside_before * lean_before[c]
                shadow = line[c] - fall
                edge = top - half if top - height > wall else LOW
                shadow = max(shadow, edge)
                count[c] += ground[c] + move >= shadow
                line[c] = max(shadow, height)
        for c in range(cols):
            lit[i, c] += np.uint8(count[c])


@njit(cache=True, nogil=True)
def raise_crowns(tops, ground, cols, rows, radius, height, base_share) -> None:
    """Raise ``tops`` to the crowns of trees, in place: half ellipsoids on a solid column.

    tops, ground : float32 (rows, cols) [m]. cols, rows, radius : (trees,) the trunk's place and the crown's
    radius in cells. height : (trees,) [m] above the ground at the trunk. base_share : height of the crown's
    rim as a share.
    """
    n_rows, n_cols = tops.shape
    for k in range(cols.shape[0]):
        row, col = math.floor(rows[k]), math.floor(cols[k])
        inside = 0 <= row < n_rows and 0 <= col < n_cols
        foot = ground[min(max(row, 0), n_rows - 1), min(max(col, 0), n_cols - 1)]
        reach = radius[k]
        for r in range(max(0, int(rows[k] - reach)), min(n_rows, int(rows[k] + reach) + 2)):
            for c in range(max(0, int(cols[k] - reach)), min(n_cols, int(cols[k] + reach) + 2)):
                away = ((r + 0.5 - rows[k]) ** 2 + (c + 0.5 - cols[k]) ** 2) / (reach * reach)
                if away < 1:
                    top = foot + height[k] * (base_share + (1 - base_share) * math.sqrt(1 - away))
                    tops[r, c] = max(tops[r, c], np.float32(top))
        if inside:
            tops[row, col] = max(tops[row, col], np.float32(foot + height[k]))
