"""What a run wrote, told by a list with hashes: only that may make room for new results."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from habitat.errors import HabitatError, LayerError, OutputError
from habitat.study.files import study_files
from habitat.study.model import Study

LIST = "files.json"
TIMINGS = "timings.json"
"""Differs from run to run, so that the list, which does not, holds no hash of it."""

KNOWN = frozenset(
    {
        *("READ_ME.txt", "calendar.ics", "files.json", "geojson", "lists", "maps", "page.html", "plan.dxf"),
        *("plan.gpkg", "rasters", "run.json", "sheets", "shopping.csv", "styles", "timings.json"),
    }
)
"""What may stand at the top of results that an earlier version wrote without a list; it does not grow."""

OPEN = ("-wal", "-shm", "-journal")
"""What a database has beside it while a program has it open, or after that program died."""

WORKBOOK = re.compile(r"(-read(-\d+)?)?\.xlsx$")

NAMED = 3


@dataclass(frozen=True, slots=True)
class Found:
    """What is in a folder of results, by path within it.

    ours : as it was written. edited : written by a run and changed since, or possibly changed where no hash
    tells. foreign : what no run wrote. in_use : databases that a program has open. listed : whether
    there is a list to tell it by.
    """

    ours: tuple[str, ...]
    edited: tuple[str, ...]
    foreign: tuple[str, ...]
    in_use: tuple[str, ...]
    listed: bool

    @property
    def untouched(self) -> bool:
        """Whether nothing but what a run wrote is here, as the run wrote it."""
        return self.listed and not (self.edited or self.foreign or self.in_use)


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of a file's bytes, in hexadecimal."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        for block in iter(lambda: file.read(1 << 20), b""):
            digest.update(block)
    return digest.hexdigest()


def write_list(folder: Path) -> None:
    """Write the list of all files in a folder with their SHA-256; equal results give an equal list."""
    files = sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())
    hashes = {n: None if n == TIMINGS else sha256_of(folder / n) for n in files if n != LIST}
    text = json.dumps({"sha256": hashes}, indent=1)
    (folder / LIST).write_text(text + "\n", encoding="utf-8")


def look(folder: Path) -> Found:
    """Return what is in a folder of results, compared with the list in it."""
    listed = _read_list(folder)
    files: list[str] = []
    foreign: list[str] = []
    homes = {p.as_posix() for name in listed or () for p in Path(name).parents}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink() or not (path.is_file() or path.is_dir()):
            foreign.append(name)
        elif path.is_file():
            files.append(name)
        elif listed is not None and name not in homes and not any(path.iterdir()):
            foreign.append(f"{name}/")
    in_use = {n.removesuffix(end) for n in files for end in OPEN if n.endswith(end)} & set(files)
    files = [n for n in files if not any(n == base + end for base in in_use for end in OPEN)]
    if listed is None:
        strange = [n for n in files if n.split("/")[0] not in KNOWN]
        edited = tuple(n for n in files if n not in strange)
        return Found((), edited, tuple(sorted((*foreign, *strange))), tuple(sorted(in_use)), False)
    return _compared(folder, files, listed, foreign, in_use)


def _compared(
    folder: Path, files: list[str], listed: dict[str, str | None], foreign: list[str], in_use: set[str]
) -> Found:
    ours, edited = [], []
    for name in files:
        if name == LIST or (name in listed and _as_written(folder, name, listed[name])):
            ours.append(name)
        elif name in listed or WORKBOOK.sub(".csv", name) in listed:
            edited.append(name)  # or saved as a workbook, perhaps read since (``report.whole.put_aside``)
        elif any(name.startswith(f"{other}.") for other in listed):
            edited.append(name)  # what a program put beside it, such as sun_h.tif.aux.xml
        else:
            foreign.append(name)
    return Found(tuple(ours), tuple(sorted(edited)), tuple(sorted(foreign)), tuple(sorted(in_use)), True)


def _read_list(folder: Path) -> dict[str, str | None] | None:
    """Return hash by path, None where there is no list that can be read."""
    try:
        hashes = json.loads((folder / LIST).read_text(encoding="utf-8"))["sha256"]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None
    plain = isinstance(hashes, dict) and all(isinstance(v, str | None) for v in hashes.values())
    return hashes if plain else None


def _as_written(folder: Path, name: str, expected: str | None) -> bool:
    if name != TIMINGS:
        return sha256_of(folder / name) == expected
    try:
        text = (folder / name).read_text(encoding="utf-8")
        stages: Any = json.loads(text)
        return text == json.dumps(stages, indent=1) + "\n" and all(
            set(stage) == {"seconds", "peak_mb"} for stage in stages.values()
        )
    except (ValueError, AttributeError, TypeError, RecursionError):
        return False


@contextmanager
def naming_edits(*folders: Path | None) -> Iterator[None]:
    """Turn whatever fails over results that somebody changed into an error that names what was changed.

    What fails over results that are as a run wrote them is a fault of the program, and stays one.

    Raises
    ------
    LayerError
        If something but a HabitatError is raised in the block, and a folder holds changed files.
    """
    try:
        yield
    except HabitatError:
        raise
    except Exception as error:
        for folder in folders:
            edited = () if folder is None or not folder.is_dir() else look(folder).edited
            if edited:
                said = " ".join(str(error).split())[:200]
                raise LayerError(
                    f"{_some(edited)} is not as the run wrote it, and cannot be used as it is now "
                    f"({type(error).__name__}: {said})",
                    str(folder),
                    "Put it back as the run wrote it, or run the study again",
                ) from error
        raise


def refuse_loss(study: Study, folder: Path, *, replace: bool) -> None:
    """Refuse a target at which somebody would lose something; asked before any work is done.

    Parameters
    ----------
    study
        What it reads, and the folder that it is in, are never replaced.
    folder
        The target, resolved.
    replace
        Whether results that are there already may be replaced.

    Raises
    ------
    OutputError
        If results are there and ``replace`` is false; if it is no folder; if it is or holds the study's
        folder or a file that the study reads; if it holds a file that no run wrote, or one that is open.
    """
    if not folder.exists():
        return
    try:
        _refuse_what_is_there(study, folder, replace)
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(
            f"what is there cannot be read ({error.strerror or error}), so it is not replaced",
            str(error.filename or folder),
            "Make it readable, or name another folder with --out",
        ) from error


def _refuse_what_is_there(study: Study, folder: Path, replace: bool) -> None:
    if not folder.is_dir():
        raise OutputError("there is a file of this name", str(folder), "Name another folder")
    if not any(folder.iterdir()):
        return
    if _read_list(folder) is None and not (folder / "run.json").is_file():
        refuse_inputs(study, folder)
        raise OutputError(
            "this folder holds something other than results of a run, so it is not replaced",
            str(folder),
            "Name another folder, or empty this one yourself",
        )
    if not replace:
        raise OutputError(
            "there are results here already",
            str(folder),
            "Name another folder with --out; 'habitat run' with --replace puts new results in their place",
        )
    refuse_inputs(study, folder)
    found = look(folder)
    if found.foreign:
        raise OutputError(
            f"no run wrote {_some(found.foreign)}, which lies among the results, so they are not replaced",
            str(folder),
            "Move it out of this folder, or name another folder with --out",
        )
    if found.in_use:
        raise OutputError(
            f"{_some(found.in_use)} is open in another program, or was not closed in order",
            str(folder),
            "Save and close it there, or name another folder with --out",
        )


def refuse_inputs(study: Study, folder: Path) -> None:
    """Refuse a target that is or holds the study's folder, or that holds a file which the study reads."""
    if not folder.exists():
        return
    way = "Name another folder with --out, or move the file out of it and name its new place in the study"
    if _inside(study.folder.resolve(), folder):
        raise OutputError(
            "this folder is or holds the study's own folder, so it is not replaced",
            str(folder),
            "Name a new folder with --out, such as one inside the study's folder",
        )
    for name, file in study_files(study).items():
        if _inside(file.resolve(), folder) or _inside(file.parent.resolve(), folder):
            raise OutputError(
                f"the study reads {name!r} from this folder, so it is not replaced", str(folder), way
            )


def _inside(path: Path, folder: Path) -> bool:
    """Return whether a path is a folder or in it, also where upper and lower case name one folder."""
    there = [p for p in (path, *path.parents) if p.exists()]
    return any(p.samefile(folder) for p in there)


def make_room(old: Path, name: Path) -> str | None:
    """Remove results that are as a run wrote them; move any others beside, and say so.

    Parameters
    ----------
    old
        The folder, already out of the way of the new results.
    name
        The path that it had.
    """
    found = look(old)
    if found.untouched:
        for file in found.ours:
            (old / file).unlink()
        for folder in sorted((p for p in old.rglob("*") if p.is_dir()), reverse=True):
            _remove_empty(folder)
        _remove_empty(old)
        if not old.exists():
            return None
    aside = _free_name(name)
    old.rename(aside)
    touched = (*found.edited, *found.foreign, *found.in_use)
    if not found.listed:
        why = "an earlier version wrote these results, without a list that tells whether they were edited"
    else:
        why = f"{_some(touched)} had been changed since the run that wrote it" if touched else "it was in use"
    return f"Kept beside, whole, as {aside}: {why}."


def _remove_empty(folder: Path) -> None:
    try:
        folder.rmdir()
    except OSError:
        return  # something came in since; the caller moves it beside


def _free_name(name: Path) -> Path:
    """Return a name beside with today's date that nothing has."""
    first = name.with_name(f"{name.name}-before-{dt.date.today().isoformat()}")
    number, aside = 2, first
    while aside.exists() or aside.is_symlink():
        number, aside = number + 1, first.with_name(f"{first.name}-{number}")
    return aside


def _some(names: tuple[str, ...]) -> str:
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return ", ".join(repr(n) for n in names[:NAMED]) + more
