"""One run at a time into a folder: two would clear away each other's unfinished results."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from habitat.errors import OutputError
from habitat.pipeline import run as running
from habitat.pipeline.checkpoints import cache_folder
from habitat.pipeline.redraw import study_of
from habitat.progress import Progress
from habitat.report.package.carried import read_carried_of
from habitat.report.plan import Plan
from habitat.report.write import clear_the_way, write_plan
from habitat.study.reading import read_study

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


def redraw_results(
    folder: Path,
    study: Path | None = None,
    *,
    new: Path | None = None,
    listed: Path | None = None,
    workers: int = 1,
    progress: Progress | None = None,
) -> tuple[Plan, Path, list[str]]:
    """Draw results anew as people edited them, and write them.

    Parameters
    ----------
    folder
        Edited results.
    study
        The study file, if it has been moved.
    new
        Where to write; left out, in place of ``folder``.
    listed
        An edited list of plantings from elsewhere.
    workers
        Processes.
    progress
        Called with (stage in words, done, total).

    Returns
    -------
    tuple
        The plan, where it was written, and a sentence for each folder that was moved beside.

    Raises
    ------
    HabitatError
        As ``run`` and ``write_plan``; the old results stand then.
    """
    told: list[str] = []
    target = new or folder
    with alone_in(target):
        read = read_study(study or study_of(folder, read_carried_of(folder).study))
        clear_the_way(read, target, told, replace=new is None)
        plan = running.run(read, after=folder, redraw=True, listed=listed, workers=workers, progress=progress)
        out = write_plan(plan, target, replace=new is None, workers=workers, progress=progress, told=told)
    return plan, out, told


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
