"""The list of neighbours to ask in one go."""

from dataclasses import replace

import pandas as pd
import pytest

from habitat.report.lists.blocks import COLUMNS, block_table, write_blocks
from habitat.report.outputs import outputs_for
from habitat.report.public.reduce import public_plan
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    made = small_plan(tmp_path_factory.mktemp("study"))
    ids = list(made.yards["yard_id"][:3])
    rows = [(2, ids[0]), (1, ids[2]), (1, ids[1])]
    blocks = pd.DataFrame(rows, columns=["block", "yard_id"])
    return replace(made, blocks=blocks.assign(gain_m2=12.0, gain_broods=3.0, cost=80.456, plants=20))


def test_the_best_block_comes_first_with_what_it_adds(plan, tmp_path):
    table = block_table(plan)
    assert table["block"].tolist() == [1, 1, 2]
    assert set(table["yard_id"][:2]) == set(plan.yards["yard_id"][1:3])
    assert table.loc[0, ["cost", "plants"]].tolist() == [80.46, 20]
    assert table.loc[0, "block_adds"].startswith("3 broods, 12")
    text = write_blocks(plan, tmp_path / "blocks.csv").read_text(encoding="utf-8-sig")
    assert text.splitlines()[0] == ",".join(COLUMNS)
    assert len(text.splitlines()) == 4


def test_it_is_for_the_group_and_only_where_there_are_blocks(plan):
    asked = [o.name for o in outputs_for(plan)]
    assert "lists/blocks-to-ask.csv" in asked
    assert "lists/blocks-to-ask.csv" not in [o.name for o in outputs_for(replace(plan, blocks=None))]
    assert public_plan(plan).blocks is None
