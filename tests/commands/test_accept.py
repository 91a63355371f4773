"""``habitat accept`` writes what a group decided, by id or address, and takes it back."""

import json
from pathlib import Path

import pandas as pd
import pytest

import habitat
from tests.commands.calls import call, ended, start
from tests.report.small_plan import small_plan


@pytest.fixture
def results(tmp_path):
    return str(habitat.write_plan(small_plan(tmp_path), tmp_path / "out"))


def status(results):
    table = pd.read_csv(f"{results}/decisions.csv", dtype=str, encoding="utf-8-sig")
    return dict(zip(table["yard_id"], table["status"], strict=True))


def test_members_are_those_that_take_part_and_have_a_plan(results):
    found = json.loads(call("accept", results, "--members", "--json"))
    assert found["yards"] == ["0007", "0013", "0021", "0030"]
    assert status(results) == {
        "0007": "accepted", "0012": "draft", "0013": "accepted", "0021": "accepted", "0022": "draft",
        "0030": "accepted",
    }  # fmt: skip


def test_a_yard_is_named_by_id_or_address_and_taken_back(results):
    address = json.loads(call("accept", results, "--yard", "7", "--json"))["yards"]
    assert address == ["0007"]
    call("accept", results, "--yard", "0012", "--status", "Declined", "--note", "asked on 3 May")
    table = pd.read_csv(f"{results}/decisions.csv", dtype=str, encoding="utf-8-sig").set_index("yard_id")
    assert table.loc["0012", ["status", "note"]].tolist() == ["declined", "asked on 3 May"]
    call("accept", results, "--yard", "0007", "--undo")
    assert status(results)["0007"] == "draft"
    assert status(results)["0012"] == "declined"


def test_a_yard_without_a_plan_can_decline_before_it_is_asked(results):
    call("accept", results, "--yard", "0044", "--status", "declined")
    assert status(results)["0044"] == "declined"


def test_asking_is_kept_with_the_year_in_which_to_ask_again_and_taken_back(results):
    def rows():
        table = pd.read_csv(
            f"{results}/decisions.csv", dtype=str, encoding="utf-8-sig", keep_default_na=False
        )
        return table.set_index("yard_id")

    call("accept", results, "--yard", "0012", "--yard", "0044", "--status", "asked")
    assert "ask_from" not in rows()
    assert rows().loc[["0012", "0044"], "status"].tolist() == ["asked", "asked"]
    call("accept", results, "--yard", "12", "--status", "ask-again", "--when", "2029", "--note", "moving in")
    call("accept", results, "--yard", "0044", "--status", "said-no")
    assert rows().loc["0012", ["status", "ask_from", "note"]].tolist() == ["ask again", "2029", "moving in"]
    assert rows().loc["0044", ["status", "ask_from"]].tolist() == ["said no", ""]
    call("accept", results, "--yard", "0012", "--undo")
    assert rows().loc["0012", ["status", "ask_from"]].tolist() == ["draft", ""]


@pytest.mark.parametrize(
    "more", [("--status", "asked", "--when", "2029"), ("--status", "ask-again", "--when", "soon")]
)
def test_a_year_to_ask_from_goes_with_ask_again_alone(results, more):
    with pytest.raises(habitat.HabitatError, match="--when"):
        call("accept", results, "--yard", "0012", *more)
    assert "asked" not in status(results).values()


def test_what_cannot_be_is_refused_and_nothing_written(results):
    with pytest.raises(habitat.HabitatError, match="there is no yard '99'"):
        call("accept", results, "--yard", "0007", "--yard", "99")
    with pytest.raises(habitat.HabitatError, match="--status"):
        call("accept", results, "--members", "--status", "perhaps")
    with pytest.raises(habitat.HabitatError, match="--yard"):
        call("accept", results)
    assert set(status(results).values()) <= {"draft"}


def test_results_for_the_public_take_no_decisions(tmp_path):
    out = habitat.write_plan(small_plan(tmp_path, report={"audience": "public"}), tmp_path / "out")
    assert not (out / "decisions.csv").exists()
    with pytest.raises(habitat.HabitatError, match="for the public"):
        call("accept", str(out), "--members")


def test_rows_that_were_edited_stay_whatever_they_say(results):
    text = "yard_id,status,rang\n0007,maybe,yes\n99,planted,\n"
    Path(results, "decisions.csv").write_text(text, encoding="utf-8")
    told = json.loads(call("accept", results, "--yard", "0013", "--json"))["notes"]
    assert len(told) == 2
    table = pd.read_csv(f"{results}/decisions.csv", dtype=str, encoding="utf-8-sig").set_index("yard_id")
    assert table.loc["0007", ["status", "rang"]].tolist() == ["maybe", "yes"]
    assert table.loc["99", "status"] == "planted"
    assert table.loc["0013", "status"] == "accepted"


def test_two_acceptances_at_once_lose_none(results, tmp_path):
    """Each of two processes says of three yards, one by one, what became of them."""
    yards = ("0007", "0012", "0013"), ("0021", "0022", "0030")
    script = (
        "import sys; from tests.commands.calls import call\n"
        "for yard in sys.argv[2:]: call('accept', sys.argv[1], '--yard', yard)"
    )
    known = {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    both = [start(results, *mine, script=script, **known) for mine in yards]
    for process in both:
        code, _, told = ended(process)
        assert code == 0, told
    assert [yard for yard, word in status(results).items() if word == "accepted"] == [*yards[0], *yards[1]]
