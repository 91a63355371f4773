"""What is special about a door: worked out by hand on rows and loops of squares."""

import numpy as np

from habitat.connectivity.case import case_of
from habitat.connectivity.distance.reach import Reach
from habitat.connectivity.invitations.reasons import Door, Reasons
from habitat.connectivity.types import Movement, Neighbourhood
from tests.connectivity.invented_town import line_of_squares, reasons
from tests.connectivity.measures.test_breaks import LOOP, study_of


def test_a_second_way_round_is_said():
    """The loop of eight squares lacks one; with it no single yard carries all any more."""
    (said,) = reasons(study_of(LOOP, candidates=("y7",), hop_max_m={"Danaus plexippus": 75.0}))
    assert said.startswith("Your yard adds a second way round between Alder Wood and Mill Meadow")


def test_a_shorter_step_is_said_in_metres():
    """Steps of 50, 100, 50 and 60 m; a yard in the middle of the 100 m leaves 60 as the longest."""
    spots = [(60.0, 0.0), (170.0, 0.0), (115.0, 0.0), (230.0, 0.0)]
    said = reasons(study_of(spots, candidates=("y2",), hop_max_m={"Danaus plexippus": 102.0}))
    step = "Your yard makes the longest step of the monarch between Alder Wood and Mill Meadow"
    assert said == [f"{step} 60 m instead of 100 m"]


def found(area, roles, yard, invited=(), states=("planned",)):
    """Return the reason of a yard in a row of squares, anchors none."""
    yards, breeding = line_of_squares(area, roles=roles)
    breeding = breeding[breeding["state"].isin(states)]
    town = Neighbourhood(yards, breeding, breeding.iloc[:0])
    reaches = {name: Reach(40.0, 60.0) for name in ("low", "median", "high")}
    case, _ = case_of(town, Movement("Danaus plexippus", "monarch", reaches), 1e-4)
    candidates = [y for y, r in zip(yards["yard_id"], roles, strict=True) if r == "candidate"]
    (told,) = Reasons([case], candidates).why([Door(yard, tuple(invited), np.array([1.0]))])
    return told.kind


def test_the_first_ground_and_a_large_part_of_it_are_said():
    assert found([9.0, 0.0, 3.0], ["candidate", "other", "candidate"], "00") == "yard_brings_first_ground"
    assert (
        found([9.0, 0.0, 3.0], ["candidate", "other", "candidate"], "02", ["00"]) == "yard_brings_large_part"
    )


def test_a_yard_for_which_nothing_is_planned_adds_no_ground():
    assert found([9.0, 0.0], ["member", "candidate"], "01") == "yard_is_stepping_stone"


def test_ground_that_stands_already_is_not_added():
    both = ("before", "planned")
    said = found([9.0], ["candidate"], "00", states=both)
    assert said == "yard_is_stepping_stone"


def test_groups_that_a_yard_joins_are_said():
    """Squares 30 m apart, links up to 60 m: without the middle one 80 m are left."""
    assert found([40.0, 4.0, 40.0], ["member", "candidate", "member"], "01") == "yard_joins_groups"


def test_doors_that_could_hear_the_same_hear_something_else():
    """Six equal yards beside a large member: once one thing is said, the next door hears another."""
    yards, breeding = line_of_squares([200.0, *[4.0] * 6], roles=["member", *["candidate"] * 6], gap_m=5.0)
    breeding = breeding[breeding["state"] == "planned"]
    reaches = {name: Reach(40.0, 60.0) for name in ("low", "median", "high")}
    case, _ = case_of(
        Neighbourhood(yards, breeding, breeding.iloc[:0]),
        Movement("Danaus plexippus", "monarch", reaches),
        1e-4,
    )
    ids = yards["yard_id"].tolist()[1:]
    doors = [Door(y, tuple(ids[:k]), np.array([1.0])) for k, y in enumerate(ids[:3])]
    assert len({told.kind for told in Reasons([case], ids).why(doors)}) == 3
