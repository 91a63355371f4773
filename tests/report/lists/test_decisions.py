"""The list of decisions that a run writes."""

import pandas as pd

from habitat.report.lists.decisions import write_table
from habitat.revision.decisions import no_decisions, read_decisions

YARDS = pd.DataFrame(
    {"yard_id": ["007", "01-003", "12", "=B"], "address": ["1 Kiln Street", "6 Wood End", None, None]}
)


def test_a_run_that_nobody_decided_on_holds_drafts_and_reads_back_as_it_was(tmp_path):
    table = no_decisions().with_drafts(YARDS, ["007", "01-003", "12", "=B"], "2026-03-01")
    assert table["status"].tolist() == ["draft"] * 4
    assert table["address"].tolist() == ["1 Kiln Street", "6 Wood End", "", ""]
    write_table(table, tmp_path / "decisions.csv")
    back = read_decisions(tmp_path / "decisions.csv", YARDS)
    assert back.notes == ()
    pd.testing.assert_frame_equal(back.table, table, check_dtype=False)
