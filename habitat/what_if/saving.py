"""Save what was tried as the edits that ``habitat redraw`` and the next run read; nothing else is written."""

from __future__ import annotations

import datetime as dt
import json
import os
import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pandas as pd
import pyogrio

from habitat.errors import OutputError
from habitat.pipeline.alone import alone_in
from habitat.report.lists.decisions import write_table
from habitat.report.package.carried import CARRIED
from habitat.report.package.geopackage import replace_layers
from habitat.report.whole import put_aside
from habitat.report.write import MARK, clear_marked
from habitat.revision.deciding import with_cells
from habitat.revision.decisions import FILE, SHEET, TAKES_PART
from habitat.terms import ASK_AGAIN, ASKED, DECLINED, DRAFT, MEMBER, REFUSED
from habitat.what_if.base import FILES, Base, hashes
from habitat.what_if.steps import State


def save(base: Base, state: State, saved: State, seen: Mapping[str, str]) -> dict[str, str]:
    """Write a state into the results it began with, whole or not at all.

    Parameters
    ----------
    base
        The results as they were opened.
    state, saved
        What to save, and what the files hold.
    seen
        SHA-256 of FILES as they were opened or last saved.

    Returns
    -------
    dict
        SHA-256 of FILES now.

    Raises
    ------
    OutputError
        If a file changed meanwhile, another run is at work there, or it cannot be written; nothing is
        changed then.
    """
    folder, jobs = base.folder, dict[str, Callable[[Base, State, Path], None]]()
    jobs["plan.gpkg"] = _write_package
    if _marks(state) != _marks(saved):
        jobs[CARRIED] = _write_carried
    if roles(state) != roles(saved):
        jobs[FILE] = _write_decisions
    with alone_in(folder):
        refuse_changed(folder, seen)
        with _together(folder, [*jobs]) as work:
            for name, write in jobs.items():
                write(base, state, work / name)
        if FILE in jobs and (folder / SHEET).is_file():  # its rows are in the table now
            put_aside(folder / SHEET)
    return hashes(folder)


def roles(state: State) -> dict[str, str]:
    """Return the role of each yard."""
    yards = state.request.layers.yards
    return dict(zip(yards["yard_id"], yards["role"], strict=True))


def refuse_changed(folder: Path, seen: Mapping[str, str]) -> None:
    """Refuse to write over what somebody else changed since it was read.

    Raises
    ------
    OutputError
        If a file of FILES is another.
    """
    try:
        now = hashes(folder)
    except OSError as error:
        raise OutputError(f"the results cannot be read ({error})", str(folder), "Look at them") from error
    changed = [name for name in FILES if now[name] != seen[name]]
    if changed:
        raise OutputError(
            f"{' and '.join(changed)} changed on the disk since these results were opened: nothing is saved",
            str(folder),
            "Close, and open them again; what was tried here and not saved is lost then",
        )


@contextmanager
def _together(folder: Path, names: list[str]) -> Iterator[Path]:
    """Give a folder with copies of some files, which take the place of the originals at the end."""
    place = Path(os.path.realpath(folder))
    work = place.with_name(f".{place.name}.saving")
    clear_marked(work)
    try:
        work.mkdir(mode=0o700)
        (work / MARK).touch()
        for name in names:
            if (folder / name).is_file():
                shutil.copy2(folder / name, work / name)
        yield work
        _take_places(work, folder, names)
    except (OSError, ValueError, pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError) as error:
        what = f"it cannot be saved ({getattr(error, 'strerror', None) or error})"
        raise OutputError(what, str(folder), "Close the files where they are open, and try again") from error
    finally:
        if (work / MARK).is_file():
            shutil.rmtree(work, ignore_errors=True)


def _take_places(work: Path, folder: Path, names: list[str]) -> None:
    """Put files into the places of others; all those come back if one of them cannot be replaced."""
    done: list[str] = []
    try:
        for name in names:
            if (folder / name).is_file():
                shutil.copy2(folder / name, work / f"{name}.was")
        for name in names:
            (work / name).replace(folder / name)
            done.append(name)
    except OSError:
        for name in done:
            had = work / f"{name}.was"
            if had.is_file():
                had.replace(folder / name)
            else:
                (folder / name).unlink()
        raise


def _write_package(base: Base, state: State, path: Path) -> None:
    """Write beds, plantings and points; plans of yards that are not planned here stay as they are."""
    mine = {"beds": state.raw.beds, "plantings": state.raw.plantings, "plant_points": state.raw.points}
    ours, tables = {*base.request.yard_ids, *state.new}, dict[str, pd.DataFrame]()
    back = [plan.raw for yard, plan in state.away.items() if yard in base.request.yard_ids]
    for name, rows in mine.items():
        had = base.earlier.tables[name]
        parts = [had[~had["yard_id"].isin(ours)], *(getattr(drawn, ATTRIBUTES[name]) for drawn in back), rows]
        tables[name] = pd.concat([p for p in parts if len(p)] or [had.iloc[:0]], ignore_index=True)
    had = base.earlier.tables["yard_results"]
    new = state.results[~state.results["yard_id"].isin(base.earlier.planned)]
    tables["yard_results"] = pd.concat([had, new], ignore_index=True) if len(new) else had
    replace_layers(path, tables, base.layers.crs)


ATTRIBUTES = {"beds": "beds", "plantings": "plantings", "plant_points": "points"}
"""Layers, and what they are called in ``Drawn``."""


def _write_carried(base: Base, state: State, path: Path) -> None:
    """Write the marks of plans that the planner made here, so that nobody takes them for handwork."""
    data = json.loads(path.read_text(encoding="utf-8"))
    data["drawn"] = base.earlier.carried.drawn | _marks(state)
    path.write_text(json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False) + "\n", encoding="utf-8")


def _marks(state: State) -> dict[str, str]:
    """Return the fingerprints of all plans that were made here and stand."""
    planned = set(state.results["yard_id"])
    return {key: mark for yard, marks in state.new.items() if yard in planned for key, mark in marks.items()}


def _write_decisions(base: Base, state: State, path: Path) -> None:
    """Write who joined (takes_part) and who left (declined) since the results were opened."""
    had, yards = base.earlier.decisions, base.layers.yards
    was = dict(zip(yards["yard_id"], yards["role"], strict=True))
    table, status = had.with_drafts(yards, base.request.yard_ids, ""), had.status()
    table[TAKES_PART] = table.get(TAKES_PART, "")
    for yard, role in roles(state).items():
        if role == was[yard]:
            continue
        cells = {"date": dt.date.today().isoformat(), TAKES_PART: "yes" if role == MEMBER else ""}
        if role != MEMBER:
            cells["status"] = DECLINED
        elif status.get(yard, ASKED) in (*REFUSED, ASKED, ASK_AGAIN):
            cells["status"] = DRAFT
        table = with_cells(table, yards, [yard], cells)
    write_table(table, path)
