"""Compiled pass over cells: every plant's needs at once. Plain arrays in, plain arrays filled; no raising.

A need is a trapezium given by four numbers: the low end of the full range, the slope below it, the high end,
the slope above it. ``rise = (x - low) * slope + 1`` is exact at both ends of the full range, and goes on
below 0 out of range, so that the smallest of all names the need that is furthest out. A slope of 0 is no
limit; a very steep one is a wall.

Cells are worked through in blocks that stay in fast memory, three factors in one short loop whose numbers all
fit into the vector registers (six do not), and the last loop writes the bytes.
"""

from __future__ import annotations

import numpy as np
from numba import njit, prange

BLOCK = 4096
SCARCEST, GEOMETRIC, SQUARE_ROOT = 0, 1, 2
NO_LIMIT = np.uint8(255)
TRACE = np.float32(5e-6)
"""A need met by less counts as not met where needs are multiplied: single precision leaves as much of a value
at the end of a range (pH 7.2 is 7.1999998), and the ninth root of that is a fifth of full marks."""
FAST = {"contract", "nsz", "nnan"}
"""Freedoms of the compiler where no value can be NaN: sums may be fused, and -0 is 0."""


@njit(inline="always", error_model="numpy")
def combined(mode, least, product, weight):
    """Return the score from the least need, the product of the (weighted) needs and the sum of weights."""
    if mode == SCARCEST:
        return max(least, np.float32(0.0))
    if least <= TRACE:
        return np.float32(0.0)
    if mode == GEOMETRIC:
        return product ** (np.float32(1.0) / weight) if weight > 0 else np.float32(1.0)
    return least * np.sqrt(product / least)


@njit(cache=True, error_model="numpy")
def score_cell(x, mode, params, worst, best, codes, weights):
    """Return (low, high, code) of one plant in one cell, unrounded; x (factors,) with NaN where unknown.

    Worked in the precision of the arguments. A factor whose ``worst`` is above 1 is left out where it is
    unknown.
    """
    one, zero = params.dtype.type(1.0), params.dtype.type(0.0)
    least, least_high, code = one, one, NO_LIMIT
    product, product_high, total = one, one, zero
    for f in range(x.shape[0]):
        if np.isnan(x[f]):
            if worst[f] > one:
                continue
            m, m_high = worst[f], best[f]
        else:
            rise = (x[f] - params[f, 0]) * params[f, 1] + one
            fall = (params[f, 2] - x[f]) * params[f, 3] + one
            m = min(rise, fall, one)
            m_high = m
        if m < least:
            least, code = m, codes[f]
        least_high = min(least_high, m_high)
        total += weights[f]
        if mode == GEOMETRIC:
            if weights[f] > zero:
                product *= max(m, zero) ** weights[f]
                product_high *= max(m_high, zero) ** weights[f]
        elif mode == SQUARE_ROOT:
            product *= max(m, zero)
            product_high *= max(m_high, zero)
    low = combined(mode, least, product, total)
    return low, max(low, combined(mode, least_high, product_high, total)), code


@njit(cache=True, error_model="numpy")
def cells_one_by_one(
    stack, first, last, every, mode, params, worst, best, codes, weights, low, high, limiting
):
    """Fill the bytes of every cell, or only of those where a factor is unknown."""
    factors = stack.shape[0]
    x = np.empty(factors, np.float32)
    for i in range(first, last):
        wanted = every
        for f in range(factors):
            x[f] = stack[f, i]
            wanted = wanted or np.isnan(x[f])
        if not wanted:
            continue
        for p in range(params.shape[0]):
            a, b, code = score_cell(x, mode, params[p], worst[p], best[p], codes, weights)
            low[p, i] = np.uint8(np.int32(a * np.float32(255.0) + np.float32(0.5)))
            high[p, i] = np.uint8(np.int32(b * np.float32(255.0) + np.float32(0.5)))
            limiting[p, i] = code


@njit(inline="always", error_model="numpy", fastmath=FAST)
def lesser(x, need, own, least, code):
    """Return (least, code) after one more need at x, unclipped; of two that are level the former counts."""
    one = np.float32(1.0)
    rise = (x - need[0]) * need[1] + one
    fall = (need[2] - x) * need[3] + one
    m = rise if rise < fall else fall
    code = own if m < least else code
    least = m if m < least else least
    return least, code


@njit(inline="always", error_model="numpy", fastmath=FAST)
def three_factors(stack, f, first, last, codes):
    """Return rows and codes of factors f to f + 2; past the end any row does."""
    g, h = min(f + 1, stack.shape[0] - 1), min(f + 2, stack.shape[0] - 1)
    f = min(f, stack.shape[0] - 1)
    rows = stack[f, first:last], stack[g, first:last], stack[h, first:last]
    return rows, (np.int32(codes[f]), np.int32(codes[g]), np.int32(codes[h]))


@njit(inline="always", error_model="numpy", fastmath=FAST)
def as_tuple(need):
    """Return the four numbers of a need, so that they stay in registers."""
    return need[0], need[1], need[2], need[3]


@njit(cache=True, error_model="numpy", fastmath=FAST)
def first_three(stack, first, last, params, codes, least, code):
    """Set the least need of one plant by factors 0 to 2 in some cells (1 where all are met) and its code."""
    (row1, row2, row3), (own1, own2, own3) = three_factors(stack, 0, first, last, codes)
    need1, need2, need3 = as_tuple(params[0]), as_tuple(params[1]), as_tuple(params[2])
    for i in range(last - first):
        value, own = lesser(row1[i], need1, own1, np.float32(1.0), np.int32(NO_LIMIT))
        value, own = lesser(row2[i], need2, own2, value, own)
        least[i], code[i] = lesser(row3[i], need3, own3, value, own)


@njit(cache=True, error_model="numpy", fastmath=FAST)
def next_three(stack, f, first, last, params, codes, least, code):
    """Lower the least need of one plant, and name its factor anew, by factors f to f + 2."""
    (row1, row2, row3), (own1, own2, own3) = three_factors(stack, f, first, last, codes)
    need1, need2, need3 = as_tuple(params[f]), as_tuple(params[f + 1]), as_tuple(params[f + 2])
    for i in range(last - first):
        value, own = lesser(row1[i], need1, own1, least[i], code[i])
        value, own = lesser(row2[i], need2, own2, value, own)
        least[i], code[i] = lesser(row3[i], need3, own3, value, own)


@njit(cache=True, error_model="numpy", fastmath=FAST)
def last_three(stack, f, first, last, params, codes, least, code, low, limiting):
    """Do as ``next_three`` does, and turn the least need into a byte at once; low, limiting (cells,)."""
    (row1, row2, row3), (own1, own2, own3) = three_factors(stack, f, first, last, codes)
    need1, need2, need3 = as_tuple(params[f]), as_tuple(params[f + 1]), as_tuple(params[f + 2])
    zero, full, half = np.float32(0.0), np.float32(255.0), np.float32(0.5)
    for i in range(low.shape[0]):
        value, own = lesser(row1[i], need1, own1, least[i], code[i])
        value, own = lesser(row2[i], need2, own2, value, own)
        value, own = lesser(row3[i], need3, own3, value, own)
        value = value if value > zero else zero
        low[i] = np.uint8(np.int32(value * full + half))
        limiting[i] = np.uint8(own)


@njit(cache=True, error_model="numpy", fastmath=FAST)
def product_of_needs(stack, first, last, mode, params, weights, product):
    """Set the product of one plant's clipped needs in some cells; a mean leaves out needs of weight 0."""
    one, zero = np.float32(1.0), np.float32(0.0)
    n = last - first
    product[:n] = one
    for f in range(stack.shape[0]):
        if mode == GEOMETRIC and weights[f] == 0.0:
            continue
        row, need = stack[f, first:last], as_tuple(params[f])
        for i in range(n):
            m, _ = lesser(row[i], need, np.int32(0), one, np.int32(0))
            product[i] *= m if m > zero else zero


@njit(cache=True, error_model="numpy", fastmath=FAST)
def finish(mode, weight, least, product, code, low, limiting):
    """Turn the least need and the product into a byte and a code; low, limiting (cells,)."""
    zero, full, half = np.float32(0.0), np.float32(255.0), np.float32(0.5)
    for i in range(low.shape[0]):
        value = least[i] if least[i] > zero else zero
        value = combined(mode, value, product[i], weight)
        low[i] = np.uint8(np.int32(value * full + half))
        limiting[i] = np.uint8(code[i])


@njit(cache=True, error_model="numpy")
def has_hole(stack, first, last):
    """Return whether any factor is unknown in some cells."""
    for f in range(stack.shape[0]):
        for i in range(first, last):
            if np.isnan(stack[f, i]):
                return True
    return False


@njit(cache=True, error_model="numpy")
def fill_block(block, stack, holes, mode, even, params, worst, best, codes, weights, low, high, limiting):
    """Fill the bytes of one block of cells for all plants; arguments as ``fill``.

    Which way a cell is worked depends on that cell alone, so that no cut into blocks or tiles shows.
    """
    first = block * BLOCK
    last = min(first + BLOCK, stack.shape[1])
    rest = (mode, params, worst, best, codes, weights, low, high, limiting)
    if mode == GEOMETRIC and not even:
        cells_one_by_one(stack, first, last, True, *rest)
        return
    total = weights.sum()
    least, product = np.empty(BLOCK, np.float32), np.empty(BLOCK, np.float32)
    code = np.empty(BLOCK, np.int32)
    final = params.shape[1] - 3
    for p in range(params.shape[0]):
        out, limit = low[p, first:last], limiting[p, first:last]
        first_three(stack, first, last, params[p], codes, least, code)
        for f in range(3, final, 3):
            next_three(stack, f, first, last, params[p], codes, least, code)
        if mode == SCARCEST:
            last_three(stack, final, first, last, params[p], codes, least, code, out, limit)
        else:
            next_three(stack, final, first, last, params[p], codes, least, code)
            product_of_needs(stack, first, last, mode, params[p], weights, product)
            finish(mode, total, least, product, code, out, limit)
        if holes:
            high[p, first:last] = out
    if holes and has_hole(stack, first, last):
        cells_one_by_one(stack, first, last, False, *rest)


@njit(parallel=True, cache=True, error_model="numpy")
def fill(stack, holes, mode, even, params, worst, best, codes, weights, low, high, limiting):
    """Fill bytes for all plants, blocks side by side.

    stack (factors, cells) float32; holes: whether it may hold NaN; even: whether all weights are 0 or 1;
    params (plants, factors, 4), filled up with zeros to a whole number of threes, at least two; worst, best
    (plants, factors) float32; codes (factors,) uint8; weights (factors,) float32; low, high, limiting
    (plants, cells) uint8. high is left alone without holes.
    """
    for block in prange((stack.shape[1] + BLOCK - 1) // BLOCK):
        fill_block(block, stack, holes, mode, even, params, worst, best, codes, weights, low, high, limiting)


@njit(cache=True, error_model="numpy")
def fill_small(stack, holes, mode, even, params, worst, best, codes, weights, low, high, limiting):
    """Fill bytes as ``fill`` does, one block after the other: for windows that threads would not speed up."""
    for block in range((stack.shape[1] + BLOCK - 1) // BLOCK):
        fill_block(block, stack, holes, mode, even, params, worst, best, codes, weights, low, high, limiting)


@njit(cache=True, error_model="numpy")
def unrounded(stack, mode, params, worst, best, codes, weights, low, high, limiting):
    """Fill scores of one plant in doubles; params (factors, 4), low, high, limiting (cells,)."""
    factors, cells = stack.shape
    x = np.empty(factors, np.float64)
    for i in range(cells):
        for f in range(factors):
            x[f] = stack[f, i]
        low[i], high[i], limiting[i] = score_cell(x, mode, params, worst, best, codes, weights)


@njit(parallel=True, cache=True, error_model="numpy")
def dependable(stack, mode, tables, codes, shift, luck, edges, classes, bounds, rank, steps, low):
    """Lower the fit of all plants to the score that enough draws of the maps' errors reach or pass.

    tables: params, worst, best, weights as ``unrounded``; shift, luck (draws, factors), edges (factors, k,
    k), classes (factors,) as ``ErrorDraws``; bounds (factors, 2): what a factor can be; rank: which of the
    sorted draws counts; low (plants, cells) doubles: scores x steps, rounded, or with steps 0 scores. Every
    cell sees the same draws, so windows agree.
    """
    params, worst, best, weights = tables
    factors, cells = stack.shape
    draws, plants = shift.shape[0], params.shape[0]
    for i in prange(cells):
        x = np.empty((draws, factors))
        for d in range(draws):
            for f in range(factors):
                value = np.float64(stack[f, i])
                if classes[f] > 0 and not np.isnan(value):
                    row = min(max(int(np.rint(value)), 1), classes[f]) - 1
                    true = 1
                    while true < classes[f] and luck[d, f] >= edges[f, row, true - 1]:
                        true += 1
                    value = np.float64(true)
                elif shift[d, f] != 0.0:
                    value = min(max(value + shift[d, f], bounds[f, 0]), bounds[f, 1])
                x[d, f] = value
        found = np.empty(draws)
        for p in range(plants):
            if low[p, i] == 0:
                continue
            for d in range(draws):
                found[d] = score_cell(x[d], mode, params[p], worst[p], best[p], codes, weights)[0]
            value = np.partition(found, rank)[rank]
            if steps > 0.0:
                value = np.floor(value * steps + 0.5)
            low[p, i] = min(low[p, i], value)
