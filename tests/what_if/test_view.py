"""What the page is given, in words; every figure that of the state."""

import json

import pytest

from habitat.what_if.view import View


@pytest.fixture
def view(session):
    return View(session)


def test_all_of_it_is_plain_values(view):
    for told in (view.still(), view.whole(), *(view.yard(k) for k in range(6))):
        json.dumps(told, allow_nan=False)


def test_a_yard_is_told_as_it_stands(view, session):
    told, drawn = view.yard(0), session.state.drawn
    mine = drawn.plantings[drawn.plantings["yard_id"] == "A1"]
    assert [p["planting"] for p in told["plantings"]] == mine["planting_id"].tolist()
    assert sum(p["count"] for p in told["plantings"]) == mine["count"].sum()
    assert sum(len(kind[2:]) // 2 for kind in told["points"]) == (drawn.points["yard_id"] == "A1").sum()
    assert len(told["beds"]) == len(told["handles"]) == (drawn.beds["yard_id"] == "A1").sum()
    assert told["member"]
    assert view.yard(5)["planned"] is False
    with pytest.raises(IndexError):
        view.yard(6)


def test_corners_come_back_where_they_are(view, session):
    """From metres to units of the map, decimetres, and back."""
    handle = view.yard(0)["handles"][0]
    shape = session.state.drawn.beds.set_index("bed_id").geometry[handle["bed"]]
    for x, y in view.metres(handle["ring"]):
        assert shape.exterior.distance(type(shape.centroid)(x, y)) < 0.11
    assert view.metres("round") == "round"


def test_changes_are_said_with_their_sign(view, session):
    assert view.whole()["said"] == "As opened."
    session.step({"do": "join", "yard": "A3"}, session.version)
    told = view.whole()
    assert told["said"].startswith("Yard A3 joined: broods ")
    assert "linked ground +" in told["said"]
    assert "cost +" in told["said"]
    assert told["undo"] == "yard A3 joined"
    assert told["roles"][2] == "member"
    assert told["money"][0][3].startswith("+")
    session.step({"do": "drop", "yard": "A1"}, session.version)
    assert "broods −" in view.whole()["said"]
