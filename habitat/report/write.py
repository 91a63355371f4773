"""Write a plan into a folder, whole or not at all."""

from __future__ import annotations

import ctypes
import json
import os
import shutil
import sqlite3
import time
from pathlib import Path

from pyogrio.errors import DataLayerError, DataSourceError

from habitat.errors import OutputError
from habitat.progress import Progress
from habitat.report.outputs import write_files
from habitat.report.package.provenance import peak_memory_mb
from habitat.report.plan import Plan
from habitat.report.public.reduce import for_audience
from habitat.report.written import TIMINGS, look, make_room, refuse_inputs, refuse_loss, write_list
from habitat.study.model import Study

MARK = ".unfinished"
"""A file in results that are being written; a folder beside the target that holds it may be cleared away."""


def write_plan(
    plan: Plan,
    folder: str | Path,
    *,
    replace: bool = False,
    workers: int = 1,
    progress: Progress | None = None,
    told: list[str] | None = None,
) -> Path:
    """Write every result of a plan into a folder.

    All files are written into a folder beside the target, which takes the target's place at the end: whoever
    looks sees the old results or the new ones, never a mixture. Old results that are as a run wrote them are
    removed then; edited ones are moved beside. A study for a public audience is reduced
    (``habitat.report.public.reduce``) before anything is written.

    Parameters
    ----------
    plan
        As ``habitat.run`` returns it.
    folder
        Where the results go; its parent folders are made. A link is followed.
    replace
        Whether results that are there already may be replaced.
    workers
        Processes at work, this one among them; any number gives the same files.
    progress
        Called with (stage in words, done, total).
    told
        Gets a sentence for each folder that was moved beside.

    Raises
    ------
    OutputError
        If the folder exists and ``replace`` is false; if somebody would lose something by it
        (``habitat.report.written.refuse_loss``); if it cannot be written. What was there stays as it was.

    Returns
    -------
    Path
        The folder, absolute.

    Examples
    --------
    >>> import habitat
    >>> plan = habitat.run(habitat.read_study("sample_geodata"))  # doctest: +SKIP
    >>> habitat.write_plan(plan, "first_plan")  # doctest: +SKIP
    """
    folder = Path(folder).absolute()
    told = [] if told is None else told
    try:
        place = clear_the_way(plan.study, folder, told, replace=replace)
        work, old = _beside(place)
        work.mkdir(parents=True)
        (work / MARK).touch()
        try:
            _write_all(for_audience(plan), work, workers, progress)
            _take_place(work, place, old, told)
        finally:
            shutil.rmtree(work, ignore_errors=True)
    except OutputError:
        raise
    except (OSError, sqlite3.Error, DataSourceError, DataLayerError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise OutputError(
            f"the results cannot be written ({reason})",
            str(folder),
            "Name a folder that can be written and has room; what was there before is untouched",
        ) from error
    return folder


def clear_the_way(study: Study, folder: Path, told: list[str], *, replace: bool) -> Path:
    """Refuse what would lose anything, mend what a run left that died, and return where results go.

    Parameters
    ----------
    study
        What it reads is never replaced.
    folder
        The target.
    told
        Gets a sentence on what was put back or moved beside.
    replace
        Whether results that are there already may be replaced.

    Raises
    ------
    OutputError
        As ``habitat.report.written.refuse_loss``.

    Returns
    -------
    The target, links followed.
    """
    place = Path(os.path.realpath(folder))
    refuse_loss(study, place, replace=replace)  # before a name is made of the folder's: / has none
    work, old = _beside(place)
    for folder_beside in (work, old):
        refuse_inputs(study, folder_beside)
    _refuse_unwritable(place)
    _clear_unfinished(work, place, told)
    clear_marked(place.with_name(f".{place.name}.saving"))
    if old.is_symlink() or not old.is_dir():
        return place
    if place.exists():
        _tell(make_room(old, place), told)
        return place
    old.rename(place)
    told.append(f"A run that died had moved results away; they were put back into {place}.")
    refuse_loss(study, place, replace=replace)
    return place


def _refuse_unwritable(place: Path) -> None:
    """Refuse a target beside which nothing can be written: better now than when all is worked out."""
    home = next(parent for parent in place.parents if parent.exists())
    if not (home.is_dir() and os.access(home, os.W_OK | os.X_OK)):
        raise OutputError(
            "the results cannot be written: nothing can be put into the folder in which it would be",
            str(place),
            "Name another folder with --out",
        )


def _beside(place: Path) -> tuple[Path, Path]:
    """Return where new results are written, and where old ones wait while the new take their place."""
    return place.with_name(f".{place.name}.writing"), place.with_name(f".{place.name}.replaced")


def _tell(sentence: str | None, told: list[str]) -> None:
    if sentence is not None:
        told.append(sentence)


def _clear_unfinished(work: Path, place: Path, told: list[str]) -> None:
    """Remove what a run that died had written so far; a folder that no run made is refused.

    Results that had just given their place to new ones go as ``make_room`` has it: edited ones are kept.
    """
    if not (work.exists() or work.is_symlink()):
        return
    if not work.is_symlink() and work.is_dir() and not (work / MARK).is_file() and look(work).listed:
        _tell(make_room(work, place), told)
    else:
        clear_marked(work)


def clear_marked(work: Path) -> None:
    """Remove a folder beside results that a command which died left there, if it says that it is one.

    Raises
    ------
    OutputError
        If it is somebody's own.
    """
    if not (work.exists() or work.is_symlink()):
        return
    made = work.is_dir() and not work.is_symlink()
    if not made or not ((work / MARK).is_file() or not any(work.iterdir())):
        raise OutputError(
            "it has the name under which results are written, but does not say that a run made it",
            str(work),
            "Move it away, or delete it if an earlier version of this program left it",
        )
    shutil.rmtree(work)


def exchanged(one: Path, two: Path) -> bool:
    """Let two folders change places in one step; return whether the system and the disk could.

    Linux has a call for it (renameat2 with RENAME_EXCHANGE, manual page rename(2)), which Python does not.
    """
    try:
        call = ctypes.CDLL(None).renameat2
    except (OSError, TypeError, AttributeError):
        return False  # another system
    at_working_folder, exchange = -100, 2
    done = call(at_working_folder, os.fsencode(one), at_working_folder, os.fsencode(two), exchange)
    return bool(done == 0)


def _take_place(work: Path, folder: Path, old: Path, told: list[str]) -> None:
    """Put new results in place of old ones, in one step where that can be; old ones make room afterwards."""
    if folder.exists() and exchanged(work, folder):
        work.rename(old)
        _tell(make_room(old, folder), told)
        return
    if folder.exists():
        folder.rename(old)
    try:
        work.rename(folder)
    except OSError:
        if old.is_dir():
            old.rename(folder)
        raise
    if old.is_dir():
        _tell(make_room(old, folder), told)


def _silent(_words: str, _done: int, _total: int) -> None:
    """Tell nobody how far things are."""


def _write_all(plan: Plan, work: Path, workers: int, progress: Progress | None) -> None:
    start = time.perf_counter()
    tell = progress or _silent
    write_files(plan, work, workers, tell)
    tell("results written", 1, 1)
    stage = {"seconds": round(time.perf_counter() - start, 3), "peak_mb": round(peak_memory_mb(), 1)}
    text = json.dumps({**plan.timings, "report": stage}, indent=1, allow_nan=False)
    (work / TIMINGS).write_text(text + "\n", encoding="utf-8")
    (work / MARK).unlink()
    write_list(work)
