"""No file takes the process along that plans: what passes a bound or dies is an error of that layer."""

import os
import subprocess
import sys
import time
from dataclasses import replace

import pandas as pd
import pytest

from habitat.errors import HabitatError
from habitat.layers import read as in_place
from habitat.pipeline import apart
from habitat.study.files import sources_of
from habitat.study.reading import open_study
from tests.commands.calls import ended, start
from tests.layers import builders as make
from tests.support.hard_files import HOSTILE

POSIX = pytest.mark.skipif(os.name == "nt", reason="the system bounds no processor time and no memory")


def sources(path):
    return sources_of(open_study(path)[0])


def street(folder, **more):
    make.yards().to_file(folder / "yards.gpkg")
    (folder / "plants.csv").write_text(make.plants_text(), encoding="utf-8")
    make.raster(folder, make.slope(), "ph.tif")
    return make.study(folder, {"yards": "yards.gpkg", "plants": "plants.csv", **more}, {"ph": "ph.tif"})


def test_what_is_read_apart_is_what_is_read_in_place(tmp_path):
    asked = sources(street(tmp_path))
    told = []
    parts = apart.read_parts_apart(asked, lambda *step: told.append(step), None)
    here = in_place.read_parts(asked)
    assert not parts.faults
    for name, layer in here.vectors.items():
        pd.testing.assert_frame_equal(parts.vectors[name].frame, layer.frame)
        assert parts.vectors[name].notes == layer.notes
    assert (parts.grid, parts.crs) == (here.grid, here.crs)
    assert parts.rasters["ph"].notes == here.rasters["ph"].notes
    assert told[-1][0] == "layers read"


@POSIX
def test_a_file_that_takes_too_long_is_named_and_the_rest_is_read(tmp_path):
    folder = tmp_path / "view"
    folder.mkdir()
    HOSTILE["view_of_heavy_steps"][0](folder, 10**12)
    asked = sources(street(tmp_path, buildings={"path": "view/yards.gpkg", "layer": "yards"}))
    parts = apart.read_parts_apart(replace(asked, processor_s=1.0), None, None)
    error = parts.faults["layers.buildings"]
    assert "layers.buildings takes more than 1 s of processor time" in error.what
    assert error.where == "view/yards.gpkg"
    assert "raise limits.processor_s" in error.mend
    assert len(parts.vectors["yards"].frame) == 3


@POSIX
@pytest.mark.skipif(not os.path.exists("/proc/self/statm"), reason="the system bounds no memory")  # noqa: PTH110
def test_a_file_that_takes_too_much_memory_is_named(tmp_path):
    lines = ["yard_id,ph", *(f"TB-0{i % 3 + 1},{6 + i % 10 / 10}" for i in range(400_000))]
    (tmp_path / "tests.csv").write_text("\n".join(lines), encoding="utf-8")
    asked = sources(street(tmp_path, soil_tests="tests.csv"))
    parts = apart.read_parts_apart(replace(asked, memory_mb=60.0), None, None)
    error = parts.faults["layers.soil_tests"]
    assert "memory" in str(error)
    assert "tests.csv" in error.where


def test_a_fault_of_our_own_is_no_error_of_a_file(tmp_path, monkeypatch):
    asked = sources(street(tmp_path))
    monkeypatch.setattr(apart, "CHILD", apart.CHILD.replace("; serve()", "; import habitat.layers.read as r; "
                        "r.open_clean = None; serve()"))  # fmt: skip
    with pytest.raises(RuntimeError, match=r"reading layers.yards failed[\s\S]*NoneType"):
        apart.read_parts_apart(asked, None, None)


def test_an_end_while_layers_are_brought_together_names_the_study(tmp_path):
    error = apart._why(sources(street(tmp_path)), "", -11, rung=False)
    assert "bringing the layers together ended the process that read it (by signal 11)" in error.what
    assert error.where.endswith("study.toml")


def test_the_process_ends_with_the_one_that_started_it(tmp_path):
    script = (
        "import time; from habitat.pipeline import apart; apart._Switch.on = True; apart.begin(); "
        "print(apart._Switch.ready.pid, flush=True); time.sleep(60)"
    )
    parent = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True)
    child = int(parent.stdout.readline())
    parent.kill()
    parent.wait()
    for _ in range(600):
        try:
            os.kill(child, 0)
        except ProcessLookupError:
            return
        if "Z" in _state(child):
            return
        time.sleep(0.1)
    pytest.fail("the process lives on")


def _state(pid):
    try:
        with open(f"/proc/{pid}/stat", encoding="utf-8") as file:  # noqa: PTH123
            return file.read().rpartition(")")[2].split()[0]
    except OSError:
        return "Z"


@POSIX
def test_the_command_line_reads_apart(tmp_path):
    path = HOSTILE["view_of_heavy_steps"][0](tmp_path, 10**12)
    path.write_text(path.read_text() + "\n[limits]\nprocessor_s = 1\n", encoding="utf-8")
    code, _, told = ended(start("check", str(path)))
    assert code == 2
    assert "layers.yards takes more than 1 s of processor time to read" in " ".join(told.split())


def test_errors_come_over_as_they_are(tmp_path):
    path = street(tmp_path, trees="gone.gpkg")
    study, missing = open_study(path)
    with apart.reading_apart():
        from habitat.pipeline.reading import read_layers, read_parts

        assert set(read_parts(study, None, missing).faults) == {"layers.trees"}
        with pytest.raises(HabitatError, match=r"gone\.gpkg"):
            read_layers(study)
