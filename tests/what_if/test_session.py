"""Steps and undo, one after the other; versions; what happens when drawing anew goes wrong."""

import pandas as pd
import pytest

import habitat.what_if.session as session_module
from habitat.errors import HabitatError, OutputError
from habitat.what_if.session import OutdatedError


def reach(session, metres):
    return {"do": "reach", "butterfly": session.base.request.wishes[0], "median_m": metres}


def test_undo_gives_back_the_very_state(session):
    first = session.state
    session.step({"do": "drop", "yard": "A2"}, session.version)
    assert session.dirty
    session.undo(session.version)
    assert session.state is first
    assert not session.dirty
    with pytest.raises(HabitatError, match="undo is 'nothing'"):
        session.undo(session.version)


def test_a_reach_alone_is_nothing_to_save_and_old_steps_are_let_go(session, monkeypatch):
    monkeypatch.setattr("habitat.what_if.session.MOST_STEPS", 3)
    for metres in range(1, 7):
        session.step(reach(session, metres * 100), session.version)
    assert not session.dirty
    assert [s.told for s in session.states] == [f"monarch goes {m} m" for m in (300, 400, 500, 600)]
    for _ in range(3):
        session.undo(session.version)
    with pytest.raises(HabitatError, match="undo is 'nothing'"):
        session.undo(session.version)  # what was let go cannot be jumped over unseen
    assert session.first.reach_m == {}


def test_a_step_for_an_older_version_is_refused(session):
    version = session.version
    session.step(reach(session, 50), version)
    for do in (
        lambda: session.step(reach(session, 60), version),
        lambda: session.undo(version),
        lambda: session.save(version),
    ):
        with pytest.raises(OutdatedError, match="in another window"):
            do()
    assert len(session.states) == 2


def test_drawing_anew_that_fails_is_told_and_all_stays(session):
    def fail(*_):
        raise OutputError("the disk is full", "results", "Make room")

    session.redraw(session.version, fail)
    session.work.join(30)
    assert session.busy.failed
    assert "the disk is full" in session.busy.words
    session.step(reach(session, 50), session.version)  # goes on


def test_while_all_is_drawn_anew_nothing_else_is_done(session):
    import threading

    wait = threading.Event()
    session.redraw(session.version, lambda *_: wait.wait(30))
    with pytest.raises(OutdatedError, match="being drawn anew"):
        session.step(reach(session, 50), session.version)
    wait.set()
    session.work.join(30)
    assert session.busy.words == ""


def test_a_yard_that_somebody_looked_at_joins_with_the_plan_made_ahead(session, monkeypatch):
    """The same plan as without looking, and worked out once; what changed since is not overlooked."""
    other = next(
        y
        for y in session.state.request.layers.yards["yard_id"]
        if y not in set(session.state.results["yard_id"])
    )
    session.step({"do": "join", "yard": other}, session.version)
    plain = session.state.raw.plantings
    session.undo(session.version)
    made = []
    plan = session_module.plan_to_join
    monkeypatch.setattr(session_module, "plan_to_join", lambda *asked: made.append(asked) or plan(*asked))
    for _ in range(2):
        session.plan_ahead(other)
    session.step({"do": "join", "yard": other}, session.version)
    assert len(made) == 1
    pd.testing.assert_frame_equal(session.state.raw.plantings, plain)
    session.plan_ahead(other)  # it has a plan now
    session.undo(session.version)
    session.step(reach(session, 70), session.version)
    session.plan_ahead(other)
    session.step({"do": "join", "yard": other}, session.version)
    assert len(made) == 2
