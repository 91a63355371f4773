"""Months and half-months: ranges over the turn of the year, bit masks, and their words."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from habitat.terms import MONTHS

SLOTS = 24
"""Half-months in a year; slot 0 is the first half of January. A mask has bit s for slot s."""

WHOLE_YEAR = (1 << SLOTS) - 1


def month_range(first: int, last: int) -> tuple[int, ...]:
    """Return the months from first to last, over the turn of the year if last comes before first.

    Examples
    --------
    >>> month_range(11, 2)
    (11, 12, 1, 2)
    """
    return tuple((first - 1 + k) % 12 + 1 for k in range((last - first) % 12 + 1))


def months_text(months: Iterable[int]) -> str:
    """Return months as text, runs with a hyphen; a run may go over the turn of the year.

    Examples
    --------
    >>> months_text([6, 7, 8]), months_text([1, 11, 12]), months_text([4, 9]), months_text([])
    ('6-8', '11-1', '4, 9', '')
    """
    have = sorted(set(months))
    if len(have) == 12:
        return "1-12"
    starts = [m for m in have if (m - 2) % 12 + 1 not in have]
    runs = []
    for first in starts:
        last = first
        while last % 12 + 1 in have:
            last = last % 12 + 1
        runs.append(str(first) if first == last else f"{first}-{last}")
    return ", ".join(runs)


def month_words(months: Iterable[int]) -> str:
    """Return months by name, in the order given.

    Examples
    --------
    >>> month_words([9, 10])
    'September, October'
    """
    return ", ".join(MONTHS[m - 1] for m in months)


def month_span_words(months: Iterable[int]) -> str:
    """Return months by name, runs as "April to June"; a run may go over the turn of the year.

    Examples
    --------
    >>> month_span_words([4, 5, 6, 9])
    'April to June, September'
    """
    runs = [part.split("-") for part in months_text(months).split(", ") if part]
    return ", ".join(" to ".join(MONTHS[int(m) - 1] for m in run) for run in runs)


def slot(text: str) -> int:
    """Return the slot of a half-month as written in tables, ``05a`` or ``05b``.

    Raises
    ------
    ValueError
        If the text is no half-month.

    Examples
    --------
    >>> slot("01a"), slot("05b"), slot("12b")
    (0, 9, 23)
    """
    if not re.fullmatch(r"(0[1-9]|1[0-2])[ab]", text):
        raise ValueError(f"{text!r} is no half-month such as 05a")
    return 2 * (int(text[:2]) - 1) + (text[2] == "b")


def run_mask(first: int, count: int) -> int:
    """Return the mask of half-months that follow each other, over the turn of the year; none if count < 1.

    Examples
    --------
    >>> run_mask(23, 2) == 1 << 23 | 1
    True
    """
    return sum(1 << s for s in {(first + k) % SLOTS for k in range(count)})


def windows(text: str) -> tuple[int, ...]:
    """Return a mask per window of a cell such as ``05a-06b;10b-02a``; both ends count.

    Examples
    --------
    >>> [slots_of(mask) for mask in windows("05a-06b; 12b-01a")]
    [(8, 9, 10, 11), (0, 23)]
    """
    ends = [part.strip().split("-") for part in text.split(";") if part.strip()]
    return tuple(run_mask(slot(a), (slot(b) - slot(a)) % SLOTS + 1) for a, b in ends)


def runs(mask: int) -> list[tuple[int, int]]:
    """Return (first half-month, how many) of each run of a mask; a run may go over the turn of the year.

    Examples
    --------
    >>> runs(run_mask(22, 4) | run_mask(8, 2))
    [(8, 2), (22, 4)]
    """
    if mask == WHOLE_YEAR:
        return [(0, SLOTS)]
    out = []
    for first in (s for s in slots_of(mask) if not mask >> (s - 1) % SLOTS & 1):
        length = 1
        while mask >> (first + length) % SLOTS & 1:
            length += 1
        out.append((first, length))
    return out


def first_of(mask: int) -> int:
    """Return the half-month that a run begins with, over the turn of the year too; the first of several."""
    return runs(mask)[0][0] if mask else 0


@lru_cache(maxsize=4096)
def slots_of(mask: int) -> tuple[int, ...]:
    """Return the half-months of a mask, from January on."""
    return tuple(s for s in range(SLOTS) if mask >> s & 1)


def mask_of(slots: Iterable[int]) -> int:
    """Return half-months as a mask."""
    return sum(1 << s for s in set(slots))


def month_slots(months: Iterable[int]) -> int:
    """Return the mask of both halves of some months.

    Examples
    --------
    >>> slots_of(month_slots([1, 12]))
    (0, 1, 22, 23)
    """
    return sum(3 << 2 * (m - 1) for m in set(months))


def months_in(mask: int) -> tuple[int, ...]:
    """Return the months of which a mask has a half or both, from January on."""
    return tuple(m for m in range(1, 13) if mask >> 2 * (m - 1) & 3)


@lru_cache(maxsize=4096)
def slot_words(mask: int) -> str:
    """Return half-months by name, runs as "late April to June"; a run may go over the turn of the year.

    Examples
    --------
    >>> slot_words(run_mask(7, 5)), slot_words(run_mask(8, 1)), slot_words(0), slot_words(run_mask(23, 3))
    ('late April to June', 'early May', '', 'late December to January')
    """
    if mask == WHOLE_YEAR:
        return "all year"
    return ", ".join(_run_words(first, (first + length - 1) % SLOTS) for first, length in runs(mask))


def _run_words(first: int, last: int) -> str:
    if first // 2 == last // 2:
        half = "" if first != last else ("late " if first % 2 else "early ")
        return half + MONTHS[first // 2]
    begin = ("late " if first % 2 else "") + MONTHS[first // 2]
    return f"{begin} to {'' if last % 2 else 'early '}{MONTHS[last // 2]}"
