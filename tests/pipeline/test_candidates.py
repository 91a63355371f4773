"""Candidates by rule: who may be asked, who gets a plan first, and how wrong the estimate is."""

import numpy as np
import pandas as pd
import pytest

from habitat.knowledge import load_knowledge
from habitat.pipeline import candidates
from habitat.pipeline.candidates import estimate_error, quick_habitat, with_candidates
from habitat.report.words.en import english
from habitat.suitability import compile_needs
from tests.support.quick_ground import MONARCH, quick_ground

SUN = {"sun_h": 9.0}


@pytest.fixture(scope="module")
def tables():
    knowledge = load_knowledge()
    return knowledge, compile_needs(knowledge, assessed=("sun_h",))


def asked(tables, spots, roles, listed, sun=9.0, open_m2=200.0, declined=(), been=(), **settings):
    """Return roles by rule, notes and estimates of 20 m yards at spots; listed: rows of the sheet."""
    ground = quick_ground(tables, spots, roles, listed, sun, open_m2, **settings)
    got, estimated, notes = with_candidates(ground, MONARCH, frozenset(declined), frozenset(been))
    return got.yards["role"].tolist(), [english()(n) for n in notes], estimated


def test_all_within_reach_but_those_on_the_sheet_may_be_asked(tables):
    """Reach: 432 m for a median of 100 m. On the sheet: a member, one who said no; one declined later."""
    spots, roles = [0, 40, 80, 120, 400, 900], ["member", "other", "other", "other", "other", "other"]
    got, notes, _ = asked(tables, spots, roles, ["00", "01"], declined=["02"])
    assert got == ["member", "other", "other", "candidate", "candidate", "other"]
    assert notes == [
        "2 yards that are on no sign-up sheet could be asked: each gets a plan; 1 more lie out of reach, "
        "have no open ground or are left out by where."
    ]


def test_who_was_asked_stays_a_candidate_and_takes_no_place(tables):
    """One place for a plan: by the quick look it goes to the nearest, whether or not others were asked."""
    spots, roles = [0, 40, 80, 120], ["member", "other", "other", "other"]
    assert asked(tables, spots, roles, ["00"], plan_at_most=1)[0] == ["member", "candidate", "other", "other"]
    got = asked(tables, spots, roles, ["00", "03"], been=["02", "03"], plan_at_most=1)[0]
    assert got == ["member", "candidate", "candidate", "other"]  # the last is on the sheet, as other


def test_a_lot_without_open_ground_is_not_asked(tables):
    got, _, _ = asked(tables, [0, 40, 80], ["member", "other", "other"], ["00"], open_m2=[200.0, 3.0, 60.0])
    assert got == ["member", "other", "candidate"]


def test_unknown_open_ground_is_judged_by_the_parcel(tables):
    got, _, _ = asked(tables, [0, 40], ["member", "other"], ["00"], open_m2=[200.0, np.nan])
    assert got == ["member", "candidate"]


def test_the_best_by_fit_and_place_get_a_plan_first(tables):
    """Of equal yards the nearer one; of yards equally near the one in the sun: milkweeds want light."""
    spots, roles = [0, 40, 300], ["member", "other", "other"]
    assert asked(tables, spots, roles, ["00"], plan_at_most=1)[0] == ["member", "candidate", "other"]
    sun = [9.0, 0.5, 9.0]
    assert asked(tables, spots, roles, ["00"], sun=sun, plan_at_most=1)[0] == ["member", "other", "candidate"]


def test_a_closer_look_at_twice_as_many_as_get_a_plan_decides(tables, monkeypatch):
    """One plan: of the two that the estimate finds best, the one whose beds come to more."""
    seen = []

    def closer(_ground, ids, _executor=None):
        seen.append(ids)
        return pd.DataFrame({MONARCH[0]: [1.0, 9.0]}, index=pd.Index(ids, name="yard_id"))

    monkeypatch.setattr(candidates, "closer_estimate_of", closer)
    spots, roles = [0, 40, 80, 120], ["member", "other", "other", "other"]
    got, _, estimated = asked(tables, spots, roles, ["00"], plan_at_most=1)
    assert seen == [("01", "02")]
    assert got == ["member", "other", "candidate", "other"]
    assert estimated.loc[["01", "02"], MONARCH[0]].tolist() == [1.0, 9.0]
    assert asked(tables, spots, roles, ["00"], plan_at_most=3)[0] == ["member", *["candidate"] * 3]
    assert len(seen) == 1


def test_habitat_by_the_quick_look_never_exceeds_the_room(tables):
    ground = pd.DataFrame({"sun_h_mean": [9.0, 9.0, 0.0]})
    (own,) = quick_habitat(ground, np.array([4.0, 500.0, 500.0]), tables[1], tables[0], MONARCH)
    assert 0.0 < own[0] <= 4.0
    assert own[1] > own[0]
    assert own[2] == 0.0


def test_the_error_of_the_estimate_is_told():
    """Ten yards in order, then in reverse: rank correlations of 1 and -1."""
    exact = {f"{k:02d}": float(k) for k in range(10)}
    quick = pd.DataFrame({"monarch": pd.Series(exact) / 2, "zabulon skipper": pd.Series(exact) / 2})
    (well,) = map(english(), estimate_error(quick, exact))
    assert "orders yards well" in well
    assert "1.00 over 10 yards" in well
    (badly,) = map(english(), estimate_error(quick, {y: -v for y, v in exact.items()}))
    assert "orders yards poorly" in badly
    assert estimate_error(quick.iloc[:9], exact) == ()
    assert estimate_error(None, exact) == ()


def test_only_yards_that_pass_where_are_asked(tables):
    spots, roles = [0, 40, 80, 120], ["member", "other", "other", "other"]
    columns = {"ZONE": ["R1", "r1 ", "C", None], "ACRES": [0.1, 0.3, 0.2, 0.2]}
    got, _, _ = asked(tables, spots, roles, ["00"], columns=columns, where={"zone": ["R1"]})
    assert got == ["member", "candidate", "other", "other"]
    got, _, _ = asked(
        tables, spots, roles, ["00"], columns=columns, where_least={"ACRES": 0.2}, where_most={"ACRES": 0.25}
    )
    assert got == ["member", "other", "candidate", "candidate"]
