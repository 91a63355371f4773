"""The page to walk a yard with, the form that it is typed into, and plans that are drafts until then."""

import io
from dataclasses import replace

import pandas as pd
import pypdf
import pytest

from habitat.layers.cells.columns import columns_of
from habitat.report.lists.walk_form import COLUMNS, draft_yards, write_walk_form
from habitat.report.outputs import outputs_for
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"))


def walked(plan, yard_id, known=(), **told):
    table = pd.DataFrame([{"yard_id": yard_id, **told}])
    layer = replace(plan.layers.vectors["yards"], name="walk", frame=table)
    vectors = {**plan.layers.vectors, "walk": layer}
    site = replace(plan.site, walked={yard_id: frozenset(known)})
    return replace(plan, layers=replace(plan.layers, vectors=vectors), site=site)


def written(plan, tmp_path):
    files = write_walk_form(plan, tmp_path / "walk-form.csv")
    table = pd.read_csv(files[0], dtype=str, keep_default_na=False, encoding="utf-8-sig")
    pages = [
        page.extract_text() for f in files[1:] for page in pypdf.PdfReader(io.BytesIO(f.read_bytes())).pages
    ]
    return table, pages


def test_a_row_and_a_page_for_each_draft_and_columns_that_are_read_back(plan, tmp_path):
    table, pages = written(plan, tmp_path)
    assert table["yard_id"].tolist() == draft_yards(plan)
    assert len(pages) == len(table) == 4  # the four members
    assert set(COLUMNS) == {column.name for column in columns_of("walk")}
    for page, lived in zip(pages, table["address"], strict=True):
        assert f"Walk your yard: {lived}" in page
        for words in ("Septic field", "o’clock", "utility locating service", "Write M for meters"):
            assert words in page


def test_what_was_told_stands_in_the_form_and_its_yard_gets_no_page(plan, tmp_path):
    one = walked(plan, "0013", drive="right", trees="none")
    table, pages = written(one, tmp_path)
    row = table.set_index("yard_id").loc["0013"]
    assert (row["drive"], row["trees"], row["wires"]) == ("right", "none", "")
    assert len(pages) == 3


def test_accepted_plans_are_not_asked_for_and_what_was_told_of_them_is_kept(plan, tmp_path):
    status = plan.yards["yard_id"].map({"0013": "accepted"}).fillna("draft")
    one = replace(plan, yards=plan.yards.assign(status=status))
    assert "0013" not in draft_yards(one)
    assert "0013" not in written(one, tmp_path)[0]["yard_id"].tolist()
    table, pages = written(walked(one, "0013", drive="right"), tmp_path)
    assert table.set_index("yard_id").loc["0013", "drive"] == "right"
    assert len(pages) == len(draft_yards(one)) == len(table) - 1


@pytest.mark.parametrize("audience", ["group", "public"])
def test_the_form_is_for_the_group_only(tmp_path, audience):
    names = [output.name for output in outputs_for(small_plan(tmp_path, report={"audience": audience}))]
    assert ("lists/walk-form.csv" in names) == (audience == "group")
