"""The short dialogue of ``habitat bed``: what was not given is asked, one by one, with what is taken else."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from habitat.bed.design import read_style
from habitat.bed.place import PLACE_HELP, find_place
from habitat.bed.words import SIZE_HELP, read_size
from habitat.commands.terminal import out, say
from habitat.errors import HabitatError, ParameterError, StudyError
from habitat.factors.said import read_soil, read_sun, read_wetness

YES, NO = frozenset(("yes", "y", "true", "1")), frozenset(("no", "n", "false", "0", "none"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What is said of a bed; None where nothing was said yet."""

    place: str | None = None
    size: str | None = None
    sun: str | None = None
    soil: str | None = None
    wetness: str | None = None
    wishes: str | None = None
    children: bool | None = None
    pets: bool | None = None
    style: str | None = None


@dataclass(frozen=True, slots=True)
class Question:
    """One question: the field of ``Answers``, its words, what is taken for no answer, and who reads it."""

    field: str
    words: str
    default: Any
    read: Callable[[str], Any]
    help: str = ""


def read_yes(said: str) -> bool:
    """Return whether a word means yes.

    Raises
    ------
    ParameterError
        If it is neither yes nor no.
    """
    word = said.strip().lower()
    if word not in YES | NO:
        raise ParameterError("answer", said, "yes or no")
    return word in YES


def _kept(read: Callable[[str], Any]) -> Callable[[str], str]:
    """Return a reader that checks an answer and hands it on as it was said."""

    def keep(said: str) -> str:
        read(said)
        return said

    return keep


QUESTIONS = (
    Question("place", f"Where is the bed? ({PLACE_HELP})", None, _kept(find_place), PLACE_HELP),
    Question("size", f"How large is it? ({SIZE_HELP})", None, _kept(read_size), SIZE_HELP),
    Question("sun", "How much sun does it get? (full, part, shade, or hours a day)", "full", _kept(read_sun)),
    Question("soil", "What is the soil? (sand, loam, clay, unknown)", "unknown", _kept(read_soil)),
    Question("wetness", "How wet is it? (dry, medium, wet, unknown)", "medium", _kept(read_wetness)),
    Question("children", "Do small children play there? (yes, no)", False, read_yes),
    Question("pets", "Do pets run there? (yes, no)", False, read_yes),
    Question(
        "wishes",
        'For which butterflies? (names with commas between, "as many as possible"; empty: widespread ones)',
        "",
        str,
    ),
    Question("style", "Which look? (tidy, between, meadow)", "between", _kept(read_style)),
)


def may_ask() -> bool:
    """Return whether somebody sits at a terminal who can be asked."""
    return sys.stdin is not None and sys.stdin.isatty() and out.is_terminal


def complete(given: Answers, *, ask: bool, listen: Callable[[str], str] | None = None) -> Answers:
    """Return the answers with nothing left out: asked for one by one, or taken by default.

    Parameters
    ----------
    given
        What was said already; it is not asked again.
    ask
        Whether somebody is there to be asked.
    listen
        Shows a question and returns the line typed; the terminal if left out.

    Raises
    ------
    StudyError
        If nobody is asked and place or size were not given.
    """
    told = given
    for question in QUESTIONS:
        if getattr(told, question.field) is not None or _needless(question, told):
            continue
        answer = _answer(question, listen or input) if ask else question.default
        if answer is None:
            raise StudyError(
                f"--{question.field} is missing", "", f"Say {question.help}; in a terminal it is asked"
            )
        told = replace(told, **{question.field: answer})
    return told


def _needless(question: Question, told: Answers) -> bool:
    """Return whether a question makes no sense: a pot has the soil that is put into it."""
    contained = told.size is not None and read_size(told.size).contained
    return contained and question.field in ("soil", "wetness")


def _answer(question: Question, listen: Callable[[str], str]) -> Any:
    """Ask until the answer is understood; nothing typed means the default, where there is one."""
    shown = {True: "yes", False: "no", None: "", "": ""}.get(question.default, question.default)
    prompt = f"{question.words}{f' [{shown}]' if shown else ''}: "
    while True:
        try:
            said = listen(prompt).strip()
        except EOFError:
            raise StudyError(
                f"--{question.field} was not answered", "", "Answer it, or give it as an option"
            ) from None
        if not said and question.default is not None:
            return question.default
        try:
            return question.read(said)
        except HabitatError as error:
            say(str(error))
