"""Seconds for the fit of 60 plants over a window of cells, six factors, everything known.

    python tests/benchmarks/bench_suitability.py [--cells 2000] [--plants 60] [--repeat 7]

Seeded. "in memory" is the compiled pass into arrays that are there; "fit" also makes the arrays. The slow
twin is plain numpy, one plant at a time; results of both are compared.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from habitat.factors import FACTORS
from habitat.suitability._kernels import SCARCEST, fill
from habitat.suitability.fit import _tables, fit
from habitat.suitability.needs import trapezium_params
from habitat.suitability.types import Needs

NEEDS = FACTORS.names
SIX = NEEDS[:6]


def make_needs(plants: int, combine: str, seed: int = 4) -> Needs:
    """Return random needs on factors that run from 0 to 1."""
    rng = np.random.default_rng(seed)
    ends = np.sort(rng.uniform(0.0, 1.0, (plants, len(SIX), 4)), -1)
    ends[..., 0] -= 0.15
    ends[..., 3] += 0.15
    tables = {
        "params": trapezium_params(ends),
        "worst": np.zeros(ends.shape[:2], np.float32),
        "best": np.ones(ends.shape[:2], np.float32),
        "codes": np.arange(len(SIX), dtype=np.uint8),
        "weights": np.ones(len(SIX), np.float32),
        "ranges": ends,
    }
    names = tuple(f"plant {i}" for i in range(plants))
    return Needs(names, SIX, NEEDS[6:], combine, (0.75, 0.5, 0.25), np.zeros(plants), tables)


def smooth_layers(side: int, seed: int = 3) -> dict[str, np.ndarray]:
    """Return smooth fields in [0, 1] with a little noise."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:side, 0:side] / side
    out = {}
    for i, name in enumerate(SIX):
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
    stack = np.stack([values[name].ravel() for name in SIX])
    low = np.zeros((options.plants, stack.shape[1]), np.uint8)
    limiting = np.zeros_like(low)
    tables = _tables(needs)[1:]
    inside = seconds(lambda: fill(stack, False, SCARCEST, True, *tables, low, low, limiting), options.repeat)
    work = time.process_time()
    fill(stack, False, SCARCEST, True, *tables, low, low, limiting)
    work = time.process_time() - work
    whole = seconds(lambda: fit(needs, values), max(1, options.repeat // 2))
    print(f"{options.cells} x {options.cells} cells, {options.plants} plants, {len(SIX)} factors")
    print(f"in memory {inside:.4f} s ({work:.3f} s of processor time), fit {whole:.4f} s")
    if options.cells <= 1000:
        start = time.perf_counter()
        twin = slow_twin(values, needs.tables["ranges"])
        differ = (twin.astype(int) != low.reshape(twin.shape)).mean()
        print(f"numpy twin {time.perf_counter() - start:.2f} s, bytes that differ {differ:.2e}")
    if options.all:
        for combine in ("geometric", "square_root"):
            other = make_needs(options.plants, combine)
            print(f"{combine} {seconds(lambda o=other: fit(o, values), 1):.3f} s")
        values[SIX[1]][:50, :50] = np.nan
        print(f"scarcest with a hole {seconds(lambda: fit(needs, values), 1):.3f} s")


if __name__ == "__main__":
    main()
