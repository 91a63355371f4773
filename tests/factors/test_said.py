"""What people say of sun, soil, wetness and reaction: the survey's names and extension texts' words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from habitat.errors import ParameterError
from habitat.factors.said import (
    SOIL_WORDS,
    SUN_WORDS,
    WETNESS_WORDS,
    read_hours,
    read_reaction,
    read_soil,
    read_sun,
    read_wetness,
)


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(said):
    for read in (read_sun, read_soil, read_wetness, read_reaction, read_hours):
        refused = None
        try:
            read(said)
        except ParameterError as error:
            refused = error
        assert refused is None or repr(said) in str(refused)


def test_sun_words_lie_within_what_extension_texts_call_them():
    """Full sun 6 hours or more, part 3 to 6, shade under 3: common practice of extension texts."""
    for word, (hours, _) in SUN_WORDS.items():
        low, high = {"f": (6, 15), "p": (3, 6), "s": (0, 3)}[read_sun(word).told[0]]
        assert low <= hours <= high, word
    assert read_sun("Part  Shade").value == SUN_WORDS["part"][0]
    assert read_sun("5,5 hours").value == 5.5
    assert read_sun(4).value == 4.0


@pytest.mark.parametrize("said", ["lots", "-1", "25", "16 h", "nan", ""])
def test_sun_that_cannot_be_is_refused(said):
    with pytest.raises(ParameterError, match="full, part, shade"):
        read_sun(said)


@pytest.mark.parametrize(
    ("said", "number"),
    [
        ("sand", 1),
        ("Sandy", 1),
        ("loam", 4),
        ("good", 4),
        ("SiL", 5),
        ("silt loam", 5),
        ("CL", 8),
        ("clay", 12),
    ],
)
def test_soil_is_a_class_of_the_soil_survey(said, number):
    """Order of the twelve texture classes: Soil Survey Manual (2017), chapter 3."""
    assert read_soil(said).value == number


@pytest.mark.parametrize(
    "said", ["unknown", "don't know", "Don’t know".replace("’", "'"), "poor", "slow", "rocky"]
)
def test_soil_that_nobody_knows_stays_unknown(said):
    found = read_soil(said)
    assert found.value is None
    assert found.told.startswith("not known")


def test_wetness_ranks_rise_from_wet_to_dry():
    wet, medium, dry = (read_wetness(word).value for word in ("wet", "medium", "dry"))
    assert wet < medium < dry
    assert read_wetness("unknown").value is None


@pytest.mark.parametrize(
    ("read", "said"), [(read_soil, "purple"), (read_wetness, "sideways"), (read_soil, "")]
)
def test_other_words_are_refused(read, said):
    with pytest.raises(ParameterError, match="unknown"):
        read(said)


def test_no_word_stands_for_two_things():
    for table in (SUN_WORDS, SOIL_WORDS, WETNESS_WORDS):
        assert all(word == word.lower().strip() for word in table)


def test_reaction_words_are_the_middles_of_the_surveys_classes():
    """Soil Survey Manual (2017), chapter 3."""
    for word, low, high in (
        ("slightly acid", 6.1, 6.5),
        ("neutral", 6.6, 7.3),
        ("slightly alkaline", 7.4, 7.8),
    ):
        assert read_reaction(word).value == pytest.approx((low + high) / 2, abs=0.051)
    assert read_reaction("acid").value is None


@pytest.mark.parametrize("said", ["65", "lemon", "6-70", ""])
def test_a_reaction_that_cannot_be_is_refused(said):
    with pytest.raises(ParameterError, match="a pH from 2 to 11"):
        read_reaction(said)
