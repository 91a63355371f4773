"""Nothing lost: what a study reads, what no run wrote, and what somebody edited outlive every run."""

import hashlib
import json
import os
import shutil
import sqlite3
import sys
from pathlib import Path

import pytest

import habitat
from habitat.commands.run import job
from habitat.commands.run.job import RunOptions, run_job
from habitat.errors import LayerError, OutputError
from habitat.report import write as writing
from habitat.report import written
from habitat.report.outputs import OUTPUTS
from habitat.report.package.read_me import write_read_me
from habitat.report.write import write_plan
from habitat.report.written import look, naming_edits, sha256_of
from habitat.study.files import study_files
from tests.report.small_plan import small_plan

REPLACE = RunOptions(replace=True)


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"))


@pytest.fixture
def results(plan, tmp_path, monkeypatch):
    """Return a folder of results, written by quick writers."""
    monkeypatch.setattr(writing, "write_files", write_quickly)
    return write_plan(plan, tmp_path / "plan")


def write_quickly(plan, work, workers, tell):
    for name in ("run.json", "plan.gpkg", "maps/all.png"):
        (work / name).parent.mkdir(exist_ok=True)
        (work / name).write_text(f"{name} as written", encoding="utf-8")
    write_read_me(plan, work, [(output.name, output.words) for output in OUTPUTS])


@pytest.fixture
def study(tmp_path):
    """Return a study file beside its yards; reading goes no further than to see that the files are there."""
    folder = tmp_path / "street"
    folder.mkdir()
    (folder / "yards.geojson").write_text("{}", encoding="utf-8")
    return write_study(folder, "yards.geojson")


def write_study(folder, yards, more=""):
    path = folder / "study.toml"
    path.write_text(f'[study]\ndate = 2026-03-01\n[layers.yards]\npath = "{yards}"\n{more}', encoding="utf-8")
    return path


@pytest.fixture(autouse=True)
def never_works(monkeypatch):
    """Fail where a run begins its work: what is refused must be refused before."""
    monkeypatch.setattr(job, "run", lambda *a, **k: pytest.fail("the run began its work"))


def everything(folder):
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def refused(study, target, *words):
    """Check that a run is refused with these words, and leaves all as it was."""
    home = study.parent.parent
    before = everything(home)
    with pytest.raises(OutputError) as raised:
        run_job(study, target, REPLACE)
    for word in (*words, "another folder"):
        assert word in str(raised.value).replace("a new folder", "another folder")
    assert everything(home) == before


# --- the list ---------------------------------------------------------------------------------------------


def test_the_list_tells_every_file_with_its_hash(results):
    """Hashes agree with hashlib's own file digest."""
    listed = json.loads((results / "files.json").read_text(encoding="utf-8"))["sha256"]
    assert set(listed) == set(everything(results)) - {"files.json"}
    for name, told in listed.items():
        with (results / name).open("rb") as file:
            assert told is None or told == hashlib.file_digest(file, "sha256").hexdigest()
    assert [name for name, told in listed.items() if told is None] == ["timings.json"]
    assert "files.json" in (results / "READ_ME.txt").read_text(encoding="utf-8")


def test_equal_results_give_an_equal_list(results, plan, tmp_path):
    other = write_plan(plan, tmp_path / "other")
    assert (results / "files.json").read_bytes() == (other / "files.json").read_bytes()


# --- what was edited --------------------------------------------------------------------------------------


def test_results_as_written_make_room_without_a_trace(results, plan, tmp_path):
    told = []
    write_plan(plan, results, replace=True, told=told)
    assert [p.name for p in tmp_path.iterdir()] == ["plan"]
    assert told == []


@pytest.mark.parametrize("name", ["plan.gpkg", "maps/all.png", "READ_ME.txt", "timings.json"])
def test_edited_results_are_kept_beside_with_a_date_and_told(results, plan, tmp_path, name):
    (results / name).write_text("three evenings of work", encoding="utf-8")
    told = []
    write_plan(plan, results, replace=True, told=told)
    (aside,) = set(tmp_path.iterdir()) - {results}
    assert aside.name.startswith("plan-before-20")
    assert (aside / name).read_text(encoding="utf-8") == "three evenings of work"
    assert "as written" in (results / "plan.gpkg").read_text(encoding="utf-8")
    assert len(told) == 1
    assert name in told[0]
    assert str(aside) in told[0]


def test_edits_of_one_day_do_not_push_each_other_out(results, plan, tmp_path):
    for text in ("first", "second", "third"):
        (results / "plan.gpkg").write_text(text, encoding="utf-8")
        write_plan(plan, results, replace=True)
    kept = [p / "plan.gpkg" for p in sorted(tmp_path.iterdir()) if p != results]
    assert sorted(p.read_text(encoding="utf-8") for p in kept) == ["first", "second", "third"]


def test_an_edit_while_the_run_works_is_kept_too(results, plan, tmp_path, monkeypatch):
    def write_slowly(plan, work, workers, tell):
        (results / "plan.gpkg").write_text("saved meanwhile", encoding="utf-8")
        (results / "sketch.pdf").write_text("put there meanwhile", encoding="utf-8")
        write_quickly(plan, work, workers, tell)

    monkeypatch.setattr(writing, "write_files", write_slowly)
    write_plan(plan, results, replace=True)
    (aside,) = set(tmp_path.iterdir()) - {results}
    assert (aside / "plan.gpkg").read_text(encoding="utf-8") == "saved meanwhile"
    assert (aside / "sketch.pdf").read_text(encoding="utf-8") == "put there meanwhile"


@pytest.mark.parametrize("end", ["", "-read", "-read-2"])
def test_a_table_saved_as_a_workbook_goes_with_the_results(results, end):
    """Also one that was read since, which ``report.whole.put_aside`` names."""
    listed = json.loads((results / "files.json").read_text(encoding="utf-8"))
    (results / "decisions.csv").write_text("a table", encoding="utf-8")
    listed["sha256"]["decisions.csv"] = sha256_of(results / "decisions.csv")
    (results / "files.json").write_text(json.dumps(listed), encoding="utf-8")
    (results / f"decisions{end}.xlsx").write_bytes(b"a workbook")
    assert look(results).edited == (f"decisions{end}.xlsx",)
    assert look(results).foreign == ()


def test_what_a_gis_puts_beside_a_result_goes_with_it(results, plan, tmp_path):
    (results / "maps" / "all.png.aux.xml").write_text("statistics", encoding="utf-8")
    write_plan(plan, results, replace=True)
    (aside,) = set(tmp_path.iterdir()) - {results}
    assert (aside / "maps" / "all.png.aux.xml").read_text(encoding="utf-8") == "statistics"


@pytest.mark.parametrize("text", [None, "{", "[]", '{"sha256": {"plan.gpkg": 7}}'])
def test_results_without_a_list_are_kept_whole(results, plan, tmp_path, text):
    """An earlier version wrote no list, and nobody knows what was edited since."""
    (results / "files.json").unlink()
    if text is not None:
        (results / "files.json").write_text(text, encoding="utf-8")
    before, told = everything(results), []
    write_plan(plan, results, replace=True, told=told)
    (aside,) = set(tmp_path.iterdir()) - {results}
    assert everything(aside) == before
    assert "earlier version" in told[0]


def test_a_file_of_nobody_s_in_results_without_a_list_is_refused(results, plan):
    (results / "files.json").unlink()
    (results / "wedding.jpg").write_text("x", encoding="utf-8")
    with pytest.raises(OutputError, match=r"no run wrote 'wedding\.jpg'"):
        write_plan(plan, results, replace=True)


def test_what_waited_to_make_room_is_kept_if_it_was_edited(results, plan, tmp_path):
    """A run that is killed between its two moves leaves old results under a hidden name."""
    results.rename(tmp_path / ".plan.replaced")
    (tmp_path / ".plan.replaced" / "plan.gpkg").write_text("my own", encoding="utf-8")
    write_plan(plan, results, replace=True)
    with pytest.raises(OutputError, match="already"):
        write_plan(plan, results)
    kept = [p for p in tmp_path.iterdir() if p != results]
    assert [(p / "plan.gpkg").read_text(encoding="utf-8") for p in kept] == ["my own"]


@pytest.mark.parametrize("mine", ["", "my own"])
def test_what_had_just_given_its_place_is_kept_if_it_was_edited(results, plan, tmp_path, mine):
    """A run that is killed right after folders changed places leaves old results where it wrote."""
    old = tmp_path / ".plan.writing"
    shutil.copytree(results, old)
    if mine:
        (old / "plan.gpkg").write_text(mine, encoding="utf-8")
    told = []
    write_plan(plan, results, replace=True, told=told)
    kept = [p for p in tmp_path.iterdir() if p != results]
    assert [(p / "plan.gpkg").read_text(encoding="utf-8") for p in kept] == ([mine] if mine else [])
    assert [kept[0].name in line for line in told] == [True] if mine else not told


@pytest.mark.skipif(sys.platform != "linux", reason="a call that Linux has")
def test_results_change_places_in_one_step(results, plan, tmp_path, monkeypatch):
    """No moment without results: the target's folder is never moved away, it is another at once."""
    moved, rename = [], Path.rename
    monkeypatch.setattr(Path, "rename", lambda one, two: (moved.append(one), rename(one, two))[1])
    write_plan(plan, results, replace=True)
    assert results not in moved
    assert not writing.exchanged(results, tmp_path / "not there")


def test_results_are_replaced_where_no_system_call_helps(results, plan, tmp_path, monkeypatch):
    monkeypatch.setattr(writing, "exchanged", lambda one, two: False)
    write_plan(plan, results, replace=True)
    assert [p.name for p in tmp_path.iterdir()] == ["plan"]


def test_a_folder_under_the_name_for_writing_is_cleared_only_if_a_run_made_it(plan, results, tmp_path):
    (tmp_path / ".plan.writing").mkdir()
    (tmp_path / ".plan.writing" / "diary.txt").write_text("x", encoding="utf-8")
    with pytest.raises(OutputError, match="does not say that a run made it"):
        write_plan(plan, results, replace=True)
    assert (tmp_path / ".plan.writing" / "diary.txt").exists()


# --- what no run wrote, and what is open ------------------------------------------------------------------


@pytest.mark.parametrize("name", ["notes.txt", "maps/photo.jpg", "own/deep/sketch.dxf", "maps/all.png2"])
def test_a_file_that_no_run_wrote_is_named_and_nothing_is_replaced(results, study, name):
    (results / name).parent.mkdir(parents=True, exist_ok=True)
    (results / name).write_text("mine", encoding="utf-8")
    refused(study, results, f"no run wrote '{name}'")


def test_an_empty_folder_and_a_link_among_the_results_are_named(results, study, tmp_path):
    (results / "empty").mkdir()
    refused(study, results, "no run wrote 'empty/'")
    (results / "empty").rmdir()
    (tmp_path / "else.txt").write_text("x", encoding="utf-8")
    (results / "plan.gpkg").unlink()
    (results / "plan.gpkg").symlink_to(tmp_path / "else.txt")
    refused(study, results, "no run wrote 'plan.gpkg'")


def test_a_package_that_a_program_has_open_is_not_replaced(results, study):
    """As SQLite leaves it while a connection in write-ahead mode lives."""
    (results / "plan.gpkg").unlink()
    with sqlite3.connect(results / "plan.gpkg") as base:
        base.execute("pragma journal_mode = wal")
        base.execute("create table edits (x)")
        base.commit()
        assert (results / "plan.gpkg-wal").exists()
        refused(study, results, "'plan.gpkg' is open in another program")
    base.close()


# --- what the study reads ---------------------------------------------------------------------------------


def test_a_study_in_the_target_and_above_it_is_refused(study, tmp_path):
    refused(study, study.parent, "study's own folder")
    refused(study, tmp_path, "study's own folder")
    refused(study, Path(tmp_path.anchor), "study's own folder")
    link = tmp_path.parent / f"{tmp_path.name}-link"
    link.symlink_to(study.parent)
    refused(study, link, "study's own folder")


def test_a_study_in_a_folder_of_results_is_refused(results, tmp_path):
    """Results know nothing of it, but it is the study that decides, before the list is asked."""
    (results / "yards.geojson").write_text("{}", encoding="utf-8")
    refused(write_study(results, "yards.geojson"), results, "study's own folder")


def test_an_edited_plan_that_the_study_keeps_is_refused(results, study):
    (results / "plan.gpkg").write_text("edited in a GIS", encoding="utf-8")
    write_study(study.parent, "yards.geojson", '[layers.keep]\npath = "../plan/plan.gpkg"\n')
    refused(study, results, "reads '../plan/plan.gpkg'", "move the file out")


def test_an_unedited_plan_that_the_study_keeps_is_refused(results, study):
    write_study(study.parent, "yards.geojson", '[layers.keep]\npath = "../plan/plan.gpkg"\n')
    refused(study, results, "reads '../plan/plan.gpkg'")


def test_an_input_that_links_into_the_target_is_refused(results, study):
    (study.parent / "keep.gpkg").symlink_to(results / "plan.gpkg")
    write_study(study.parent, "yards.geojson", '[layers.keep]\npath = "keep.gpkg"\n')
    refused(study, results, "reads 'keep.gpkg'")


@pytest.mark.parametrize(
    "more",
    [
        '[rasters.ph]\npath = "../plan/maps/all.png"\n',
        '[rasters.texture]\npath = "yards.geojson"\nclasses = "../plan/run.json"\n',
        '[knowledge]\nplants = "../plan/run.json"\n',
        '[connectivity]\ncrossing_costs = "../plan/run.json"\n',
        '[layers.trees]\npath = "../plan/maps"\n',
        '[layers.trees]\npath = ".."\n',
    ],
)
def test_every_kind_of_input_in_the_target_is_refused(results, study, more):
    write_study(study.parent, "yards.geojson", more)
    refused(study, results, "the study reads")


def test_a_tile_of_a_virtual_raster_in_the_target_is_refused(results, study):
    (study.parent / "ph.vrt").write_text(
        '<VRTDataset rasterXSize="1" rasterYSize="1"><VRTRasterBand band="1"><SimpleSource>'
        '<SourceFilename relativeToVRT="1">../plan/maps/all.png</SourceFilename>'
        "</SimpleSource></VRTRasterBand></VRTDataset>",
        encoding="utf-8",
    )
    write_study(study.parent, "yards.geojson", '[rasters.ph]\npath = "ph.vrt"\n')
    refused(study, results, "the study reads '../plan/maps/all.png'")


def test_a_place_that_takes_no_files_is_refused_before_any_work(study, tmp_path, monkeypatch):
    (tmp_path / "shut").mkdir()
    able = os.access
    monkeypatch.setattr(os, "access", lambda path, mode: Path(path).name != "shut" and able(path, mode))
    refused(study, tmp_path / "shut" / "deep" / "plan", "cannot be written")
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    refused(study, tmp_path / "file" / "plan", "cannot be written")


def test_a_target_reached_by_a_link_keeps_the_link(results, plan, tmp_path):
    link = tmp_path / "newest"
    link.symlink_to(results)
    (results / "plan.gpkg").write_text("edited", encoding="utf-8")
    assert write_plan(plan, link, replace=True) == link
    assert link.is_symlink()
    assert "as written" in (results / "plan.gpkg").read_text(encoding="utf-8")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root reads everything")
def test_results_that_cannot_be_read_are_refused(results, study):
    (results / "plan.gpkg").chmod(0)
    refused(study, results, "cannot be read")


# --- which files reading opens ----------------------------------------------------------------------------


def test_files_that_go_with_an_input_are_known(study):
    folder = study.parent
    names = "town.shp town.SHX town.dbf town.prj town.cpg town.qix town.shp.xml ph.tif ph.tif.aux.xml "
    names += "ph.tif.ovr ph.tif.msk ph.tfw a.gpkg a.gpkg-wal"
    for name in f"{names} town.txt townhall.prj ph.csv a.gpkg-shm".split():
        (folder / name).write_text(name, encoding="utf-8")
    (folder / "b.gpkg").write_text("b", encoding="utf-8")
    (folder / "b.gpkg-wal").touch()  # an empty log says nothing
    write_study(
        folder,
        "town.shp",
        '[layers.trees]\npath = "a.gpkg"\n[layers.water]\npath = "b.gpkg"\n[rasters.ph]\npath = "ph.tif"\n',
    )
    assert set(study_files(habitat.read_study(study))) == {"study.toml", "b.gpkg", *names.split()}


def test_files_of_equal_name_in_a_folder_stay_apart(study):
    for part in ("north", "south"):
        (study.parent / "tiles" / part).mkdir(parents=True)
        (study.parent / "tiles" / part / "trees.geojson").write_text(part, encoding="utf-8")
    write_study(study.parent, "yards.geojson", '[layers.trees]\npath = "tiles"\n')
    found = study_files(habitat.read_study(study))
    assert {"tiles/north/trees.geojson", "tiles/south/trees.geojson"} <= set(found)


def test_a_damaged_virtual_raster_and_one_in_a_circle_are_left_to_reading(study):
    (study.parent / "ph.vrt").write_text("<VRTDataset><oops", encoding="utf-8")
    circle = "<VRTDataset><SourceFilename>salt.vrt</SourceFilename></VRTDataset>"
    (study.parent / "salt.vrt").write_text(circle, encoding="utf-8")
    write_study(
        study.parent, "yards.geojson", '[rasters.ph]\npath = "ph.vrt"\n[rasters.salt]\npath = "salt.vrt"\n'
    )
    assert {"ph.vrt", "salt.vrt"} <= set(study_files(habitat.read_study(study)))


def test_a_list_cannot_send_the_clearing_elsewhere(results, plan, tmp_path):
    """Names in the list that climb out of the folder are matched with nothing in it, so nothing happens."""
    (tmp_path / "diary.txt").write_text("x", encoding="utf-8")
    told = json.loads((results / "files.json").read_text(encoding="utf-8"))
    told["sha256"]["../diary.txt"] = written.sha256_of(tmp_path / "diary.txt")
    (results / "files.json").write_text(json.dumps(told), encoding="utf-8")
    write_plan(plan, results, replace=True)
    assert (tmp_path / "diary.txt").exists()


def test_what_fails_over_edited_results_names_them_and_over_others_is_a_fault(results):
    with pytest.raises(KeyError), naming_edits(results, None):
        raise KeyError("ours")
    with pytest.raises(OutputError, match="known"), naming_edits(results):
        raise OutputError("known", "there", "Mend it")
    (results / "plan.gpkg").write_bytes(b"edited")
    said = r"'plan\.gpkg' is not as the run wrote it.*\(KeyError: 'yard_id'\)"
    with pytest.raises(LayerError, match=said), naming_edits(None, results):
        raise KeyError("yard_id")
