"""Decisions are read however a spreadsheet left them, and nothing of them is lost."""

import openpyxl
import pandas as pd
import pytest

from habitat.errors import LayerError, MissingFileError
from habitat.report.words.en import english
from habitat.revision.decisions import decisions_file, read_decisions

YARDS = pd.DataFrame(
    {"yard_id": ["007", "01-003", "12", "=B"], "address": ["1 Kiln Street", "6 Wood End", None, None]}
)


def read(tmp_path, text, name="decisions.csv"):
    path = tmp_path / name
    path.write_bytes(text.encode("utf-8"))
    return read_decisions(path, YARDS)


def words(found):
    return [english()(note) for note in found.notes]


@pytest.mark.parametrize(
    "text",
    [
        "yard_id,address,status\n7,,accepted\n",  # the zeros that a spreadsheet takes away
        "yard_id;address;status;date\n007;;Accepted;01.03.2026\n",
        "﻿status\tyard_id\tnote\n ACCEPTED \t007\t\n",
        "address,status\n1 KILN ST.,accepted\n",
        "yard_id,address,status\nJan-07,1 Kiln Street,accepted\n",
    ],
)
def test_a_yard_is_known_in_the_ways_that_spreadsheets_write_it(tmp_path, text):
    assert read(tmp_path, text).status() == {"007": "accepted"}


def test_an_unknown_word_is_told_with_its_row_and_keeps_the_plan_as_it_is(tmp_path):
    found = read(tmp_path, "yard_id,status\n12,draft\n007,acepted\n01-003,maybe\n")
    assert found.status() == {"12": "draft", "007": "accepted", "01-003": "accepted"}
    assert found.table.set_index("yard_id")["status"]["01-003"] == "maybe"
    one, two = words(found)
    assert one.startswith("decisions.csv, row 2: ")
    assert "did you mean 'accepted'" in one
    assert two.startswith("decisions.csv, row 3: ")
    assert "none of draft, accepted" in two


def test_a_row_of_no_yard_is_told_and_kept_as_it_came(tmp_path):
    found = read(tmp_path, "yard_id,status,date,note,rang\n99,planted,2026-05-01,in the rain,twice\n")
    assert found.status() == {}
    assert words(found)[0].startswith("decisions.csv, row 1: not matched: no yard has the id '99'")
    table = found.with_drafts(YARDS, ["12"], "2026-06-01")
    assert table.iloc[-1].to_dict() == {
        "yard_id": "99", "address": "", "status": "planted", "date": "2026-05-01", "note": "in the rain",
        "rang": "twice",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("rows", "status", "left"),
    [
        ("12,draft\n12,ordered\n", "ordered", ["draft"]),
        ("12,accepted\n12,draft\n", "accepted", ["draft"]),
        ("12,accepted\n12,planted\n", "planted", ["accepted"]),
        ("12,accepted\n12,accepted\n", "accepted", []),
    ],
)
def test_of_two_rows_of_a_yard_the_last_counts_that_is_no_draft(tmp_path, rows, status, left):
    found = read(tmp_path, "yard_id,status\n" + rows)
    assert found.status() == {"12": status}
    assert words(found)[-1].startswith("decisions.csv, rows 1 and 2: all are of yard 12")
    assert found.apart["status"].tolist() == left


ASKING = """yard_id,status,date,note,ask_from
007,asked,2026-04-01,nobody home,
01-003,ask_again,01.05.2026,,
12,Ask again.,2026-05-01,not now,spring 2029
=B,said-no,2026-05-02,,
"""


@pytest.mark.parametrize(
    ("year", "waiting"),
    [
        (2026, {"007": "asked on 2026-04-01: nobody home", "01-003": "ask again in 2027",
                "12": "ask again in 2029: not now"}),
        (2027, {"12": "ask again in 2029: not now"}),
        (2028, {"12": "ask again in 2029: not now"}),
        (2029, {}),
    ],
)  # fmt: skip
def test_who_was_asked_waits_for_the_next_calendar_year_or_the_one_that_is_given(tmp_path, year, waiting):
    found = read(tmp_path, ASKING)
    assert not found.notes
    assert found.status()["=B"] == "said no"
    assert {yard: told for yard, (_, told) in found.waiting(year, 2020).items()} == waiting


def test_without_a_year_the_run_before_tells_which_and_the_row_is_named(tmp_path):
    found = read(tmp_path, "yard_id,status,date,ask_from\n12,asked,,\n007,ask again,in May,soon\n")
    assert set(found.waiting(2026, 2026)) == {"12", "007"}
    assert not found.waiting(2027, 2026)
    told = words(found)
    assert told[0].startswith("decisions.csv, row 1: it is 'asked', but no year stands in its date (blank)")
    assert told[1].startswith("decisions.csv, row 2: ask_from is 'soon', in which no year stands")


def test_who_was_asked_and_signed_up_is_a_draft_and_who_said_no_stays(tmp_path):
    found = read(tmp_path, "yard_id,status\n12,asked\n007,said no\n01-003,ask again\n").joined({"12", "007"})
    assert found.status() == {"12": "draft", "007": "said no", "01-003": "ask again"}
    assert "taking part now, so drafts are planned for: yard 12." in words(found)[-1]


@pytest.mark.parametrize(
    ("text", "missing"), [("yard_id,note\n12,yes\n", "status"), ("status,note\nplanted,yes\n", "yard_id")]
)
def test_without_a_column_that_says_what_or_which_nobody_guesses(tmp_path, text, missing):
    with pytest.raises(LayerError, match=f"the column {missing} is missing"):
        read(tmp_path, text)


def test_other_columns_may_go_and_a_blank_status_is_a_draft(tmp_path):
    found = read(tmp_path, "yard_id,status\n12,\n")
    assert found.status() == {"12": "draft"}
    assert "it has no status" in words(found)[0]


def test_a_workbook_is_read_and_two_files_are_refused(tmp_path):
    book = openpyxl.Workbook()
    for row in (["yard_id", "status"], [7, "planted"]):
        book.active.append(row)
    book.save(tmp_path / "decisions.xlsx")
    assert read_decisions(decisions_file(tmp_path), YARDS).status() == {"007": "planted"}
    (tmp_path / "decisions.csv").write_text("yard_id,status\n")
    with pytest.raises(LayerError, match=r"decisions\.xlsx beside"):
        decisions_file(tmp_path)
    (tmp_path / "decisions.csv").unlink()
    (tmp_path / "decisions.xlsx").unlink()
    with pytest.raises(MissingFileError):
        decisions_file(tmp_path)


def test_who_takes_part_by_a_plain_yes_joins_and_any_other_word_is_named(tmp_path):
    found = read(tmp_path, "yard_id,status,takes part\n007,draft,Yes\n12,draft,\n01-003,draft,soon\n")
    assert found.joining == {"007"}
    (told,) = words(found)
    assert told.startswith("decisions.csv, row 3: takes_part is 'soon', neither yes nor no")
    assert read(tmp_path, "yard_id,status\n007,draft\n").joining == frozenset()
