"""Write a plan into a folder, whole or not at all."""

from __future__ import annotations

import json
import shutil
import time
from pathlib import Path

from pyogrio.errors import DataLayerError, DataSourceError

from habitat.errors import OutputError
from habitat.report.files import write_files
from habitat.report.plan import Plan, Progress
from habitat.report.privacy import for_audience
from habitat.report.provenance import peak_memory_mb

MARK = "run.json"
"""A folder that holds this file, or nothing, may be replaced; any other folder is somebody's work."""


def write_plan(
    plan: Plan, folder: Path, *, replace: bool = False, workers: int = 1, progress: Progress | None = None
) -> Path:
    """Write every result of a plan into a folder.

    All files are written into a folder beside the target, which takes the target's place at the end: whoever
    looks sees the old results or the new ones, never a mixture. A study for a public audience is reduced
    (``habitat.report.privacy``) before anything is written.

    Parameters
    ----------
    folder
        Where the results go; its parent folders are made.
    replace
        Whether results that are there already may be replaced.
    workers
        Processes at work, this one among them; any number gives the same files.
    progress
        Called with (stage in words, done, total).

    Raises
    ------
    OutputError
        If the folder exists and ``replace`` is false, if it holds something other than results, or if it
        cannot be written. What was there stays as it was.
    """
    folder = folder.absolute()
    work, old = (folder.with_name(f".{folder.name}.{suffix}") for suffix in ("writing", "replaced"))
    try:
        _recover(folder, old)
        _refuse(folder, replace)
        shutil.rmtree(work, ignore_errors=True)
        work.mkdir(parents=True)
        try:
            _write_all(for_audience(plan), work, workers, progress)
            _take_place(work, folder, old)
        finally:
            shutil.rmtree(work, ignore_errors=True)
    except OutputError:
        raise
    except (OSError, DataSourceError, DataLayerError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise OutputError(
            f"the results cannot be written ({reason})",
            str(folder),
            "Name a folder that can be written and has room; what was there before is untouched",
        ) from error
    return folder


def _refuse(folder: Path, replace: bool) -> None:
    if not (folder.exists() or folder.is_symlink()):
        return
    if not folder.is_dir():
        raise OutputError("there is a file of this name", str(folder), "Name another folder")
    if not replace:
        raise OutputError(
            "there are results here already",
            str(folder),
            "Add --replace to replace them, or name another folder",
        )
    if any(folder.iterdir()) and not (folder / MARK).is_file():
        raise OutputError(
            "this folder holds something other than results of a run, so it is not replaced",
            str(folder),
            "Name another folder, or empty this one yourself",
        )


def _recover(folder: Path, old: Path) -> None:
    """Put the last good results back if an earlier run died between the two moves, and clear leftovers."""
    if old.is_dir() and not folder.exists():
        old.rename(folder)
    elif old.is_dir():
        shutil.rmtree(old)


def _take_place(work: Path, folder: Path, old: Path) -> None:
    if folder.exists():
        folder.rename(old)
    try:
        work.rename(folder)
    except OSError:
        if old.is_dir():
            old.rename(folder)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _silent(_words: str, _done: int, _total: int) -> None:
    """Tell nobody how far things are."""


def _write_all(plan: Plan, work: Path, workers: int, progress: Progress | None) -> None:
    start = time.perf_counter()
    tell = progress or _silent
    write_files(plan, work, workers, tell)
    tell("results written", 1, 1)
    stage = {"seconds": round(time.perf_counter() - start, 3), "peak_mb": round(peak_memory_mb(), 1)}
    text = json.dumps({**plan.timings, "report": stage}, indent=1, allow_nan=False)
    (work / "timings.json").write_text(text + "\n", encoding="utf-8")
