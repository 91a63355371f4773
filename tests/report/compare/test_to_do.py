"""What a coordinator must do after a run: figures counted by hand on a plan of seven yards."""

import pandas as pd
import pytest
import shapely

from habitat.planting.settled import living_of
from habitat.report.compare.to_do import to_do
from tests.report.lists.test_season import with_living
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"))


def tables(plan, **status):
    words = (
        plan.yards["yard_id"].map({y.removeprefix("y"): word for y, word in status.items()}).fillna("draft")
    )
    yards = plan.yards.assign(status=words, address="1 Heron Lane")
    return {
        "yards": yards, "plantings": plan.plantings.copy(), "plant_points": plan.plant_points.copy(),
        "beds": plan.beds.copy(), "existing_plants": plan.existing_plants.copy(),
    }  # fmt: skip


def test_of_equal_runs_nothing_is_to_be_done(plan):
    found = to_do(tables(plan), tables(plan))
    assert found["hand_out"] == found["take_back"] == found["buy"] == found["statuses"] == []
    assert found["counts"]["after"] == {"draft": 7}


def test_a_late_sign_up_is_one_sheet_and_its_plants(plan):
    before, after = tables(plan), tables(plan)
    after["yards"].loc[after["yards"]["yard_id"] == "0012", "role"] = "member"
    found = to_do(before, after)
    assert found["hand_out"] == [{"yard_id": "0012", "address": "1 Heron Lane", "why": "its first sheet"}]
    mine = plan.plantings[plan.plantings["yard_id"] == "0012"]
    assert {(r["plant"], r["form"]): r["more"] for r in found["buy"]} == (
        mine.groupby(["plant", "form"])["count"].sum().to_dict()
    )


def test_what_changed_on_a_sheet_is_said(plan):
    before, after = tables(plan), tables(plan)
    rows, beds, points = after["plantings"], after["beds"], after["plant_points"]
    more = rows.index[rows["yard_id"] == "0007"][0]
    rows.loc[more, "count"] += 3
    bed = beds.index[beds["yard_id"] == "0013"][0]
    beds.loc[bed, "geometry"] = shapely.affinity.translate(beds.geometry[bed], 1.0, 0.0)
    spot = points.index[points["yard_id"] == "0021"][0]
    points.loc[spot, "geometry"] = shapely.affinity.translate(points.geometry[spot], 0.1, 0.0)
    found = to_do(before, after)
    assert {r["yard_id"]: r["why"] for r in found["hand_out"]} == {
        "0007": "other plants or numbers", "0013": "beds in other places", "0021": "plants in other places",
    }  # fmt: skip
    told = {name: rows[name][more] for name in ("plant", "common_name", "form")}
    assert found["buy"] == [told | {"more": 3}]


def test_a_yard_that_declined_is_taken_back_and_its_plants_are_not_bought(plan):
    before, after = tables(plan), tables(plan, y0030="declined")
    after["yards"].loc[after["yards"]["yard_id"] == "0030", "role"] = "other"
    for name in ("plantings", "plant_points", "beds"):
        after[name] = after[name][after[name]["yard_id"] != "0030"]
    found = to_do(before, after)
    assert [(r["yard_id"], r["why"]) for r in found["take_back"]] == [("0030", "declined")]
    gone = plan.plantings.loc[plan.plantings["yard_id"] == "0030", "count"].sum()
    assert sum(r["more"] for r in found["buy"]) == -gone
    assert found["statuses"] == [{"yard_id": "0030", "before": "draft", "after": "declined"}]


def test_after_a_season_only_what_died_is_bought_and_ages_are_told(plan):
    before = tables(plan, y0007="accepted")
    grown, many = with_living(plan)
    after = tables(grown, y0007="planted")
    mine = after["plantings"]["yard_id"] == "0007"
    first = after["plantings"].index[mine][0]
    after["plantings"] = after["plantings"].drop(
        index=[i for i in after["plantings"].index[mine] if i != first]
    )
    after["plantings"].loc[first, ["planting_id", "count"]] = ["0007-p01-r1", 2]
    found = to_do(before, after)
    assert [r["more"] for r in found["buy"]] == [2]
    assert found["living"] == {"before": {}, "after": {"1": many}}
    assert len(living_of(after["existing_plants"])) == many
    assert "what lives and what died" in found["hand_out"][0]["why"]
    assert found["statuses"] == [{"yard_id": "0007", "before": "accepted", "after": "planted"}]


def test_where_nobody_takes_part_all_plans_count(plan):
    """As the lists do: they are for the members, or for all planned yards if there is no member."""
    before, after = tables(plan), tables(plan)
    for run in (before, after):
        run["yards"]["role"] = "candidate"
    first = after["plantings"].index[0]
    after["plantings"].loc[first, "count"] += 1
    found = to_do(before, after)
    assert [r["yard_id"] for r in found["hand_out"]] == [after["plantings"]["yard_id"][first]]
    assert [r["more"] for r in found["buy"]] == [1]


def test_results_of_an_earlier_version_can_be_compared(plan):
    old = tables(plan)
    old["yards"] = pd.DataFrame(old["yards"].drop(columns=["status", "address"]))
    assert to_do(old, old)["counts"] == {"before": {}, "after": {}}
