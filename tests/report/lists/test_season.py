"""The season form holds every planting of those who take part, alike as text, workbook and paper."""

import io
from dataclasses import replace

import openpyxl
import pandas as pd
import pypdf
import pytest

from habitat.planting.settled import fingerprints, marks_of
from habitat.planting.types import Drawn
from habitat.report.lists.season import COLUMNS, LIVING, TO_FILL, season_table, write_season_form
from tests.report.small_plan import small_plan


def with_living(plan):
    """Take one planting for what lives of an earlier year."""
    row = plan.plantings[plan.plantings["yard_id"] == "0007"].iloc[0]
    spots = plan.plant_points[plan.plant_points["planting_id"] == row["planting_id"]].geometry
    living = plan.existing_plants.iloc[[0] * len(spots)].assign(
        yard_id="0007", plant=row["plant"], count=1.0, planting_id="0007-old", bed_id=row["bed_id"],
        form="plug", planted_in=2025, seasons=1, geometry=list(spots),
    )  # fmt: skip
    existing = pd.concat([plan.existing_plants, living], ignore_index=True)
    return replace(plan, existing_plants=existing), len(spots)


@pytest.fixture
def plan(tmp_path):
    return small_plan(tmp_path)


def test_a_row_for_each_planting_of_members_and_for_what_lives(plan):
    plan, many = with_living(plan)
    table = season_table(plan)
    members = set(plan.yards.loc[plan.yards["role"] == "member", "yard_id"])
    new = table[table["form"] != LIVING]
    wanted = plan.plantings[plan.plantings["yard_id"].isin(members)]
    assert sorted(new["planting_id"]) == sorted(wanted["planting_id"])
    assert new["count"].sum() == wanted["count"].sum()
    old = table[table["form"] == LIVING]
    assert old[["planting_id", "count"]].to_numpy().tolist() == [["0007-old", many]]
    assert table[list(TO_FILL)].isna().all().all()


def test_marks_tell_plantings_and_runs_apart(plan):
    drawn = fingerprints(Drawn(plan.beds, plan.plantings, plan.plant_points))
    marks = marks_of(drawn, plan.existing_plants)
    assert len(set(marks.values())) == len(plan.plantings)
    assert all(mark[0].isalpha() for mark in marks.values())  # no spreadsheet takes it for a number
    plan.plantings.loc[0, "count"] += 1
    other = marks_of(fingerprints(Drawn(plan.beds, plan.plantings, plan.plant_points)), plan.existing_plants)
    changed = [key for key in marks if marks[key] != other[key]]
    assert changed == [plan.plantings["planting_id"][0]]


def test_text_workbook_and_paper_hold_the_same(plan, tmp_path):
    plan.plantings.loc[0, "common_name"] = "=1+1"
    text, sheet, paper = write_season_form(plan, tmp_path / "season-form.csv")
    rows = pd.read_csv(text, dtype=str, encoding="utf-8-sig")
    assert tuple(rows.columns) == COLUMNS
    book = openpyxl.load_workbook(sheet)
    cells = list(book.active.values)
    assert cells[0] == COLUMNS
    assert [row[5] for row in cells[1:]] == rows["planting_id"].tolist()
    assert all(cell.data_type != "f" for row in book.active.iter_rows() for cell in row)
    words = "".join("".join(page.extract_text().split()) for page in pypdf.PdfReader(paper).pages)
    assert all("".join(planting.split())[:18] in words for planting in rows["planting_id"])


def test_equal_plans_give_equal_bytes(plan, tmp_path):
    one = [p.read_bytes() for p in write_season_form(plan, tmp_path / "one.csv")]
    two = [p.read_bytes() for p in write_season_form(plan, tmp_path / "two.csv")]
    assert one == two
    assert openpyxl.load_workbook(io.BytesIO(one[1])).properties.modified.year == 1980
