"""Compiled pass over cells: every plant's needs at once. Plain arrays in, plain arrays filled; no raising.

A need is a trapezium given by four numbers: the low end of the full range, the slope below it, the high end,
the slope above it. ``rise = (x - low) * slope + 1`` is exact at both ends of the full range, and goes on
below 0 out of range, so that the smallest of all names the need that is furthest out. A slope of 0 is no
limit; a very steep one is a wall.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numba import njit, prange

BLOCK = 1024
"""Cells that are worked through at a time, so that they stay in the fastest memory."""

SCARCEST, GEOMETRIC, SQUARE_ROOT = 0, 1, 2
NO_LIMIT = np.uint8(255)

Kernel = Callable[..., Any]


def scarcest_kernel(factors: int) -> Kernel:
    """Return the pass for the scarcest need where everything is known, unrolled for a number of factors."""

    @njit(parallel=True, cache=True, error_model="numpy", fastmath={"nsz", "contract"})
    def scarcest(stack, params, codes, score, limiting):  # type: ignore[no-untyped-def]
        # stack (factors, cells) float32; params (plants, factors, 4) float32; codes (factors,) uint8;
        # score, limiting (plants, cells) uint8
        cells = stack.shape[1]
        one = np.float32(1.0)
        for block in prange((cells + BLOCK - 1) // BLOCK):
            first = block * BLOCK
            last = min(first + BLOCK, cells)
            for p in range(params.shape[0]):
                for i in range(first, last):
                    least, code = one, np.int32(255)
                    for f in range(factors):
                        x = stack[f, i]
                        rise = (x - params[p, f, 0]) * params[p, f, 1] + one
                        fall = (params[p, f, 2] - x) * params[p, f, 3] + one
                        m = min(rise, fall)
                        code = np.int32(codes[f]) if m < least else code
                        least = min(m, least)
                    least = max(least, np.float32(0.0))
                    score[p, i] = np.uint8(np.int32(least * np.float32(255.0) + np.float32(0.5)))
                    limiting[p, i] = np.uint8(code)

    return scarcest


@njit(inline="always", error_model="numpy")
def membership(x, low, up, high, down):  # type: ignore[no-untyped-def]
    """Return the unclipped trapezium, 1 where the need is fully met."""
    one = np.float32(1.0)
    return min((x - low) * up + one, (high - x) * down + one, one)


@njit(inline="always", error_model="numpy")
def combined(mode, least, product, count):  # type: ignore[no-untyped-def]
    """Return the score from the least need and the product of the (weighted) needs."""
    if mode == 0:
        return max(least, np.float32(0.0))
    if least <= 0.0:
        return np.float32(0.0)
    if mode == 1:
        return product ** (np.float32(1.0) / count) if count > 0 else np.float32(1.0)
    return least * np.sqrt(product / least)


@njit(cache=True, error_model="numpy")
def score_cell(x, mode, params, worst, best, codes, weights):  # type: ignore[no-untyped-def]
    """Return (low, high, code) of one plant in one cell, unrounded; x (factors,) with NaN where unknown."""
    one, zero = np.float32(1.0), np.float32(0.0)
    least, least_high, code = one, one, NO_LIMIT
    product, product_high, total = one, one, zero
    for f in range(x.shape[0]):
        if np.isnan(x[f]):
            m, m_high = worst[f], best[f]
        else:
            m = membership(x[f], params[f, 0], params[f, 1], params[f, 2], params[f, 3])
            m_high = m
        if m < least:
            least, code = m, codes[f]
        least_high = min(least_high, m_high)
        total += weights[f]
        if mode == 1:
            if m < one:
                product *= max(m, zero) ** weights[f]
            if m_high < one:
                product_high *= max(m_high, zero) ** weights[f]
        elif mode == 2:
            product *= max(m, zero)
            product_high *= max(m_high, zero)
    low = combined(mode, least, product, total)
    return low, max(low, combined(mode, least_high, product_high, total)), code


@njit(parallel=True, cache=True, error_model="numpy")
def general(stack, mode, params, worst, best, codes, weights, low, high, limiting):  # type: ignore[no-untyped-def]
    """Fill bytes for all plants with unknown cells allowed, by any way to combine."""
    factors, cells = stack.shape
    for block in prange((cells + BLOCK - 1) // BLOCK):
        x = np.empty(factors, np.float32)
        for i in range(block * BLOCK, min(block * BLOCK + BLOCK, cells)):
            for f in range(factors):
                x[f] = stack[f, i]
            for p in range(params.shape[0]):
                a, b, code = score_cell(x, mode, params[p], worst[p], best[p], codes, weights)
                low[p, i] = np.uint8(np.int32(a * np.float32(255.0) + np.float32(0.5)))
                high[p, i] = np.uint8(np.int32(b * np.float32(255.0) + np.float32(0.5)))
                limiting[p, i] = code


@njit(parallel=True, cache=True, error_model="numpy")
def unrounded(stack, mode, params, worst, best, codes, weights, low, high, limiting):  # type: ignore[no-untyped-def]
    """Fill float32 scores of one plant; params (factors, 4), low, high, limiting (cells,)."""
    factors, cells = stack.shape
    for block in prange((cells + BLOCK - 1) // BLOCK):
        x = np.empty(factors, np.float32)
        for i in range(block * BLOCK, min(block * BLOCK + BLOCK, cells)):
            for f in range(factors):
                x[f] = stack[f, i]
            low[i], high[i], limiting[i] = score_cell(x, mode, params, worst, best, codes, weights)
