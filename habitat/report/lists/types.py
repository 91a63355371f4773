"""One thing to do in the group's calendar."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing to do: all-day, from ``start`` to ``end`` (both days count), perhaps repeated.

    ``key`` is unique in a plan and stable, so that a calendar program updates entries and doubles none.
    A one-day entry is repeated every week up to ``weekly_until``; what goes on ``every_month`` is told of in
    each month up to its end.
    """

    key: str
    title: str
    text: str
    start: dt.date
    end: dt.date
    weekly_until: dt.date | None = None
    every_month: bool = False
