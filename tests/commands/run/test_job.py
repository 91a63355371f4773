"""Runs: told what is missing, stopped after a stage, equal with any number of workers, compared."""

from types import SimpleNamespace

import pandas as pd
import pytest

from habitat.commands.run.job import _left_open
from habitat.errors import HabitatError
from tests.commands.calls import call


def test_a_run_tells_empty_yards_and_plants_of_no_known_name():
    plan = SimpleNamespace(
        headline={"counts": {"yards_planned": 3}},
        plantings=pd.DataFrame({"yard_id": ["a", "a"]}),
        existing_plants=pd.DataFrame(
            {"plant": [None, "Zizia aurea", None], "name_given": ["fern", "zizia", ""]}
        ),
    )
    empty, unknown = _left_open(plan)
    assert empty.startswith("2 of 3 yards")
    assert unknown.startswith("1 of 3 plants")
    assert "fern" in unknown


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
