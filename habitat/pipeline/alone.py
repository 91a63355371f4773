"""One command at a time that changes a folder: two would clear away what the other writes."""

from __future__ import annotations

import hashlib
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from habitat.errors import OutputError

if sys.platform != "win32":
    import fcntl


@contextmanager
def alone_in(folder: Path, wait_s: float = 0.0) -> Iterator[None]:
    """Keep other runs of this user out of a target for as long as the block lasts.

    The system drops the lock with the process, however that ends. It lies in the user's cache, so nothing is
    left beside the results; where there is no cache, or the system has no such locks, nobody is kept out.

    Parameters
    ----------
    folder
        The target; links are followed.
    wait_s
        How long to wait for what is at work there [s]: none for what takes minutes itself.

    Raises
    ------
    OutputError
        If another run is at work there.
    """
    file = _lock_file(Path(os.path.realpath(folder)))
    if file is None or sys.platform == "win32":
        yield
        return
    with file.open("w", encoding="ascii") as held:
        if not _locked(held, time.monotonic() + wait_s):
            raise OutputError(
                "another run is making results for this folder now",
                str(folder),
                "Wait until it has ended, or name another folder",
            )
        yield


def _locked(file: IO[str], until: float) -> bool:
    """Lock a file, and try again until some time of the monotonic clock; return whether it is locked."""
    while sys.platform != "win32":
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return True
        except BlockingIOError:
            if time.monotonic() >= until:
                return False
            time.sleep(0.02)
    return True


def cache_folder() -> Path | None:
    """Return the user's own folder for what may be made anew, as the system's rules name it.

    ``LOCALAPPDATA`` on Windows, ``Library/Caches`` on macOS, else ``XDG_CACHE_HOME`` (absolute, as the XDG
    Base Directory Specification asks) or ``~/.cache``.
    """
    try:
        home = Path.home()
    except RuntimeError:
        return None
    if os.name == "nt":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "habitat" / "cache"
    if sys.platform == "darwin":
        return home / "Library" / "Caches" / "habitat"
    named = Path(os.environ.get("XDG_CACHE_HOME") or "")
    return (named if named.is_absolute() else home / ".cache") / "habitat"


def _lock_file(place: Path) -> Path | None:
    """Return the file whose lock stands for a target, None where none can be made."""
    cache = cache_folder()
    if cache is None:
        return None
    locks = cache / "locks"
    try:
        locks.mkdir(parents=True, exist_ok=True, mode=0o700)
        file = locks / f"{hashlib.sha256(str(place).encode()).hexdigest()[:16]}.lock"
        file.touch()
    except OSError:
        return None
    return file
