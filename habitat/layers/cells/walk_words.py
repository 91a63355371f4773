"""What a household told on its walk of the yard, word by word: sides, yes, none, and how much sun."""

from __future__ import annotations

import re

import pandas as pd

from habitat.errors import ParameterError
from habitat.factors.said import read_sun
from habitat.layers.formats.raw import Draft

PLACES = ("trees", "drive", "walks", "wires", "fences", "water", "septic", "wet", "play")
"""Columns that say where something is, by the sides of the house as seen from the street."""

SUN = ("sun_front", "sun_back")
OBSTACLE_OF = {
    "trees": "trees", "drive": "paving", "walks": "paving", "wires": "wires", "fences": "fences",
    "water": "water", "septic": "septic",
}  # fmt: skip
"""Column of the form -> obstacle (``ground.unseen``) of which it tells."""

NONE, THERE = "none", "yes"
NO_WORDS = frozenset(("none", "no", "n", "nothing", "nowhere", "0", "-", "x no"))
NO_THING = re.compile(r"no (trees?|drive(way)?|walks?|wires?|fences?|water|septic( field)?|play ?ground)")
YES_WORDS = frozenset(("yes", "y", "x", "✓", "there", "there is", "drawn", "as drawn"))
TICKS = re.compile(r"(9|12|3)([\s,;&+/]+(and\s+)?(9|12|3))+")
"""Hours at which the walk sheet asks whether the sun shines: two or more of them are ticks, one is hours."""
SIDE_WORDS = {
    **dict.fromkeys(("front", "street", "in front"), "front"),
    **dict.fromkeys(("back", "rear", "behind", "garden side"), "back"),
    **dict.fromkeys(("left",), "left"),
    **dict.fromkeys(("right",), "right"),
}


def settle_walk(draft: Draft) -> None:
    """Bring the words of a walk form to "none", "yes", sides with ; between, or full, part, shade; in place.

    Blanks are "not told"; so is what is no such word, which is told with its row.
    """
    if draft.name != "walk":
        return
    for column in (*PLACES, *SUN):
        if column not in draft.table:
            draft.table[column] = pd.Series([None] * len(draft.table), index=draft.table.index, dtype=object)
        read = sun_word if column in SUN else place_words
        out: list[str | None] = []
        for row, said in draft.items(column):
            found = read(said) if isinstance(said, str) and said.strip() else ""
            if found is None:
                words = "full, part or shade" if column in SUN else "front, back, left, right, yes or none"
                draft.tell(f"{column} is {said!r}: write {words}; taken as not told", row, 2)
            out.append(found or None)
        draft.table[column] = pd.Series(out, index=draft.table.index, dtype=object)


def place_words(said: str) -> str | None:
    """Return "none", "yes" or sides with ; between; None for what is neither.

    Examples
    --------
    >>> [place_words(text) for text in ("Right side", "no", "front and back", "X", "asphalt")]
    ['right', 'none', 'front;back', 'yes', None]
    """
    text = " ".join(said.casefold().split()).strip(" .!")
    if text in NO_WORDS or NO_THING.fullmatch(text):
        return NONE
    if text in YES_WORDS:
        return THERE
    found = []
    for part in re.split(r"[;,/&+]|\band\b", text):
        word = re.sub(r"\b(the|on|at|in|to|side|yard|of|house)\b|-", " ", part)
        side = SIDE_WORDS.get(" ".join(word.split()))
        if side is None:
            return None
        found.append(side)
    return ";".join(dict.fromkeys(found))


def sun_word(said: str) -> str | None:
    """Return full, part or shade, from a word, from hours or from ticks; None for what is neither.

    Examples
    --------
    >>> [sun_word(text) for text in ("Full sun", "4 h", "shady", "9, 12", "lots")]
    ['full', 'part', 'shade', 'part', None]
    """
    if TICKS.fullmatch(said.strip()):
        return "full" if len(set(re.findall(r"\d+", said))) == 3 else "part"
    try:
        hours = read_sun(said).value
    except ParameterError:
        return None
    return None if hours is None else "full" if hours >= 6 else "part" if hours >= 3 else "shade"
