"""What is saved is what ``redraw`` and the next run read, and nothing of anybody's is written over."""

from pathlib import Path

import pandas as pd
import pyogrio
import pytest

import habitat
from habitat.errors import OutputError
from habitat.pipeline.alone import alone_in
from habitat.report.write import MARK
from habitat.report.written import sha256_of
from habitat.what_if.base import FILES, hashes
from habitat.what_if.session import Session

STEPS = (
    lambda s: {"do": "move", "yard": "A1", "bed": bed(s, "A1"), "east_m": 0.3, "north_m": -0.2},
    lambda s: {"do": "count", "yard": "A1", "planting": plantings(s, "A1")[0], "count": 9},
    lambda s: {"do": "swap", "yard": "A2", "planting": plantings(s, "A2")[0], "plant": "wild bergamot"},
    lambda s: {"do": "strike", "yard": "A2", "planting": plantings(s, "A2")[1]},
    lambda s: {"do": "reshape", "yard": "A5", "bed": bed(s, "A5"), "ring": wider(s, "A5")},
    lambda s: {"do": "join", "yard": "A3"},
    lambda s: {"do": "join", "yard": "A4"},
    lambda s: {"do": "move", "yard": "A4", "bed": bed(s, "A4"), "east_m": 0.2, "north_m": 0.0},
    lambda s: {"do": "drop", "yard": "A2"},
)


def bed(session, yard):
    return session.state.raw.beds.query("yard_id == @yard")["bed_id"].iloc[0]


def plantings(session, yard):
    return session.state.raw.plantings.query("yard_id == @yard")["planting_id"].tolist()


def wider(session, yard):
    shape = session.state.raw.beds.query("yard_id == @yard").geometry.iloc[0]
    return [list(c) for c in shape.convex_hull.buffer(0.2, join_style="mitre").exterior.coords[:-1]]


@pytest.fixture
def tried(session):
    for step in STEPS:
        session.step(step(session), session.version)
    return session


def test_what_is_saved_and_drawn_anew_comes_to_what_the_page_told(tried, street):
    """Members' figures, counts and money, by the whole job without any memory of the session."""
    told, drawn = tried.state.found.headline, tried.state.drawn
    assert told["together"]["members"]["broods"] > told["together"]["today"]["broods"]
    tried.save(tried.version)
    plan = habitat.run(habitat.read_study(street.path), after=tried.folder, redraw=True)
    for state in ("today", "members"):
        for figure, value in told["together"][state].items():
            assert plan.headline["together"][state][figure] == pytest.approx(value, rel=1e-9), figure
    for key in ("cost", "cost_of_members", "cost_to_buy"):
        assert plan.headline[key] == pytest.approx(told[key]), key
    assert plan.headline["counts"] == told["counts"]
    for now, then in (
        (plan.beds, drawn.beds),
        (plan.plantings, drawn.plantings),
        (plan.plant_points, drawn.points),
    ):
        assert len(now) == len(then)
        assert (now.geometry.to_numpy() == then.geometry.to_numpy()).all()
    accounts = tried.state.accounts.yard_butterflies.set_index(["yard_id", "butterfly"])["habitat_m2"]
    again = plan.yard_butterflies.set_index(["yard_id", "butterfly"])["habitat_m2"]
    pd.testing.assert_series_equal(again[accounts.index], accounts, check_dtype=False)


def test_who_joined_and_left_stands_in_the_decisions_and_the_next_run_obeys(tried, street):
    tried.save(tried.version)
    table = pd.read_csv(tried.folder / "decisions.csv", dtype=str, encoding="utf-8-sig").fillna("")
    rows = table.set_index("yard_id")
    assert rows.loc[["A3", "A4"], "takes_part"].tolist() == ["yes", "yes"]
    assert rows.loc[["A3", "A4"], "status"].tolist() == ["draft", "draft"]
    assert rows.loc["A2", ["status", "takes_part"]].tolist() == ["declined", ""]
    plan = habitat.run(habitat.read_study(street.path), after=tried.folder)
    roles = plan.yards.set_index("yard_id")["role"]
    assert roles[["A1", "A2", "A3", "A4", "A5"]].tolist() == ["member", "other", "member", "member", "member"]
    assert {"A3", "A4"} <= set(plan.plantings["yard_id"])
    assert "A2" not in set(plan.plantings["yard_id"])
    told = next(n for n in plan.notes if getattr(n, "kind", "") == "joined_by_decision")
    assert told.subject.yards == ("A3", "A4")


def test_a_plan_that_the_planner_made_is_no_handwork(session, street):
    session.step({"do": "join", "yard": "A4"}, session.version)
    session.save(session.version)
    plan = habitat.run(habitat.read_study(street.path), after=session.folder, redraw=True)
    assert "A4" in set(plan.plantings["yard_id"])
    assert dict(plan.edits[0].facts)["changed"] == 0


def test_nothing_is_written_before_saving_and_only_the_edits_then(session):
    was = hashes(session.folder)
    session.step(STEPS[0](session), session.version)
    assert hashes(session.folder) == was
    session.save(session.version)
    changed = {name for name in FILES if hashes(session.folder)[name] != was[name]}
    assert changed == {"plan.gpkg"}
    assert [p.name for p in session.folder.parent.iterdir()] == ["results"]
    layers = {name for name, _ in pyogrio.list_layers(session.folder / "plan.gpkg")}
    assert {"beds", "plantings", "plant_points", "yards", "yard_results", "existing_plants"} <= layers


def test_what_changed_on_the_disk_meanwhile_is_not_written_over(session):
    session.step(STEPS[0](session), session.version)
    path = session.folder / "decisions.csv"
    path.write_bytes(path.read_bytes() + b"A6 <b>x,,declined,2026-04-01,moved away\r\n")
    was = hashes(session.folder)
    with pytest.raises(
        OutputError, match=r"decisions\.csv changed on the disk since these results were opened"
    ):
        session.save(session.version)
    assert hashes(session.folder) == was
    assert session.dirty


def test_a_run_at_work_there_is_waited_for(session):
    session.step(STEPS[0](session), session.version)
    with alone_in(session.folder), pytest.raises(OutputError, match="another run"):
        session.save(session.version)


def test_a_file_that_cannot_be_written_leaves_all_as_it_was(session, monkeypatch):
    session.step({"do": "drop", "yard": "A2"}, session.version)
    was = hashes(session.folder)
    monkeypatch.setattr(
        "habitat.what_if.saving.write_table", lambda *_: (_ for _ in ()).throw(OSError(28, "disk full"))
    )
    with pytest.raises(OutputError, match="disk full"):
        session.save(session.version)
    assert hashes(session.folder) == was
    assert [p.name for p in session.folder.parent.iterdir()] == ["results"]


def test_a_file_that_cannot_be_replaced_puts_the_others_back(session, monkeypatch):
    """As on a system where a table that is open elsewhere may not be replaced."""
    session.step({"do": "drop", "yard": "A2"}, session.version)
    was, replace = hashes(session.folder), Path.replace

    def held(self, target):
        if Path(target).name == "decisions.csv":
            raise PermissionError(13, "it is open elsewhere")
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", held)
    with pytest.raises(OutputError, match="it is open elsewhere"):
        session.save(session.version)
    assert hashes(session.folder) == was
    assert session.dirty


def test_undone_after_saving_is_saved_as_it_was(session):
    """The second time the first state is written again, decisions and marks too."""
    session.step({"do": "join", "yard": "A4"}, session.version)
    session.save(session.version)
    joined = sha256_of(session.folder / "for_next_run.json")
    session.undo(session.version)
    assert session.dirty
    session.save(session.version)
    table = pyogrio.read_dataframe(session.folder / "plan.gpkg", layer="plantings", read_geometry=False)
    assert "A4" not in set(table["yard_id"])
    assert sha256_of(session.folder / "for_next_run.json") != joined
    rows = pd.read_csv(session.folder / "decisions.csv", dtype=str, encoding="utf-8-sig").fillna("")
    assert not (rows.get("takes_part", pd.Series("", rows.index)) == "yes").any()


def test_what_was_saved_is_what_is_opened_next(tried, street):
    told, new = tried.state.found.headline, tried.state.new
    tried.save(tried.version)
    again = Session(tried.folder, street.path)
    now = again.state.found.headline
    assert now["together"]["members"] == pytest.approx(told["together"]["members"])
    assert now["counts"] == told["counts"]
    assert set(new) == {"A4"}
    again.step({"do": "drop", "yard": "A4"}, again.version)
    again.save(again.version)
    plan = habitat.run(habitat.read_study(street.path), after=tried.folder, redraw=True)
    assert plan.headline["together"]["members"] == pytest.approx(
        again.state.found.headline["together"]["members"]
    )
    assert plan.headline["counts"] == again.state.found.headline["counts"]


def test_who_joined_and_left_again_leaves_no_trace(session, street):
    for do in ("join", "drop"):
        session.step({"do": do, "yard": "A4"}, session.version)
    session.save(session.version)
    plan = habitat.run(habitat.read_study(street.path), after=session.folder, redraw=True)
    assert [n.kind for n in plan.edits] == ["redrawn"]
    assert plan.headline["counts"] == session.first.found.headline["counts"]


def test_a_workbook_of_decisions_is_read_and_put_aside(session, street, results):
    table = pd.read_csv(results / "decisions.csv", dtype=str, encoding="utf-8-sig")
    table.assign(note="by phone").to_excel(results / "decisions.xlsx", index=False)
    (results / "decisions.csv").unlink()
    opened = Session(results, street.path)
    opened.step({"do": "drop", "yard": "A2"}, opened.version)
    opened.save(opened.version)
    rows = pd.read_csv(results / "decisions.csv", dtype=str, encoding="utf-8-sig").set_index("yard_id")
    assert rows.loc["A2", ["status", "note"]].tolist() == ["declined", "by phone"]
    assert not (results / "decisions.xlsx").exists()
    assert (results / "decisions-read.xlsx").is_file()


def test_a_folder_of_somebodys_own_beside_the_results_is_left_alone(session):
    """One that a save which was killed left is cleared away."""
    session.step(STEPS[0](session), session.version)
    work = session.folder.with_name(f".{session.folder.name}.saving")
    work.mkdir()
    (work / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match="does not say that a run made it"):
        session.save(session.version)
    assert (work / "mine.txt").read_text(encoding="utf-8") == "mine"
    (work / MARK).touch()
    session.save(session.version)
    assert not work.exists()


def test_results_reached_by_a_link_are_saved_where_they_are(street, results, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    link = tmp_path / "elsewhere" / "link"
    link.symlink_to(results)
    opened, was = Session(link, street.path), hashes(results)
    opened.step(STEPS[0](opened), opened.version)
    opened.save(opened.version)
    assert link.is_symlink()
    assert hashes(results) != was
    assert [p.name for p in (tmp_path / "elsewhere").iterdir()] == ["link"]
