"""Five lines on what a coordinator does next."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

from habitat.commands.run.steps import next_steps
from habitat.report.lists.calendar import entries
from habitat.report.words.months import date_words
from tests.report.small_plan import small_plan


def test_five_lines_tell_what_is_next_with_the_figures_of_the_plan(tmp_path):
    plan = small_plan(tmp_path)
    lines = next_steps(plan, Path("plans/../out"))
    assert [line[:2] for line in lines] == ["1.", "2.", "3.", "4.", "5."]
    assert f"{Path('out') / 'page.html'}" in lines[0]
    planted = set(plan.plantings["yard_id"])
    members = plan.yards[(plan.yards["role"] == "member") & plan.yards["yard_id"].isin(planted)]
    assert f"{len(members)} yards" in lines[1]
    assert "habitat accept out" in lines[1]
    assert f"{plan.headline['counts']['plants_of_members']:,} plants" in lines[2]
    (call,) = [e.start for e in entries(plan) if e.title == "Have buried lines marked"]
    assert date_words(call) in lines[3]
    assert call > dt.date(2026, 3, 1)
    assert plan.invitations["yard_id"].iloc[0] in lines[4]
    assert lines[4].endswith(f". All figures: {Path('out') / 'summary.txt'}.")


def test_where_nobody_is_to_be_asked_it_says_so(tmp_path):
    plan = small_plan(tmp_path)
    lines = next_steps(replace(plan, invitations=plan.invitations.iloc[:0]), Path("out"))
    assert lines[4].startswith("5. Ask next: nobody")


def test_who_has_accepted_gets_no_new_sheet_and_who_was_asked_is_told(tmp_path):
    plan = small_plan(tmp_path)
    status = {"0007": "accepted", "0013": "planted", "0012": "asked"}
    plan = replace(
        plan,
        yards=plan.yards.assign(status=plan.yards["yard_id"].map(status).fillna("draft")),
        invitations=plan.invitations.iloc[:0],
        asked={"0012": "asked on 2026-04-01"},
    )
    lines = next_steps(plan, Path("out"))
    assert "Hand out the sheets of 2 yards (2 yards accepted already)" in lines[1]  # of four members
    assert lines[4].startswith("5. Ask next: nobody new; 1 yard asked already: lists/walk-list.csv.")
