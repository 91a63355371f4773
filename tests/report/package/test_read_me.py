"""READ_ME.txt tells of what is there, and stays whole whatever the study is called."""

from dataclasses import replace

import pytest

from habitat.report.outputs import OUTPUTS
from habitat.report.package.read_me import write_read_me
from habitat.report.package.tables import TABLES
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    folder = tmp_path_factory.mktemp("study")
    return small_plan(folder, suitability={"rasters": ["swamp milkweed", "Zizia aurea"]})


TOLD = [(output.name, output.words) for output in OUTPUTS]


def test_an_odd_name_of_the_study_stays_on_the_first_line_of_read_me(plan, tmp_path):
    study = plan.study.changed(study={"name": "Row\n\u202eof\x07 yards"})
    write_read_me(replace(plan, study=study), tmp_path, TOLD)
    lines = (tmp_path / "READ_ME.txt").read_text(encoding="utf-8").splitlines()
    assert lines[0].split(", 2026")[0] == "Row of yards"
    assert lines[1] == ""


def test_read_me_tells_of_what_is_there(plan, tmp_path):
    for name in ("plan.gpkg", "page.html"):
        (tmp_path / name).touch()
    write_read_me(plan, tmp_path, TOLD)
    text = (tmp_path / "READ_ME.txt").read_text(encoding="utf-8")
    assert "page.html" in text
    assert "shopping.csv" not in text
    assert "For the group only" in text
    assert "utility locating" in text
    for table in TABLES:
        assert f"\n{table.name}: {table.title}\n" in text
