"""Milestones: each run adds one, one that draws anew takes the place of what it draws."""

import datetime as dt
from types import SimpleNamespace

import pandas as pd
import pytest

from habitat.pipeline.milestones import milestones
from habitat.planting.types import Milestone
from tests.report.lists.test_season import with_living
from tests.report.small_plan import small_plan

FIRST = Milestone("2025-03-01", "", 3, 3, 0, 0, 10.0, 5.0, None)
HEADLINE = {"together": {"today": {"broods": 12.0, "equivalent_area_m2": float("nan")}}}


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return with_living(small_plan(tmp_path_factory.mktemp("study")))


def request(plan, *, earlier=None, redraw=False, sightings=None):
    yards = plan.layers.yards
    layers = SimpleNamespace(yards=yards, frame=lambda _: sightings)
    study = SimpleNamespace(study=SimpleNamespace(date=dt.date(2026, 3, 1)))
    return SimpleNamespace(
        study=study, layers=layers, existing=plan.existing_plants, knowledge=plan.knowledge, earlier=earlier,
        redraw=redraw,
    )  # fmt: skip


def decisions(**status):
    return pd.DataFrame({"yard_id": list(status), "status": list(status.values())})


def test_the_first_run_has_nothing_before_it(plan):
    """Four members; one planted and one declined, who has answered too."""
    plan, many = plan
    table = decisions(a="planted", b="draft", c="declined")
    found = milestones(request(plan), table, HEADLINE)
    assert found == (Milestone("2026-03-01", "", 5, 4, 1, many, 12.0, None, None),)


def test_a_run_after_adds_one_and_a_drawing_anew_does_not(plan):
    plan, _ = plan
    earlier = SimpleNamespace(carried=SimpleNamespace(history=(FIRST,)), sha256="abc")
    after = milestones(request(plan, earlier=earlier), decisions(a="draft"), {})
    assert after[0] == FIRST
    assert [one.after for one in after] == ["", "abc"]
    assert after[1].broods is None
    again = milestones(request(plan, earlier=earlier, redraw=True), decisions(a="draft"), {})
    assert [(one.date, one.after) for one in again] == [("2026-03-01", "")]


def test_kinds_are_counted_by_whatever_name_and_zeros_are_not_seen(plan):
    plan, _ = plan
    seen = pd.DataFrame(
        {
            "butterfly": [
                "monarch",
                "Danaus plexippus",
                "black swallowtail",
                "pearl crescent",
                "who knows",
                None,
            ],
            "count": [1, 2, None, 0, 3, 1],
        }
    )
    found = milestones(request(plan, sightings=seen), decisions(a="draft"), {})
    assert found[0].species == 2
