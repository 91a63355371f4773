"""Ids keep every digit, also through a spreadsheet's damage."""

import pandas as pd
import pytest

from habitat.commands.check.account import check_study
from tests.layers import builders as make


def test_ids_join_through_spreadsheet_damage_when_only_one_yard_fits(joined):
    result, _ = joined("yard_id,ph\nTB-01,6.4\ntb 2,7\nTB-3.,5.9\n", "soil_tests")
    assert result["tables"]["soil_tests"]["matched"] == 3
    assert "'tb 2' is read as 'TB-02'" in make.notes(result)
    result, _ = joined("yard_id,ph\nTB-01,6.4\nTB-10,7\n", "soil_tests")
    assert "nearest: TB-01 (80% alike)" in make.notes(result)


def test_ids_that_all_miss_are_refused(joined):
    result, _ = joined("yard_id,ph\n1001,6.4\n1002,7\n", "soil_tests")
    assert result["exit"] == 2
    assert "none of its 2 rows" in result["error"]["message"]


def test_ids_keep_every_digit_and_say_when_they_cannot(tmp_path):
    ids = [12345678901234561, None, 12345678901234563]
    frame = make.yards()
    frame["yard_id"] = pd.array(ids, dtype="Int64")
    frame.to_file(tmp_path / "y.gpkg")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg"}))
    assert list(make.areas(result)) == ["12345678901234561", "row 2", "12345678901234563"]
    frame["yard_id"] = ["1.23457E+16", "a", "b"]
    frame.to_file(tmp_path / "z.gpkg")
    assert "cannot hold their digits" in make.notes(check_study(make.study(tmp_path, {"yards": "z.gpkg"})))


@pytest.mark.parametrize("written", ["12-Mar", "Mar-12", "2026-03-12"])
def test_ids_that_a_spreadsheet_made_dates_of_are_told_not_guessed(tmp_path, written):
    shapes = {name: make.box(40 * i, 0, 40 * i + 30, 40) for i, name in enumerate(("3-12", "4-7"))}
    make.yards(shapes).to_file(tmp_path / "y.gpkg")
    (tmp_path / "s.csv").write_text(f"yard_id,ph\n{written},6\n4-7,7\n", encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "soil_tests": "s.csv"}))
    assert result["tables"]["soil_tests"] | {"unmatched_rows": 0} == {
        "matched": 1,
        "unmatched": 1,
        "unmatched_rows": 0,
    }
    assert "looks like a date that a spreadsheet made of an id; nearest: 3-12" in make.notes(result)
