"""Change single places of the core's code, one at a time, and see whether its tests fail.

``python tests/benchmarks/mutants.py --sample 300 --seed 1 --folder mutants`` draws places at random from the
folders below and writes each changed module over a copy of the package in ``--folder``. It records once
there which tests execute which lines (``mutant_tests.py``; takes ``coverage``). Each mutant meets, in a fork
of a warm process, the tests of its own module; those that live then meet the tests of the stages that execute
their lines, quickest first, for half a minute (``MOST_S``). Compiled loops run as plain Python. What was
tried stands in ``FOLDER/results.txt`` with the test that failed and is not tried again: a stopped run
goes on. ``--again`` tries those that lived, after tests were written. Named mutants (``--named``) once lived.

Mutations: comparisons to their neighbours (< to <=) and opposites, + to -, * to /, and to or, True to False,
numbers n to n + 1 and 10 n, min to max; not in docstrings, not in messages.
"""

from __future__ import annotations

import argparse
import ast
import random
import shutil
import time
from collections import Counter
from collections.abc import Iterator
from functools import cached_property
from pathlib import Path
from typing import Any

from mutant_tests import forked, recorded, tests_of, warm

ROOT = Path(__file__).parents[2]
FOLDERS = ("site", "ground", "suitability", "planting", "connectivity", "knowledge")
"""Folders of the package that are changed; their tests, and those of ``soil``, are run."""

LOOPS = (
    "suitability/test_fit.py", "planting/drawing/test_kernels.py", "planting/drawing/test_drifts.py",
    "planting/drawing/test_lattice.py", "connectivity/distance", "connectivity/test_patch_graph.py",
    "connectivity/measures/test_connected_area.py", "connectivity/measures/test_losses.py",
    "connectivity/invitations/test_search.py",
)  # fmt: skip
"""Tests of compiled loops."""

PHASING, ACCOUNTS = "planting/years/phasing.py", "planting/habitat_area.py"
LOSSES, GAPS = "connectivity/measures/losses.py", "connectivity/measures/gaps.py"
NAMED = (
    ("ground/corners.py", "if len(arms) < 3:", "if len(arms) < 2:"),
    ("ground/corners.py", "if gap <= 4.0:", "if gap <= 40.0:"),
    ("soil/factors.py", "worse = np.minimum(", "worse = np.maximum("),
    (PHASING, "+= a.cost", "+= 0.0"),
    (PHASING, "from_year > year)", "from_year > year + 9)"),
    (ACCOUNTS, 'state != "before" and', 'state == "before" and'),
    (ACCOUNTS, '"before" and yard', '"before" or yard'),
    ("planting/tables.py", "/ max(abs(choice.worth)", "/ max(abs(choice.bound)"),
    (LOSSES, "rng.permutation(free) for", "free for"),
    (LOSSES, "argsort(-carr", "argsort(carr"),
    ("connectivity/invitations/table.py", "chance < rise", "chance > rise"),
    (GAPS, "max(0.75 *", "max(7.5 *"),
    (GAPS, "max(0.75 *", "max(0.5 *"),
)  # fmt: skip
"""Path in the package, text, and what it becomes: mutants that no test noticed when first tried."""

MOST_S = 30
"""Processor time of tests that a mutant meets beyond those of its own module, quickest first [s]."""

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
    """Yield line, what changes at which column, and the whole changed text of a module."""
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
            yield node.lineno, f"{old} -> {new} at {node.col_offset}", whole


class Trials:
    """Trials of mutants in a copy of the package, with what came of each so far."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(exist_ok=True)
        self.folder = folder.resolve()
        self.copy, self.report = copied(self.folder / "copy"), self.folder / "results.txt"
        told = self.report.read_text(encoding="utf-8").splitlines() if self.report.exists() else []
        self.ends = dict(line.split("  ")[:2] for line in told)

    def end_of(self, job: Job) -> str:
        """Return what came of a mutant, "" if it was not tried."""
        return self.ends.get(name_of(job), "")

    @cached_property
    def as_is(self) -> dict[str, Any]:
        """Which tests execute which lines."""
        stages = [f"{top}/{folder}" for top in ("tests", "habitat") for folder in (*FOLDERS, "soil")]
        return recorded(self.copy, stages, self.folder / "as_is.json", plain=False)

    @cached_property
    def plain(self) -> dict[str, Any]:
        """The same of tests that run loops, not compiled."""
        return recorded(self.copy, [f"tests/{f}" for f in LOOPS], self.folder / "plain.json", plain=True)

    def near(self, job: Job, *, every: bool) -> None:
        """Let a mutant meet the tests of its own module: those that execute its line, or every one."""
        own = own_tests(job[0])
        if (self.copy / own).exists() and not is_loop(job):
            known = [] if every else [t for t, _ in self.tests(job) if t.startswith(own)]
            self.tell(job, known or [own], LIVES_NEAR)

    def tests(self, job: Job) -> list[tuple[str, float]]:
        """Return the tests that execute a mutant's line, quickest first, each with its end [s]."""
        text = (self.copy / "habitat" / job[0]).read_text(encoding="utf-8")
        return tests_of(self.plain if is_loop(job) else self.as_is, job[0], text, job[1])

    def far(self, job: Job) -> None:
        """Let a mutant meet the tests that execute its line."""
        own = (own_tests(job[0]),) if not is_loop(job) else ()
        self.tell(job, [t for t, at_s in self.tests(job) if at_s <= MOST_S and not t.startswith(own)], LIVES)

    def tell(self, job: Job, tests: list[str], lives: str) -> None:
        """Try a mutant against some tests, put its module back as it was, and write what came of it."""
        place, begin = job[0], time.monotonic()
        file, end, by = self.copy / "habitat" / place, lives, "no other test executes it"
        if tests:
            shutil.copy2(file, f"{file}.before")
            file.write_text(job[3], encoding="utf-8")
            end, by = forked(self.copy, tests, is_loop(job), 60 + 3 * MOST_S)
            end = lives if end == LIVES else end
            Path(f"{file}.before").replace(file)
        self.ends[name_of(job)] = end
        with self.report.open("a", encoding="utf-8") as told:
            print(f"{name_of(job)}  {end}  {time.monotonic() - begin:.0f} s  {by}", file=told)


LIVES, LIVES_NEAR = "LIVES", "lives near"
"""No test that was run failed; no test of the module's own failed, and others are still to be run."""


def is_loop(job: Job) -> bool:
    """Return whether a mutant stands among compiled loops."""
    return "njit" in job[3]


def name_of(job: Job) -> str:
    """Return what a mutant is known by."""
    return f"{job[0]}:{job[1]}: {job[2]}"


def own_tests(place: str) -> str:
    """Return the path of a module's own tests."""
    return (Path("tests") / Path(place).with_name(f"test_{Path(place).name}")).as_posix()


def copied(copy: Path) -> Path:
    """Return a copy of the package as it was when first tried, its tests as they are now."""
    for file in copy.rglob("*.before"):
        file.replace(file.with_suffix(""))
    for name in ("habitat", "tests", "sample_geodata"):
        if name == "tests" or not (copy / name).exists():
            shutil.copytree(ROOT / name, copy / name, dirs_exist_ok=True)
    shutil.copy(ROOT / "pyproject.toml", copy)
    return copy


def main() -> None:
    """Try the mutants and say which live."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--sample", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--named", action="store_true")
    parser.add_argument("--folders", nargs="*", default=list(FOLDERS))
    parser.add_argument("--folder", type=Path, default=Path("mutants"))
    parser.add_argument("--again", action="store_true", help="try those that lived once more")
    given = parser.parse_args()
    trials = Trials(given.folder)
    base = trials.copy / "habitat"
    jobs = list(named(base) if given.named else drawn(base, given.folders, given.sample, given.seed))
    jobs.sort(key=is_loop)  # last, since it takes long to see which tests run them
    warm()
    again = {LIVES} if given.again else set()
    for one in (one for one in jobs if trials.end_of(one) in {"", *again}):
        trials.near(one, every=given.again)
    for one in (one for one in jobs if trials.end_of(one) in {"", LIVES_NEAR, *again}):
        trials.far(one)
    print(Counter(map(trials.end_of, jobs)))


Job = tuple[str, int, str, str]
"""Path in the package, line, what changes, and the whole changed text."""


def named(base: Path) -> Iterator[Job]:
    """Yield the mutants that once lived."""
    for path, old, new in NAMED:
        text = (base / path).read_text(encoding="utf-8")
        if text.count(old) != 1:
            raise SystemExit(f"{path} no longer holds {old!r} once: mend NAMED")
        yield path, text[: text.index(old)].count("\n") + 1, f"{old} -> {new}", text.replace(old, new)


def drawn(base: Path, folders: list[str], sample: int, seed: int) -> Iterator[Job]:
    """Yield mutants drawn at random, each place equally likely."""
    paths = sorted(p for f in folders for p in (base / f).rglob("*.py") if p.name != "__init__.py")
    every = [(p, *m) for p in paths for m in mutants(p)]
    for path, line, words, whole in random.Random(seed).sample(every, min(sample, len(every))):
        yield path.relative_to(base).as_posix(), line, words, whole


if __name__ == "__main__":
    main()
