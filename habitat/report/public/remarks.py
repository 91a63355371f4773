"""What the public may know of a remark: by its kind and subject, whatever its words will be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from habitat.remarks import Fact, Remark
from habitat.report.public.names import Names
from habitat.report.public.text import STILL_TEXT, Renaming
from habitat.terms import anchor_id, anchor_name

BECAUSE = "because"
"""The fact that holds the reasons of a remark. All of them go, whether they tell of a household or not: were
only some left out, that would tell too."""


def public_remark(found: Remark, names: Names) -> Remark | None:
    """Return a remark as the public may know it: places by their new names, without reasons and rows.

    Parameters
    ----------
    found
        As a stage handed it on.
    names
        The new names; a yard that is not shown becomes ``habitat.report.words.say.HIDDEN``.

    Returns
    -------
    None if it speaks of what a household said of itself.
    """
    about = found.subject
    if about.household:
        return None
    subject = replace(
        about,
        yards=tuple(names.new_or_hidden(yard) for yard in about.yards),
        anchors=tuple(anchor_name(names.new_or_hidden(anchor_id(name))) for name in about.anchors),
        rows=(),
    )
    facts = ((name, () if name == BECAUSE else _public_fact(value, names)) for name, value in found.facts)
    return Remark(found.kind, subject, tuple(facts))


def public_remarks(found: tuple[Remark, ...], names: Names) -> tuple[Remark, ...]:
    """Return those of several remarks that the public may know, each as it may."""
    less = (public_remark(one, names) for one in found)
    return tuple(one for one in less if one is not None)


def _public_fact(value: Fact, names: Names) -> Fact:
    if isinstance(value, Remark):
        return public_remark(value, names)
    if isinstance(value, tuple):
        parts = [_public_fact(part, names) for part in value]
        return tuple(new for old, new in zip(value, parts, strict=True) if old is None or new is not None)
    return value


@dataclass(frozen=True, slots=True)
class Reducer:
    """Makes tables and nested values what the public may know; remarks by kind and subject, text by name."""

    names: Names
    renaming: Renaming

    @classmethod
    def of(cls, names: Names) -> Reducer:
        """Return what reduces by these names."""
        return cls(names, Renaming.of(names))

    def told(self, found: Any, less: Callable[[str], str] = str) -> Any:
        """Return what is left of remarks, () if nothing, or of a text; other values come back as they are."""
        if isinstance(found, Remark):
            return public_remark(found, self.names) or ()
        if isinstance(found, tuple) and _is_remarks(found):
            return public_remarks(found, self.names)
        return self.renaming.text(less(found)) if isinstance(found, str) else found

    def table(self, name: str, frame: Any) -> Any:
        """Return a table with less told: columns of remarks, and those that ``STILL_TEXT`` lists for it."""
        less = {text.column: text.less for text in STILL_TEXT if text.table == name and text.column in frame}
        less |= {column: str for column in frame if column not in less and _holds_remarks(frame[column])}
        return frame.assign(**{c: [self.told(v, less[c]) for v in frame[c]] for c in less})

    def nested(self, value: Any) -> Any:
        """Return nested plain values and remarks as the public may know them, keys of dictionaries too."""
        if isinstance(value, dict):
            return {self.nested(key): self.nested(one) for key, one in value.items()}
        if _is_remarks(value):
            return self.told(value)
        if isinstance(value, (list, tuple, set, frozenset)):
            return [self.nested(one) for one in value]
        return self.renaming.word(value) if isinstance(value, str) else value


def _holds_remarks(column: Any) -> bool:
    return column.dtype == object and any(map(_is_remarks, column))


def _is_remarks(value: Any) -> bool:
    first = value[0] if isinstance(value, tuple) and value else value
    return isinstance(first, Remark)
