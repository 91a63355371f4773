"""Spreadsheets: cover sheets, title lines, formulas."""

import openpyxl

from habitat.commands.check.account import check_study
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.layers import builders as make


def test_a_cover_sheet_and_title_lines_are_passed_over(tmp_path):
    make.yards(address=make.ADDRESSES).to_file(tmp_path / "y.gpkg")
    book = openpyxl.Workbook()
    book.active["A1"] = "Our club"
    sheet = book.create_sheet("Sign-ups")
    for row in (["Butterfly sign-up 2026"], [], ["Address", "Role"], ["12 Plum Alley", "member"]):
        sheet.append(row)
    book.save(tmp_path / "s.xlsx")
    path = make.study(tmp_path, {"yards": "y.gpkg", "participants": "s.xlsx"})
    assert read_layers(read_study(path)).yards["role"].tolist() == ["member", "other", "other"]
    assert "Our club" not in make.notes(check_study(path))


def test_formulas_without_a_result_are_told(tmp_path):
    make.yards().to_file(tmp_path / "y.gpkg")
    make.workbook(tmp_path, [("yard_id", "ph"), ("TB-01", "=6+0.5"), ("TB-02", 6.2)], "s.xlsx")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "soil_tests": "s.xlsx"}))
    assert "1 formula(s) hold no result" in make.notes(result, "soil_tests")
    assert [r["attributes"]["ph"] for r in result["layers"]["soil_tests"]["rows"]] == [None, 6.2]
