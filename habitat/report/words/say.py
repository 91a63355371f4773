"""A reader's voice: puts remarks into words for units, audience and length."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from habitat.remarks import Remark, Told
from habitat.report.words.numbers import METRIC, Units

HIDDEN = "a yard that is not shown"
"""How a yard is named to those who may not know which it is."""


@dataclass(frozen=True, slots=True)
class Say:
    """Says remarks in one language to one kind of reader.

    Parameters
    ----------
    words
        A function for each kind of remark. It is called with this voice, the remark's subject, and the facts
        by name, and returns the words.
    units
        Metric or US customary; facts are metric.
    audience
        ``group`` or ``public``. What the public may not know is taken out before (``habitat.report.public``):
        words only differ in tone.
    length
        ``full``, or ``short`` where there is room for a few words.

    Examples
    --------
    >>> from habitat.remarks import remark
    >>> from habitat.report.words.en import english
    >>> english()(remark("trees_without_height", count=2, of=9, assumed_height_m=6.0))
    '2 of 9 trees have no height_m: 6 m is assumed'
    >>> english(Units("us"))(remark("trees_without_height", count=2, of=9, assumed_height_m=6.0))
    '2 of 9 trees have no height_m: 20 ft is assumed'
    """

    words: Mapping[str, Callable[..., str]]
    units: Units = METRIC
    audience: str = "group"
    length: str = "full"

    def __call__(self, found: Told | None) -> str:
        """Return the words of a remark, or of several with ``;`` between; "" of none.

        Text, of stages that hand on sentences still and of the tables, gets its metres in these units.

        Raises
        ------
        KeyError
            If nobody wrote words for its kind.
        """
        if isinstance(found, Remark):
            return self.words[found.kind](self, found.subject, **dict(found.facts))
        if isinstance(found, tuple):
            return "; ".join(map(self, found))
        return self.units.told(found) if isinstance(found, str) else ""

    def each(self, found: Told | None) -> list[str]:
        """Return the words of each of several remarks; text is one."""
        parts = found if isinstance(found, tuple) else (found,)
        return [words for words in map(self, parts) if words]

    @property
    def short(self) -> bool:
        """Whether there is room for a few words only."""
        return self.length == "short"

    def yard(self, yard_id: str) -> str:
        """Return a yard as a sentence names it: by its id, or as one that is not shown."""
        return HIDDEN if yard_id == HIDDEN else f"yard {yard_id}"
