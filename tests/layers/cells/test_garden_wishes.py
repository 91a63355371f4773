"""What households write of their wishes: everyday words come to flags, a look, colours; the rest is told."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from habitat.commands.check.account import check_study
from habitat.layers.cells.garden_wishes import COLOURS, joined, wishes_of
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from habitat.terms import LOOKS, WISH_FLAGS
from tests.layers import builders as make


@pytest.mark.parametrize(
    ("said", "flags", "look", "colours"),
    [
        ("no trees", {"no_trees"}, "", ()),
        ("No trees or vines, please!", {"no_trees", "no_vines"}, "", ()),
        ("we don't want any shrubs", {"no_shrubs"}, "", ()),
        ("keep our lawn for the kids", {"keep_lawn"}, "", ()),
        ("low plants only; easy care", {"low_only", "easy_care"}, "", ()),
        ("nothing tall and not much time", {"low_only", "easy_care"}, "", ()),
        ("neat and tidy", set(), "tidy", ()),
        ("a meadow look", set(), "meadow", ()),
        ("somewhere in between", set(), "between", ()),
        ("in-between", set(), "between", ()),
        ("no bright yellow flowers, no lilac", set(), "", ("purple", "yellow")),
        ("", set(), "", ()),
    ],
)
def test_everyday_words(said, flags, look, colours):
    got = wishes_of(said)
    assert not got.unread
    assert (set(got.flags), got.look, got.colours) == (flags, look, colours)


@pytest.mark.parametrize("said", ["a pony", "no gnomes", "trees", "lawn?", "no ultramarine flowers"])
def test_what_is_not_understood_is_handed_back(said):
    got = wishes_of(said)
    assert got.unread
    assert not got.flags


@given(st.text(max_size=60))
def test_any_text_is_read_without_a_fault(said):
    got = wishes_of(said)
    assert set(got.flags) <= set(WISH_FLAGS)
    assert got.look in ("", *LOOKS)
    assert set(got.colours) <= set(COLOURS.values())


@given(st.lists(st.sampled_from(sorted(WISH_FLAGS)), unique=True))
def test_wishes_in_any_order_come_to_the_same(flags):
    said = ", ".join(flag.replace("_", " ").replace("low only", "low plants only") for flag in flags)
    assert set(wishes_of(said).flags) == set(flags)


def test_lists_of_colours_are_joined_once_each():
    assert joined(("red;pink", None, "red")) == "pink;red"


@pytest.fixture
def joined_yards(tmp_path):
    make.yards().to_file(tmp_path / "y.gpkg")

    def join(text):
        (tmp_path / "t.csv").write_text(text, encoding="utf-8")
        path = make.study(tmp_path, {"yards": "y.gpkg", "participants": "t.csv"})
        return check_study(path), read_layers(read_study(path)).yards.set_index("yard_id")

    return join


def test_wishes_reach_the_yards(joined_yards):
    result, yards = joined_yards(
        "yard_id,garden_wishes,hours_a_month,bed_m2\n"
        'TB-01,"no trees, tidy, no red flowers, a pony",3,\nTB-02,keep the lawn,,12\n'
    )
    assert yards[["no_trees", "keep_lawn"]].to_numpy().tolist() == [
        [True, False],
        [False, True],
        [False, False],
    ]
    assert yards.loc["TB-01", "look"] == "tidy"
    assert yards.loc["TB-01", "disliked_colours"] == "red"
    assert yards.loc["TB-01", "hours_a_month"] == 3
    assert yards.loc["TB-02", "bed_m2"] == 12
    assert yards.loc["TB-02", "look"] is None
    assert "'a pony' is not understood" in make.notes(result, "participants")


def test_own_columns_count_beside_the_words(joined_yards):
    _, yards = joined_yards(
        "yard_id,wishes,no_vines,look,disliked_colors\nTB-01,no trees,yes,meadow style,Red and pink\n"
    )
    assert yards.loc["TB-01", ["no_trees", "no_vines"]].tolist() == [True, True]
    assert yards.loc["TB-01", "look"] == "meadow"
    assert yards.loc["TB-01", "disliked_colours"] == "pink;red"


def test_two_rows_of_a_yard_any_wish_counts_and_the_least_ground(joined_yards):
    _, yards = joined_yards(
        "yard_id,garden_wishes,bed_m2\nTB-01,no trees and no pink,20\nTB-01,no vines and no blue,8\n"
    )
    assert yards.loc["TB-01", ["no_trees", "no_vines"]].tolist() == [True, True]
    assert yards.loc["TB-01", "bed_m2"] == 8


def test_without_a_sheet_nobody_wishes_anything(tmp_path):
    make.yards().to_file(tmp_path / "bare.gpkg")
    yards = read_layers(read_study(make.study(tmp_path, {"yards": "bare.gpkg"}))).yards
    assert not yards[list(WISH_FLAGS)].to_numpy().any()
    assert yards[["look", "disliked_colours", "hours_a_month", "bed_m2"]].isna().all(axis=None)
