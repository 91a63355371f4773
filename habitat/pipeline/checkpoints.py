"""Finished stages of a run kept on disk, so that a run that died can go on.

They are plain data (``habitat.pipeline.plain_data``) in a private folder of the user's cache, never beside
results, and a file is believed only if all of it is as this very program wrote it from these very inputs.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import stat
import time
from collections.abc import Callable
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import pyproj
import rasterio
import shapely

import habitat
from habitat.connectivity.types import Corridor, Weighed
from habitat.grid import Grid
from habitat.layers.types import Layers, RasterLayer, VectorLayer
from habitat.pipeline.alone import cache_folder
from habitat.pipeline.plain_data import Reader, Types, Writer
from habitat.planting.types import Allocation, BedSite, Cells, Grown, Planting
from habitat.remarks import Note, Remark, Subject
from habitat.report.package.provenance import PACKAGES, input_hashes, versions
from habitat.report.written import sha256_of
from habitat.settings.layers import RasterSource
from habitat.site.types import Site
from habitat.study.model import Study
from habitat.sun.hours import SunTerms
from habitat.sun.relief import Relief

T = TypeVar("T")

FORMAT = 1
"""Changes with the form of the files."""

KEEP_DAYS = 30
"""Stages of runs that nobody went on with are removed after so long."""

ALSO_USED = ("pyogrio", "pyarrow", "openpyxl", "pydantic", "affine", "llvmlite")
"""Packages that stages depend on and run.json does not name."""

KEPT: Types = {
    kind.__name__: kind
    for kind in (
        *(Study, RasterSource, Layers, VectorLayer, RasterLayer, Note, Remark, Subject),
        *(Grid, Site, Relief, SunTerms),
        *(Planting, BedSite, Cells, Grown, Allocation, Weighed, Corridor),
    )
}
"""The only classes that a stage's file can name."""

Head = dict[str, Any]


class Checkpoints:
    """Results of stages in a folder, under a key of everything that they depend on.

    Parameters
    ----------
    folder
        Where to keep them (``stage_folder``); None keeps nothing. Others cannot read what is made there.
    key
        As ``run_key`` makes it. Results under another key are never read.
    resume
        Whether to read what is there; else an older run's stages are removed first.

    Attributes
    ----------
    notes
        What could not be kept or read, in words; the work goes on all the same.
    """

    def __init__(self, folder: Path | None, key: str, *, resume: bool = False) -> None:
        self.folder, self.key, self.resume = folder, key, resume
        self.notes: list[str] = []
        if folder is None:
            return
        try:
            _make_private(folder)
            _clear_old(folder.parent)
        except OSError as error:
            self.folder = None
            self._tell("Stages cannot be kept, so a run that dies begins anew", error)
        if not resume:
            self.clear()

    def stage(self, name: str, work: Callable[[], T]) -> T:
        """Return the kept result of a stage, or do the work and keep it."""
        if self.folder is None:
            return work()
        path = self.folder / f"{name}.{self.key[:16]}.stage"
        if self.resume and path.is_file():
            try:
                kept: T = _read(path, {"format": FORMAT, "stage": name, "key": self.key})
                return kept
            except Exception as error:  # of whatever kind: the work can be done again
                self._tell(f"What was kept of stage {name!r} cannot be used: it is worked again", error)
        result = work()
        try:
            _make_private(self.folder)
            _write(path, {"format": FORMAT, "stage": name, "key": self.key}, result)
        except (OSError, TypeError, ValueError, RecursionError) as error:
            self._tell(f"The stage {name!r} cannot be kept, so a run that dies begins anew with it", error)
        return result

    def _tell(self, what: str, error: Exception) -> None:
        self.notes.append(f"{what} ({type(error).__name__}: {str(error)[:200]}).")

    def clear(self) -> None:
        """Remove what was kept, once the results are written."""
        if self.folder is not None:
            _clear(self.folder)


def stage_folder(place: Path) -> Path | None:
    """Return the folder for stages of runs into a target; None where the system has no place for it.

    Parameters
    ----------
    place
        The target, resolved.
    """
    cache = cache_folder()
    return None if cache is None else cache / "stages" / hashlib.sha256(str(place).encode()).hexdigest()[:16]


def _make_private(folder: Path) -> None:
    """Make a folder, and the two above it that are ours, for this user alone.

    Raises
    ------
    OSError
        If one of them is a link or somebody else's.
    """
    for part in (folder.parents[1], folder.parent, folder):
        part.mkdir(mode=0o700, parents=True, exist_ok=True)
        found = part.lstat()
        if not stat.S_ISDIR(found.st_mode):
            raise NotADirectoryError(f"{part} is no folder")
        if hasattr(os, "geteuid"):
            if found.st_uid != os.geteuid():
                raise PermissionError(f"{part} belongs to somebody else")
            if found.st_mode & 0o077:
                part.chmod(0o700)


def _write(path: Path, head: Head, value: object) -> None:
    """Write a line that tells what this is, a tree in JSON, the arrays' bytes, and SHA-256 of it all."""
    writer = Writer(KEPT)
    tree = json.dumps(writer.node(value), separators=(",", ":")).encode()
    first = json.dumps({**head, "tree": len(tree), "data": writer.size}).encode() + b"\n"
    partial = path.with_suffix(".partial")
    partial.unlink(missing_ok=True)
    digest = hashlib.sha256()
    with os.fdopen(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        parts: list[Any] = [first, tree, *(a.reshape(-1).view(np.uint8) for a in writer.arrays if a.size)]
        for part in parts:
            digest.update(part)
            file.write(part)
        file.write(digest.digest())
    partial.replace(path)


def _read(path: Path, expected: Head) -> Any:
    """Return the value in a file.

    Raises
    ------
    Exception
        Of any kind, if it is not wholly as it was written.
    """
    size = path.stat().st_size
    digest = hashlib.sha256()
    with path.open("rb") as file:
        for start in range(0, size - 32, 1 << 20):
            digest.update(file.read(min(1 << 20, size - 32 - start)))
        if file.read() != digest.digest():
            raise ValueError("it is damaged")
        file.seek(0)
        head = json.loads(file.readline(10_000))
        if {k: head[k] for k in expected} != expected:
            raise ValueError("another version wrote it, or it is of another run")
        tree = json.loads(file.read(head["tree"]))
        start = file.tell()
    if start + head["data"] + 32 != size:
        raise ValueError("it is cut off")
    data = np.memmap(path, np.uint8, "r", start, (head["data"],)) if head["data"] else np.empty(0, np.uint8)
    return Reader(KEPT, data).value(tree)


def _clear(folder: Path) -> None:
    """Remove the stages in a folder and the folder, and nothing that has another kind of name."""
    if folder.is_symlink() or not folder.is_dir():
        return
    try:
        for path in folder.iterdir():
            if path.suffix in (".stage", ".partial"):
                path.unlink()
        folder.rmdir()
    except OSError:
        return  # it holds more than stages, or cannot be changed: the key guards against reading it


def _clear_old(home: Path) -> None:
    """Remove the stages of runs that nobody went on with."""
    oldest = time.time() - KEEP_DAYS * 86_400
    for folder in home.iterdir():
        if re.fullmatch("[0-9a-f]{16}", folder.name) and folder.lstat().st_mtime < oldest:
            _clear(folder)


def run_key(study: Study, yard_ids: tuple[str, ...], after: Path | None = None) -> str:
    """Return a key that changes with all that stages depend on.

    These are the settings, every file that reading opens and where the study is (kept stages name files to
    read later), the yards asked for, the results of an earlier run, the program's own files, and the versions
    of the libraries.
    """
    where = [str(study.path), str(study.path.resolve())]
    inputs = [study.model_dump(mode="json"), where, input_hashes(study), list(yard_ids)]
    followed = [] if after is None else sorted(p for p in after.glob("*") if p.is_file())
    earlier = [[p.name, sha256_of(p)] for p in followed if p.name != "timings.json"]
    parts = [*inputs, earlier, code_hash(), _libraries()]
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()


def code_hash(folder: Path | None = None) -> str:
    """Return SHA-256 of the program: every file of the package, compiled ones apart.

    Parameters
    ----------
    folder
        Where the package is, if not where it was imported from.
    """
    home = folder or Path(habitat.__file__).parent
    files = sorted(p for p in home.rglob("*") if p.is_file() and "__pycache__" not in p.parts)
    told = [[p.relative_to(home).as_posix(), sha256_of(p)] for p in files]
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()


def _libraries() -> dict[str, str]:
    out = {**versions(), "GDAL": rasterio.__gdal_version__, "GEOS": shapely.geos_version_string}
    out["PROJ"] = pyproj.proj_version_str
    for name in (n for n in ALSO_USED if n not in PACKAGES):
        try:
            out[name] = version(name)
        except PackageNotFoundError:
            out[name] = "not installed"
    return out
