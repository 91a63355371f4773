"""Absolute figures on the page."""

from dataclasses import replace

from habitat.report.page.corridor import corridor_tables


def test_each_state_is_told_and_those_to_ask_only_if_there_are_any(plan):
    page = corridor_tables(plan)
    assert "today</th>" in page
    assert "with those to ask next</th>" in page
    assert ">36</td>" in page  # broods of four butterflies with nine places each
    alone = corridor_tables(replace(plan, invitations=plan.invitations.iloc[:0]))
    assert "with those to ask next" not in alone


def test_what_is_the_same_with_the_plans_is_said_once(plan):
    headline = {**plan.headline, "butterflies": {k: dict(v) for k, v in plan.headline["butterflies"].items()}}
    headline["butterflies"]["Danaus plexippus"]["members"] |= {"broods": 12, "groups": None}
    page = corridor_tables(replace(plan, headline=headline))
    assert "9; then 12" in page
    assert "1; then unknown" in page
    assert "9, as today" in page


def test_an_earlier_headline_without_figures_gives_no_table(plan):
    old = {k: v for k, v in plan.headline.items() if k != "together"}
    assert corridor_tables(replace(plan, headline=old)) == ""
