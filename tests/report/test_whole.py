"""Files are written all or none; a full disk is played by a limit on the size of files (setrlimit(2))."""

import os
import subprocess
import sys

import pytest

from habitat.errors import OutputError
from habitat.report.whole import write_whole
from tests.commands.calls import HOME

SAID = ("the pages", "Name another folder")


def test_files_are_written_with_their_folders_and_replaced_whole(tmp_path):
    made = write_whole(tmp_path / "a" / "b", {"one.txt": b"1", "in/two.txt": b"2"}, *SAID)
    assert [p.read_bytes() for p in made] == [b"1", b"2"]
    write_whole(tmp_path / "a" / "b", {"one.txt": b"one"}, *SAID)
    assert sorted(p.name for p in (tmp_path / "a" / "b").rglob("*")) == ["in", "one.txt", "two.txt"]
    assert made[0].read_bytes() == b"one"


def test_what_is_reached_by_a_link_is_written_and_the_link_stays(tmp_path):
    (tmp_path / "real.txt").write_bytes(b"old")
    (tmp_path / "link.txt").symlink_to("real.txt")
    write_whole(tmp_path, {"link.txt": b"new"}, *SAID)
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real.txt").read_bytes() == b"new"


def test_what_cannot_be_written_leaves_nothing_and_what_was_there(tmp_path):
    (tmp_path / "one.txt").write_bytes(b"old")
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(OutputError, match=r"the pages cannot be written \(Not a directory\)"):
        write_whole(tmp_path, {"one.txt": b"new", "new/two.txt": b"2", "file/three.txt": b"3"}, *SAID)
    assert sorted(p.name for p in tmp_path.rglob("*")) == ["file", "one.txt"]
    assert (tmp_path / "one.txt").read_bytes() == b"old"


LIMITED = (
    "import resource, signal, sys; from habitat.commands.app import main\n"
    "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
    "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000)); sys.argv[0] = 'habitat'; main()"
)


@pytest.mark.skipif(os.name == "nt", reason="limits of POSIX")
@pytest.mark.parametrize("command", [["new"], ["new", "--yard"], ["sketch"], ["demo"]], ids=" ".join)
def test_a_command_on_a_full_disk_says_so_in_a_sentence_and_leaves_nothing(tmp_path, command):
    ran = subprocess.run(
        [sys.executable, "-c", LIMITED, *command, str(tmp_path / "new" / "deep")], stdin=subprocess.DEVNULL,
        capture_output=True, text=True, env={**os.environ, "PYTHONPATH": HOME}, check=False,
    )  # fmt: skip
    assert ran.returncode == 2, ran.stderr
    assert "cannot be written (File too large)" in ran.stderr
    assert ran.stderr.count("\n") == 1
    assert not list(tmp_path.iterdir())
