"""Several groups in one town: lists of each hold its own households alone, and together all of them."""

from dataclasses import replace

import pandas as pd
import pypdf
import pytest

from habitat.layers.join.people import groups_of
from habitat.report.lists.contacts import contacts_table
from habitat.report.lists.groups import UNNAMED, write_groups
from habitat.report.lists.joined import planting_yards
from habitat.report.lists.letters import letters_for_spring
from habitat.report.lists.shopping import shopping_table
from habitat.report.outputs import outputs_for
from tests.report.lists.test_contacts import signed_up
from tests.report.small_plan import small_plan

GROUPS = {"0007": "North", "0013": " north ", "0021": "=South", "0030": None, "0012": "North"}


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    """Four members: two of one group, one of another, one of none."""
    made = small_plan(
        tmp_path_factory.mktemp("study"),
        study={"contact": "Rosa"},
        report={"pick_up": ["2026-05-09 9:00-10:00"]},
        groups={"North": {"contact": "Ben", "budget": 400, "pick_up": ["2026-05-10 14:00-15:00"]}},
    )
    made = signed_up(made, [(yard, None, None) for yard in GROUPS])
    layer = made.layers.vectors["participants"]
    layer = replace(layer, frame=layer.frame.assign(group=list(GROUPS.values())))
    return replace(made, layers=replace(made.layers, vectors=made.layers.vectors | {"participants": layer}))


@pytest.fixture(scope="module")
def written(plan, tmp_path_factory):
    out = tmp_path_factory.mktemp("out")
    (out / "sheets").mkdir()
    for sheet in contacts_table(plan)["sheet"]:
        page = pypdf.PdfWriter()
        page.add_blank_page(100, 100)
        page.write(out / sheet)
    write_groups(plan, out / "groups")
    return out / "groups", pd.read_csv(out / "groups" / "groups.csv", dtype=str, keep_default_na=False)


def test_groups_that_differ_in_case_and_blanks_are_one_named_as_the_study_does():
    people = pd.DataFrame(
        {"yard_id": ["a", "b", "c", "c", None], "group": ["NORTH  side", "x", None, "X", "y"]}
    )
    assert groups_of(people, ["North Side"]) == {"a": "North Side", "b": "x", "c": "x"}
    assert groups_of(people.drop(columns="group")) == groups_of(None) == {}


def test_lists_of_groups_hold_their_own_and_add_up_to_the_whole(plan, written):
    folder, table = written
    assert set(table["group"]) == {"North", "'=South", UNNAMED}
    whole, parts = shopping_table(plan), []
    for row in table.itertuples():
        part = pd.read_csv(
            folder / row.folder / "shopping.csv", dtype={"yard_id": str}, keep_default_na=False
        )
        mine = {
            y for y, g in GROUPS.items() if (g or UNNAMED).strip().title() == row.group.strip("'").title()
        }
        assert set(part.loc[part["list"] == "yard", "yard_id"]) == mine & planting_yards(plan)
        parts.append(part)
    both = pd.concat(parts)
    for name in ("yard", "whole group"):
        wanted = whole[whole["list"] == name].groupby("plant")["count"].sum()
        assert both[both["list"] == name].groupby("plant")["count"].sum().to_dict() == wanted.to_dict()


def test_the_table_of_groups_has_money_and_households_that_add_up(plan, written):
    folder, table = written
    members = plan.plantings[plan.plantings["yard_id"].isin(planting_yards(plan))]
    assert table["households"].astype(int).sum() == len(planting_yards(plan)) == 4
    assert table["plants"].astype(int).sum() == members["count"].sum()
    assert table["cost"].astype(float).sum() == pytest.approx(members["cost"].sum(), abs=0.02)
    north = table.set_index("group").loc["North"]
    assert (north["contact"], float(north["budget"]), north["households"]) == ("Ben", 400.0, "2")
    sheets = pypdf.PdfReader(folder / north["folder"] / "sheets.pdf")
    assert len(sheets.pages) == 3  # with the candidate's
    assert {p.name for p in (folder / north["folder"]).iterdir()} >= {"contacts.csv", "pick-list.pdf"}


def test_each_group_has_its_own_hours_and_whom_to_call(plan):
    slots = contacts_table(plan).set_index("yard_id")["pick_up"]
    assert sorted(slots[["0007", "0013"]]) == ["2026-05-10 14:00", "2026-05-10 14:30"]
    assert sorted(slots[["0021", "0030"]]) == ["2026-05-09 09:00", "2026-05-09 09:30"]
    calls = [letter.strip().splitlines()[-1] for letter in letters_for_spring(plan)]
    assert sorted(calls) == ["Ben", "Ben", "Rosa", "Rosa"]


def test_without_groups_nothing_is_written_of_them(plan, tmp_path):
    bare = small_plan(tmp_path)
    assert "groups/" not in {output.name for output in outputs_for(bare)}
    assert "groups/" in {output.name for output in outputs_for(plan)}
    public = plan.study.changed(report={"audience": "public"})
    assert "groups/" not in {output.name for output in outputs_for(replace(plan, study=public))}
