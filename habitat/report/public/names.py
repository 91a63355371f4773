"""Names for a public audience: run-local numbers, and sentences without a household's affairs."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import pandas as pd

ANCHOR = "anchor: "
HIDDEN = "a yard that is not shown"


@dataclass(frozen=True, slots=True)
class Names:
    """New names for what is shown, and everything that must not be.

    Parameters
    ----------
    shown
        Old yard id or ``anchor: NAME`` -> new one.
    hidden
        Old ids of yards that are not shown.
    """

    shown: dict[str, str]
    hidden: frozenset[str]
    _patterns: list[tuple[re.Pattern[str], bool]] = field(default_factory=list)

    @classmethod
    def of(cls, yards: gpd.GeoDataFrame, anchors: gpd.GeoDataFrame | None) -> Names:
        """Give numbers to the yards that may be shown and to all anchors, from north to south.

        The numbers follow from the places only, so that they tell nothing about parcel numbers or the order
        of the sign-up sheet.
        """
        leave = yards["publish"].fillna(False).astype(bool)
        open_yards = _by_place(yards[leave], "yard_id")
        wide = max(3, len(str(len(open_yards))))
        shown = {yard: f"{n:0{wide}d}" for n, yard in enumerate(open_yards, 1)}
        for n, name in enumerate(_by_place(anchors, "name"), 1):
            shown[ANCHOR + name] = f"{ANCHOR}habitat {n}"
        hidden = frozenset(yards.loc[~leave, "yard_id"])
        return cls(shown, hidden, _patterns([*shown, *hidden]))

    def new(self, old: Any) -> str | None:
        """Return the new name of a yard or anchor; None if it is not shown."""
        return self.shown.get(str(old))

    def new_or_hidden(self, old: Any) -> str:
        """Return the new name, or words that give nothing away."""
        return self.shown.get(str(old), HIDDEN)

    def _of_text(self, name: str) -> str:
        """Return the new name of what a text says, whatever the case of its letters."""
        plain = {k.lower(): v for k, v in self.shown.items()}
        return plain.get(name.lower()) or plain.get((ANCHOR + name).lower(), HIDDEN)

    def retell(self, text: Any) -> Any:
        """Return a text in which every old name is replaced; other values come back as they are."""
        if not isinstance(text, str):
            return text
        for pattern, grouped in self._patterns:
            text = pattern.sub(self._swap_listed if grouped else self._swap, text)
        return text

    def _swap(self, match: re.Match[str]) -> str:
        name = match.group("name")
        new = self._of_text(name)
        new = new.removeprefix(ANCHOR) if not name.lower().startswith(ANCHOR) else new
        return HIDDEN if new == HIDDEN else f"{match.group('lead') or ''}{new}"

    def _swap_listed(self, match: re.Match[str]) -> str:
        ids = re.split(r"(, and |, | and | or | to )", match.group("ids"))
        return match.group("word") + "".join(
            self.shown.get(part, "(not shown)") if k % 2 == 0 else part for k, part in enumerate(ids)
        )

    def retell_all(self, value: Any) -> Any:
        """Return nested plain values with every name in them replaced, keys included."""
        if isinstance(value, dict):
            return {self.retell(k): self.retell_all(v) for k, v in value.items()}
        if isinstance(value, (list, tuple, set, frozenset)):
            return [self.retell_all(v) for v in value]
        if isinstance(value, str) and (value in self.shown or value in self.hidden):
            return self.new_or_hidden(value)
        return self.retell(value)


def _by_place(frame: gpd.GeoDataFrame | None, column: str) -> list[str]:
    if frame is None or frame.empty or column not in frame:
        return []
    points = frame.geometry.representative_point()
    order = pd.DataFrame(
        {"south": -points.y.round(1), "x": points.x.round(1), "name": frame[column].astype(str)}
    )
    return list(dict.fromkeys(order.sort_values(["south", "x", "name"])["name"]))


def _patterns(names: list[str]) -> list[tuple[re.Pattern[str], bool]]:
    """Return how to find names in a text: telling ones anywhere, bare small numbers only after "yard".

    An id such as "12" cannot be told from a count, so it is taken for a yard only in "yard 12" or "yards 12
    and 13".
    """
    plain = {n.removeprefix(ANCHOR) for n in names if n.startswith(ANCHOR)}
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


# What sentences say of a household, taken out of them: children, pets, spraying, heights and money.

NOT_MET = re.compile(r"((?:^|; )(?:no|only \d+) [^:;]+):.*?(?=; (?:no |only \d)|$)", re.IGNORECASE)
"""A wish that was not met, with its reasons, up to the next one; as ``planting.explain`` writes them."""

SPRAYED, NO_HOST_PLANT = "the yard is sprayed", "no host plant"
"""Leaf in a sprayed yard feeds nobody, so that for butterflies it is as if no host grew there."""


def without_reasons(told: Any) -> Any:
    """Return what could not be had without the reasons.

    All of them go, whether they tell of the household or not: were only some left out, that would tell too.

    Examples
    --------
    >>> without_reasons("no host for the monarch: toxic to pets, and pets live here; only 2 nectar species")
    'no host for the monarch; only 2 nectar species'
    """
    return NOT_MET.sub(r"\1", told) if isinstance(told, str) else told


def without_spraying(missing: Any) -> Any:
    """Return what a life cycle lacks, where it is sprayed as if no host grew there.

    Examples
    --------
    >>> without_spraying("the yard is sprayed; no host plant"), without_spraying("the yard is sprayed")
    ('no host plant', 'no host plant')
    """
    if not isinstance(missing, str) or SPRAYED not in missing:
        return missing
    parts = [p for p in missing.split("; ") if p != SPRAYED]
    return "; ".join(
        dict.fromkeys([NO_HOST_PLANT, *(p for p in parts if not p.startswith("host plants for"))])
    )
