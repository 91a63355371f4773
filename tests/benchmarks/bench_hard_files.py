"""What clumsy and hostile files cost: each in a process of its own, with seconds, memory and how it ended.

python tests/benchmarks/bench_hard_files.py [WORD ...]
python tests/benchmarks/bench_hard_files.py --damaged 10000 [--seed 1]

Without words all of ``tests/support/hard_files.py`` at whole size; with words those whose names hold one of
them. Printed of each: processor seconds, peak resident memory [MB], exit code and the last line told. A trial
counts as failed if it takes over 25 s of processor time or 1,500 MB, ends by a signal or by a fault of the
program. With ``--damaged`` so many damaged copies of each format are read instead (tests take 300).
"""

import argparse
import multiprocessing
import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.inputs.test_damaged_files import KINDS, SEED, read_damaged
from tests.support.damaged_results import READ_BY, use_damaged
from tests.support.hard_files import CLUMSY, HOSTILE

ROOT = Path(__file__).resolve().parents[2]

LIMIT_S, LIMIT_MB = 25, 1_500
HARD_S, HARD_BYTES = 90, 8 * 1024**3


def bounded():
    """Keep a trial that goes wrong from taking the machine along."""
    resource.setrlimit(resource.RLIMIT_CPU, (HARD_S, HARD_S + 5))
    resource.setrlimit(resource.RLIMIT_AS, (HARD_BYTES, HARD_BYTES))


def trial(name, build, size):
    """Return (seconds, MB, exit code, what it said) of one check."""
    with tempfile.TemporaryDirectory(prefix="hard-") as folder:
        with multiprocessing.get_context("fork").Pool(1) as apart:  # its memory would count as the child's
            path = apart.apply(build, (Path(folder), size))
        command = [sys.executable, "-m", "habitat", "check", str(path)]
        child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, cwd=ROOT,
                                 env={**os.environ, "COLUMNS": "400"}, preexec_fn=bounded)  # noqa: PLW1509  # fmt: skip
        told = child.stdout.read().decode(errors="replace")
        _, status, used = os.wait4(child.pid, 0)
    code = os.waitstatus_to_exitcode(status)
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, code, told


def main(words):
    """Run the trials and print a line of each."""
    failed = 0
    for name, (build, size) in {**CLUMSY, **HOSTILE}.items():
        if words and not any(word in name for word in words):
            continue
        seconds, mb, code, told = trial(name, build, size)
        bad = seconds > LIMIT_S or mb > LIMIT_MB or code not in (0, 1, 2) or "Traceback" in told
        failed += bad
        last = told.strip().splitlines()[-1][:230] if told.strip() else ""
        print(
            f"{'FAILED' if bad else 'held  '} {name:28} {seconds:6.1f} s {mb:6.0f} MB  {code:4}  {last}",
            flush=True,
        )
    print(f"{failed} failed")


def damaged(count, seed):
    """Read damaged copies of every format and of results; any end but a result or a clear error stops it."""
    for kind in KINDS:
        with tempfile.TemporaryDirectory(prefix="damaged-") as folder:
            ends = read_damaged(kind, Path(folder), count, seed)
        print(
            f"{kind.__name__:12} {count} copies: {ends['read']} read, {ends['refused']} refused", flush=True
        )
    for name in READ_BY:
        few = count if name.endswith(".csv") else count // 10  # a package takes a second
        with tempfile.TemporaryDirectory(prefix="damaged-") as folder:
            ends = use_damaged(name, Path(folder), few, seed)
        print(f"{name:12} {few} copies: {ends['read']} read, {ends['refused']} refused", flush=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("words", nargs="*")
    parser.add_argument("--damaged", type=int)
    parser.add_argument("--seed", default=SEED)
    given = parser.parse_args()
    main(given.words) if given.damaged is None else damaged(given.damaged, given.seed)
