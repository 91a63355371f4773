"""A run that died goes on where it was, with equal results; nothing but its own stages is believed."""

import importlib
import json
import os
import pickle
import shutil
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from affine import Affine
from shapely.geometry import Point, box

import habitat
from habitat.commands.run import job
from habitat.commands.run.job import RunOptions, run_job
from habitat.errors import OutputError
from habitat.pipeline import checkpoints
from habitat.pipeline.checkpoints import Checkpoints, cache_folder, code_hash, run_key, stage_folder

pipeline = importlib.import_module("habitat.pipeline.run")
WEST, SOUTH = 337_500.0, 4_418_200.0
STUDY = """\
[study]
date = 2026-03-01
crs = "EPSG:32617"
[layers.yards]
path = "yards.shp"
[layers.participants]
path = "participants.csv"
[layers.plants]
path = "plants.gpkg"
[layers.buildings]
path = "houses.gpkg"
[rasters.ph]
path = "ph.tif"
[planting]
wishes = ["Danaus plexippus", "Papilio polyxenes"]
"""
STAGES = ("layers", "site", "planting-1", "weighed-1", "planting-2", "weighed-2", "connectivity")
WORKERS = {"layers": "read_layers", "site": "survey", "connectivity": "_corridor"}
WORKERS |= {f"planting-{i}": "plan_round" for i in (1, 2)} | {f"weighed-{i}": "_weighed" for i in (1, 2)}


@pytest.fixture(scope="module")
def street(tmp_path_factory):
    """Return a study of four yards: a shapefile, packages, a table and a raster."""
    folder = tmp_path_factory.mktemp("street")
    boxes = [box(WEST + 40 * i, SOUTH, WEST + 40 * i + 35, SOUTH + 40) for i in range(4)]
    gpd.GeoDataFrame({"yard_id": list("abcd")}, geometry=boxes, crs=32617).to_file(folder / "yards.shp")
    houses = [g.centroid.buffer(5, cap_style="square") for g in boxes]
    gpd.GeoDataFrame({"height_m": [6.0] * 4}, geometry=houses, crs=32617).to_file(folder / "houses.gpkg")
    plants = [Point(WEST + 5, SOUTH + 5), Point(WEST + 50, SOUTH + 6)]
    gpd.GeoDataFrame(
        {"plant": ["Zizia aurea", "no such plant"], "count": [3, 1]}, geometry=plants, crs=32617
    ).to_file(folder / "plants.gpkg")
    (folder / "participants.csv").write_text(
        "yard_id,role,publish\na,member,yes\nb,candidate,yes\nc,member,no\n", encoding="utf-8"
    )
    with rasterio.open(
        folder / "ph.tif", "w", driver="GTiff", height=12, width=24, count=1, dtype="float32",
        crs="EPSG:32617", transform=Affine(10, 0, WEST - 40, 0, -10, SOUTH + 80),
    ) as out:  # fmt: skip
        out.write(np.full((12, 24), 6.5, "float32"), 1)
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def whole(street, tmp_path_factory):
    """Return the results of a run that nothing interrupted."""
    folder = tmp_path_factory.mktemp("whole") / "plan"
    assert run_job(street / "study.toml", folder, RunOptions())["exit"] == 0
    return folder


@pytest.fixture
def cache(tmp_path, monkeypatch):
    monkeypatch.setattr(checkpoints, "cache_folder", lambda: tmp_path / "cache" / "habitat")
    return tmp_path / "cache" / "habitat"


def results(folder):
    return {
        str(p.relative_to(folder)): p.read_bytes()
        for p in sorted(folder.rglob("*"))
        if p.is_file() and p.name != "timings.json"
    }


def dies(*_):
    raise KeyboardInterrupt


def die_at(monkeypatch, street, target, stage):
    """Let a run die when it begins a stage."""
    calls, worker = [], getattr(pipeline, WORKERS[stage])

    def work(*arguments):
        calls.append(1)
        return dies() if len(calls) == (2 if stage.endswith("-2") else 1) else worker(*arguments)

    with monkeypatch.context() as patch:
        patch.setattr(pipeline, WORKERS[stage], work)
        with pytest.raises(KeyboardInterrupt):
            run_job(street / "study.toml", target, RunOptions())


def go_on(monkeypatch, street, target, kept=()):
    """Go on with a run; the stages that were kept must not be worked again."""
    with monkeypatch.context() as patch:
        for name in kept:
            if not name.endswith("-1"):
                patch.setattr(pipeline, WORKERS[name], lambda *a: pytest.fail("worked again"))
        return run_job(street / "study.toml", target, RunOptions(resume=True, replace=True))


# --- going on ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("stage", ["site", "planting-2", "connectivity"])
def test_a_run_that_died_goes_on_with_equal_bytes(street, whole, cache, tmp_path, monkeypatch, stage):
    target = tmp_path / "plan"
    die_at(monkeypatch, street, target, stage)
    done = STAGES[: STAGES.index(stage)]
    assert {p.name.split(".")[0] for p in cache.rglob("*.stage")} == set(done)
    told = go_on(monkeypatch, street, target, done if stage == "connectivity" else done[:2])["summary"]
    assert results(target) == results(whole)
    assert not [line for line in told if "stage" in line.lower()]
    assert not list(cache.rglob("*.stage"))


def test_a_killed_run_goes_on_and_leaves_nothing_beside_public_results(street, whole, tmp_path):
    """SIGKILL at the last stage, in a process of its own; then the command itself goes on."""
    target, cache = tmp_path / "out" / "plan", tmp_path / "cache"
    target.parent.mkdir()
    script = (
        "import importlib, os, signal, sys; from pathlib import Path\n"
        "from habitat.commands.run.job import *\n"
        "r = importlib.import_module('habitat.pipeline.run')\n"
        "r._corridor = lambda *a: os.kill(os.getpid(), signal.SIGKILL)\n"
        "run_job(Path(sys.argv[1]), Path(sys.argv[2]), RunOptions(audience='public'))\n"
    )
    home = str(Path(habitat.__file__).parents[1])
    known = {**os.environ, "PYTHONPATH": home, "XDG_CACHE_HOME": str(cache), "HOME": str(tmp_path),
             "LOCALAPPDATA": str(cache)}  # fmt: skip
    study = str(street / "study.toml")
    died = subprocess.run([sys.executable, "-c", script, study, str(target)], env=known, check=False)
    assert died.returncode == -signal.SIGKILL
    assert list(target.parent.iterdir()) == []
    assert len(list(cache.rglob("*.stage"))) == 6
    again = [sys.executable, "-m", "habitat", "run", study, "--out", str(target), "--resume", "--quiet"]
    subprocess.run([*again, "--audience", "public"], env=known, check=True)
    assert [p.name for p in target.parent.iterdir()] == ["plan"]
    assert not list(cache.rglob("*.stage"))
    assert json.loads((target / "run.json").read_text(encoding="utf-8"))["audience"] == "public"


def test_stages_are_for_their_owner_s_eyes_only(street, cache, tmp_path, monkeypatch):
    (cache / "stages").mkdir(parents=True)
    (cache / "stages").chmod(0o777)
    die_at(monkeypatch, street, tmp_path / "plan", "site")
    made = [cache, *cache.rglob("*")]
    assert {stat.S_IMODE(p.stat().st_mode) for p in made if p.is_dir()} == {0o700}
    assert {stat.S_IMODE(p.stat().st_mode) for p in made if p.is_file()} == {0o600}
    assert [p.name for p in tmp_path.iterdir()] == ["cache"]


def test_work_is_kept_when_only_the_place_for_it_is_wrong(street, whole, cache, tmp_path, monkeypatch):
    target, write = tmp_path / "plan", job.write_plan

    def full(*_, **__):
        raise OutputError("the results cannot be written (No space left)", "plan", "Make room")

    monkeypatch.setattr(job, "write_plan", full)
    with pytest.raises(OutputError, match="No space left"):
        run_job(street / "study.toml", target, RunOptions())
    monkeypatch.setattr(job, "write_plan", write)
    go_on(monkeypatch, street, target, STAGES)
    assert results(target) == results(whole)


def test_a_run_that_does_not_go_on_begins_anew(street, cache, tmp_path, monkeypatch):
    die_at(monkeypatch, street, tmp_path / "plan", "planting-1")
    monkeypatch.setattr(pipeline, "read_layers", dies)
    with pytest.raises(KeyboardInterrupt):
        run_job(street / "study.toml", tmp_path / "plan", RunOptions())
    assert not list(cache.rglob("*.stage"))


# --- what is not believed ---------------------------------------------------------------------------------


class Planted:
    """Runs code when it is unpickled."""

    def __init__(self, path):
        self.path = path

    def __reduce__(self):
        return os.mkdir, (str(self.path),)


def kept_stage(cache, name):
    (path,) = cache.rglob(f"{name}.*.stage")
    return path


def test_a_planted_pickle_does_nothing(street, whole, cache, tmp_path, monkeypatch):
    target, trap = tmp_path / "plan", tmp_path / "trap"
    planted = pickle.dumps(Planted(trap))
    die_at(monkeypatch, street, target, "planting-1")
    kept_stage(cache, "layers").write_bytes(planted)
    old = tmp_path / ".plan.unfinished"
    old.mkdir()
    for name in STAGES:
        (old / f"{name}.{run_key(habitat.read_study(street), ())[:16]}.stage").write_bytes(planted)
    told = go_on(monkeypatch, street, target)["summary"]
    assert not trap.exists()
    assert results(target) == results(whole)
    assert [line for line in told if "'layers' cannot be used" in line]
    assert [line for line in told if str(old) in line and "delete it" in line]
    pickle.loads(planted)  # the trap itself is sound
    assert trap.exists()


def other_class(data):
    """Return a stage with a right digest that names a class which no stage has."""
    import hashlib

    tree = b'["made","Popen",["dict",["args"],["true"]]]'
    head = json.loads(data.split(b"\n", 1)[0])
    body = json.dumps({**head, "tree": len(tree), "data": 0}).encode() + b"\n" + tree
    return body + hashlib.sha256(body).digest()


HARM = {
    "flipped at the start": lambda d: bytes([d[0] ^ 1]) + d[1:],
    "flipped in the middle": lambda d: d[: len(d) // 2] + bytes([d[len(d) // 2] ^ 16]) + d[len(d) // 2 + 1 :],
    "flipped at the end": lambda d: d[:-1] + bytes([d[-1] ^ 128]),
    "cut": lambda d: d[: len(d) // 3],
    "empty": lambda _: b"",
    "longer": lambda d: d + b"\0",
    "another class": other_class,
}


@pytest.mark.parametrize("harm", HARM)
def test_a_damaged_stage_is_told_and_worked_again(tmp_path, harm):
    folder, value = tmp_path / "a" / "b" / "c", {"x": np.arange(500.0), ("y", 1): [None, "z"]}
    Checkpoints(folder, "k" * 64).stage("site", lambda: value)
    path = kept_stage(folder, "site")
    path.write_bytes(HARM[harm](path.read_bytes()))
    keep = Checkpoints(folder, "k" * 64, resume=True)
    assert keep.stage("site", lambda: "worked again") == "worked again"
    (note,) = keep.notes
    assert "'site' cannot be used: it is worked again" in note
    again = Checkpoints(folder, "k" * 64, resume=True)
    assert again.stage("site", lambda: pytest.fail("what was mended is not read")) == "worked again"
    assert again.notes == []


def test_a_stage_of_another_name_key_or_format_is_not_read(tmp_path, monkeypatch):
    folder = tmp_path / "a" / "b" / "c"
    Checkpoints(folder, "k" * 64).stage("site", lambda: 1)
    shutil.copy(kept_stage(folder, "site"), folder / f"layers.{'k' * 16}.stage")
    near = Checkpoints(folder, "k" * 16 + "other", resume=True)
    assert near.stage("site", lambda: 2) == 2
    assert Checkpoints(folder, "k" * 64, resume=True).stage("layers", lambda: 3) == 3
    assert len(near.notes) == 1
    Checkpoints(folder, "k" * 64).stage("site", lambda: 1)
    monkeypatch.setattr(checkpoints, "FORMAT", checkpoints.FORMAT + 1)
    assert Checkpoints(folder, "k" * 64, resume=True).stage("site", lambda: 4) == 4


def test_what_cannot_be_kept_is_a_note_and_the_work_goes_on(tmp_path):
    keep = Checkpoints(tmp_path / "a" / "b" / "c", "k" * 64)
    odd = object()
    assert keep.stage("site", lambda: odd) is odd
    assert "cannot be kept" in keep.notes[0]
    (tmp_path / "file").write_text("x", encoding="utf-8")
    nowhere = Checkpoints(tmp_path / "file" / "b" / "c", "k" * 64)
    assert nowhere.stage("site", lambda: 5) == 5
    assert len(nowhere.notes) == 1
    assert Checkpoints(None, "").stage("site", lambda: 6) == 6


def test_a_link_in_place_of_the_folder_is_not_followed(tmp_path):
    (tmp_path / "a" / "b").mkdir(parents=True)
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "a" / "b" / "c").symlink_to(tmp_path / "elsewhere")
    keep = Checkpoints(tmp_path / "a" / "b" / "c", "k" * 64)
    assert keep.stage("site", lambda: 5) == 5
    assert list((tmp_path / "elsewhere").iterdir()) == []
    assert len(keep.notes) == 1


def test_only_stages_are_cleared_and_old_ones_of_other_runs_too(tmp_path):
    home = tmp_path / "a" / "b"
    names = ("0" * 16, "1" * 16, "2" * 16)
    for name in names:
        Checkpoints(home / name, "k" * 64).stage("site", lambda: 1)
    (home / names[1] / "diary.txt").write_text("x", encoding="utf-8")
    long_ago = time.time() - 40 * 86_400
    for name in names[:2]:
        os.utime(home / name, (long_ago, long_ago))
    Checkpoints(home / ("3" * 16), "k" * 64).clear()
    assert {str(p.relative_to(home)) for p in home.rglob("*") if p.is_file()} == {
        f"{names[1]}/diary.txt",
        f"{names[2]}/site.{'k' * 16}.stage",
    }


@pytest.mark.skipif(os.name == "nt" or sys.platform == "darwin", reason="rules of the XDG specification")
def test_the_cache_is_where_the_xdg_specification_says(tmp_path, monkeypatch):
    """XDG Base Directory Specification 0.8: relative paths are ignored; ~/.cache without one."""
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "own"))
    assert FOLDER_OF_SYSTEM() == tmp_path / "own" / "habitat"
    for ignored in ("relative/path", ""):
        monkeypatch.setenv("XDG_CACHE_HOME", ignored)
        assert FOLDER_OF_SYSTEM() == tmp_path / ".cache" / "habitat"


FOLDER_OF_SYSTEM = cache_folder
"""The function itself: tests of runs put another in its place."""


def test_two_targets_keep_their_stages_apart(cache):
    one, two = stage_folder(Path("/x/plan")), stage_folder(Path("/x/plan2"))
    assert one != two
    assert one.parents[1] == cache


# --- the key ----------------------------------------------------------------------------------------------


@pytest.fixture
def copy(street, tmp_path):
    folder = tmp_path / "copy"
    shutil.copytree(street, folder)
    return folder


def key(folder, yards=()):
    return run_key(habitat.read_study(folder / "study.toml"), yards)


@pytest.mark.parametrize(
    "name",
    ["yards.shp", "yards.dbf", "yards.shx", "yards.prj", "yards.cpg", "yards.qix", "yards.shp.xml",
     "houses.gpkg", "houses.gpkg-wal", "houses.gpkg-journal", "participants.csv",
     "ph.tif", "ph.tif.aux.xml", "ph.tif.msk", "ph.tif.ovr", "ph.tfw", "ph.wld"],
)  # fmt: skip
def test_the_key_changes_with_every_file_that_reading_opens(copy, name):
    before = key(copy)
    assert key(copy) == before
    with (copy / name).open("ab") as file:
        file.write(b" ")
    assert key(copy) != before


def test_the_key_changes_with_tiles_legends_and_crossing_costs(copy):
    tile = '<VRTDataset><SourceFilename relativeToVRT="1">{}</SourceFilename></VRTDataset>'
    (copy / "tiles").mkdir()
    texts = {"ph.vrt": tile.format("tiles/deep.vrt"), "tiles/deep.vrt": tile.format("x.tif")}
    others = ("tiles/x.tif", "tiles/x.tif.aux.xml", "legend.csv", "costs.csv")
    for name, text in {**texts, **dict.fromkeys(others, "x")}.items():
        (copy / name).write_text(text, encoding="utf-8")
    (copy / "study.toml").write_text(
        STUDY.replace("ph.tif", "ph.vrt")
        + '[rasters.texture]\npath = "ph.tif"\nclasses = "legend.csv"\n'
        + '[connectivity]\ndistance = "by ground"\ncrossing_costs = "costs.csv"\n',
        encoding="utf-8",
    )
    for name in (*texts, *others):
        before = key(copy)
        with (copy / name).open("ab") as file:
            file.write(b" ")
        assert key(copy) != before, name


def test_the_key_changes_with_overviews_in_another_file(copy):
    item = '<Metadata domain="OVERVIEWS"><MDI key="OVERVIEW_FILE">:::BASE:::small.tif</MDI></Metadata>'
    (copy / "ph.tif.aux.xml").write_text(f"<PAMDataset>{item}</PAMDataset>", encoding="utf-8")
    (copy / "small.tif").write_text("x", encoding="utf-8")
    before = key(copy)
    (copy / "small.tif").write_text("y", encoding="utf-8")
    assert key(copy) != before


def test_the_key_changes_when_the_study_is_moved(copy, tmp_path):
    """What was read holds the paths of rasters, which are read again later."""
    shutil.copytree(copy, tmp_path / "moved")
    assert key(tmp_path / "moved") != key(copy)


def test_the_key_changes_with_settings_yards_program_and_libraries(copy, monkeypatch):
    keys = [key(copy), key(copy, ("a",))]
    study = habitat.read_study(copy / "study.toml")
    keys.append(run_key(study.changed(planting={"budget": 1.0}), ()))
    with monkeypatch.context() as patch:
        patch.setattr(checkpoints, "code_hash", lambda: "another program")
        keys.append(key(copy))
    for name in ("rasterio.__gdal_version__", "shapely.geos_version_string", "pyproj.proj_version_str"):
        with monkeypatch.context() as patch:
            patch.setattr(name, "0.0.1")
            keys.append(key(copy))
    with monkeypatch.context() as patch:
        patch.setattr(checkpoints, "version", lambda _: "0.0.1")
        keys.append(key(copy))
    assert len(set(keys)) == len(keys)
    assert key(copy) == keys[0]


def test_the_program_s_hash_holds_code_and_tables_and_no_compiled_files(tmp_path):
    home = tmp_path / "package"
    for name in ("a.py", "data/plants.csv", "__pycache__/a.pyc"):
        (home / name).parent.mkdir(parents=True, exist_ok=True)
        (home / name).write_text("1", encoding="utf-8")
    first = code_hash(home)
    (home / "__pycache__" / "a.pyc").write_text("2", encoding="utf-8")
    assert code_hash(home) == first
    for name in ("a.py", "data/plants.csv", "data/new.csv"):
        (home / name).write_text("2", encoding="utf-8")
        assert code_hash(home) != first
        first = code_hash(home)
    assert code_hash() != first


def test_a_changed_sidecar_is_noticed_when_a_run_goes_on(copy, cache, tmp_path, monkeypatch):
    """The projection moves by a zone: what was read before must not pass as new."""
    target = tmp_path / "plan"
    die_at(monkeypatch, copy, target, "site")
    wkt = (copy / "yards.prj").read_text(encoding="utf-8")
    (copy / "yards.prj").write_text(wkt + " ", encoding="utf-8")
    monkeypatch.setattr(pipeline, "read_layers", dies)
    with pytest.raises(KeyboardInterrupt):
        run_job(copy / "study.toml", target, RunOptions(resume=True))


def test_the_key_takes_less_than_a_third_of_a_second_on_the_demo():
    study = Path(habitat.__file__).parents[1] / "sample_geodata" / "study.toml"
    if not study.is_file():
        pytest.skip("installed without its checkout")
    took = []
    for _ in range(3):
        start = time.perf_counter()
        run_key(habitat.read_study(study), ())
        took.append(time.perf_counter() - start)
    assert min(took) < 0.3
