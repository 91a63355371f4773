"""When work on the beds may start: ask for buried lines to be marked, wait, dig, plant, in that order."""

from __future__ import annotations

import datetime as dt
import functools
from dataclasses import dataclass

import numpy as np
from pandas.tseries.holiday import USFederalHolidayCalendar

PREPARING_DAYS = 7
"""Days from the first cut of turf to the first plant: judgement; two weekends hold both."""


@dataclass(frozen=True, slots=True)
class WorkDates:
    """First days of what a planting season asks, each after the one before.

    ask : the locating service. dig : the first day on which turf may be cut. plant : set out plants or sow.
    """

    ask: dt.date
    dig: dt.date
    plant: dt.date


def first_digging_day(asked: dt.date, notice: int) -> dt.date:
    """Return the first day to dig on: the day of asking does not count, then come whole business days.

    Saturdays, Sundays and the federal holidays of the United States (5 U.S.C. 6103, as pandas has them) are
    none. Marks stand at the end of the last of them, so digging starts on the day after.

    Examples
    --------
    >>> first_digging_day(dt.date(2026, 7, 2), 3)  # Thursday; the 3rd is a holiday, the 4th a Saturday
    datetime.date(2026, 7, 9)
    """
    free = USFederalHolidayCalendar().holidays(asked, asked + dt.timedelta(days=7 * notice + 30))
    holidays = np.asarray(free, "datetime64[D]")
    last = np.busday_offset(np.datetime64(asked, "D"), 0, roll="backward", holidays=holidays)
    last = np.busday_offset(last, notice, holidays=holidays)
    found: dt.date = last.astype(dt.date)
    return found + dt.timedelta(days=1)


def last_asking_day(dig: dt.date, notice: int) -> dt.date:
    """Return the last day to ask on so that digging may start on a day."""
    day = dig
    while first_digging_day(day, notice) > dig:
        day -= dt.timedelta(days=1)
    return day


@functools.lru_cache(maxsize=64)
def work_dates(season_start: dt.date, date: dt.date, notice: int) -> WorkDates:
    """Return the chain of first days for planting from the start of a season on, none before the plan's date.

    Parameters
    ----------
    season_start
        First day of the months for planting.
    date
        The plan's date: nobody asks or digs before.
    notice
        Business days that the locating service wants.

    Examples
    --------
    >>> work_dates(dt.date(2026, 4, 1), dt.date(2026, 3, 1), 3)  # 25 March is a Wednesday
    WorkDates(ask=datetime.date(2026, 3, 19), dig=datetime.date(2026, 3, 25), plant=datetime.date(2026, 4, 1))
    """
    dig = season_start - dt.timedelta(days=PREPARING_DAYS)
    ask = max(date, last_asking_day(dig, notice))
    dig = max(dig, first_digging_day(ask, notice))
    return WorkDates(ask, dig, max(season_start, dig + dt.timedelta(days=PREPARING_DAYS)))
