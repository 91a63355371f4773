"""One note a month: what is to be done in a month, with its days, in place of an event for each."""

from __future__ import annotations

import calendar as days
import datetime as dt
from collections.abc import Iterable

from habitat.report.lists.types import Entry
from habitat.report.words.months import date_words
from habitat.terms import MONTHS

NAMED = 3
"""So many things stand in the title of a note."""


def monthly_notes(entries: Iterable[Entry], date: dt.date) -> list[Entry]:
    """Return a note for each month in which anything begins or goes on, in order.

    Parameters
    ----------
    entries
        What there is to do. What is done every month or week (``every_month``, ``weekly_until``) is told in
        each month until it ends, anything else in the month in which it begins.
    date
        No note is earlier.

    Returns
    -------
    list of Entry
        One day each, the first of the month or ``date``; keys are ``note-YEAR-MONTH``.
    """
    told: dict[tuple[int, int], list[tuple[Entry, bool]]] = {}
    for entry in sorted(entries, key=lambda e: (e.start, e.key)):
        for k, month in enumerate(_months(entry)):
            told.setdefault(month, []).append((entry, k == 0))
    return [_note(year, month, told[year, month], date) for year, month in sorted(told)]


def _months(entry: Entry) -> list[tuple[int, int]]:
    """Return year and month of every month in which an entry is told."""
    last = entry.weekly_until or (entry.end if entry.every_month else entry.start)
    first, many = entry.start, (last.year - entry.start.year) * 12 + last.month - entry.start.month
    at = [first.month - 1 + k for k in range(many + 1)]
    return [(first.year + m // 12, m % 12 + 1) for m in at]


def _note(year: int, month: int, told: list[tuple[Entry, bool]], date: dt.date) -> Entry:
    day = max(dt.date(year, month, 1), date)
    titles = list(dict.fromkeys(entry.title for entry, _ in told))
    more = f" and {len(titles) - NAMED} more" if len(titles) > NAMED else ""
    title = f"{MONTHS[month - 1]}: {'; '.join(t[0].lower() + t[1:] for t in titles[:NAMED])}{more}"
    lines = [_line(entry, new) for entry, new in told]
    return Entry(f"note-{year}-{month:02d}", title, "\n\n".join(lines), day, day)


def _line(entry: Entry, new: bool) -> str:
    """Return what an entry asks for, with its days; in words only where it begins."""
    last = entry.weekly_until or entry.end
    whole = days.monthrange(last.year, last.month)[1] == last.day and entry.start.day == 1
    if entry.start == last:
        when = f"{date_words(entry.start)}: "
    elif whole and (entry.start.year, entry.start.month) == (last.year, last.month):
        when = ""
    elif new:
        when = f"{date_words(entry.start)} to {date_words(last)}: "
    else:
        when = f"Until {date_words(last)}: "
    weekly = ", once a week" if entry.weekly_until else ""
    return f"{when}{entry.title}{weekly}." + (f" {entry.text}" if new else "")
