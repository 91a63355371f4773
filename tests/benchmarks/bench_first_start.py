"""What compiling costs on a fresh machine: seconds of each compiled function, from an empty cache.

``python tests/benchmarks/bench_first_start.py [--json FILE]`` plans six yards of the sample town with their
corridor in one process whose cache of compiled loops is empty, and lists what numba's own events tell:
seconds by function and kinds of arguments, called ones not counted twice.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path

ROOT = Path(__file__).parents[2]


def compile_all(target: str) -> None:
    """Run, in this process, and write [function, seconds] of each compilation."""
    from numba.core import event

    with event.install_recorder("numba:compile") as recorder:
        sys.path.insert(0, str(ROOT))
        import habitat

        study = habitat.read_study(ROOT / "sample_geodata")
        some = ("01-003", "01-005", "02-004", "04-001", "05-004", "10-006")
        start = time.perf_counter()
        habitat.run(study, yard_ids=some, workers=1)
        wall = time.perf_counter() - start
    spent, inside = [], [0.0]
    stack: list[tuple[str, float]] = []
    for at, what in recorder.buffer:
        if what.is_start:
            stack.append((f"{what.data['dispatcher'].py_func.__name__}", at))
            inside.append(0.0)
        else:
            name, began = stack.pop()
            spent.append((name, at - began - inside.pop()))
            inside[-1] += at - began
    Path(target).write_text(json.dumps({"wall_s": wall, "compiled": spent}), encoding="utf-8")


def main() -> None:
    """Print the functions that take longest, and the sum."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--json", type=Path)
    ask.add_argument("--child", default="")
    asked = ask.parse_args()
    if asked.child:
        compile_all(asked.child)
        return
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "compiled.json"
        subprocess.run(
            [sys.executable, __file__, "--child", str(target)],
            check=True,
            env={**os.environ, "NUMBA_CACHE_DIR": f"{folder}/cache"},
        )
        found = json.loads(target.read_text(encoding="utf-8"))
    seconds: dict[str, list[float]] = defaultdict(list)
    for name, spent in found["compiled"]:
        seconds[name].append(spent)
    for name, spent in sorted(seconds.items(), key=lambda item: -sum(item[1])):
        print(f"{name:32s} {sum(spent):6.2f} s, {len(spent)} kinds of arguments")
    print(f"in all {sum(map(sum, seconds.values())):.1f} s in {len(found['compiled'])} functions")
    if asked.json:
        asked.json.write_text(json.dumps(found, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
