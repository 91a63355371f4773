"""Which tests execute a line, and a run of some tests in a fork of a warm process, for ``mutants.py``.

Tests are recorded twice: as they are, and with ``NUMBA_DISABLE_JIT=1`` for lines of compiled loops, where a
test that takes more than ``PLAIN_S`` is left out. What a fixture of a module or a session executes counts for
each test that uses it. Only tests that pass without any change are kept.
"""

from __future__ import annotations

import ast
import contextlib
import importlib
import json
import os
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

PLAIN_S = 4
"""Processor time of one test over loops that are not compiled [s]."""

WARM = (
    "numpy", "pandas", "scipy.optimize", "scipy.sparse.csgraph", "scipy.spatial", "scipy.ndimage", "shapely",
    "geopandas", "pyogrio", "pyproj", "rasterio", "exactextract", "pvlib", "numba", "highspy", "pydantic",
    "hypothesis", "hypothesis.strategies", "hypothesis.extra.numpy", "networkx", "skimage.measure", "loky",
    "pyarrow.parquet", "openpyxl", "typer", "rich.console",
)  # fmt: skip
"""What the package and its tests import and no mutant changes."""


class Recorder:
    """Plugin of pytest that tells coverage which test or wide fixture is at work, and how long each takes."""

    def __init__(self, cover, plain):
        self.cover, self.plain, self.at = cover, plain, [""]
        self.seconds, self.fixtures, self.failed = {}, {}, set()

    def enter(self, name):
        self.at.append(name)
        self.cover.switch_context(name)
        return time.process_time()

    def leave(self, begin):
        name = self.at.pop()
        self.seconds[name] = self.seconds.get(name, 0.0) + time.process_time() - begin
        self.cover.switch_context(self.at[-1])

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item, nextitem):
        self.fixtures[item.nodeid] = [f"fixture {name}" for name in getattr(item, "fixturenames", ())]
        begin = self.enter(item.nodeid)
        if self.plain:
            signal.setitimer(signal.ITIMER_VIRTUAL, PLAIN_S)
        try:
            return (yield)
        finally:
            signal.setitimer(signal.ITIMER_VIRTUAL, 0)
            self.leave(begin)

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef, request):
        if fixturedef.scope == "function":
            return (yield)
        begin = self.enter(f"fixture {fixturedef.argname}")
        try:
            return (yield)
        finally:
            self.leave(begin)

    def pytest_runtest_logreport(self, report):
        if not report.passed:
            self.failed.add(report.nodeid)


def too_long(*_):
    raise TimeoutError("too long without compiled loops")


def record(copy: Path, folders: list[str], out: Path, plain: bool) -> None:
    """Run the tests of ``folders`` in ``copy`` and write which tests execute which lines.

    The process is one of its own: it stands in ``copy`` and imports the package from there.
    """
    import coverage

    signal.signal(signal.SIGVTALRM, too_long)
    traced = str(copy / "habitat" / ("**/*kernels.py" if plain else "*"))
    cover = coverage.Coverage(data_file=None, include=[traced], config_file=False)
    recorder = Recorder(cover, plain)
    cover.start()
    pytest.main(["-q", "-n", "0", "-p", "no:cacheprovider", *folders], plugins=[recorder])
    cover.stop()
    data, lines = cover.get_data(), {}
    for file in data.measured_files():
        place = Path(file).relative_to(copy / "habitat").as_posix()
        by_line = data.contexts_by_lineno(file)
        lines[place] = {str(n): sorted(set(c) - {""}) for n, c in by_line.items() if set(c) - {""}}
    kept = {t: s for t, s in recorder.seconds.items() if t not in recorder.failed}
    out.write_text(json.dumps({"lines": lines, "seconds": kept, "fixtures": recorder.fixtures}))


def recorded(copy: Path, folders: list[str], out: Path, plain: bool) -> dict:
    """Return what ``record`` wrote, and let it write first where there is nothing yet."""
    if not out.exists():
        env = {**os.environ, "PYTHONPATH": os.pathsep.join((str(copy), os.environ.get("PYTHONPATH", "")))}
        env |= {"MPLBACKEND": "Agg", **({"NUMBA_DISABLE_JIT": "1"} if plain else {})}
        words = [sys.executable, __file__, str(copy), str(out), "plain" if plain else "as is", *folders]
        with out.with_suffix(".log").open("w") as log:
            subprocess.run(words, cwd=copy, env=env, check=True, stdout=log, stderr=log)
    return json.loads(out.read_text())


def tests_of(known: dict, place: str, text: str, line: int) -> list[tuple[str, float]]:
    """Return the tests that execute a line of a module's ``text``, quickest first, each with its end [s].

    For a line that is executed at import only: those that execute any line of the module.
    """
    lines = known["lines"].get(place, {})
    found = {t for n in statement(ast.parse(text), line) for t in lines.get(str(n), ())}
    if not found and not in_function(ast.parse(text), line):
        found = {t for tests in lines.values() for t in tests}
    seconds, users = known["seconds"], known["fixtures"]
    wide = {name for name in found if name.startswith("fixture ")}
    tests = [t for t in seconds if t in users and (t in found or wide & set(users[t]))]
    cost = {t: seconds[t] + sum(seconds.get(f, 0.0) for f in set(users[t])) for t in tests}
    order, at_s, ready = [], 0.0, set[str]()
    for test in sorted(tests, key=lambda t: (cost[t], t)):
        at_s += seconds[test] + sum(seconds.get(f, 0.0) for f in set(users[test]) - ready)
        ready |= set(users[test])
        order.append((test, at_s))
    return order


def statement(tree: ast.Module, line: int) -> range:
    """Return the lines of the innermost statement around a line, of a compound one its head."""
    best = range(line, line + 1)
    for node in ast.walk(tree):
        if isinstance(node, ast.stmt) and node.lineno <= line <= (node.end_lineno or 0):
            body = getattr(node, "body", None)
            end = body[0].lineno - 1 if body else node.end_lineno
            if line <= max(end, node.lineno):
                best = range(node.lineno, max(end, node.lineno) + 1)
    return best


def in_function(tree: ast.Module, line: int) -> bool:
    """Tell whether a line stands in the body of a function."""
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef)
    return any(isinstance(n, kinds) and n.body[0].lineno <= line <= n.end_lineno for n in ast.walk(tree))


def warm() -> None:
    """Import what no mutant changes, so that forks need not."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    os.environ["MPLBACKEND"] = "Agg"
    for name in WARM:
        importlib.import_module(name)


class First:
    """Plugin of pytest that keeps the first test that fails."""

    name = ""

    def pytest_runtest_logreport(self, report):
        self.name = self.name or (report.nodeid if report.failed else "")


def forked(copy: Path, tests: list[str], plain: bool, bound_s: float) -> tuple[str, str]:
    """Return "died", "hung" or "LIVES" for the package in ``copy``, and the test that failed."""
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        os.setsid()
        with contextlib.suppress(BaseException):
            code, name = in_child(copy, tests, plain, bound_s)
            os.write(writing, f"{int(code)} {name}".encode())
        os._exit(0)
    os.close(writing)
    status = os.waitpid(child, 0)[1]
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    with os.fdopen(reading) as pipe:
        code, _, name = pipe.read().partition(" ")
    if os.WIFSIGNALED(status):
        return ("hung" if os.WTERMSIG(status) == signal.SIGXCPU else "died"), f"signal {os.WTERMSIG(status)}"
    return ("LIVES", "") if code == "0" else ("died", name or f"exit {code}")


def in_child(copy: Path, tests: list[str], plain: bool, bound_s: float) -> tuple[int, str]:
    """Run tests in a fork, bounded by processor time, which other work on the machine does not change."""
    used = sum(resource.getrusage(resource.RUSAGE_SELF)[:2])
    resource.setrlimit(resource.RLIMIT_CPU, (int(used + bound_s) + 1, int(used + bound_s) + 10))
    sys.dont_write_bytecode = True
    importlib.import_module("numba").config.DISABLE_JIT = int(plain)
    os.environ["PYTHONPATH"] = os.pathsep.join((str(copy), os.environ.get("PYTHONPATH", "")))
    sys.path.insert(0, str(copy))
    os.chdir(copy)
    log = os.open(copy / "last.log", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(log, 1)
    os.dup2(log, 2)
    first = First()
    return pytest.main(["-x", "-q", "-n", "0", "-p", "no:cacheprovider", *tests], plugins=[first]), first.name


if __name__ == "__main__":
    record(Path(sys.argv[1]), sys.argv[4:], Path(sys.argv[2]), sys.argv[3] == "plain")
