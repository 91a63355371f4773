"""Numbers for people: no more digits than their range allows."""

import pytest

from habitat.remarks import remark
from habitat.report.words.en import english
from habitat.report.words.numbers import Units, rounded, share


@pytest.mark.parametrize(
    ("value", "low", "high", "want"),
    [
        (321.4, 204.0, 518.0, ("300", "200", "500")),
        (0.6234, 0.601, 0.655, ("0.62", "0.60", "0.66")),
        (12345.0, 12345.0, 12345.0, ("12,500", "12,500", "12,500")),
        (214.5, 213.5, 214.6, ("210", "210", "210")),
        (0.0, 0.0, 0.0, ("0", "0", "0")),
    ],
)
def test_steps_follow_the_range(value, low, high, want):
    assert rounded(value, low, high) == want


def test_a_wider_range_never_gives_more_digits():
    digits = [
        len(rounded(1234.0, 1234.0 - w, 1234.0 + w)[0].replace(",", "").rstrip("0"))
        for w in (1, 10, 100, 1000)
    ]
    assert digits == sorted(digits, reverse=True)


@pytest.mark.parametrize(
    ("value", "low", "high", "want"),
    [
        (0.5, 0.5, 0.5, "50 %"),
        (0.62, 0.71, 0.55, "60 % (60 to 70 %)"),
        (0.0, 0.0, 0.0, "0 %"),
        (0.85, 0.83, 0.88, "85 % (83 to 88 %)"),
        (0.997, 0.997, 0.997, "almost 100 %"),
        (0.97, 0.88, 1.0, "almost 100 % (90 to 100 %)"),
        (0.004, 0.0, 0.03, "less than 1 % (0 to 3 %)"),
        (1.0, 1.0, 1.0, "100 %"),
    ],
)
def test_shares(value, low, high, want):
    assert share(value, low, high) == want


def test_lengths_are_said_in_the_units_of_the_reader():
    """A foot is 0.3048 m by definition: 6 m are 19.7 ft, to whole feet 20."""
    found = remark("trees_without_height", count=1, of=3, assumed_height_m=6.0)
    assert english()(found).endswith("6 m is assumed")
    assert english(Units("us"))(found).endswith("20 ft is assumed")


def test_text_of_stages_that_hand_on_sentences_gets_the_units_of_the_reader():
    assert english()("a hose of 12 m") == "a hose of 12 m"
    assert english(Units("us"))("a hose of 12 m") == "a hose of 39 ft"
