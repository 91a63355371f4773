"""One run at a time into a folder, whatever name it goes by; the lock ends with the block."""

import pytest

from habitat.errors import OutputError
from habitat.pipeline.one_run import alone_in


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
