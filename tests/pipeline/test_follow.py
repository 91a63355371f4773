"""A run that follows another: plans that are kept, drafts as they were, and who joins later beside them."""

import datetime as dt
import json
import shutil
from types import SimpleNamespace

import pandas as pd
import pytest

import habitat
from habitat.pipeline import follow
from habitat.pipeline.follow import earlier_folder, next_round, unread_season, waiting
from habitat.planting.settled import Carried, Round
from habitat.report.words.en import english
from habitat.report.written import sha256_of
from habitat.revision.deciding import decide
from habitat.revision.earlier import read_earlier
from tests.support.prague import write_study

TABLES = ("beds", "plantings", "plant_points")


def test_yards_of_the_earlier_run_get_what_they_got_there(monkeypatch):
    """Whom the earlier run gave no weight gets none now, whatever the corridor says today."""
    monkeypatch.setattr(follow, "nectar_around", lambda *_: dict.fromkeys("abnx", frozenset({5})))
    was = Round({("a", "m"): 0.5}, {"a": frozenset({8})})
    weighed = SimpleNamespace(gains={(yard, "m"): 2.0 for yard in "abnx"})
    earlier = SimpleNamespace(carried=Carried(("a", "b"), (Round(), was)))
    ground = SimpleNamespace(yard_ids=("a", "b", "n"), earlier=earlier)
    found = next_round(ground, None, weighed, 1)
    assert found.weights == {("a", "m"): 0.5, ("n", "m"): 2.0}
    assert found.neighbour_nectar == {"a": frozenset({8}), "n": frozenset({5})}
    alone = next_round(SimpleNamespace(yard_ids=("a", "b", "n"), earlier=None), None, weighed, 1)
    assert set(alone.weights) == {("a", "m"), ("b", "m"), ("n", "m")}


def test_what_is_asked_for_goes_before_what_the_study_says(tmp_path):
    study = habitat.read_study(write_study(tmp_path, planned=1)).changed(study={"after": "last_year"})
    assert earlier_folder(study, None) == tmp_path / "last_year"
    assert earlier_folder(study, "other").name == "other"
    assert earlier_folder(study.changed(study={"after": None}), None) is None


def test_a_season_form_without_the_run_that_it_is_of_is_told():
    layers = SimpleNamespace(frame=lambda _: pd.DataFrame({"planting_id": ["a-p01", "a-p02"]}))
    assert "season form (2 rows) is not used" in english()(unread_season(layers, None)[0])
    assert unread_season(layers, SimpleNamespace()) == []
    assert unread_season(SimpleNamespace(frame=lambda _: None), None) == []


@pytest.fixture(scope="module")
def chain(first_run, tmp_path_factory):
    """Four parcels planned, one of them accepted, and a fifth that joins later."""
    home = tmp_path_factory.mktemp("chain") / "town"
    shutil.copytree(first_run.home, home)
    decide(home / "first", yards=first_run.ids[:1], status="accepted", date="2026-04-01")
    decide(home / "first", yards=first_run.ids[1:2], status="asked", date="2026-04-01", note="not at home")
    lines = [first_run.lines[0], first_run.late, *first_run.lines[1:]]
    (home / "participants.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    second = habitat.run(habitat.read_study(home / "study.toml"), after=home / "first")
    habitat.write_plan(second, home / "second")
    late = first_run.late.split(",")[0]
    return SimpleNamespace(home=home, first=first_run.plan, second=second, ids=first_run.ids, late=late)


def test_kept_plans_and_drafts_are_what_they_were(chain):
    for name in TABLES:
        now = getattr(chain.second, name)
        now = now[now["yard_id"].isin(chain.ids)].reset_index(drop=True)
        pd.testing.assert_frame_equal(now, getattr(chain.first, name))
        assert len(now)


def test_who_joins_gets_a_plan_beside_them(chain):
    assert chain.late in set(chain.second.plantings["yard_id"])
    status = chain.second.yards.set_index("yard_id")["status"]
    assert status[[chain.ids[0], chain.ids[2], chain.late]].tolist() == ["accepted", "draft", "draft"]


def test_who_was_asked_keeps_its_plan_and_is_asked_the_next_year(chain):
    asked = chain.ids[1]
    assert list(chain.first.invitations["yard_id"]) == [asked]
    assert not len(chain.second.invitations)
    assert asked in set(chain.second.plantings["yard_id"])
    walk = pd.read_csv(chain.home / "second" / "lists" / "walk-list.csv", dtype=str)
    assert walk[["yard_id", "answer"]].values.tolist() == [[asked, "asked on 2026-04-01: not at home"]]
    told = [english()(note) for note in chain.second.notes]
    assert any(asked in one and "on no list of whom to ask next" in one for one in told)
    study = habitat.read_study(chain.home / "study.toml")
    earlier = read_earlier(chain.home / "first", study, chain.second.layers)
    assert set(waiting(study, earlier)[0]) == {asked}
    assert waiting(study.changed(study={"date": dt.date(2027, 1, 1)}), earlier) == ({}, ())


def test_the_run_before_is_named_by_its_hash_and_what_was_edited_is_copied(chain):
    about = json.loads((chain.home / "second" / "run.json").read_text(encoding="utf-8"))
    first = chain.home / "first"
    assert about["after"] == {"folder": "first", "run_sha256": sha256_of(first / "run.json")}
    copy = chain.home / "second" / "as_edited" / "decisions.csv"
    assert copy.read_bytes() == (first / "decisions.csv").read_bytes()


def test_counts_of_the_package_are_those_by_status_and_of_the_points(chain):
    parts = chain.second.headline["by_status"]
    counts = chain.second.headline["counts"]
    assert sum(part["plants"] for part in parts.values()) == counts["plants"]
    assert sum(part["yards"] for part in parts.values()) == counts["yards_planned"]
    assert sum(part["cost"] for part in parts.values()) == pytest.approx(chain.second.headline["cost"])
    points = chain.second.plant_points.groupby("planting_id").size()
    assert points.to_dict() == chain.second.plantings.set_index("planting_id")["count"].to_dict()
