"""Every kind of remark has words that take its facts, and nobody wrote words that nobody says."""

import ast
import inspect
import math
from pathlib import Path

import pytest

import habitat
from habitat.remarks import Remark, Subject, remark
from habitat.report.words.en import WORDS, english
from habitat.report.words.numbers import Units
from habitat.report.words.say import HIDDEN

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


def test_lengths_are_said_in_the_units_of_the_reader():
    """A foot is 0.3048 m by definition: 6 m are 19.7 ft, to whole feet 20."""
    found = remark("trees_without_height", count=1, of=3, assumed_height_m=6.0)
    assert english()(found).endswith("6 m is assumed")
    assert english(Units("us"))(found).endswith("20 ft is assumed")


def test_a_hidden_yard_is_named_as_one():
    about = Subject(yards=(HIDDEN,))
    assert english()(remark("sun_count_alone", about, sun_h=3.0)).startswith(f"{HIDDEN}: 3 h")


def test_text_of_stages_that_hand_on_sentences_gets_the_units_of_the_reader():
    assert english()("a hose of 12 m") == "a hose of 12 m"
    assert english(Units("us"))("a hose of 12 m") == "a hose of 39 ft"


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
