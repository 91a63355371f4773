"""The corridor's absolute figures in words."""

from types import SimpleNamespace

import pytest

from habitat.report.words.figures import area_words, figure_words, gain_words
from habitat.report.words.numbers import Units

ENTRY = {
    "members": {"broods": 1234, "equivalent_area_m2": 320.0, "colonisations": None, "groups": 3},
    "low_reach": {"members": {"equivalent_area_m2": 200.0}},
    "high_reach": {"members": {"equivalent_area_m2": 500.0}},
}


@pytest.mark.parametrize(
    ("figure", "want"),
    [
        ("broods", "1,234"),
        ("equivalent_area_m2", "300 m² (200 to 500 m²)"),
        ("colonisations", "unknown"),
        ("groups", "3"),
        ("capacity_m2", "unknown"),
    ],
)
def test_what_is_not_known_is_never_told_as_none(figure, want):
    assert figure_words(ENTRY, "members", figure, Units("metric")) == want
    assert figure_words(ENTRY, "today", figure, Units("metric")) == "unknown"


def test_areas_are_told_in_the_units_of_the_reader():
    """A foot is 0.3048 m by definition: 10 m2 are 107.6 square feet."""
    assert area_words(10.0, 10.0, 10.0, units=Units("us")) == "110 sq ft"


@pytest.mark.parametrize(
    ("broods", "want"),
    [
        (1, "1 brood, 10 m² (10 to 20 m²)"),
        (0, "0 broods, 10 m² (10 to 20 m²)"),
        (None, "10 m² (10 to 20 m²)"),
    ],
)
def test_a_gain_names_broods_only_where_they_are_counted(broods, want):
    assert (
        gain_words(
            SimpleNamespace(gain_m2=12.0, gain_broods=broods, gain_m2_low_reach=8.0, gain_m2_high_reach=19.0),
            Units("metric"),
        )
        == want
    )
