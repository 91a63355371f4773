"""One run at a time into a folder: two would clear away each other's unfinished results."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from habitat.errors import OutputError
from habitat.pipeline.checkpoints import cache_folder

try:
    import fcntl
except ImportError:  # not on Windows
    fcntl = None  # type: ignore[assignment]


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Keep other runs of this user out of a target for as long as the block lasts.

    The system drops the lock with the process, however that ends. It lies in the user's cache, so nothing is
    left beside the results; where there is no cache, or the system has no such locks, nobody is kept out.

    Parameters
    ----------
    folder
        The target; links are followed.

    Raises
    ------
    OutputError
        If another run is at work there.
    """
    file = _lock_file(Path(os.path.realpath(folder)))
    if file is None or fcntl is None:
        yield
        return
    with file.open("w", encoding="ascii") as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise OutputError(
                "another run is making results for this folder now",
                str(folder),
                "Wait until it has ended, or name another folder",
            ) from error
        yield


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
