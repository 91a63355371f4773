"""Plans are drafts until somebody walked the yard; what a household told stands on its sheet."""

from dataclasses import replace

import pytest

from habitat.report.public.reduce import public_plan
from habitat.report.sheets.data import sheet_data
from habitat.report.sheets.facts import FactFinder
from habitat.report.sheets.measures import lay_out
from habitat.report.sheets.walked import is_draft, told_lines
from tests.report.lists.test_walk_form import walked
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"))


def without(plan, *names):
    vectors = {name: layer for name, layer in plan.layers.vectors.items() if name not in names}
    return replace(plan, layers=replace(plan.layers, vectors=vectors))


@pytest.mark.parametrize(
    ("lacking", "known", "status", "marked", "expected"),
    [
        ((), None, "", True, False),
        (("trees",), None, "", True, True),
        (("paving",), None, "draft", True, True),
        (("trees",), None, "accepted", True, False),
        (("trees",), None, "", False, False),
        (("trees",), (), "", True, False),
    ],
)
def test_draft_stands_across_plans_of_ground_that_nobody_saw(plan, lacking, known, status, marked, expected):
    one = without(plan, *lacking)
    if known is not None:
        one = walked(one, "0013", known)
    one = replace(one, yards=one.yards.assign(status=status))
    if not marked:
        report = one.study.report.model_copy(update={"mark_drafts": False})
        one = replace(one, study=one.study.model_copy(update={"report": report}))
    facts = FactFinder(one).of("0013")
    assert is_draft(facts) == expected
    sheet = sheet_data(facts, lay_out(facts))
    assert (sheet["draft"] == "draft") == ("a draft until" in sheet["subtitle"]) == expected


def test_what_a_household_told_stands_on_its_sheet_and_nowhere_in_public(plan):
    one = walked(
        plan,
        "0013",
        drive="right",
        wet="back",
        trees="none",
        septic="none",
        sun_front="full",
        sun_back="shade",
    )
    lines = told_lines(FactFinder(one).of("0013"))
    assert lines[0] == "A drive on the right and wet ground at the back."
    assert lines[1] == "Full sun in front and shade at the back."
    assert lines[2] == "No trees or septic field."
    assert told_lines(FactFinder(one).of("0007")) == []
    wetter = "There drainage is taken a class wetter than maps or tests tell."
    assert wetter not in lines
    site = replace(one.site, walked={**one.site.walked, "0013": frozenset(("wet",))})
    assert "drainage" in site.assessed
    assert wetter in told_lines(FactFinder(replace(one, site=site)).of("0013"))
    public = public_plan(one)
    assert all(told_lines(FactFinder(public).of(y)) == [] for y in public.yards["yard_id"])
