"""The list of plantings has a row for each, and cells that no spreadsheet computes."""

import pandas as pd

from habitat.report.lists.plantings import COLUMNS, write_plantings
from tests.report.small_plan import small_plan


def test_a_row_for_each_planting_and_text_stays_text(tmp_path):
    plan = small_plan(tmp_path)
    plan.plantings.loc[0, "common_name"] = "=1+1"
    path = write_plantings(plan, tmp_path / "plantings.csv")
    table = pd.read_csv(path, dtype=str, encoding="utf-8-sig")
    assert tuple(table.columns) == COLUMNS
    assert table["planting_id"].tolist() == plan.plantings["planting_id"].tolist()
    assert table["count"].astype(int).tolist() == plan.plantings["count"].tolist()
    assert table.loc[0, "common_name"] == "'=1+1"
