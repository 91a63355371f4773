"""Seconds for the fit of 60 plants over a window of cells, six factors, everything known.

    python tests/benchmarks/bench_suitability.py [--cells 2000] [--plants 60] [--repeat 7]

Seeded. "in memory" is the compiled pass into arrays that are there; "fit" also makes the arrays. The slow
twin is plain numpy, one plant at a time; results of both are compared. The yardstick tells what these cores
can do at all: six factors written out in one loop, nothing unknown, one way to combine.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from pathlib import Path

import numpy as np
from numba import njit, prange

sys.path.insert(0, str(Path(__file__).parents[2]))

from habitat.suitability._kernels import SCARCEST, fill
from habitat.suitability.fit import fit
from habitat.suitability.needs import trapezium_params
from habitat.suitability.types import NEEDS, Needs

FACTORS = NEEDS[:6]


def make_needs(plants: int, combine: str, seed: int = 4) -> Needs:
    """Return random needs on factors that run from 0 to 1."""
    rng = np.random.default_rng(seed)
    ends = np.sort(rng.uniform(0.0, 1.0, (plants, len(FACTORS), 4)), -1)
    ends[..., 0] -= 0.15
    ends[..., 3] += 0.15
    tables = {
        "params": trapezium_params(ends),
        "worst": np.zeros(ends.shape[:2], np.float32),
        "best": np.ones(ends.shape[:2], np.float32),
        "codes": np.arange(len(FACTORS), dtype=np.uint8),
        "weights": np.ones(len(FACTORS), np.float32),
        "ranges": ends,
    }
    names = tuple(f"plant {i}" for i in range(plants))
    return Needs(names, FACTORS, NEEDS[6:], combine, (0.75, 0.5, 0.25), np.zeros(plants), tables)


def smooth_layers(side: int, seed: int = 3) -> dict[str, np.ndarray]:
    """Return smooth fields in [0, 1] with a little noise."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:side, 0:side] / side
    out = {}
    for i, name in enumerate(FACTORS):
        wave = np.sin(6.0 * x * (i + 1) + i) * np.cos(5.0 * y * (i + 1)) / 2.4 + 0.5
        out[name] = (wave + rng.normal(0.0, 0.03, (side, side))).astype(np.float32)
    return out


def slow_twin(values: dict[str, np.ndarray], ends: np.ndarray) -> np.ndarray:
    """Return the scores as bytes, one plant at a time."""
    stack = np.stack(list(values.values()))
    out = np.empty((len(ends), *stack.shape[1:]), np.uint8)
    for p in range(len(ends)):
        least = np.ones(stack.shape[1:], np.float32)
        for x, (a, b, c, d) in zip(stack, ends[p].astype(np.float32), strict=True):
            least = np.minimum(least, np.minimum((x - b) / (b - a) + 1, (c - x) / (d - c) + 1))
        out[p] = np.floor(np.clip(least, 0, 1) * 255 + 0.5)
    return out


@njit(inline="always")
def lower_side(x, need):
    """Return the lower side of one need at x."""
    rise = (x - need[0]) * need[1] + np.float32(1.0)
    fall = (need[2] - x) * need[3] + np.float32(1.0)
    return rise if rise < fall else fall


@njit(parallel=True, fastmath=True, error_model="numpy")
def yardstick(stack, params, low, limiting, block=4096):
    """Fill score and limiting factor of six known factors, as bare as it can be written."""
    for k in prange((stack.shape[1] + block - 1) // block):
        cells = slice(k * block, min((k + 1) * block, stack.shape[1]))
        r0, r1, r2 = stack[0, cells], stack[1, cells], stack[2, cells]
        r3, r4, r5 = stack[3, cells], stack[4, cells], stack[5, cells]
        for p in range(params.shape[0]):
            q, out, limit = params[p], low[p, cells], limiting[p, cells]
            n0 = (q[0, 0], q[0, 1], q[0, 2], q[0, 3])
            n1 = (q[1, 0], q[1, 1], q[1, 2], q[1, 3])
            n2 = (q[2, 0], q[2, 1], q[2, 2], q[2, 3])
            n3 = (q[3, 0], q[3, 1], q[3, 2], q[3, 3])
            n4 = (q[4, 0], q[4, 1], q[4, 2], q[4, 3])
            n5 = (q[5, 0], q[5, 1], q[5, 2], q[5, 3])
            for i in range(out.size):
                least, code = lower_side(r0[i], n0), np.int32(0)
                m = lower_side(r1[i], n1)
                least, code = (m, np.int32(1)) if m < least else (least, code)
                m = lower_side(r2[i], n2)
                least, code = (m, np.int32(2)) if m < least else (least, code)
                m = lower_side(r3[i], n3)
                least, code = (m, np.int32(3)) if m < least else (least, code)
                m = lower_side(r4[i], n4)
                least, code = (m, np.int32(4)) if m < least else (least, code)
                m = lower_side(r5[i], n5)
                least, code = (m, np.int32(5)) if m < least else (least, code)
                least = min(max(least, np.float32(0.0)), np.float32(1.0))
                out[i] = np.uint8(np.int32(least * np.float32(255.0) + np.float32(0.5)))
                limit[i] = np.uint8(code)


def seconds(call, repeat: int) -> float:
    """Return the median seconds of some runs, after one that is thrown away."""
    call()
    runs = []
    for _ in range(repeat):
        start = time.perf_counter()
        call()
        runs.append(time.perf_counter() - start)
    return statistics.median(runs)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--cells", type=int, default=2000)
    parser.add_argument("--plants", type=int, default=60)
    parser.add_argument("--repeat", type=int, default=7)
    parser.add_argument(
        "--all", action="store_true", help="also the other ways to combine, and unknown cells"
    )
    options = parser.parse_args()
    values, needs = smooth_layers(options.cells), make_needs(options.plants, "scarcest")
    stack = np.stack([values[name].ravel() for name in FACTORS])
    low = np.zeros((options.plants, stack.shape[1]), np.uint8)
    limiting = np.zeros_like(low)
    tables = [needs.tables[k].astype(np.float32) for k in ("params", "worst", "best")]
    tables += [needs.tables["codes"], needs.tables["weights"]]
    inside = seconds(lambda: fill(stack, False, SCARCEST, True, *tables, low, low, limiting), options.repeat)
    work = time.process_time()
    fill(stack, False, SCARCEST, True, *tables, low, low, limiting)
    work = time.process_time() - work
    scores = low.copy()
    bare = seconds(lambda: yardstick(stack, tables[0], low, limiting), options.repeat)
    bare_work = time.process_time()
    yardstick(stack, tables[0], low, limiting)
    bare_work = time.process_time() - bare_work
    differ = (scores.astype(np.int16) != low).mean()
    whole = seconds(lambda: fit(needs, values), max(1, options.repeat // 2))
    print(f"{options.cells} x {options.cells} cells, {options.plants} plants, {len(FACTORS)} factors")
    print(f"in memory {inside:.4f} s ({work:.3f} s of processor time), fit {whole:.4f} s")
    print(f"yardstick {bare:.4f} s ({bare_work:.3f} s of processor time), bytes that differ {differ:.1e}")
    if options.cells <= 1000:
        start = time.perf_counter()
        twin = slow_twin(values, needs.tables["ranges"])
        differ = (twin.astype(int) != scores.reshape(twin.shape)).mean()
        print(f"numpy twin {time.perf_counter() - start:.2f} s, bytes that differ {differ:.2e}")
    if options.all:
        for combine in ("geometric", "square_root"):
            other = make_needs(options.plants, combine)
            print(f"{combine} {seconds(lambda o=other: fit(o, values), 1):.3f} s")
        values[FACTORS[1]][:50, :50] = np.nan
        print(f"scarcest with a hole {seconds(lambda: fit(needs, values), 1):.3f} s")


if __name__ == "__main__":
    main()
