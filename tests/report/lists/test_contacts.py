"""Contacts: names as the group wrote them, slots in street order, and neither in any other file."""

from dataclasses import replace

import geopandas as gpd
import pandas as pd
import pytest

import habitat
from habitat.layers.types import VectorLayer
from habitat.report.lists.contacts import contacts_table, pick_up_slots
from habitat.report.lists.joined import planting_yards
from habitat.report.sheets.facts import street_order
from tests.report.public.test_reduce import unpacked
from tests.report.small_plan import small_plan

NAME, MAIL = "Quirinus Unseen", "quirinus.unseen@example.org"


def signed_up(plan, rows):
    """Return the plan with rows (yard_id, name, email) of a sign-up sheet."""
    frame = gpd.GeoDataFrame(
        pd.DataFrame(rows, columns=["yard_id", "name", "email"]), geometry=[None] * len(rows)
    )
    layer = VectorLayer("participants", frame, len(rows), len(rows), 0, frame.iloc[:0], None, None)
    return replace(plan, layers=replace(plan.layers, vectors=plan.layers.vectors | {"participants": layer}))


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"), report={"pick_up": ["2026-05-09 9:00-10:00"]})


def test_who_takes_part_comes_in_street_order_and_others_have_no_slot(plan):
    table = contacts_table(plan).set_index("yard_id")
    members = street_order(plan, sorted(planting_yards(plan)))
    assert len(members) == 4
    slots = ["2026-05-09 09:00", "2026-05-09 09:15", "2026-05-09 09:30", "2026-05-09 09:45"]
    assert table.loc[members, "pick_up"].tolist() == slots
    assert set(table.loc[table["role"] == "candidate", "pick_up"]) == {""}
    money = plan.plantings.groupby("yard_id")["cost"].sum()
    assert table["cost"].to_dict() == pytest.approx(money.to_dict(), abs=0.005)
    assert table["plants"].sum() == plan.plantings["count"].sum()


def test_slots_go_on_where_hours_end_and_begin_at_whole_five_minutes():
    """Seven households over 60 + 30 minutes: one each 90 / 7 = 12.9 minutes, rounded down to 5."""
    found = pick_up_slots(list("abcdefg"), ["2026-05-09 9:10-10:10", "2026-05-16 14:00 to 14:30"])
    assert list(found.values()) == [
        "2026-05-09 09:10", "2026-05-09 09:20", "2026-05-09 09:35", "2026-05-09 09:45", "2026-05-09 10:00",
        "2026-05-16 14:00", "2026-05-16 14:15",
    ]  # fmt: skip
    assert pick_up_slots(["a"], []) == {}
    assert pick_up_slots([], ["2026-05-09 9:00-10:00"]) == {}


def test_names_stand_as_they_were_given_rows_of_one_yard_together(plan):
    rows = [
        ("0007", "Ada =x", "=ada@example.org"),
        ("0007", "Bo", None),
        ("0007", "Bo", None),
        ("0013", None, " "),
    ]
    table = contacts_table(signed_up(plan, rows)).set_index("yard_id")
    assert table.loc["0007", ["name", "email"]].tolist() == ["Ada =x; Bo", "=ada@example.org"]
    assert table.loc["0013", ["name", "email"]].tolist() == ["", ""]
    no_columns = signed_up(plan, rows)
    frame = no_columns.layers.frame("participants").drop(columns=["name", "email"])
    layer = replace(no_columns.layers.vectors["participants"], frame=frame)
    bare = replace(plan, layers=replace(plan.layers, vectors=plan.layers.vectors | {"participants": layer}))
    assert set(contacts_table(bare)["name"]) == {""}


def test_who_lives_where_stands_in_contacts_and_letters_alone_and_in_no_public_file(plan, tmp_path):
    made = signed_up(plan, [(yard, NAME, MAIL) for yard in plan.yards["yard_id"]])
    out = habitat.write_plan(made, tmp_path / "group")
    table = pd.read_csv(out / "lists" / "contacts.csv", dtype=str)
    assert set(table["name"]) == {NAME}
    assert set(table["email"]) == {MAIL}
    assert all((out / sheet).is_file() for sheet in table["sheet"])
    held = {
        p.relative_to(out).as_posix() for p in files(out) if any(b"nseen" in blob for blob in unpacked(p))
    }
    letters = ("letters", "letters-hand-over", "letters-spring")
    told = {f"lists/{name}.{kind}" for name in letters for kind in ("txt", "pdf")}
    assert held == {"lists/contacts.csv"} | told
    public = made.study.changed(report={"audience": "public"})
    out = habitat.write_plan(replace(made, study=public), tmp_path / "public")
    names = {p.name for p in files(out)}
    assert not [n for n in names if "letter" in n or "contact" in n]
    assert not [p for p in files(out) if any(b"nseen" in blob for blob in unpacked(p))]


def files(folder):
    return [p for p in folder.rglob("*") if p.is_file()]
