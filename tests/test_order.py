"""The house rules that a machine can hold: stages import only from stages above, modules stay small."""

import ast
from pathlib import Path

import networkx
import pytest

import habitat
from habitat import errors

ROOT = Path(habitat.__file__).parent
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
ORDER += ["connectivity", "bed", "study", "report", "revision", "pipeline", "commands", "top"]
FIRST_RING = {"soil", "sun", "ground", "site", "suitability", "planting", "connectivity", "bed"}
"""Folders of pure functions: they know no study and no layers."""

BASE = {"arrays", "cells", "errors", "executor", "grid", "progress", "remarks", "terms"}
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


WITHOUT_CIRCLES = ("settings", "layers", "study", "commands", "report", "revision")
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
