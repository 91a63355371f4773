"""Results drawn anew: nothing is solved, and what nobody edited stays as it is."""

import json
import shutil

import openpyxl
import pandas as pd
import pytest

import habitat
from habitat.errors import HabitatError
from habitat.pipeline.redraw import edited_list, study_of
from habitat.report.package.carried import read_carried_of


@pytest.fixture
def results(first_run, tmp_path):
    return shutil.copytree(first_run.folder, tmp_path / "results")


def test_without_edits_the_plan_is_what_it_was(first_run):
    again = habitat.run(habitat.read_study(first_run.path), after=first_run.folder, redraw=True)
    for name in ("beds", "plantings", "plant_points", "yard_results"):
        was, now = getattr(first_run.plan, name), getattr(again, name)
        pd.testing.assert_frame_equal(now[was.columns], was, check_dtype=False)
    assert again.headline["cost"] == pytest.approx(first_run.plan.headline["cost"])
    assert [n.kind for n in again.edits] == ["redrawn"]
    assert again.carried.rounds == first_run.plan.carried.rounds


def test_results_name_their_study_from_where_they_are(first_run, results):
    named = read_carried_of(first_run.folder).study
    assert study_of(first_run.folder, named) == first_run.path
    with pytest.raises(HabitatError, match="--study"):
        study_of(results, named)


def test_an_edited_list_is_found_by_its_hash(results):
    path = results / "lists" / "plantings.csv"
    assert edited_list(results) is None
    path.write_bytes(path.read_bytes() + b"\r\n")
    assert edited_list(results) == path


def test_a_list_saved_as_a_workbook_is_found_and_two_are_refused(results):
    path = results / "lists" / "plantings.csv"
    openpyxl.Workbook().save(path.with_suffix(".xlsx"))
    assert edited_list(results) == path.with_suffix(".xlsx")
    path.write_text("planting_id\n", encoding="utf-8")
    with pytest.raises(HabitatError, match=r"plantings\.xlsx beside an edited plantings\.csv"):
        edited_list(results)


def test_a_list_that_nobody_can_tell_of_is_not_read(results):
    (results / "files.json").write_text(json.dumps([]), encoding="utf-8")
    assert edited_list(results) is None
