"""What people say of a bed's size: lengths by the definitions of their units."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from habitat.bed.words import CONTAINER_M, read_size
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
    refused = None
    try:
        read_size(said)
    except ParameterError as error:
        refused = error
    assert refused is None or repr(said) in str(refused)
