"""Change single places of the core's code, one at a time, and see whether its tests fail.

``python tests/benchmarks/mutants.py --sample 300 --seed 1 --report mutants.txt`` draws places at random from
the folders below, writes each changed module over a copy of the package in a scratch folder, and runs the
module's own tests, then those of its folders (``TESTS``), against the copy until one fails. A mutant that no
test notices is listed with its line. It takes hours: half a minute a mutant or so; ``--begin 60`` goes on
after the first 60 of the same sample. Named mutants (``--named``) are those that once lived.

Mutations: comparisons to their neighbours (< to <=) and opposites, + to -, * to /, and to or, True to False,
numbers n to n + 1 and 10 n, min to max; not in docstrings, not in messages.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

ROOT = Path(__file__).parents[2]
TESTS = {
    "site": ("tests/site", "tests/ground", "tests/soil"),
    "ground": ("tests/ground",),
    "soil": ("tests/soil",),
    "suitability": ("tests/suitability",),
    "planting": ("tests/planting",),
    "connectivity": ("tests/connectivity",),
    "knowledge": ("tests/knowledge",),
}
"""Folder of the package -> tests that a newcomer runs after a change there."""

PHASING, ACCOUNTS = "planting/years/phasing.py", "planting/habitat_area.py"
LOSSES, GAPS = "connectivity/measures/losses.py", "connectivity/measures/gaps.py"
NAMED = (
    ("ground/corners.py", "if len(arms) < 3:", "if len(arms) < 2:", "ground/test_corners.py"),
    ("ground/corners.py", "if gap <= 4.0:", "if gap <= 40.0:", "ground/test_corners.py"),
    ("soil/factors.py", "worse = np.minimum(", "worse = np.maximum(", "soil/test_factors.py"),
    (PHASING, "+= a.cost", "+= 0.0", "planting/years/test_phasing.py"),
    (PHASING, "from_year > year)", "from_year > year + 9)", "planting/years/test_phasing.py"),
    (ACCOUNTS, 'state != "before" and', 'state == "before" and', "planting/test_habitat_area.py"),
    (ACCOUNTS, '"before" and yard', '"before" or yard', "planting/test_habitat_area.py"),
    ("planting/tables.py", "/ max(abs(choice.worth)", "/ max(abs(choice.bound)", "planting/test_tables.py"),
    (LOSSES, "rng.permutation(free) for", "free for", "connectivity/measures/test_losses.py"),
    (LOSSES, "argsort(-carr", "argsort(carr", "connectivity/measures/test_losses.py"),
    (
        "connectivity/invitations/table.py", "chance < rise", "chance > rise",
        "connectivity/invitations/test_table.py",
    ),
    (GAPS, "max(0.75 *", "max(7.5 *", "connectivity/measures/test_breaks.py"),
    (GAPS, "max(0.75 *", "max(0.5 *", "connectivity/measures/test_breaks.py"),
)  # fmt: skip
"""Path in the package, text, what it becomes, and tests: mutants that no test noticed when first tried."""

MOST_S = 400
"""Processor time after which a mutant hangs [s]: more than the tests of any folder need."""

COMPARE = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
BINARY = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
NAMES = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "any": "all", "all": "any"}


def changed(node: ast.AST) -> Iterator[ast.AST]:
    """Yield the mutants of one node of a syntax tree."""
    if isinstance(node, ast.Compare) and type(node.ops[0]) in COMPARE:
        yield ast.Compare(node.left, [COMPARE[type(node.ops[0])](), *node.ops[1:]], node.comparators)
    elif isinstance(node, ast.BinOp) and type(node.op) in BINARY:
        yield ast.BinOp(node.left, BINARY[type(node.op)](), node.right)
    elif isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield ast.Constant(not node.value)
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        yield from (ast.Constant(node.value + 1), ast.Constant(node.value * 10 or 3))
    elif isinstance(node, ast.Attribute) and node.attr in NAMES:
        yield ast.Attribute(node.value, NAMES[node.attr], node.ctx)
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in NAMES:
        yield ast.Call(ast.Name(NAMES[node.func.id], ast.Load()), node.args, node.keywords)


def mutants(path: Path) -> Iterator[tuple[int, str, str]]:
    """Yield line, what changes, and the whole changed text of a module."""
    text = path.read_text(encoding="utf-8")
    lines = text.split("\n")
    for node in ast.walk(ast.parse(text)):
        if getattr(node, "lineno", None) is None or node.lineno != node.end_lineno:
            continue
        if lines[node.lineno - 1].lstrip().startswith(('f"', '"', "@", "raise", "from ", "import ")):
            continue
        for other in changed(node):
            line = lines[node.lineno - 1].encode()
            old = line[node.col_offset : node.end_col_offset].decode()
            new = ast.unparse(ast.fix_missing_locations(other))
            put = line[: node.col_offset].decode() + f"({new})" + line[node.end_col_offset :].decode()
            whole = "\n".join([*lines[: node.lineno - 1], put, *lines[node.lineno :]])
            try:
                compile(whole, str(path), "exec")
            except SyntaxError:
                continue
            yield node.lineno, f"{old} -> {new}", whole


def outcome(copy: Path, tests: tuple[str, ...], caches: Path | None) -> str:
    """Return "died" if a test fails against the package in ``copy``, "hung" past the bound, else "LIVES".

    ``caches`` is an empty folder for compiled loops: those of a loop's callers do not notice a changed loop.
    """
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider", *tests]
    env = {**os.environ, "PYTHONPATH": str(copy), "MPLBACKEND": "Agg", "PYTHONDONTWRITEBYTECODE": "1"}
    if caches is not None:
        env["NUMBA_CACHE_DIR"] = str(caches)
    done = subprocess.run(command, cwd=copy, env=env, capture_output=True, preexec_fn=bounded, check=False)
    return "hung" if done.returncode == -signal.SIGXCPU else "died" if done.returncode else "LIVES"


def bounded() -> None:
    """End a mutant that loops: by processor time, which other work on the machine does not change."""
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_S, MOST_S + 5))


def main() -> None:
    """Try the mutants and say which live."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--sample", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--named", action="store_true")
    parser.add_argument(
        "--folders", nargs="*",
        default=["site", "ground", "suitability", "planting", "connectivity", "knowledge"],
    )  # fmt: skip
    parser.add_argument("--begin", type=int, default=0)
    parser.add_argument("--near", action="store_true", help="leave out the tests of the whole folder")
    parser.add_argument("--check", action="store_true", help="first see that all tests pass without a change")
    parser.add_argument("--report", type=Path, default=Path("mutants.txt"))
    given = parser.parse_args()
    jobs = list(named() if given.named else drawn(given.folders, given.sample, given.seed))[given.begin :]
    ends: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as scratch, given.report.open("a", encoding="utf-8") as report:
        copy, caches = Path(scratch) / "copy", Path(scratch) / "caches"
        for name in ("habitat", "tests", "sample_geodata"):
            shutil.copytree(ROOT / name, copy / name)
        shutil.copy(ROOT / "pyproject.toml", copy)
        for tests in sorted({job[3][-1:] for job in jobs}) if given.check else ():
            if outcome(copy, tests, None) != "LIVES":
                raise SystemExit(f"{' '.join(tests)} fail without any change")
        wide = {folder for folders in TESTS.values() for folder in folders} if given.near else set()
        for number, (path, words, whole, every) in enumerate(jobs, given.begin + 1):
            tests = tuple(t for t in every if t not in wide) or every
            end = tried(copy / "habitat" / path, whole, partial(outcome, copy, tests), caches)
            ends[end] += 1
            print(f"{number} {end}  {path}: {words}", file=report, flush=True)
            print(f"{number} tried: {dict(ends)}", flush=True)


def tried(file: Path, whole: str, outcome_of: Callable[[Path | None], str], caches: Path) -> str:
    """Return the outcome of a module changed to ``whole``, and put it back as it was."""
    before, times = file.read_bytes(), file.stat()
    file.write_text(whole, encoding="utf-8")
    shutil.rmtree(caches, ignore_errors=True)
    end = outcome_of(caches if "njit" in whole else None)
    file.write_bytes(before)
    os.utime(file, ns=(times.st_atime_ns, times.st_mtime_ns))
    return end


Job = tuple[str, str, str, tuple[str, ...]]
"""Path in the package, what changes, the whole changed text, and tests."""


def named() -> Iterator[Job]:
    """Yield the mutants that once lived."""
    for path, old, new, tests in NAMED:
        text = (ROOT / "habitat" / path).read_text(encoding="utf-8")
        if text.count(old) != 1:
            raise SystemExit(f"{path} no longer holds {old!r} once: mend NAMED")
        yield path, f"{old} -> {new}", text.replace(old, new), (f"tests/{tests}",)


def drawn(folders: list[str], sample: int, seed: int) -> Iterator[Job]:
    """Yield mutants drawn at random, each place equally likely."""
    base = ROOT / "habitat"
    paths = sorted(p for f in folders for p in (base / f).rglob("*.py") if p.name != "__init__.py")
    every = [(p, *m) for p in paths for m in mutants(p)]
    chosen = random.Random(seed).sample(every, min(sample, len(every)))
    for path, line, words, whole in chosen:
        place = path.relative_to(base).as_posix()
        own = Path("tests") / path.relative_to(base).with_name(f"test_{path.name}")
        near = tuple(p.as_posix() for p in (own, own.parent) if (ROOT / p).exists())
        tests = tuple(dict.fromkeys((*near, *TESTS[place.split("/")[0]])))
        yield place, f"line {line}: {words}", whole, tests


if __name__ == "__main__":
    main()
