"""Months and half-months: ranges over the turn of the year, masks and words, against plain sets."""

import calendar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from habitat.knowledge.months import (
    SLOTS,
    first_of,
    mask_of,
    month_slots,
    months_in,
    run_mask,
    runs,
    slot,
    slot_words,
    slots_of,
    windows,
)
from tests.support.regions import slot as plain_slot
from tests.support.regions import window as plain_window

halves = st.builds(lambda m, h: f"{m:02d}{h}", st.integers(1, 12), st.sampled_from("ab"))


@given(halves, halves)
def test_a_window_is_what_counting_on_gives(first, last):
    assert slot(first) == plain_slot(first)
    (mask,) = windows(f"{first}-{last}")
    assert set(slots_of(mask)) == plain_window(f"{first}-{last}")
    assert first_of(mask) in (slot(first), 0)


@given(st.sets(st.integers(0, SLOTS - 1)))
def test_runs_add_up_to_the_mask(slots):
    mask = mask_of(slots)
    assert set(slots_of(mask)) == slots
    assert sum(length for _, length in runs(mask)) == len(slots)
    again = 0
    for first, length in runs(mask):
        again |= run_mask(first, length)
    assert again == mask


@given(st.sets(st.integers(1, 12)))
def test_months_read_back(months):
    assert set(months_in(month_slots(months))) == months
    assert bool(slot_words(month_slots(months))) == bool(months)


@pytest.mark.parametrize("wrong", ["5a", "13a", "05c", "", "05"])
def test_what_is_no_half_month_is_refused(wrong):
    with pytest.raises(ValueError, match="no half-month"):
        slot(wrong)


@pytest.mark.parametrize("month", range(1, 13))
def test_halves_of_months_go_by_their_name(month):
    name = calendar.month_name[month]
    first = 2 * (month - 1)
    assert slot_words(run_mask(first, 1)) == f"early {name}"
    assert slot_words(run_mask(first + 1, 1)) == f"late {name}"
    assert slot_words(run_mask(first, 2)) == name


def test_nothing_begins_with_the_year():
    assert first_of(0) == 0
