"""How commands end: Ctrl-C, faults that nobody foresaw, errors to mend; each in a process of its own."""

import os
import signal
import subprocess
import sys
import time

import pytest

from habitat.commands.guard import INTERRUPTED, TERMINATED, UNEXPECTED, interrupted_words, unexpected_words
from tests.commands.calls import ended, start
from tests.support.prague import write_study

BROKEN = (
    "import sys; from habitat.knowledge import lookup; from habitat.commands.app import main\n"
    "def broken(*_, **__): raise KeyError('a secret of ours')\n"
    "lookup.find_plants = broken; sys.argv[0] = 'habitat'; main()"
)


def test_a_fault_that_nobody_foresaw_is_one_sentence_and_code_70():
    code, said, told = ended(start("plants", script=BROKEN))
    assert code == UNEXPECTED == 70
    assert said == ""
    assert "Traceback" not in told
    assert "KeyError: 'a secret of ours'" in told
    assert "HABITAT_DEBUG=1" in told


def test_its_traceback_comes_on_request():
    code, _, told = ended(start("plants", script=BROKEN, HABITAT_DEBUG="1"))
    assert code == UNEXPECTED
    assert told.startswith("Traceback (most recent call last)")
    assert "The details stand above" in told


def test_an_error_to_mend_is_code_2(tmp_path):
    code, said, told = ended(start("run", str(tmp_path / "none.toml"), "--out", str(tmp_path / "plan")))
    assert (code, said) == (2, "")
    assert told.count("\n") == 1
    assert "there is no such study file" in told


def test_wrong_usage_is_code_2_too():
    code, _, told = ended(start("run"))
    assert code == 2
    assert "--help" in told


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_ctrl_c_ends_a_run_with_one_sentence_and_all_its_processes(tmp_path):
    """SIGINT to the whole group, as a terminal sends it, once two processes are at work."""
    study = write_study(tmp_path, planned=6)
    running = start("run", str(study), "--out", str(tmp_path / "my plan"), "--workers", "2",
                    XDG_CACHE_HOME=str(tmp_path / "cache"))  # fmt: skip
    for line in running.stderr:
        if "of" in line and not line.startswith("reading"):
            break
    os.killpg(running.pid, signal.SIGINT)
    code, _, told = ended(running, seconds=60)
    assert code == INTERRUPTED == 130
    assert "Traceback" not in told
    last = told.strip().splitlines()[-1]
    assert last.startswith("Stopped before the end")
    assert last.endswith(f"--out '{tmp_path}/my plan' --workers 2 --resume")
    assert not (tmp_path / "my plan").exists()
    with pytest.raises(ProcessLookupError):
        os.killpg(running.pid, 0)


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_sigterm_ends_a_run_and_its_processes_and_two_runs_keep_out_of_each_other(tmp_path):
    """SIGTERM to the first process alone, as systems send it; meanwhile a second run names its folder."""
    study, cache = write_study(tmp_path, planned=6), str(tmp_path / "cache")
    command = ("run", str(study), "--out", str(tmp_path / "plan"), "--workers", "2")
    running = start(*command, XDG_CACHE_HOME=cache)
    for line in running.stderr:
        if "of" in line and not line.startswith("reading"):
            break
    code, _, told = ended(start(*command, XDG_CACHE_HOME=cache))
    assert code == 2
    assert "another run is making results for this folder now" in told
    os.kill(running.pid, signal.SIGTERM)
    code, _, told = ended(running, seconds=60)
    assert code == TERMINATED == 128 + signal.SIGTERM
    assert "Traceback" not in told
    assert told.strip().splitlines()[-1].startswith("Stopped before the end")
    assert not (tmp_path / "plan").exists()
    time.sleep(2.0)  # processes look once a second whether their parent lives
    with pytest.raises(ProcessLookupError):
        os.killpg(running.pid, 0)


@pytest.mark.parametrize(
    ("arguments", "end"),
    [
        (["run", "s.toml", "--out", "p"], "habitat run s.toml --out p --resume"),
        (["run", "s.toml", "--out", "p", "--resume"], "habitat run s.toml --out p --resume"),
        (["run", "s.toml", "--out", "p", "--until", "site"], "habitat run s.toml --out p --until site"),
        (["check", "s.toml"], "habitat check s.toml"),
    ],
)
def test_ctrl_c_tells_the_command_to_go_on_with(arguments, end):
    assert interrupted_words(arguments).endswith(f": {end}")


def test_a_fault_without_words_or_place_is_told_by_its_kind():
    assert "(MemoryError)" in unexpected_words(MemoryError())


def test_a_reader_that_goes_away_makes_no_traceback():
    """``habitat plants | head -1``: the pipe is closed before all is written."""
    lines = subprocess.run(
        f"{sys.executable} -m habitat plants --json | head -1", shell=True, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert lines.stdout.strip() == "{"
    assert "Traceback" not in lines.stderr
