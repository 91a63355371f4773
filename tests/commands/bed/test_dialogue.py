"""The dialogue of ``habitat bed``: asks what is missing, takes what is usual, waits for nobody."""

import pytest

from habitat.commands.bed.dialogue import QUESTIONS, Answers, complete, read_yes
from habitat.errors import ParameterError, StudyError


class Person:
    """Types prepared lines, and remembers what was asked."""

    def __init__(self, *lines):
        self.lines, self.asked = list(lines), []

    def __call__(self, prompt):
        self.asked.append(prompt)
        return self.lines.pop(0)


def test_everything_is_asked_once_in_order_where_nothing_is_given():
    person = Person("Ohio", "4x2m", "part", "clay", "wet", "yes", "no", "monarch", "tidy")
    answers = complete(Answers(), ask=True, listen=person)
    assert len(person.asked) == len(QUESTIONS) == 9
    assert answers == Answers(
        place="Ohio", size="4x2m", sun="part", soil="clay", wetness="wet", children=True, pets=False,
        wishes="monarch", style="tidy",
    )  # fmt: skip


def test_what_is_given_is_not_asked_and_nothing_typed_takes_the_default():
    person = Person("", "", "", "", "", "")
    answers = complete(Answers(place="Ohio", size="4x2m", sun="5"), ask=True, listen=person)
    assert [prompt.split("?")[0] for prompt in person.asked] == [
        "What is the soil", "How wet is it", "Do small children play there", "Do pets run there",
        "For which butterflies", "Which look",
    ]  # fmt: skip
    assert (answers.sun, answers.soil, answers.children, answers.style) == ("5", "unknown", False, "between")
    assert all("[" in prompt for prompt in person.asked if "butterflies" not in prompt)


def test_what_is_not_understood_is_asked_again_with_the_reason(capsys):
    person = Person("", "Utah", "Ohio", "4 by 2", "4x2m", *[""] * 7)
    answers = complete(Answers(), ask=True, listen=person)
    assert (answers.place, answers.size) == ("Ohio", "4x2m")
    said = capsys.readouterr().out
    assert "inside a region" in said
    assert "4x2m or 12x6ft" in said
    assert len(person.asked) == 12


def test_a_pot_is_not_asked_for_its_soil():
    person = Person("Ohio", "a pot", "full", "", "", "", "")
    answers = complete(Answers(), ask=True, listen=person)
    assert answers.soil is None
    assert not any("soil" in prompt or "wet" in prompt for prompt in person.asked)


def test_where_nobody_sits_nobody_is_waited_for():
    def nobody(prompt):
        raise AssertionError(prompt)

    answers = complete(Answers(place="Ohio", size="4x2m"), ask=False, listen=nobody)
    assert (answers.sun, answers.wetness, answers.wishes) == ("full", "medium", "")
    for given, missing in ((Answers(), "--place"), (Answers(place="Ohio"), "--size")):
        with pytest.raises(StudyError, match=missing):
            complete(given, ask=False, listen=nobody)


@pytest.mark.parametrize(("said", "meant"), [("Yes", True), ("y", True), ("no ", False), ("N", False)])
def test_yes_and_no(said, meant):
    assert read_yes(said) is meant
    with pytest.raises(ParameterError, match="yes or no"):
        read_yes("perhaps")


def test_where_the_typing_ends_the_question_is_named():
    def nobody(_prompt):
        raise EOFError

    with pytest.raises(StudyError, match="--place was not answered"):
        complete(Answers(), ask=True, listen=nobody)
