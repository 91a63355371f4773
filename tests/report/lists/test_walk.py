"""The walk list: streets and house numbers in order, what differs door by door."""

from dataclasses import replace

import pandas as pd
import pytest

from habitat.report.lists.walk import walk_table, write_walk_list
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"))


def asked(plan, lived):
    """Return the plan with invitations to yards at these addresses, in the order of rank."""
    table = pd.concat([plan.invitations.iloc[:1]] * len(lived), ignore_index=True)
    ids = plan.yards["yard_id"].tolist()[: len(lived)]
    table = table.assign(
        rank=range(1, len(lived) + 1),
        yard_id=ids,
        reason=[f"Your yard has reason {k}" for k in range(len(lived))],
    )
    layer = plan.layers.vectors["yards"]
    addresses = [*lived, *[None] * (7 - len(lived))]
    vectors = {
        **plan.layers.vectors, "yards": replace(layer, frame=layer.frame.assign(address=addresses))
    }  # fmt: skip
    return replace(plan, invitations=table, layers=replace(plan.layers, vectors=vectors))


def test_streets_by_name_house_numbers_by_number(plan):
    lived = ["100 Kiln Street", "9 Kiln Street", "12a Kiln Street", "3 Alder Lane", None, "12 Kiln Street"]
    table = walk_table(asked(plan, lived))
    assert table["address"].tolist() == [
        "3 Alder Lane", "9 Kiln Street", "12 Kiln Street", "12a Kiln Street", "100 Kiln Street", ""
    ]  # fmt: skip
    assert table["stop"].tolist() == [1, 2, 3, 4, 5, 6]
    assert table["rank"].tolist() == [4, 2, 6, 3, 1, 5]


@pytest.mark.parametrize("bad", ["=HYPERLINK(1)", "+1 Kiln Street", "@12 Kiln"])
def test_an_address_that_looks_like_a_formula_is_quoted(plan, tmp_path, bad):
    text = write_walk_list(asked(plan, [bad]), tmp_path / "w.csv").read_text(encoding="utf-8-sig")
    assert bad in text
    assert f",{bad}" not in text


def test_doors_that_were_asked_stand_in_the_walk_without_a_stop(plan, tmp_path):
    made = asked(plan, ["9 Kiln Street", "3 Alder Lane", "5 Alder Lane"])
    ids = made.yards["yard_id"].tolist()
    made = replace(made, invitations=made.invitations.iloc[:2], asked={ids[2]: "asked on 2026-04-01: =busy"})
    table = walk_table(made)
    assert table["address"].tolist() == ["3 Alder Lane", "5 Alder Lane", "9 Kiln Street"]
    assert [s if pd.notna(s) else None for s in table["stop"]] == [1, None, 2]
    assert table["answer"].tolist()[1] == "asked on 2026-04-01: =busy"
    text = write_walk_list(made, tmp_path / "w.csv").read_text(encoding="utf-8-sig")
    assert text.splitlines()[1].startswith("1,Alder Lane,3,")
    assert text.splitlines()[2].startswith(",Alder Lane,5,5 Alder Lane,")


def test_nobody_to_ask_gives_an_empty_list(plan):
    assert walk_table(replace(plan, invitations=plan.invitations.iloc[:0])).empty
