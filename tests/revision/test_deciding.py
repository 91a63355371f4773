"""Writing a status into results leaves every other row as it was."""

import pandas as pd

import habitat
from habitat.revision.deciding import decide, known_yards
from tests.report.small_plan import small_plan


def test_a_workbook_that_was_read_is_put_aside_not_deleted(tmp_path):
    out = habitat.write_plan(small_plan(tmp_path), tmp_path / "out")
    (out / "decisions.csv").unlink()
    pd.DataFrame({"yard_id": ["0012"], "status": ["declined"]}).to_excel(out / "decisions.xlsx", index=False)
    chosen, notes = decide(out, yards=["0007"], status="accepted", date="2026-05-01")
    assert (chosen, notes) == (["0007"], ())
    table = pd.read_csv(out / "decisions.csv", dtype=str, encoding="utf-8-sig").set_index("yard_id")
    assert table.loc[["0007", "0012", "0013"], "status"].tolist() == ["accepted", "declined", "draft"]
    assert (out / "decisions-read.xlsx").is_file()
    (out / "decisions.csv").rename(out / "decisions-was.csv")
    pd.DataFrame({"yard_id": ["0013"], "status": ["planted"]}).to_excel(out / "decisions.xlsx", index=False)
    decide(out, yards=["0007"], status="accepted", date="2026-05-02")
    kept = [pd.read_excel(out / f"decisions-read{n}.xlsx", dtype=str)["yard_id"][0] for n in ("", "-2")]
    assert kept == ["0012", "0013"]


def test_all_yards_are_known_with_their_roles(tmp_path):
    plan = small_plan(tmp_path)
    known = known_yards(habitat.write_plan(plan, tmp_path / "out"))
    assert known["yard_id"].tolist() == plan.yards["yard_id"].tolist()
    assert known["role"].tolist() == plan.yards["role"].tolist()
