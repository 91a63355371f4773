"""Months and dates as people write them."""

from __future__ import annotations

import re
from collections.abc import Iterable

from habitat.terms import MONTHS

SHORT_MONTHS = tuple(name[:3] for name in MONTHS)
_MONTH_NUMBERS = {name[:3].lower(): str(n) for n, name in enumerate(MONTHS, 1)} | {
    "spring": "3-5",
    "summer": "6-8",
    "fall": "9-11",
    "autumn": "9-11",
}
"""Months by the beginning of their names, and the seasons of whole months (common practice)."""
_MONTH_NAMES = re.compile(
    r"\b(spring|summer|fall|autumn|jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?", re.IGNORECASE
)


def month_set(text: str) -> frozenset[int]:
    """Return the months of a text such as ``6-8``, ``3, 11-1`` or ``Apr-Jun``; nothing of what is no month.

    Examples
    --------
    >>> sorted(month_set("3, 11-1")), sorted(month_set("April to June")), sorted(month_set("fall"))
    ([1, 3, 11, 12], [4, 5, 6], [9, 10, 11])
    >>> month_set("")
    frozenset()
    """
    months: set[int] = set()
    text = _MONTH_NAMES.sub(lambda found: _MONTH_NUMBERS[found[1].lower()], text or "")
    for first, last in re.findall(r"(\d+)(?:\s*(?:[-–]|to)\s*(\d+))?", text):
        start, end = int(first), int(last or first)
        if 1 <= start <= 12 and 1 <= end <= 12:
            months |= {(start - 1 + k) % 12 + 1 for k in range((end - start) % 12 + 1)}
    return frozenset(months)


def month_words(months: Iterable[int], *, short: bool = False) -> str:
    """Return months in words, runs with a dash, over the turn of the year if need be.

    Examples
    --------
    >>> month_words([6, 7, 8]), month_words([11, 12, 1], short=True), month_words([4, 9]), month_words([])
    ('June–August', 'Nov–Jan', 'April, September', '')
    """
    have = sorted({m for m in months if 1 <= m <= 12})
    names = SHORT_MONTHS if short else MONTHS
    if len(have) == 12:
        return "all year"
    runs = []
    for first in (m for m in have if (m - 2) % 12 + 1 not in have):
        last = first
        while last % 12 + 1 in have:
            last = last % 12 + 1
        runs.append(names[first - 1] if first == last else f"{names[first - 1]}–{names[last - 1]}")
    return ", ".join(runs)


def date_words(date: object) -> str:
    """Return a date as people write it, the month in letters so that no order of numbers is in doubt.

    Examples
    --------
    >>> import datetime
    >>> date_words(datetime.date(2026, 3, 1))
    '1 March 2026'
    """
    year, month, day = (getattr(date, part, None) for part in ("year", "month", "day"))
    return f"{day} {MONTHS[month - 1]} {year}" if month else "no date"
