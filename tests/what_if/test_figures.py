"""Figures of changed plans: those of the whole corridor, worked out only where something changed."""

import pytest

from habitat.pipeline.corridor import corridor_task
from habitat.pipeline.planting import corridor_butterflies
from habitat.what_if import figures
from habitat.what_if.steps import stepped


def test_figures_are_those_that_the_whole_corridor_gives(first):
    """``score_corridor`` itself, with candidates, invitations and all."""
    request = first.request
    task = corridor_task(
        request.study, request.layers, request.knowledge, first.found.planting, corridor_butterflies(request)
    )
    whole = task.score().headline
    for state in figures.STATES:
        told = first.found.headline["together"][state]
        assert told == pytest.approx(whole["together"][state], rel=1e-9)
    for reach in ("low_reach", "high_reach"):
        told = first.found.headline["together"][reach]["members"]["equivalent_area_m2"]
        assert told == pytest.approx(whole["together"][reach]["members"]["equivalent_area_m2"], rel=1e-9)


def test_what_does_not_change_is_not_worked_out_again(base, first, monkeypatch):
    asked = []
    one = figures.figures_of
    monkeypatch.setattr(
        figures,
        "figures_of",
        lambda case, yards, s: asked.append((case.butterfly, *s)) or one(case, yards, s),
    )
    name = base.request.wishes[0]
    after = stepped(base, first, {"do": "reach", "butterfly": name, "median_m": 70.0})
    assert asked == [(name, "today"), (name, "members")]
    stepped(base, after, {"do": "reach", "butterfly": name, "median_m": None})
    assert len(asked) == 2
    gone = stepped(base, first, {"do": "drop", "yard": "A1"})
    assert {state for _, state in asked[2:]} == {"members"}
    assert gone.found.headline["together"]["today"] == first.found.headline["together"]["today"]


def test_a_candidates_plan_moves_no_figure_of_the_members(base, first):
    rows = first.raw.plantings
    key = rows.loc[rows["yard_id"] == "A3", "planting_id"].iloc[0]
    after = stepped(base, first, {"do": "strike", "yard": "A3", "planting": key})
    assert after.found.headline["together"] == first.found.headline["together"]
    assert after.found.headline["cost"] < first.found.headline["cost"]
    assert after.found.headline["cost_of_members"] == first.found.headline["cost_of_members"]
