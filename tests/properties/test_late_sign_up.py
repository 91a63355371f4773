"""Real parcels (momepy's, of Prague) and a late sign-up: one command tells which sheets to hand out."""

import re

import pandas as pd
import pyogrio
import pytest

from tests.commands.calls import call
from tests.support.prague import parcels, write_study

LAST = "P080"
"""Of 407 parcels the first eighty are enough."""

TABLES = ("beds", "plantings", "plant_points")


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    """Plan for six households and three who may be asked, hand out, and let one more sign up."""
    home = tmp_path_factory.mktemp("late")
    study = write_study(home, 9)
    text = study.read_text(encoding="utf-8")
    study.write_text(text.replace('layer = "yards"', f'layer = "yards"\nwhere = "yard_id < \'{LAST}\'"'))
    people = home / "participants.csv"
    call("run", str(study), "--out", str(home / "one"), "--workers", "1", "--quiet")
    call("accept", str(home / "one"), "--members")
    signed = set(pd.read_csv(people)["yard_id"])
    yards = parcels()[0]
    late = next(y for y in yards.loc[yards.area.between(400, 900), "yard_id"] if y not in signed)
    assert late < LAST
    with people.open("a", encoding="utf-8") as file:
        file.write(f"{late},member,no\n")
    told = call("run", str(study), "--out", str(home / "two"), "--after", str(home / "one"), "--workers", "1")
    return home, late, told


def rows(folder, table):
    frame = pyogrio.read_dataframe(folder / "plan.gpkg", layer=table)
    return frame.drop(columns=["status"], errors="ignore").to_wkt()


def test_the_sheets_to_hand_out_are_those_of_who_signed_up_late(played):
    _, late, told = played
    assert "Hand out 1 sheet." in told
    assert re.search(rf"yard {late}\b.*: its first sheet", told)


def test_no_plan_that_was_handed_out_changed(played):
    home, late, _ = played
    for table in TABLES:
        one, two = (rows(home / run, table) for run in ("one", "two"))
        kept = set(pd.read_csv(home / "one" / "decisions.csv").query("status == 'accepted'")["yard_id"])
        assert kept
        assert late not in kept
        of = [frame[frame["yard_id"].isin(kept)].reset_index(drop=True) for frame in (one, two)]
        pd.testing.assert_frame_equal(of[0], of[1][of[0].columns])
