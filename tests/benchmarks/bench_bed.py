"""Seconds for ``habitat bed``, each call in a process of its own, as a person at a garden fair would call it.

Run ``python -m tests.benchmarks.bench_bed`` from the checkout. Wall and processor seconds of interpreter,
design, text and pages: first of a newcomer's first call, for which all loops are compiled (goal: 60 s),
then, once loops are compiled and files cached, the median of three calls a case (goal: 10 s).
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

CASES = {
    "12x6ft in Ohio": ("--place", "Ohio", "--size", "12x6ft"),
    "6x4m in Texas, clay, meadow": ("--place", "TX", "--size", "6x4m", "--soil", "clay", "--style", "meadow"),
    "a pot": ("--place", "Ohio", "--size", "a pot"),
    "10x10m for as many as possible": ("--place", "Ohio", "--size", "10x10m", "--for", "as many as possible"),
}


def call(options, folder, **environment):
    """Return wall and processor seconds of one call."""
    before, start = os.times(), time.perf_counter()
    command = [sys.executable, "-m", "habitat", "bed", *options, "--out", str(folder), "--replace"]
    subprocess.run(
        command,
        check=True,
        stdout=subprocess.DEVNULL,
        stdin=subprocess.DEVNULL,
        env={**os.environ, **environment},
    )
    wall, after = time.perf_counter() - start, os.times()
    spent = after.children_user + after.children_system - before.children_user - before.children_system
    return wall, spent


def main():
    """Print a line per case."""
    with tempfile.TemporaryDirectory() as folder:
        first = CASES["12x6ft in Ohio"]
        cold, spent = call(first, Path(folder), NUMBA_CACHE_DIR=f"{folder}/compiled")
        print(f"first call, loops not compiled yet: {cold:.1f} s, of processor time {spent:.1f} s")
        call(first, Path(folder))
        for name, options in CASES.items():
            found = [call(options, Path(folder)) for _ in range(3)]
            wall, spent = (statistics.median(values) for values in zip(*found, strict=True))
            print(f"{name}: {wall:.1f} s, of processor time {spent:.1f} s")


if __name__ == "__main__":
    main()
