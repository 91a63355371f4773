"""Dates are a chain: ask, wait the notice, dig, plant. Days counted by hand on a calendar of 2026.

Federal holidays of the United States: 5 U.S.C. 6103. 2026: Memorial Day 25 May, Independence Day Saturday 4
July, kept on Friday 3 July.
"""

import datetime as dt

import pytest

from habitat.report.lists.work_dates import first_digging_day, last_asking_day, work_dates


@pytest.mark.parametrize(
    ("asked", "notice", "dig"),
    [
        ((2026, 3, 16), 3, (2026, 3, 20)),  # Monday; Tuesday to Thursday are the notice, Friday digs
        ((2026, 3, 19), 3, (2026, 3, 25)),  # Thursday; Friday, Monday, Tuesday
        ((2026, 3, 21), 3, (2026, 3, 26)),  # Saturday; Monday to Wednesday
        ((2026, 5, 21), 2, (2026, 5, 27)),  # Thursday; Friday, then Memorial Day is none, Tuesday
        ((2026, 7, 2), 3, (2026, 7, 9)),  # Thursday; 3 July is none
    ],
)
def test_digging_waits_whole_business_days(asked, notice, dig):
    assert first_digging_day(dt.date(*asked), notice) == dt.date(*dig)


@pytest.mark.parametrize("notice", [1, 2, 3, 10])
def test_asking_a_day_later_would_be_too_late(notice):
    for day in range(1, 29):
        dig = dt.date(2026, 7, day)
        asked = last_asking_day(dig, notice)
        assert first_digging_day(asked, notice) <= dig
        assert first_digging_day(asked + dt.timedelta(days=1), notice) > dig


@pytest.mark.parametrize(
    "date", [dt.date(2026, 1, 1), dt.date(2026, 3, 24), dt.date(2026, 4, 1), dt.date(2026, 5, 22)]
)
def test_each_step_comes_after_the_one_before(date):
    found = work_dates(dt.date(2026, 4, 1), date, 3)
    assert date <= found.ask < found.dig < found.plant
    assert found.dig >= first_digging_day(found.ask, 3)
    assert found.plant >= dt.date(2026, 4, 1)
