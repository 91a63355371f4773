"""The house rules that a machine can hold: who imports whom, sizes, tests in the same tree as the code."""

import ast
from fnmatch import fnmatch
from pathlib import Path

import networkx
import pytest

import habitat
from habitat import errors

ROOT = Path(habitat.__file__).parent
TESTS = Path(__file__).parent
ORDER = [
    "base",
    "factors",
    "settings",
    "knowledge",
    "layers",
    "soil",
    "sun",
    "ground",
    "site",
    "suitability",
    "planting",
]
ORDER += ["connectivity", "bed", "study", "report", "revision", "pipeline", "what_if", "commands", "top"]
FIRST_RING = {"soil", "sun", "ground", "site", "suitability", "planting", "connectivity", "bed"}
"""Folders of pure functions: they know no study and no layers."""

BASE = {"arrays", "cells", "cluster", "errors", "executor", "grid", "progress", "remarks", "terms"}
MODULES = sorted(ROOT.rglob("*.py"))


def stage_of(parts):
    if not parts or parts[0] == "__init__":
        return "top"
    if len(parts) == 1 and parts[0] in BASE:
        return "base"
    return parts[0] if parts[0] in ORDER else "top"


def imports_of(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((alias.name.split("."), []) for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield node.module.split("."), [a.name for a in node.names]


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_only_from_stages_above(path):
    own = stage_of(list(path.relative_to(ROOT).with_suffix("").parts))
    for module, names in imports_of(path):
        if module[0] != "habitat":
            continue
        targets = [module[1:]] if len(module) > 1 else [[name] for name in names]
        for target in targets:
            other = stage_of(target)
            if own in FIRST_RING:
                assert other != "layers", f"{path.name} ({own}) takes arrays and frames, not layers"
            assert ORDER.index(other) <= ORDER.index(own), (
                f"{path.name} ({own}) imports {'.'.join(target)} ({other})"
            )


WITHOUT_CIRCLES = ("settings", "layers", "study", "commands", "report", "revision", "what_if")
"""Folders whose modules import each other in one direction only, type-only imports included."""


@pytest.mark.parametrize("folder", WITHOUT_CIRCLES)
def test_no_modules_import_each_other_in_a_circle(folder):
    names = {".".join(p.relative_to(ROOT).with_suffix("").parts): p for p in (ROOT / folder).rglob("*.py")}
    graph = networkx.DiGraph()
    for name, path in names.items():
        for module, imported in imports_of(path):
            bare = ".".join(module[1:])
            found = [bare, *(f"{bare}.{one}" for one in imported)] if module[0] == "habitat" else []
            graph.add_edges_from((name, other) for other in found if other in names)
    assert [sorted(c) for c in networkx.strongly_connected_components(graph) if len(c) > 1] == []


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_what_is_pure_stays_pure(path):
    own = stage_of(list(path.relative_to(ROOT).with_suffix("").parts))
    if own in FIRST_RING:
        known = {part for module, names in imports_of(path) for part in (*module[1:2], *names)}
        assert not known & {"study", "layers", "report", "pipeline", "commands"}, path.name


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_modules_and_functions_stay_small(path):
    text = path.read_text(encoding="utf-8")
    assert text.count("\n") <= 500, f"{path.name} has more than 500 lines"
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            body = node.body[1:] if ast.get_docstring(node) and len(node.body) > 1 else node.body
            lines = node.end_lineno - body[0].lineno + 1
            assert lines <= 50, f"{path.name}: {node.name} has a body of {lines} lines"


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_module_opens_the_network(path):
    barred = {"requests", "urllib", "http", "socket", "ftplib", "aiohttp", "httpx"}
    assert not {module[0] for module, _ in imports_of(path)} & barred


ERRORS = {
    name
    for name, value in vars(errors).items()
    if isinstance(value, type) and issubclass(value, errors.HabitatError)
} - {"ParameterError", "KnowledgeError"}
"""Errors that say what, where and how to mend it in three arguments; the other two make theirs."""


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_errors_say_what_where_and_how_to_mend_it(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        call = node.exc if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) else None
        if call is None or not isinstance(call.func, ast.Name) or call.func.id not in ERRORS:
            continue
        given = [a for a in call.args if not (isinstance(a, ast.Constant) and a.value == "")]
        assert len(call.args) == 3, f"{path.name}:{node.lineno} does not say how to mend it"
        assert given[0] is call.args[0], f"{path.name}:{node.lineno} does not say what is wrong"
        assert given[-1] is call.args[2], f"{path.name}:{node.lineno} does not say how to mend it"


def test_top_level_holds_only_what_was_agreed():
    top = ROOT.parent
    if not (top / "DEVELOPERS.md").exists():
        pytest.skip("installed without its checkout")
    agreed = {
        "pyproject.toml",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "CHANGELOG.md",
        "habitat",
        "notebooks",
    }
    agreed |= {"sample_geodata", "tests"}
    made = {"build", "dist"}
    extra = {
        p.name
        for p in top.iterdir()
        if p.name not in agreed | made
        and not p.name.startswith((".", "first_plan"))
        and p.suffix != ".egg-info"
    }
    assert not extra


BY_DESIGN = {
    "*/_*.py": "compiled loops, held to plain twins by the tests of the module that calls them",
    "*/types.py": "values without work of their own",
    "settings/*.py": "sections of the study file: tests/study/test_reading.py, tests/study/test_reference.py",
    "report/words/en/*.py": "words of remarks: tests/report/words/test_en.py holds every one",
    "commands/*command.py": "what a command passes on: tests/commands/test_app.py and the modules it calls",
    "__main__.py": "one call",
    "arrays.py": "names of types",
    "progress.py": "a name of a type",
    "pipeline/one_run.py": "a job from end to end: tests/commands/test_redraw.py calls all of it",
    "report/plan.py": "a value without work of its own",
}
"""Modules without a file of their own (path from ``habitat/``, * for any), and why."""

THROUGH_OTHERS = {
    "commands/bed/job.py",
    "commands/compare.py",
    "commands/lookup.py",
    "commands/options.py",
    "commands/start.py",
    "commands/why/rules.py",
    "connectivity/distance/least_cost.py",
    "connectivity/distance/reach.py",
    "connectivity/graph/chain.py",
    "connectivity/graph/contraction.py",
    "connectivity/graph/passages.py",
    "connectivity/invitations/gains.py",
    "connectivity/measures/gaps.py",
    "errors.py",
    "knowledge/checking.py",
    "knowledge/columns.py",
    "knowledge/reading.py",
    "layers/cells/columns.py",
    "layers/files_read.py",
    "layers/formats/ogr.py",
    "layers/formats/plain.py",
    "layers/formats/raw.py",
    "layers/rasters/file.py",
    "planting/drawing/observed.py",
    "report/bed/facts.py",
    "report/bed/lists.py",
    "report/bed/words.py",
    "report/compare/words.py",
    "report/jobs.py",
    "report/lists/joined.py",
    "report/lists/shopping.py",
    "report/maps/base.py",
    "report/maps/breaks.py",
    "report/maps/ground.py",
    "report/maps/spot.py",
    "report/maps/style.py",
    "report/maps/year.py",
    "report/package/provenance.py",
    "report/package/tables.py",
    "report/page/mine.py",
    "report/page/places.py",
    "report/page/yards.py",
    "report/page/year.py",
    "report/public/names.py",
    "report/rows.py",
    "report/sheets/beds.py",
    "report/sheets/care.py",
    "report/sheets/data.py",
    "report/sheets/drawing.py",
    "report/sheets/facts.py",
    "report/sheets/further.py",
    "report/sheets/measures.py",
    "report/sheets/numbers.py",
    "report/sheets/words.py",
    "report/sheets/year.py",
    "report/typeset.py",
    "report/words/months.py",
    "report/words/names.py",
    "report/words/text.py",
    "study/files.py",
}
"""Modules that are tested through others only: whoever writes their tests takes them off, none comes on."""

OF_MANY = {
    "planting/communities/test_share_ground.py": "what kinds of one bed share: moisture, reaction and light",
    "factors/test_new_need.py": "an invented need, taken all the way",
    "report/page/test_my_yard.py": "what a household does with a phone, in a browser",
    "report/sheets/test_printed.py": "sheets as they come from the printer, read by another library",
    "knowledge/test_region_tables.py": "the data of every region",
    "test_demo_town.py": "sample_geodata/make_town.py",
    "test_order.py": "this",
}
"""Tests that are about no module of their name, and what they are about."""

FOLDERS_OF_MANY = {"benchmarks", "inputs", "properties", "reference", "support"}
"""Folders of tests by kind: damaged inputs, laws, published tables."""


def home_of_tests(module):
    """Return where a module's tests belong, from its path below ``habitat/``."""
    parts = module.parts[:-1] if module.name == "__init__.py" and len(module.parts) > 1 else module.parts
    return TESTS.joinpath(*parts[:-1], f"test_{Path(parts[-1]).stem.strip('_')}.py")


PATHS = [path.relative_to(ROOT) for path in MODULES]
FILES = [path for path in PATHS if path.name != "__init__.py"]


def excused(module):
    return any(fnmatch(module.as_posix(), pattern) for pattern in BY_DESIGN)


@pytest.mark.parametrize("module", FILES, ids=str)
def test_a_module_has_tests_of_its_name(module):
    assert home_of_tests(module).exists() or excused(module) or module.as_posix() in THROUGH_OTHERS


def test_what_has_tests_of_its_own_is_not_excused():
    assert [name for name in sorted(THROUGH_OTHERS) if home_of_tests(Path(name)).exists()] == []
    assert not THROUGH_OTHERS - {module.as_posix() for module in FILES}
    assert not {name for name in THROUGH_OTHERS if excused(Path(name))}


def test_every_file_of_tests_is_about_a_module():
    known = {home_of_tests(module) for module in PATHS} | {TESTS / name for name in OF_MANY}
    there = {
        path for path in TESTS.rglob("test_*.py") if path.relative_to(TESTS).parts[0] not in FOLDERS_OF_MANY
    }
    assert sorted(str(path.relative_to(TESTS)) for path in there - known) == []
    assert all((TESTS / name).exists() for name in OF_MANY)


@pytest.mark.parametrize("pattern", BY_DESIGN)
def test_excuses_excuse_something(pattern):
    assert any(fnmatch(module.as_posix(), pattern) for module in PATHS)
