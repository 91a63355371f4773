"""Roles as people write them."""

from tests.layers import builders as make


def test_unknown_roles_make_no_plan_and_are_told(joined):
    result, layers = joined("yard_id,role\nTB-01,treasurer\nTB-02,\n")
    assert layers().yards["role"].tolist() == ["other", "candidate", "other"]
    assert "role is blank: not answered, so taken as candidate" in make.notes(result)
    assert "'treasurer' is not member, candidate or other" in make.notes(result)


def test_a_sheet_that_asks_yes_no_or_maybe_says_roles(joined):
    result, layers = joined("yard_id,Taking part\nTB-01,Yes\nTB-02,maybe\nTB-03,no\n")
    assert layers().yards["role"].tolist() == ["member", "candidate", "other"]
    assert "maybe is read as candidate" in make.notes(result)


def test_roles_in_everyday_words_are_read_and_told(joined):
    result, layers = joined("yard_id,role\nTB-01,Yes please!\nTB-02,maybe later\nTB-03,no thanks\n")
    assert layers().yards["role"].tolist() == ["member", "candidate", "other"]
    assert "Yes please! is read as member (1 row(s))" in make.notes(result)
    _, layers = joined("yard_id,role\nTB-01,yes but not now\nTB-02,no but maybe\n")
    assert layers().yards["role"].tolist() == ["other"] * 3
