"""Places: states by the Census Bureau's outlines, regions by their own."""

import pytest

from habitat.bed.place import find_place
from habitat.errors import ParameterError
from habitat.knowledge.region import shipped_regions

STATES = ["OH", "WV", "PA", "KY", "IN", "VA", "MD", "DE", "NJ", "TX", "OK"]
"""States that a region has tables for."""


@pytest.mark.parametrize("code", STATES)
def test_a_state_is_taken_for_a_place_in_it_and_in_its_region(code):
    place = find_place(code.lower())
    region = shipped_regions()[place.region]
    assert place.state == code
    assert code in region.states
    assert region.holds(place.longitude_deg, place.latitude_deg)
    assert find_place(f"{place.latitude_deg},{place.longitude_deg}").state == code


@pytest.mark.parametrize(
    ("said", "state"),
    [("39.96,-82.99", "OH"), ("39.96 -82.99", "OH"), ("30.27; −97.74", "TX"), ("38.9°, -77.04°", "DC")],
)
def test_a_latitude_and_longitude_are_read_in_that_order(said, state):
    """State capitals' places to two decimals (memory)."""
    assert find_place(said).state == state


def test_names_of_states_are_read_whatever_the_case():
    assert find_place("west virginia").state == "WV"


@pytest.mark.parametrize("said", ["Utah", "CA", "50.1,14.4", "0,0", "47.6,-122.3"])
def test_outside_every_region_it_says_how_to_go_on(said):
    with pytest.raises(ParameterError, match="habitat new writes blank ones"):
        find_place(said)


def test_a_minus_sign_or_an_order_that_is_wrong_is_asked_about():
    for said in ("39.96,82.99", "-82.99,39.96"):
        with pytest.raises(ParameterError, match="minus sign missing"):
            find_place(said)


@pytest.mark.parametrize(
    ("said", "words"), [("Ohoi", "Ohio"), ("nowhere", "Ohio or OH"), ("91,0", "degrees north")]
)
def test_what_is_no_place_is_refused(said, words):
    with pytest.raises(ParameterError, match=words):
        find_place(said)
