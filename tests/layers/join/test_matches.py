"""Matches are kept: each row of the sheet with its yard and how, answers obeyed and asked for once."""

import pandas as pd
import pytest

import habitat
from habitat.commands.check.account import check_study
from habitat.errors import LayerError
from habitat.pipeline.follow import with_matches
from habitat.pipeline.reading import read_layers
from habitat.revision.earlier import matches_file
from tests.layers import builders as make

SHEET = """yard_id,address,role
TB-01,,member
2,,member
,12 Plum,member
,3 Mil Gren,member
,TB03,member
,7 kiln str,member
"""


@pytest.fixture
def town(tmp_path):
    """Return what reads the sheet with answers: the matches, roles by yard, and all notes."""
    make.yards(address=make.ADDRESSES).to_file(tmp_path / "y.gpkg")
    (tmp_path / "p.csv").write_text(SHEET, encoding="utf-8")

    def read(answers=None):
        layers = {"yards": "y.gpkg", "participants": "p.csv"}
        if answers is not None:
            (tmp_path / "m.csv").write_text(answers, encoding="utf-8")
            layers["matches"] = "m.csv"
        path = make.study(tmp_path, layers)
        found = read_layers(habitat.read_study(path))
        rows = found.vectors["participants"].details["matches"]
        roles = dict(zip(found.yards["yard_id"], found.yards["role"], strict=True))
        return rows, roles, make.notes(check_study(path)), found

    return read


def how(rows):
    return [(r["yard_id_given"] or r["address"], r["yard_id"], r["how"], r["answer"]) for r in rows]


def test_each_row_is_written_with_its_yard_and_how_it_was_found(town):
    rows, roles, notes, _ = town()
    assert how(rows) == [
        ("TB-01", "TB-01", "id", ""),
        ("2", "", "no yard is like it", ""),
        ("12 Plum", "TB-01", "number and street name", ""),
        ("3 Mil Gren", "TB-03", "90% alike", ""),
        ("TB03", "TB-03", "parcel number", ""),
        ("7 kiln str", "TB-02", "number and street name", ""),
    ]
    assert roles == {"TB-01": "member", "TB-02": "member", "TB-03": "member"}
    assert "'12 Plum' is read as that of TB-01 (12 Plum Alley), the only one of its number" in notes
    assert "'TB03' is read as the parcel number 'TB-03'" in notes


def test_answers_are_obeyed_and_nothing_is_asked_twice(town):
    answers = (
        "yard_id_given,address,yard_id,answer,note\n,3 Mil Gren,TB-03,No,it is of the mill\n,7 Kiln St.,"
        "TB-02,refused,\n2,,TB-02,YES,\n,Gone Lane 1,TB-01,no,kept\n"
    )
    rows, _, notes, _ = town(answers)
    told = {r["yard_id_given"] or r["address"]: r for r in rows}
    assert (told["2"]["yard_id"], told["2"]["answer"]) == ("TB-02", "confirmed")
    assert (told["3 Mil Gren"]["answer"], told["3 Mil Gren"]["note"]) == ("refused", "it is of the mill")
    assert told["Gone Lane 1"]["note"] == "kept"  # a row that is on no sheet any more is kept
    assert [r["yard_id"] for r in rows if r["address"] == "3 Mil Gren"] == ["TB-03"]
    assert "TB-03: 3 Mill Green" not in notes
    assert "somebody refused yard TB-02 for it in the table of matches" in notes


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (
            ",3 Mil Gren,TB-03,perhaps",
            "row 1 (3 Mil Gren): the answer 'perhaps' is neither confirmed nor refused",
        ),
        (",3 Mil Gren,TB-99,yes", "its answer counts for nothing: not matched: no yard has the id 'TB-99'"),
        (",,TB-03,yes", "it says of no yard_id_given and no address"),
        (",3 Mil Gren,TB-03,yes\n,3 mil gren,TB-01,yes", "it is confirmed for another yard too"),
    ],
)
def test_answers_that_nobody_can_use_are_told_with_their_row_and_kept(town, row, told):
    rows, _, notes, _ = town(f"yard_id_given,address,yard_id,answer\n{row}\n")
    assert told in notes
    assert any(r["answer"] for r in rows)
    assert "3 Mil Gren" not in [r["address"] for r in rows if r["how"] == "confirmed"]


def test_a_table_without_its_answers_is_refused(town):
    with pytest.raises(LayerError, match="has no column answer"):
        town("address,yard_id\n3 Mil Gren,TB-03\n")


def test_a_run_after_another_reads_the_matches_there_unless_the_study_names_its_own(town, tmp_path):
    town()
    study = habitat.read_study(tmp_path / "study.toml")
    earlier = tmp_path / "first"
    earlier.mkdir()
    assert with_matches(study, earlier) is study
    assert with_matches(study, None) is study
    pd.DataFrame({"address": ["x"], "yard_id": ["TB-01"], "answer": ["no"]}).to_excel(
        earlier / "matches.xlsx", index=False
    )
    assert with_matches(study, earlier).layers["matches"].path == str(earlier / "matches.xlsx")
    own = study.changed(layers={"matches": {"path": "own.csv"}})
    assert with_matches(own, earlier) is own
    (earlier / "matches.csv").write_text("address,yard_id,answer\n", encoding="utf-8")
    with pytest.raises(LayerError, match=r"matches\.xlsx beside matches\.csv"):
        matches_file(earlier)
