"""Sentences for a public audience, of stages that hand on text still; what is a remark never comes here.

``STILL_TEXT`` is the list of all of them. A column whose stage hands on remarks is taken out of it, and with
the last of them this module goes.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from habitat.report.public.names import Names
from habitat.report.words.say import HIDDEN
from habitat.terms import anchor_id, anchor_name, is_anchor

SPRAYED, NO_HOST_PLANT = "the yard is sprayed", "no host plant"
"""Leaf in a sprayed yard feeds nobody, so that for butterflies it is as if no host grew there."""

OF_HOSTS = ("host plants", "no plant for eggs", "no food for caterpillars", NO_HOST_PLANT)
"""Beginnings of what is said of hosts."""


def without_spraying(missing: str) -> str:
    """Return what a life cycle lacks, where it is sprayed as if no host grew there.

    Examples
    --------
    >>> without_spraying("the yard is sprayed; no host plant"), without_spraying("the yard is sprayed")
    ('no host plant', 'no host plant')
    """
    if SPRAYED not in missing:
        return missing
    parts = [p for p in missing.split("; ") if p != SPRAYED]
    return "; ".join(dict.fromkeys([NO_HOST_PLANT, *(p for p in parts if not p.startswith(OF_HOSTS))]))


@dataclass(frozen=True, slots=True)
class Text:
    """A place where sentences come still: table and column, what is left out of them, and why it is text."""

    table: str
    column: str
    why: str
    less: Callable[[str], str] = str


STILL_TEXT = (
    Text("plantings", "why", "the choice words it; it names plants, butterflies, sun and fit, no household"),
    Text("yard_butterflies", "missing", "the habitat account words it, spraying too", without_spraying),
    Text("closed_ground", "reason", "rules of the setback table, which is data and names no place"),
    Text("closed_ground", "caution", "rules of the setback table, which is data and names no place"),
    Text("height_limits", "reason", "rules of the setback table, which is data and names no place"),
    Text("height_limits", "caution", "rules of the setback table, which is data and names no place"),
    Text("host_limits", "reason", "rules of the setback table, which is data and names no place"),
)


@dataclass(frozen=True, slots=True)
class Renaming:
    """Replaces old names in sentences: telling ones anywhere, bare small numbers only after "yard".

    An id such as "12" cannot be told from a count, so it is taken for a yard only in "yard 12" or "yards 12
    and 13".
    """

    names: Names
    patterns: list[tuple[re.Pattern[str], bool]] = field(default_factory=list)

    @classmethod
    def of(cls, names: Names) -> Renaming:
        """Return what renames by these names."""
        return cls(names, _patterns([*names.shown, *names.hidden]))

    def text(self, told: str) -> str:
        """Return a text in which every old name is replaced."""
        for pattern, grouped in self.patterns:
            told = pattern.sub(self._swap_listed if grouped else self._swap, told)
        return told

    def word(self, value: str) -> str:
        """Return the new name of what is a name as a whole; else the text with the names in it replaced."""
        known = value in self.names.shown or value in self.names.hidden
        return self.names.new_or_hidden(value) if known else self.text(value)

    def _of_text(self, name: str) -> str:
        """Return the new name of what a text says, whatever the case of its letters."""
        plain = {k.lower(): v for k, v in self.names.shown.items()}
        return plain.get(name.lower()) or plain.get(anchor_id(name).lower(), HIDDEN)

    def _swap(self, match: re.Match[str]) -> str:
        name = match.group("name")
        new = self._of_text(name)
        new = new if is_anchor(name.lower()) else anchor_name(new)
        return HIDDEN if new == HIDDEN else f"{match.group('lead') or ''}{new}"

    def _swap_listed(self, match: re.Match[str]) -> str:
        ids = re.split(r"(, and |, | and | or | to )", match.group("ids"))
        return match.group("word") + "".join(
            self.names.shown.get(part, "(not shown)") if k % 2 == 0 else part for k, part in enumerate(ids)
        )


def _patterns(names: list[str]) -> list[tuple[re.Pattern[str], bool]]:
    plain = {anchor_name(n) for n in names if is_anchor(n)}
    telling = {n for n in names if not _is_small_number(n)} | {n for n in plain if len(n) > 2}
    out: list[tuple[re.Pattern[str], bool]] = []
    small = [n for n in names if _is_small_number(n)]
    if small:
        one = f"(?:{_either(small)})"
        joint = r"(?:, and |, | and | or | to )"
        out.append((re.compile(rf"(?P<word>\b[Yy]ards? )(?P<ids>{one}(?:{joint}{one})*)(?![\w.])"), True))
    if telling:
        lead = r"(?P<lead>\b[Yy]ard )?"
        out.append((re.compile(rf"{lead}(?<!\w)(?P<name>{_either(telling)})(?!\w)", re.IGNORECASE), False))
    return out


def _is_small_number(name: str) -> bool:
    return name.isdigit() and len(name) < 5


def _either(names: Any) -> str:
    return "|".join(re.escape(n) for n in sorted(names, key=lambda n: (-len(n), n)))
