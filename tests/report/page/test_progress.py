"""The page of progress: every season and figure, unknown told as unknown, nothing from data as markup."""

import re
from dataclasses import replace

import pytest

from habitat.planting.settled import Carried, Round
from habitat.planting.types import Milestone
from habitat.report.outputs import outputs_for
from habitat.report.page.progress import FIGURES, HIGH, UNDER, progress_page, write_progress
from tests.report.small_plan import small_plan

HISTORY = (
    Milestone("2026-03-01", "", 6, 5, 0, 0, 10.0, 20.0, None),
    Milestone("2027-03-01", "abc", 8, 7, 5, 150, 40.0, 80.0, 3),
)


@pytest.fixture
def plan(tmp_path):
    plan = replace(small_plan(tmp_path), carried=Carried(("0007",), (Round(),), history=HISTORY))
    study = plan.study.changed(study={"name": "<script>alert(1)</script>"})
    return replace(plan, study=study)


def test_the_table_holds_each_figure_of_each_season(plan):
    page = progress_page(plan)
    rows = re.findall(r'<tr><th scope="row">(.*?)</th>(.*?)</tr>', page)
    cells = {name: re.findall(r"<td[^>]*>(.*?)</td>", row) for name, row in rows}
    assert list(cells) == [words for _, words in FIGURES]
    assert cells["yards planted"] == ["0", "5"]
    assert cells["plants alive"] == ["0", "150"]
    assert cells["kinds of butterflies seen"] == ["unknown", "3"]


def test_bars_are_as_long_as_figures_and_unknown_has_none(plan):
    page = progress_page(plan)
    broods = page[page.index("broods a year that can be fed today</figcaption>") :]
    bars = [float(h) for h in re.findall(r'<rect[^>]* height="([\d.]+)"', broods.split("</svg>")[0])]
    assert bars[0] / bars[1] == pytest.approx(10 / 40, abs=0.01)
    assert bars[1] < HIGH - UNDER
    seen = page[page.index("kinds of butterflies seen</figcaption>") :].split("</svg>")[0]
    assert seen.count("<rect") == 1


def test_names_from_data_are_text(plan, tmp_path):
    page = write_progress(plan, tmp_path / "progress.html").read_text(encoding="utf-8")
    assert "<script>" not in page
    assert "&lt;script&gt;" in page


def test_it_is_written_from_the_second_run_of_a_group_on(plan):
    assert "progress.html" in [o.name for o in outputs_for(plan)]
    alone = replace(plan, carried=replace(plan.carried, history=HISTORY[:1]))
    assert "progress.html" not in [o.name for o in outputs_for(alone)]
    public = replace(plan, study=plan.study.changed(report={"audience": "public"}))
    assert "progress.html" not in [o.name for o in outputs_for(public)]
