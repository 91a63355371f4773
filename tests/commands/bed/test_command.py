"""``habitat bed`` as it is called: JSON for programs, text for people, files, and what is refused."""

import csv
import io
import json

import pytest

from tests.commands.calls import call, ended, start

OHIO = ("bed", "--place", "Ohio", "--size", "4x2m")


def test_json_holds_what_programs_are_promised():
    found = json.loads(call(*OHIO, "--sun", "full", "--soil", "loam", "--for", "monarch", "--json"))
    assert set(found) >= {"plants", "butterflies", "cost", "files"}
    assert all(set(row) == {"plant", "common_name", "count", "layer", "purpose"} for row in found["plants"])
    assert {row["layer"] for row in found["plants"]} <= {"structure", "season", "ground"}
    assert [row["name"] for row in found["butterflies"]] == ["monarch"]
    assert found["butterflies"][0]["verdict"] in ("can breed", "will visit", "not yet")
    assert found["butterflies"][0]["broods"] >= 0
    assert found["cost"] > 0
    assert found["files"] == []


def test_without_a_terminal_nobody_is_asked():
    process = start("bed", "--size", "4x2m")
    process.stdin = None
    code, said, told = ended(process)
    assert code == 2
    assert "--place is missing" in said + told


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--place", "Utah", "--size", "4x2m"), "habitat new writes blank ones"),
        (("--place", "Ohio", "--size", "4 by 2"), "feet or in metres"),
        (("--place", "Ohio", "--size", "4x2m", "--sun", "lots"), "hours of direct sun"),
        (("--place", "Ohio", "--size", "4x2m", "--soil", "purple"), "sand, loam, clay or unknown"),
        (("--place", "Ohio", "--size", "4x2m", "--for", "dodo"), "habitat butterflies"),
        (("--place", "Ohio", "--size", "4x2m", "--style", "wild"), "tidy, between or meadow"),
    ],
)
def test_what_cannot_be_ends_in_2_and_says_how_to_go_on(options, words):
    code, said, told = ended(start("bed", *options))
    assert code == 2
    assert words in said + told
    assert "Traceback" not in said + told


def test_files_are_written_and_nothing_is_overwritten_unasked(tmp_path):
    folder = tmp_path / "garden"
    found = json.loads(call(*OHIO, "--out", str(folder), "--json"))
    assert sorted(found["files"]) == sorted(str(path) for path in folder.iterdir())
    rows = list(csv.DictReader(io.StringIO((folder / "plants.csv").read_text(encoding="utf-8-sig"))))
    assert [(r["plant"], int(r["count"])) for r in rows] == [
        (r["plant"], r["count"]) for r in found["plants"]
    ]
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    code, said, told = ended(start(*OHIO, "--out", str(folder)))
    assert code == 2
    assert "--replace" in said + told
    call(*OHIO, "--out", str(folder), "--replace", "--quiet")
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
