"""Over whole runs of one tiny town: what may never change the figures that years are compared by."""

import random

import pandas as pd
import pytest

import habitat
from tests.support.tiny_town import write_town

FIGURES = ("broods", "habitat_m2", "equivalent_area_m2", "groups", "colonisations", "capacity_m2")
SHEETS = {
    "asked": ["candidate", "member", "candidate", "member", "other"],
    "alone": ["other", "member", "other", "member", "other"],
    "others": ["member", "other", "candidate", "other", "member"],
}
PURSE = "\n[planting]\ntotal_budget = {}\nwishes"
SEED, SHORT = 3, 150
"""A town whose grower has few milkweeds; money for one of two members and part of the other."""


@pytest.fixture(scope="module")
def plans(tmp_path_factory):
    """Return the plans of one street under three sheets: two rounds, one purse, growers' stock."""
    out = {}
    for name, roles in SHEETS.items():
        home = tmp_path_factory.mktemp(name)
        path = write_town(home, random.Random(SEED), dict(zip("abcde", roles, strict=True)))
        assert (home / "growers.csv").is_file()
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace("\n[planting]\nwishes", PURSE.format(SHORT)), encoding="utf-8")
        out[name] = habitat.run(habitat.read_study(path))
    return out


def test_who_may_be_asked_changes_no_plan_of_a_member(plans):
    """All plants are herbs here: trees of candidates do shade their neighbours."""
    for table in ("beds", "plantings", "plant_points", "yard_results"):
        asked, alone = (
            frame[frame["yard_id"].isin(["b", "d"])].reset_index(drop=True)
            for frame in (getattr(plans["asked"], table), getattr(plans["alone"], table))
        )
        assert len(alone) >= 2
        pd.testing.assert_frame_equal(asked, alone)
    money = plans["asked"].yard_results.set_index("yard_id")["cost"]
    assert money[["b", "d"]].sum() <= SHORT + 1e-6
    assert money.sum() > SHORT, "those who may be asked are planned beside it"


@pytest.mark.parametrize("state", ["today", "members"])
def test_who_may_be_asked_changes_no_figure(plans, state):
    asked, alone = (plans[name].headline for name in ("asked", "alone"))
    for name, was in alone["butterflies"].items():
        for figure in FIGURES:
            now = asked["butterflies"][name][state][figure]
            assert now == pytest.approx(was[state][figure], rel=1e-9), (name, figure)
    assert asked["together"][state] == pytest.approx(alone["together"][state], rel=1e-9)
    assert asked["share"][state] == pytest.approx(alone["share"][state], rel=1e-9)


def test_what_could_be_is_the_same_whoever_signs_up(plans):
    """Sheets that have no yard in common."""
    one, two = (plans[name].headline for name in ("alone", "others"))
    assert one["share"]["could_be_m2"] == two["share"]["could_be_m2"]
    assert one["share"]["counted"] == two["share"]["counted"] == 5
    assert one["together"]["members"] != two["together"]["members"]
