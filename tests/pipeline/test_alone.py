"""One run at a time into a folder, whatever name it goes by; the lock ends with the block."""

import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from habitat.errors import OutputError
from habitat.pipeline.alone import alone_in


def test_a_second_run_is_refused_while_the_first_lasts(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "link").symlink_to(tmp_path / "plan")
    with alone_in(tmp_path / "plan"):
        for name in ("plan", "link"):
            with pytest.raises(OutputError, match="another run"), alone_in(tmp_path / name):
                pass
        with alone_in(tmp_path / "other"):
            pass
    with alone_in(tmp_path / "link"):
        pass
    assert sorted(p.name for p in tmp_path.iterdir()) == ["cache", "link"]


def test_nobody_is_kept_out_where_no_lock_can_be_made(tmp_path, monkeypatch):
    (tmp_path / "cache").write_text("a file", encoding="ascii")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    with alone_in(tmp_path / "plan"), alone_in(tmp_path / "plan"):
        pass


def test_what_takes_a_moment_waits_for_its_turn(tmp_path, monkeypatch):
    """Twelve threads add one to a number in a file: none of their turns is lost."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    file = tmp_path / "number"
    file.write_text("0", encoding="ascii")

    def add(_):
        with alone_in(tmp_path / "plan", wait_s=20.0):
            had = int(file.read_text(encoding="ascii"))
            time.sleep(0.01)
            file.write_text(str(had + 1), encoding="ascii")

    with ThreadPoolExecutor(12) as threads:
        list(threads.map(add, range(12)))
    assert file.read_text(encoding="ascii") == "12"
    folder, busy = tmp_path / "plan", pytest.raises(OutputError, match="another run")
    with alone_in(folder), busy, alone_in(folder, wait_s=0.05):
        pass
