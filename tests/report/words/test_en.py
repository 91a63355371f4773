"""Every kind of remark has words that take its facts, and nobody wrote words that nobody says."""

import ast
import inspect
import math
from pathlib import Path

import pytest

import habitat
from habitat.remarks import Remark, remark
from habitat.report.words.en import WORDS, english

ROOT = Path(habitat.__file__).parent


def remarks_made():
    """Yield file, line, kind and names of facts of each call of ``remark`` in the package."""
    for path in sorted(ROOT.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", None) == "remark":
                yield f"{path.relative_to(ROOT)}:{node.lineno}", node.args[0], [k.arg for k in node.keywords]


MADE = list(remarks_made())


@pytest.mark.parametrize(("where", "kind", "facts"), MADE, ids=[m[0] for m in MADE])
def test_words_take_the_facts_of_each_remark(where, kind, facts):
    assert isinstance(kind, ast.Constant), f"{where}: the kind is no literal"
    assert kind.value in WORDS, f"{where}: no words for {kind.value}"
    taken = inspect.signature(WORDS[kind.value]).parameters.values()
    assert set(facts) == {p.name for p in taken if p.kind is p.KEYWORD_ONLY}, where


def test_all_words_are_of_use():
    assert {kind.value for _, kind, _ in MADE} == set(WORDS)


def test_a_kind_without_words_is_refused():
    with pytest.raises(KeyError):
        english()(Remark("nobody wrote words for this"))


def test_several_remarks_are_said_one_after_the_other():
    several = (remark("no_tree_shadows"), remark("no_building_shadows"))
    say = english()
    assert say.each(several) == [say(one) for one in several]
    assert say(several) == "; ".join(say.each(several))
    assert say(()) == say(None) == say(math.nan) == ""
    assert say.each("2 m") == ["2 m"]
    assert say.each("") == []
