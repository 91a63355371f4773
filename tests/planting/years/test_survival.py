"""Shares that live: intervals as a general library gives them, and published rates as they are printed."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from habitat.errors import ParameterError
from habitat.planting.years.survival import (
    DRY,
    ENOUGH_CASES,
    MOIST,
    PUBLISHED,
    SEVEN_YEARS,
    UNKNOWN,
    WET,
    Lot,
    kind_of_ground,
    observed,
    spare_shares,
    wilson,
)  # fmt: skip
from tests.support.planting_rules import least, most, rules


@given(st.integers(1, 400), st.floats(0, 1))
def test_the_interval_is_that_of_scipy(planted, share):
    """scipy.stats.binomtest(...).proportion_ci(method="wilson")."""
    alive = round(planted * share)
    expected = binomtest(alive, planted).proportion_ci(0.95, method="wilson")
    assert wilson(alive, planted) == pytest.approx((expected.low, expected.high), abs=1e-6)


def test_published_rates_are_those_of_the_reference_table():
    assert PUBLISHED["plug"][:2] == (least("est_plug_1y"), most("est_plug_1y"))
    assert PUBLISHED["seed"][:2] == (least("est_emergence"), most("est_emergence"))
    assert least("est_transplant_7y") == SEVEN_YEARS
    assert rules()["est_plug_1y"]["source"] in PUBLISHED["plug"][2]
    assert "Williams et al. 2007" in rules()["est_emergence"]["source"]


def test_lots_of_one_kind_are_counted_together():
    lots = [Lot("a", "plug", WET, 4, 1), Lot("a", "plug", WET, 6, 4), Lot("a", "plug", DRY, 2, 2)]
    table = observed(lots).set_index(["plant", "form", "ground"])
    assert table.loc[("a", "plug", WET), ["planted", "alive", "share"]].tolist() == [10, 5, 0.5]
    assert table.loc[("a", "plug", DRY), "high"] == 1.0
    assert observed([Lot("a", "plug", WET, 1, 1)])["planted"].tolist() == [1]
    assert observed([]).empty


@pytest.mark.parametrize(
    ("planted", "alive", "spare"),
    [(19, 10, None), (20, 16, 0.25), (30, 20, 0.5), (40, 8, 1.0), (20, 20, 0.0)],
)
def test_from_twenty_cases_on_spares_follow(planted, alive, spare):
    """1 / (16 / 20) - 1 = 0.25; 1 / (20 / 30) - 1 = 0.5; never more than one spare a plant."""
    assert ENOUGH_CASES == 20
    found = spare_shares([Lot("a", "plug", WET, planted, alive)])
    assert found.get(("a", "plug")) == (None if spare is None else pytest.approx(spare))


def test_no_more_can_live_than_were_planted():
    with pytest.raises(ParameterError):
        Lot("a", "plug", WET, 2, 3)
    with pytest.raises(ParameterError):
        wilson(0, 0)


def test_kinds_of_ground_follow_drainage_classes():
    codes = np.array([1, 2, 3, 4, 5, 7, np.nan], np.float32)
    assert kind_of_ground(codes) == [WET, WET, MOIST, MOIST, DRY, DRY, UNKNOWN]
