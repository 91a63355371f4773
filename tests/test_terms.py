"""Terms that all stages share stand once."""

import ast
import calendar
from pathlib import Path

import habitat
from habitat.terms import (
    ANCHOR,
    CANDIDATE,
    MEMBER,
    MONTHS,
    OTHER,
    PLANNED,
    ROLES,
    anchor_id,
    anchor_name,
    is_anchor,
)

ROOT = Path(habitat.__file__).parent


def test_months_are_those_of_the_calendar():
    """The standard library's names of the months, in the C locale."""
    assert tuple(calendar.month_name)[1:] == MONTHS


def test_ids_of_anchors_there_and_back():
    for name in ("Mill Meadow", "anchor: twice", ""):
        assert is_anchor(anchor_id(name))
        assert anchor_name(anchor_id(name)) == name
    assert not is_anchor("12-007")


def test_roles_are_told_apart():
    assert len({*ROLES, ANCHOR}) == 4
    assert set(PLANNED) == {MEMBER, CANDIDATE} == set(ROLES) - {OTHER}


def test_nobody_else_writes_the_prefix_or_the_months():
    for path in sorted(ROOT.rglob("*.py")):
        if path.name == "terms.py" and path.parent == ROOT:
            continue
        texts = {
            n.value
            for n in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(n, ast.Constant)
        }
        assert "anchor: " not in texts, path
        assert not {"January", "December"} <= texts, path
