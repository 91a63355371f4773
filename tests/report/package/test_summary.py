"""A run's figures in words, and what it leaves open."""

from dataclasses import replace
from types import SimpleNamespace

import pandas as pd

from habitat.report.package.summary import ask_next, gaps, left_open, summary_lines, write_summary
from tests.report.small_plan import agreed, small_plan


def test_a_run_tells_empty_yards_and_plants_of_no_known_name():
    plan = SimpleNamespace(
        yard_results=pd.DataFrame({"yard_id": ["a", "b", "c"]}),
        plantings=pd.DataFrame({"yard_id": ["a", "a"]}),
        existing_plants=pd.DataFrame(
            {"plant": [None, "Zizia aurea", None], "name_given": ["fern", "zizia", ""]}
        ),
    )
    empty, unknown = left_open(plan)
    assert empty.startswith("2 of 3 yards")
    assert unknown.startswith("1 of 3 plants")
    assert "fern" in unknown


def test_yards_that_are_not_shown_are_not_told_to_be_empty(tmp_path):
    """All seven yards but one are hidden: nobody can tell from what is left that the others got nothing."""
    public = agreed(small_plan(tmp_path), [True, *[False] * 6])
    assert not any("get no plant" in line for line in gaps(public))


def test_the_figures_are_those_of_the_tables(tmp_path):
    plan = small_plan(tmp_path)
    told = replace(plan, headline=plan.headline | {"life_cycles_closed": {"today": 2, "year_2": 9}})
    text = " ".join(summary_lines(told))
    assert f"{plan.plantings['count'].sum()} plants of {plan.plantings['plant'].nunique()} kinds" in text
    assert ask_next(plan).startswith(f"yard {plan.invitations['yard_id'].iloc[0]} (")
    assert ask_next(replace(plan, invitations=plan.invitations.iloc[:0])) == ""
    write_summary(told, tmp_path / "summary.txt")
    assert (tmp_path / "summary.txt").read_text("utf-8").count("\n\n") == len(summary_lines(told)) + len(
        gaps(told)
    ) - 1
