"""Results of an earlier run are read back as they were, or refused with what is wrong."""

import json
import shutil
from dataclasses import replace
from types import SimpleNamespace

import pandas as pd
import pytest
import shapely
from shapely import affinity

import habitat
from habitat.commands.run.job import refuse_earlier
from habitat.errors import HabitatError
from habitat.planting.settled import Carried, Round
from habitat.report.words.en import english
from habitat.revision.deciding import decide
from habitat.revision.earlier import kept_plans, read_earlier, settled_layers
from tests.report.small_plan import small_plan


def plan_of(tmp_path, **sections):
    plan = small_plan(tmp_path, **sections)
    order = tuple(plan.yard_results["yard_id"])
    about = plan.run_info | {"crs": plan.layers.crs.to_string()}
    return replace(plan, carried=Carried(order, (Round(),)), run_info=about)


@pytest.fixture
def plan(tmp_path):
    return plan_of(tmp_path)


@pytest.fixture
def results(plan, tmp_path):
    return habitat.write_plan(plan, tmp_path / "out")


def test_kept_plans_are_the_rows_of_the_earlier_run_to_the_bit(plan, results):
    decide(results, yards=["0007", "0013"], status="accepted", date="2026-05-01")
    decide(results, yards=["0021"], status="planted", date="2026-05-01")
    decide(results, yards=["0012"], status="declined", date="2026-05-01")
    earlier = read_earlier(results, plan.study, plan.layers)
    assert earlier.kept == {"0007", "0013", "0021"}
    kept = kept_plans(earlier, earlier.kept)
    assert kept.planted == {"0021"}
    tables = ((kept.drawn.beds, plan.beds), (kept.drawn.plantings, plan.plantings))
    for mine, whole in (*tables, (kept.drawn.points, plan.plant_points)):
        was = whole[whole["yard_id"].isin(earlier.kept)].reset_index(drop=True)
        assert len(was)
        for column in was.columns:
            if column == "geometry":
                same = shapely.normalize(mine.geometry.to_numpy()) == shapely.normalize(
                    was.geometry.to_numpy()
                )
                assert same.all()
            else:
                assert mine[column].tolist() == was[column].tolist(), column


def test_only_those_who_declined_lose_their_part(plan, results):
    decide(results, yards=["0012"], status="declined", date="2026-05-01")
    layers, notes = settled_layers(plan.layers, read_earlier(results, plan.study, plan.layers))
    roles = dict(zip(layers.yards["yard_id"], layers.yards["role"], strict=True))
    assert roles == dict(zip(plan.layers.yards["yard_id"], plan.layers.yards["role"], strict=True)) | {
        "0012": "other"
    }
    assert notes == ()


@pytest.mark.parametrize(("shift_m", "told"), [(0.05, 0), (0.5, 1)])
def test_a_kept_plan_keeps_its_outline_and_a_survey_anew_is_told(plan, results, shift_m, told):
    decide(results, yards=["0007"], status="accepted", date="2026-05-01")
    yards = plan.layers.yards
    moved = yards.set_geometry(yards.geometry.map(lambda shape: affinity.translate(shape, shift_m, 0.0)))
    vectors = plan.layers.vectors | {"yards": replace(plan.layers.vectors["yards"], frame=moved)}
    layers, notes = settled_layers(
        replace(plan.layers, vectors=vectors), read_earlier(results, plan.study, plan.layers)
    )
    shapes = layers.yards.set_index("yard_id").geometry
    assert shapes["0007"].equals(yards.set_index("yard_id").geometry["0007"])
    assert shapes["0012"].equals(moved.set_index("yard_id").geometry["0012"])
    assert len(notes) == told
    if told:
        assert english()(notes[0]).startswith("yard 0007: its outline moved by up to 0.5 m")


@pytest.mark.parametrize(
    ("lost", "said"),
    [
        ("decisions.csv", "nobody can tell which plans are accepted"),
        ("for_next_run.json", "nobody can tell what was settled"),
        ("plan.gpkg", "no results of a run here"),
        ("run.json", "no results of a run here"),
    ],
)
def test_a_file_that_is_missing_is_named(plan, results, lost, said):
    (results / lost).unlink()
    with pytest.raises(HabitatError, match=said) as caught:
        read_earlier(results, plan.study, plan.layers)
    assert lost in str(caught.value)


def test_results_for_the_public_of_another_study_or_elsewhere_are_refused(plan, results, tmp_path):
    public = habitat.write_plan(plan_of(tmp_path, report={"audience": "public"}), tmp_path / "public")
    with pytest.raises(HabitatError, match="for the public"):
        read_earlier(public, plan.study, plan.layers)
    other = plan.study.changed(study={"name": "Another street"})
    with pytest.raises(HabitatError, match="another study"):
        read_earlier(results, other, plan.layers)
    about = json.loads((results / "run.json").read_text(encoding="utf-8"))
    (results / "run.json").write_text(json.dumps(about | {"crs": "EPSG:32618"}), encoding="utf-8")
    with pytest.raises(HabitatError, match="EPSG:32618"):
        read_earlier(results, plan.study, plan.layers)


def test_a_damaged_file_is_named(plan, results):
    (results / "for_next_run.json").write_text("{}", encoding="utf-8")
    with pytest.raises(HabitatError, match=r"for_next_run\.json cannot be read"):
        read_earlier(results, plan.study, plan.layers)
    (results / "plan.gpkg").write_bytes(b"no database")
    (results / "for_next_run.json").write_text(
        json.dumps(
            {
                "order": [],
                "rounds": [{"weights": [], "neighbour_nectar": {}}],
                "relaxed": {},
                "fit": {},
                "drawn": {},
                "study": "",
                "survival": [],
                "history": [],
            }
        ),
        encoding="utf-8",
    )
    with pytest.raises(HabitatError, match=r"plan\.gpkg, layer yards: it cannot be read"):
        read_earlier(results, plan.study, plan.layers)


def test_a_season_form_is_not_asked_for_where_results_are_drawn_anew(plan, results):
    form = pd.DataFrame(
        {"run": ["m0"], "planting_id": [plan.plantings["planting_id"][0]], "planted": ["all"]}
    )
    layers = SimpleNamespace(crs=plan.layers.crs, yards=plan.layers.yards, frame={"season": form}.get)
    with pytest.raises(HabitatError, match="form is of another run"):
        read_earlier(results, plan.study, layers)
    assert read_earlier(results, plan.study, layers, season=False).season.told == {}


def test_results_are_not_written_over_those_they_follow(results):
    for target in (results, results / "inside", results.parent):
        with pytest.raises(HabitatError, match="--after"):
            refuse_earlier(target, results)
    refuse_earlier(results.with_name("next"), results)


def test_what_was_decided_is_carried_on_with_every_row(plan, results):
    path = results / "decisions.csv"
    path.write_text("yard_id,status,rang\n0007,maybe,yes\n99,planted,\n", encoding="utf-8")
    earlier = read_earlier(results, plan.study, plan.layers)
    assert earlier.as_came == {"decisions.csv": path.read_bytes()}
    assert earlier.kept == {"0007"}
    table = earlier.decisions.with_drafts(plan.layers.yards, ["0007", "0012"], "2027-01-01")
    assert table["yard_id"].tolist() == ["0007", "0012", "99"]
    assert table["status"].tolist() == ["maybe", "draft", "planted"]
    assert pd.isna(table).sum().sum() == 0


def test_a_text_that_somebody_changed_is_kept_as_it_reads(plan, results):
    shutil.copy(results / "for_next_run.json", results / "copy.json")
    earlier = read_earlier(results, plan.study, plan.layers)
    text = earlier.tables["yard_results"].assign(relaxed="no room by the gate")
    kept = kept_plans(replace(earlier, tables=earlier.tables | {"yard_results": text}), ["0007"])
    assert kept.results["relaxed"].tolist() == ["no room by the gate"]


def test_who_takes_part_by_the_decisions_is_a_member_and_is_told(results, plan):
    """A yard that was asked and joined is a draft; one that said no stays away whatever else its row says."""
    path = results / "decisions.csv"
    table = pd.read_csv(path, dtype=str, encoding="utf-8-sig").fillna("")
    yards = plan.layers.yards
    one, two = yards.loc[yards["role"] != "member", "yard_id"].iloc[:2]
    rows = [{"yard_id": one, "status": "asked", "date": "2026-01-05", "takes_part": "yes"}]
    rows += [{"yard_id": two, "status": "said no", "date": "2026-01-05", "takes_part": "yes"}]
    kept = table[~table["yard_id"].isin([one, two])]
    pd.concat([kept, pd.DataFrame(rows)]).fillna("").to_csv(path, index=False)
    earlier = read_earlier(results, plan.study, plan.layers)
    assert earlier.decisions.status()[one] == "draft"
    layers, notes = settled_layers(plan.layers, earlier)
    roles = layers.yards.set_index("yard_id")["role"]
    assert roles[[one, two]].tolist() == ["member", "other"]
    (told,) = [n for n in notes if n.kind == "joined_by_decision"]
    assert told.subject.yards == (one,)
