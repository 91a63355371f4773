"""Write a plan into a folder, whole or not at all."""

from __future__ import annotations

import json
import shutil
import time
from collections.abc import Callable
from pathlib import Path

from pyogrio.errors import DataLayerError, DataSourceError

from habitat.errors import OutputError
from habitat.report.calendar import write_calendar
from habitat.report.exchange import write_dxf, write_geojson
from habitat.report.list_print import write_count_form, write_printed_lists
from habitat.report.maps import write_maps
from habitat.report.package import write_geopackage, write_run_json
from habitat.report.page import write_page
from habitat.report.plan import Plan, Progress
from habitat.report.privacy import for_audience
from habitat.report.provenance import peak_memory_mb
from habitat.report.rasters import write_rasters
from habitat.report.read_me import write_read_me
from habitat.report.sheets import write_sheets
from habitat.report.shopping import write_shopping
from habitat.report.styles import write_styles

MARK = "run.json"
"""A folder that holds this file, or nothing, may be replaced; any other folder is somebody's work."""


def write_plan(plan: Plan, folder: Path, *, replace: bool = False, progress: Progress | None = None) -> Path:
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
            _write_all(for_audience(plan), work, progress)
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


def _write_all(plan: Plan, work: Path, progress: Progress | None) -> None:
    start = time.perf_counter()
    todo = steps()
    for done, (words, write) in enumerate(todo):
        if progress is not None:
            progress(f"writing {words}", done, len(todo))
        write(plan, work, progress)
    if progress is not None:
        progress("results written", len(todo), len(todo))
    stage = {"seconds": round(time.perf_counter() - start, 3), "peak_mb": round(peak_memory_mb(), 1)}
    text = json.dumps({**plan.timings, "report": stage}, indent=1, allow_nan=False)
    (work / "timings.json").write_text(text + "\n", encoding="utf-8")


def write_formats(plan: Plan, work: Path) -> None:
    """Write styles for the GIS package, and the formats that the study asks for."""
    write_styles(work / "styles")
    if "geojson" in plan.study.report.formats:
        write_geojson(plan, work / "geojson")
    if "dxf" in plan.study.report.formats:
        write_dxf(plan, work / "plan.dxf")


def write_lists(plan: Plan, work: Path) -> None:
    """Write what to buy, what each household picks up, and the form to count on."""
    write_shopping(plan, work / "shopping.csv")
    (work / "lists").mkdir()
    write_printed_lists(plan, work / "lists")
    write_count_form(plan, work / "lists" / "count-form.csv")


Step = Callable[[Plan, Path, Progress | None], object]


def steps() -> tuple[tuple[str, Step], ...]:
    """Return what is written, in words, and by whom; READ_ME last, since it tells what is there."""
    return (
        ("GIS package", lambda plan, work, _: write_geopackage(plan, work / "plan.gpkg")),
        ("other formats", lambda plan, work, _: write_formats(plan, work)),
        ("rasters", lambda plan, work, _: write_rasters(plan, work / "rasters")),
        ("maps", lambda plan, work, tell: write_maps(plan, work / "maps", tell)),
        ("sheets", lambda plan, work, tell: write_sheets(plan, work / "sheets", progress=tell)),
        ("page", lambda plan, work, _: write_page(plan, work / "page.html")),
        ("lists", lambda plan, work, _: write_lists(plan, work)),
        ("calendar", lambda plan, work, _: write_calendar(plan, work / "calendar.ics")),
        ("summary", lambda plan, work, _: write_run_json(plan, work / "run.json")),
        ("READ_ME", lambda plan, work, _: write_read_me(plan, work)),
    )
