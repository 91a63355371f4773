"""What people say of a bed: lengths by the definitions of their units, soil by the survey's names."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from habitat.bed.words import (
    CONTAINER_M,
    SOIL_WORDS,
    SUN_WORDS,
    WETNESS_WORDS,
    read_size,
    read_soil,
    read_sun,
    read_wetness,
)
from habitat.errors import ParameterError

FOOT_M, INCH_M = 0.3048, 0.0254
"""International yard and pound agreement, 1959."""


@pytest.mark.parametrize(
    ("said", "long_m", "wide_m", "us"),
    [
        ("4x2m", 4.0, 2.0, False),
        ("2 m by 4 m", 4.0, 2.0, False),
        ("4 × 2 metres", 4.0, 2.0, False),
        ("4,5 x 2 m", 4.5, 2.0, False),
        ("150x90cm", 1.5, 0.9, False),
        ("12x6ft", 12 * FOOT_M, 6 * FOOT_M, True),
        ("12' x 6'", 12 * FOOT_M, 6 * FOOT_M, True),
        ("12’ × 6’", 12 * FOOT_M, 6 * FOOT_M, True),
        ("12 feet by 6 feet", 12 * FOOT_M, 6 * FOOT_M, True),
        ("5 ft 6 in x 3 ft", 5 * FOOT_M + 6 * INCH_M, 3 * FOOT_M, True),
        ("5'6\" x 3'", 5 * FOOT_M + 6 * INCH_M, 3 * FOOT_M, True),
        ("a bed 48 in x 96 in", 96 * INCH_M, 48 * INCH_M, True),
    ],
)
def test_sizes_are_read_with_their_unit(said, long_m, wide_m, us):
    size = read_size(said)
    assert (size.length_m, size.width_m) == pytest.approx((long_m, wide_m))
    assert (size.kind, size.us) == ("bed", us)
    assert size.area_m2 == pytest.approx(long_m * wide_m)


@pytest.mark.parametrize(
    ("said", "kind", "long_m"),
    [
        ("a pot", "pot", None),
        ("Pot", "pot", None),
        ("a pot 40 cm across", "pot", 0.4),
        ("20 inch pot", "pot", 20 * INCH_M),
        ("a balcony box", "box", None),
        ("window box 1 m x 25 cm", "box", 1.0),
        ("planter 36x10in", "box", 36 * INCH_M),
    ],
)
def test_pots_and_boxes_are_known_by_their_names(said, kind, long_m):
    size = read_size(said)
    assert size.kind == kind
    assert size.contained
    assert CONTAINER_M[0] <= size.width_m <= size.length_m <= CONTAINER_M[1]
    if long_m is not None:
        assert size.length_m == pytest.approx(long_m)
    if kind == "pot":  # a regular polygon of 64 corners inside the circle
        assert size.area_m2 == pytest.approx(3.14159 / 4 * size.length_m**2, rel=0.003)


@pytest.mark.parametrize("said", ["4 by 2", "4x2", "12", "", "large", "4x2 furlongs", "x", "4m", "-4x2m"])
def test_what_is_no_size_is_refused_with_a_size_that_is(said):
    with pytest.raises(ParameterError, match="4x2m or 12x6ft"):
        read_size(said)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("40x20m", "habitat new --yard"),
        ("0.3x0.2m", "at least 60 cm"),
        ("0x0m", "at least 60 cm"),
        ("a pot 30 cm", "40 cm"),
        ("box 4x1m", "2 m"),
    ],
)
def test_a_size_that_nobody_can_plant_says_how_to_go_on(said, words):
    with pytest.raises(ParameterError, match=words):
        read_size(said)


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(said):
    for read in (read_size, read_sun, read_soil, read_wetness):
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
