"""What a household says, as plain values, and the ground of beds that it bears."""

import math

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from habitat.errors import ParameterError
from habitat.planting.household import BORDER_CARE_H, Household, read_household
from habitat.settings.planting import PlantingSettings
from tests.support.planting_rules import least, most


def test_care_figures_are_those_of_the_table():
    assert (least("care_border"), most("care_border")) == BORDER_CARE_H


def test_a_row_is_read_with_the_settings_where_it_is_silent():
    row = pd.Series({"no_trees": True, "look": "meadow", "disliked_colours": "red; orange", "bed_m2": 12})
    home = read_household(row, PlantingSettings(hours_a_month=3))
    assert not home.trees
    assert home.vines
    assert (home.look, home.disliked_colours) == ("meadow", frozenset({"red", "orange"}))
    assert (home.hours_a_month, home.bed_m2) == (3.0, 12.0)


def test_blank_cells_say_nothing():
    row = pd.Series({"no_trees": None, "look": float("nan"), "bed_m2": float("nan"), "children": None})
    assert read_household(row, PlantingSettings()) == Household(hours_a_month=2.0)
    assert read_household(row, PlantingSettings()).bed_m2 == math.inf


def test_a_look_that_is_none_of_ours_is_refused():
    with pytest.raises(ParameterError, match="tidy, between or meadow"):
        read_household(pd.Series({"look": "wild"}), PlantingSettings())


@given(st.floats(0, 20), st.floats(10, 5000), st.floats(0.01, 1))
def test_more_hours_never_mean_less_ground(hours, open_m2, share):
    few, many = (Household(hours_a_month=h).bed_room_m2(open_m2, share) for h in (hours, hours + 1))
    assert few <= many <= share * open_m2 + 1e-6
    easy = Household(hours_a_month=hours, easy_care=True).bed_room_m2(open_m2, share)
    assert easy <= few
