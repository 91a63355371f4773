"""A sheet short enough to be read: what is told beyond so many words stands on the page only."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from habitat.report.words.text import counted

MOST_WORDS = 900
"""Words on the three pages of a sheet: judgement."""

WORD = re.compile(r"[A-Za-z][A-Za-z'’-]+")

OF_THE_TEMPLATE = 71
"""Words that the template adds to every sheet with plants: headings of parts and columns, months, legends."""

CUT = (("Please mind", 5), ("Not possible here", 1), ("What is not known", 1), ("Please mind", 3))
"""Parts that are cut, in this order, and how many lines of each stay; the gravest stand first."""

NOT_SET = ("alt", "height", "feeds", "nothing", "kind", "corner")
"""What is not set on paper, or is told by a word that is counted for its row."""

MOST_LINES = {"Not possible here": 3, "Please mind": 8}
"""So many lines of a part at most, whatever room there is."""


def shortened(sheet: dict[str, Any], top: dict[str, Any], most: int = MOST_WORDS) -> dict[str, Any]:
    """Return a sheet's data with the last lines of some parts left out until it has few enough words.

    Parameters
    ----------
    sheet
        What ``sheet_data`` and ``sized`` put together; ``mind`` and ``parts`` are shortened, and say how many
        more lines the page has.
    top
        What every document carries (``typeset.head``); its words stand in the footers.
    most
        Words allowed.
    """
    lists = {part["title"]: list(part["rows"]) for part in sheet["parts"]}
    lists["Please mind"] = list(sheet["mind"])
    left_out = dict.fromkeys(lists, 0)
    spare = most - words_set(sheet, top)
    for title, least in CUT:
        rows = lists.get(title, [])
        while len(rows) > least and (spare < 0 or len(rows) > MOST_LINES.get(title, len(rows))):
            spare += words_in(rows.pop())
            if not left_out[title]:
                spare -= len(["more", "lines", "on", "the", "page"])
            left_out[title] += 1
    told = {
        title: [*rows, f"{counted(left_out[title], 'more line')} on the page."] if left_out[title] else rows
        for title, rows in lists.items()
    }
    parts = [part | {"rows": told[part["title"]]} for part in sheet["parts"]]
    return sheet | {"mind": told["Please mind"], "parts": parts}


def words_set(sheet: dict[str, Any], top: dict[str, Any]) -> int:
    """Return how many words a sheet with plants has on paper, those of the template among them."""
    footers = 3 * words_in(sheet["title"]) + sum(words_in(top[k]) for k in ("study", "date", "audience"))
    footers += 2 * words_in(top["audience_short"])
    beds = sum(map(len, sheet["beds"]["rows"]))  # each is headed "Bed", and so is its row of measures
    months = sum(not cell for cell in sheet["year"]["bloom"])  # "none"
    turned = 5 if any(bed["turn"] for row in sheet["beds"]["rows"] for bed in row) else 0
    own = 2 * beds + months + turned + len(sheet["year"]["butterflies"])
    return OF_THE_TEMPLATE + footers + own + sum(map(words_in, _texts(sheet)))


def words_in(text: str) -> int:
    """Return the number of words of two letters or more.

    Examples
    --------
    >>> words_in("Plants 1 and 9: poisonous if eaten.")
    5
    """
    return len(WORD.findall(text))


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            if key == "marks":
                yield from (mark["text"] for mark in inner if mark["kind"] == "words")
            elif key not in NOT_SET and not key.endswith("look"):
                yield from _texts(inner)
    elif isinstance(value, (list, tuple)):
        for inner in value:
            yield from _texts(inner)
