"""Over random tiny towns and what people decide: kept plans never change, and all sums agree."""

import random
import tempfile
from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pyogrio
import pytest
import shapely
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

import habitat
from habitat.planting.settled import PLANTED_IN
from habitat.report.lists.joined import planting_yards
from habitat.report.lists.shopping import shopping_table
from habitat.report.sheets.facts import FactFinder
from habitat.report.sheets.words import plant_rows
from habitat.report.words.en import english
from habitat.report.words.numbers import Units
from habitat.report.written import write_list
from habitat.revision.deciding import decide
from habitat.terms import ASK_AGAIN, ASKED, DRAFT, KEPT, PLANTED, REFUSED, STATUSES
from tests.support.tiny_town import write_for_next, write_town

TABLES = ("beds", "plantings", "plant_points")
FIGURES = ("broods", "habitat_m2", "equivalent_area_m2", "colonisations", "capacity_m2")
TOWNS = st.fixed_dictionaries(
    {
        "seed": st.integers(0, 10**6),
        "roles": st.lists(st.sampled_from(["member", "candidate"]), min_size=2, max_size=3),
        "statuses": st.lists(st.sampled_from(STATUSES), min_size=3, max_size=3),
        "late": st.integers(0, 3),
    }
)


def play(town, home):
    """Plan a street, decide, let one more household join where it was left out, and plan on."""
    chance, roles = random.Random(town["seed"]), ["member", *town["roles"]]
    roles.insert(min(town["late"], len(roles)), "other")
    names = dict(zip("abcde", roles, strict=False))
    late = next(yard for yard, role in names.items() if role == "other")
    path = write_town(home, chance, names)
    first = habitat.run(habitat.read_study(path))
    write_for_next(first, home / "untouched")
    write_for_next(first, home / "first")
    same = habitat.run(habitat.read_study(path), after=home / "untouched")
    status = dict(zip((y for y in names if y != late), town["statuses"], strict=False))
    for yard, word in status.items():
        decide(home / "first", yards=[yard], status=word, date="2026-04-10")
    people = home / "participants.csv"
    people.write_text(
        people.read_text(encoding="utf-8").replace(f"{late},other", f"{late},member"), encoding="utf-8"
    )
    second = habitat.run(habitat.read_study(path), after=home / "first")
    write_for_next(second, home / "second")
    return SimpleNamespace(
        first=first, same=same, second=second, status=status, late=late, home=home, roles=names
    )


def of(plan, table, yards):
    """Return the rows of some yards, without the year in which they were planted."""
    frame = getattr(plan, table)
    frame = frame[frame["yard_id"].isin(yards)].reset_index(drop=True)
    return frame.drop(columns=PLANTED_IN, errors="ignore")


@settings(max_examples=3, phases=(Phase.generate,))  # a town takes seconds: nothing is shrunk
@given(TOWNS)
def test_kept_plans_never_change_and_sums_agree(town):
    with tempfile.TemporaryDirectory() as folder:
        played = play(town, Path(folder) / "town")
        for plan in (played.first, played.same, played.second):
            agree(plan)
        nothing_decided_changes_nothing(played)
        who_was_there_keeps_its_plan(played)
        who_joins_adds_to_the_corridor(played)
        written_is_what_was_planned(played.second, played.home / "second")


def nothing_decided_changes_nothing(played):
    for table in (*TABLES, "yard_butterflies", "links", "invitations"):
        pd.testing.assert_frame_equal(getattr(played.same, table), getattr(played.first, table))
    one, two = (plan.headline | {"rounds": []} for plan in (played.same, played.first))  # as many as it took
    assert one == two


def who_was_there_keeps_its_plan(played):
    """Kept plans by what was decided; drafts too, unless others left growers' stock or ground to them."""
    freed = any(word in (*REFUSED, PLANTED) for word in played.status.values())
    stay = [yard for yard, word in played.status.items() if word in KEPT or not freed]
    for table in TABLES:
        pd.testing.assert_frame_equal(of(played.second, table, stay), of(played.first, table, stay))
    gone = [yard for yard, word in played.status.items() if word in REFUSED]
    assert not len(of(played.second, "plantings", gone))
    told = played.second.yards.set_index("yard_id")["status"]
    for yard, word in played.status.items():
        joined = word in (ASKED, ASK_AGAIN) and played.roles[yard] == "member"
        assert told[yard] == (DRAFT if joined else word)
    invited = set(played.second.invitations["yard_id"])
    assert not invited & {
        yard for yard, word in played.status.items() if word in (*REFUSED, ASKED, ASK_AGAIN)
    }
    old = shapely.union_all(of(played.first, "beds", stay).geometry.to_numpy())
    new = played.second.beds[played.second.beds["yard_id"] == played.late]
    assert (new.geometry.intersection(old).area < 1e-6).all()


def who_joins_adds_to_the_corridor(played):
    if any(word in REFUSED for word in played.status.values()):
        return
    for name, was in played.first.headline["butterflies"].items():
        now = played.second.headline["butterflies"][name]
        for state in ("today", "members", "everyone"):
            for figure in FIGURES:
                assert now[state][figure] >= was[state][figure] * (1 - 1e-9), figure


def agree(plan):
    """Rows, points, sheets, shopping and money of a plan tell the same, in all and by status."""
    rows, head = plan.plantings, plan.headline
    assert (
        plan.plant_points.groupby("planting_id").size().to_dict()
        == rows.set_index("planting_id")["count"].to_dict()
    )
    parts = head["by_status"].values()
    assert sum(part["plants"] for part in parts) == head["counts"]["plants"] == rows["count"].sum()
    assert sum(part["yards"] for part in parts) == head["counts"]["yards_planned"] == len(plan.yard_results)
    assert (
        sum(part["cost"] for part in parts)
        == pytest.approx(head["cost"])
        == pytest.approx(rows["cost"].sum())
    )
    costs = plan.yard_results.set_index("yard_id")["cost"]
    assert rows.groupby("yard_id")["cost"].sum().to_dict() == pytest.approx(costs[costs > 0].to_dict())
    finder = FactFinder(plan)
    for yard in plan.yard_results["yard_id"]:
        shown = sum(int(row["count"]) for row in plant_rows(finder.of(yard), Units("metric")))
        assert shown == rows.loc[rows["yard_id"] == yard, "count"].sum()
    members = rows[rows["yard_id"].isin(planting_yards(plan))]
    members = members[members[PLANTED_IN].isna()] if PLANTED_IN in members else members
    bought = shopping_table(plan)
    by_plant = members.groupby("plant")["count"].sum().to_dict()
    for name in ("yard", "whole group"):
        assert bought[bought["list"] == name].groupby("plant")["count"].sum().to_dict() == by_plant
    whole = bought[bought["list"] == "whole group"]
    assert (whole["to_buy"] >= whole["count"]).all()
    assert head["cost_to_buy"] == pytest.approx(whole["cost"].sum())


def written_is_what_was_planned(plan, folder):
    """plan.gpkg holds the rows that the lists are made of."""
    for layer, table in (
        ("plantings", plan.plantings),
        ("plant_points", plan.plant_points),
        ("beds", plan.beds),
    ):
        assert len(pyogrio.read_dataframe(folder / "plan.gpkg", layer=layer)) == len(table)
    stored = pyogrio.read_dataframe(folder / "plan.gpkg", layer="plantings", read_geometry=False)
    assert stored.groupby("yard_id")["count"].sum().to_dict() == (
        plan.plantings.groupby("yard_id")["count"].sum().to_dict()
    )


def test_edits_that_cannot_be_are_named_and_kept_as_they_came(tmp_path):
    """A planting written twice, a bed outside all yards, a decision of a yard that is gone: one redraw."""
    path = write_town(tmp_path, random.Random(5), {"a": "member", "b": "member"})
    folder = write_for_next(habitat.run(habitat.read_study(path)), tmp_path / "first")
    write_list(folder)
    rows, beds = (pyogrio.read_dataframe(folder / "plan.gpkg", layer=name) for name in ("plantings", "beds"))
    pd.concat([rows, rows.iloc[[0]]]).to_file(folder / "plan.gpkg", layer="plantings", driver="GPKG")
    away = beds.iloc[[0]].assign(bed_id=None, yard_id=None, geometry=shapely.box(0, 0, 5, 5))
    pd.concat([beds, away]).to_file(folder / "plan.gpkg", layer="beds", driver="GPKG")
    decisions = folder / "decisions.csv"
    decisions.write_text("yard_id,status\na,accepted\nzz,planted\n", encoding="utf-8")
    plan = habitat.run(habitat.read_study(path), after=folder, redraw=True)
    told = english().each(plan.edits)
    key = rows["planting_id"][0]
    row = f"plan.gpkg, layer plantings, row {len(rows) + 1}"
    assert f"{row}: it repeats row 1 (planting_id {key}): it is left out" in told
    assert f"plan.gpkg, layer beds, row {len(beds) + 1}: it lies outside all yards" in told
    assert any(one.startswith("decisions.csv, row 2: not matched: no yard has the id 'zz'") for one in told)
    assert len(plan.plantings) == len(rows)
    agree(plan)
    assert plan.as_edited == {name: (folder / name).read_bytes() for name in ("decisions.csv", "plan.gpkg")}
    assert "zz" in set(plan.decisions["yard_id"])
    decide(folder, members=True, status="accepted", date="2026-04-01")
    with pytest.raises(habitat.HabitatError, match=f"two rows are of planting {key}"):
        habitat.run(habitat.read_study(path), after=folder)


def test_statuses_that_keep_and_refuse_are_statuses():
    assert set(KEPT) | set(REFUSED) | {DRAFT, ASKED, ASK_AGAIN} == set(STATUSES)
