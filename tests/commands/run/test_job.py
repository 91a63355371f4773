"""Runs: told what is missing, stopped after a stage, equal with any number of workers, compared."""

from dataclasses import replace

import pytest

import habitat
from habitat.commands.run.job import what_to_do
from habitat.errors import HabitatError
from tests.commands.calls import call
from tests.report.small_plan import small_plan


def test_a_run_after_another_says_first_whose_sheet_to_hand_out(tmp_path):
    plan = small_plan(tmp_path)
    before = habitat.write_plan(plan, tmp_path / "before")
    yards = plan.yards.assign(role=plan.yards["role"].where(plan.yards["yard_id"] != "0012", "member"))
    after = habitat.write_plan(replace(plan, yards=yards), tmp_path / "after")
    lines = what_to_do(before, after)
    assert lines[:2] == ["What is to be done?", "  Hand out 1 sheet."]
    assert any(line.strip().startswith("yard 0012") for line in lines)
    assert what_to_do(None, after) == []


def test_until_a_stage_writes_nothing(study, tmp_path):
    text = call("run", study, "--out", str(tmp_path / "x"), "--until", "site", "--workers", "1")
    assert "407 yards" in text
    assert not (tmp_path / "x").exists()
    with pytest.raises(HabitatError, match="--until"):
        call("run", study, "--out", str(tmp_path / "x"), "--until", "lunch")


@pytest.fixture(scope="module")
def folders(study, tmp_path_factory):
    """Two runs of one study, with one process and with two."""
    made = [tmp_path_factory.mktemp("runs") / name for name in ("one", "two")]
    for folder, workers in zip(made, ("1", "2"), strict=True):
        call("run", study, "--out", str(folder), "--workers", workers, "--quiet")
    return made


def test_any_number_of_workers_gives_equal_bytes(folders):
    files = sorted(p.relative_to(folders[0]) for p in folders[0].rglob("*") if p.is_file())
    assert files == sorted(p.relative_to(folders[1]) for p in folders[1].rglob("*") if p.is_file())
    files = [f for f in files if f.name != "timings.json"]
    assert [str(f) for f in files if (folders[0] / f).read_bytes() != (folders[1] / f).read_bytes()] == []


def test_compare_two_runs(folders, tmp_path):
    text = call("compare", *map(str, folders), "--page", str(tmp_path / "changes.html"))
    assert text.strip()
    assert (tmp_path / "changes.html").stat().st_size > 0
