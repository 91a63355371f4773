"""A season form is read however it was filled in; what nobody can read counts as not told."""

import pandas as pd
import pytest

from habitat.errors import LayerError
from habitat.report.words.en import english
from habitat.revision.season import Told, read_season

MARKS = {"a-p01": "m1", "a-p02": "m2", "b-p01": "m3"}
COUNTS = {"a-p01": 5, "a-p02": 8, "b-p01": 3}
YARDS = {key: key[0] for key in COUNTS}


def read(*rows):
    table = pd.DataFrame([{"run": MARKS.get(r.get("planting_id")), **r} for r in rows], dtype=object)
    season = read_season(table, MARKS, COUNTS, YARDS)
    return season.told, english().each(season.notes)


def test_blanks_are_not_told():
    assert read({"planting_id": "a-p01"}, {"planting_id": "a-p02", "planted": "  "}) == ({}, [])
    assert read_season(None, MARKS, COUNTS, YARDS).told == {}


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        ({"planted": "5", "alive_june": "4"}, Told(5, 4)),
        ({"planted": "all", "alive_june": "4", "alive_next_spring": "3"}, Told(5, 3)),
        ({"planted": "x", "alive_next_spring": "none"}, Told(5, 0)),
        ({"planted": "3.0", "alive_june": "all"}, Told(3, 3)),
        ({"alive_june": "-"}, Told(None, 0)),
        ({"planted_on": "12 May 2026", "eaten": "yes"}, Told(year=2026, eaten=True)),
        ({"eaten": "0", "replaced_by": "asters"}, Told(eaten=False, replaced_by="asters")),
    ],
)
def test_cells_are_read_as_people_write(cells, told):
    assert read({"planting_id": "a-p01"} | cells) == ({"a-p01": told}, [])


@pytest.mark.parametrize(
    ("cells", "told", "said"),
    [
        (
            {"planted": "a few"},
            Told(),
            "row 1: planted is 'a few', which is no number: it counts as not told",
        ),
        ({"planted": "3", "alive_june": "4"}, Told(3, 3), "row 1: 4 are alive of 3 planted: 3 count"),
        (
            {"planted": "5", "alive_june": "2", "alive_next_spring": "3"},
            Told(5, 3),
            "row 1: more are alive in spring than in June: the spring counts",
        ),
    ],
)
def test_what_cannot_be_is_named_with_its_row(cells, told, said):
    found, notes = read({"planting_id": "a-p01"} | cells)
    assert found == {"a-p01": told}
    assert any(said in note for note in notes)


def test_rows_of_one_planting_are_taken_together_and_told():
    found, notes = read(
        {"planting_id": "a-p02", "planted": "8", "alive_june": "7"},
        {"planting_id": "a-p02", "alive_june": "6"},
    )
    assert found == {"a-p02": Told(8, 6)}
    assert notes == [
        "season form, row 2: rows 1 and 2 are all of planting a-p02; what a later one tells counts"
    ]


def test_rows_of_other_runs_are_left_out_and_a_whole_form_is_refused():
    found, notes = read(
        {"planting_id": "a-p01", "planted": "5"},
        {"planting_id": "a-p02", "planted": "8", "run": "other"},
        {"planting_id": "z-p09", "planted": "8"},
    )
    assert set(found) == {"a-p01"}
    assert "row 2: it is of another run" in notes[0]
    assert "row 3: there is no planting 'z-p09'" in notes[1]
    with pytest.raises(LayerError, match="the season form is of another run"):
        read({"planting_id": "a-p01", "planted": "5", "run": "other"})


def test_the_file_is_named_where_rows_or_all_of_it_are_of_another_run():
    rows = [{"run": "m0", "planting_id": "a-p01", "planted": "all"}, {"run": "m2", "planting_id": "a-p02"}]
    season = read_season(pd.DataFrame(rows), MARKS, COUNTS, YARDS, "form.xlsx")
    assert english().each(season.notes) == [
        "form.xlsx, row 1: it is of another run, or drawn anew since; the row is left out"
    ]
    with pytest.raises(LayerError, match=r"form\.xlsx: the season form is of another run"):
        read_season(pd.DataFrame(rows[:1]), MARKS, COUNTS, YARDS, "form.xlsx")


def test_a_form_without_its_marks_is_read_and_told():
    table = pd.DataFrame({"planting_id": ["a-p01"], "planted": ["4"]})
    season = read_season(table, MARKS, COUNTS, YARDS, "form.csv")
    assert season.told == {"a-p01": Told(4)}
    assert "form.csv, row 1: no row bears a mark in the column run" in english().each(season.notes)[0]
