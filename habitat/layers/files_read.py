"""Every file that reading opens: those that are named, and those that go with them unnamed."""

from __future__ import annotations

import os
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Iterator
from pathlib import Path

from habitat.layers.rasters.file import MAX_DEPTH, MAX_VRT_BYTES, SOURCE_TAGS
from habitat.settings.layers import full_path

SHAPEFILE = {".shp", ".shx", ".dbf", ".prj", ".cpg", ".cst", ".qix", ".sbn", ".sbx", ".idm", ".ind", ".qpj"}
OTHER_VECTORS = {".tab", ".map", ".dat", ".id", ".mif", ".mid", ".gfs", ".xsd"}
WORLD = {".tfw", ".tifw", ".tiffw", ".wld", ".bpw", ".pgw", ".jgw", ".gfw"}
BESIDE_RASTERS = {".aux", ".rrd", ".rde", ".ige", ".ovr", ".msk", ".clr", ".hdr", ".stx", ".vat"}
SAME_STEM = SHAPEFILE | OTHER_VECTORS | WORLD | BESIDE_RASTERS
"""Endings of files that libraries read along with a file of the same stem."""

OVERVIEW_FILE = re.compile(rb"OVERVIEW_FILE[\"']\s*>\s*([^<]+?)\s*<")


def files_read(folder: Path, named: Iterable[str]) -> dict[str, Path]:
    """Return the files by their names, sidecars and parts included.

    Parameters
    ----------
    folder
        Where relative paths start.
    named
        Paths of layers, rasters and tables as a study states them; a folder stands for all files in it.

    Returns
    -------
    dict
        File on disk by its path as stated, or relative to ``folder``. A write-ahead log or a journal beside
        a database counts where it holds anything (the index of a log, ``-shm``, holds no data). Files that
        are not there are left out: reading says so.
    """
    out: dict[str, Path] = {}
    beside = _Beside()
    for path in dict.fromkeys(named):
        full = full_path(folder, path)
        if full.is_dir():
            inside = sorted(p for p in full.rglob("*") if p.is_file())
            out |= {str(Path(path) / p.relative_to(full)): p for p in inside}
            continue
        parts = beside.of(full)
        out |= {str(Path(path).parent / file.name): file for file in parts}
        for source in (*_overviews(parts), *_sources(full, set())):
            out |= {_shown(file, folder): file for file in beside.of(source)}
    return out


class _Beside:
    """Looks each folder through once, for the files that go with one of them."""

    def __init__(self) -> None:
        self.folders: dict[Path, dict[str, list[Path]]] = {}

    def of(self, path: Path) -> list[Path]:
        """Return a file with those beside it that libraries read along with it, by name."""
        if path.parent not in self.folders:
            self.folders[path.parent] = _by_start(path.parent)
        index, own, stem = self.folders[path.parent], path.name.casefold(), path.stem.casefold()
        longer = [p for p in index.get(own, ()) if p.name.casefold() != own or p.name == path.name]
        beside = [
            p for p in index.get(stem, ()) if p.suffix.lower() in SAME_STEM and p.stem.casefold() == stem
        ]
        return sorted({*longer, *beside})


def _by_start(folder: Path) -> dict[str, list[Path]]:
    """Return the files of a folder by what their names are up to each full stop, and whole."""
    try:
        files = [p for p in folder.iterdir() if p.is_file()]
    except OSError:
        return {}
    out: dict[str, list[Path]] = {}
    for file in files:
        name = file.name.casefold()
        if name.endswith("-shm") or (name.endswith(("-wal", "-journal")) and not file.stat().st_size):
            continue
        name = name.removesuffix("-wal").removesuffix("-journal")
        for stop in (*(i for i, letter in enumerate(name) if letter == "."), len(name)):
            out.setdefault(name[:stop], []).append(file)
    return out


def _overviews(parts: list[Path]) -> Iterator[Path]:
    """Yield the files that hold a raster's overviews, where its sidecar says that another file does."""
    for part in (p for p in parts if p.name.lower().endswith(".aux.xml")):
        if part.stat().st_size <= MAX_VRT_BYTES:
            for name in OVERVIEW_FILE.findall(part.read_bytes()):
                yield part.parent / name.decode(errors="replace").removeprefix(":::BASE:::")


def _sources(path: Path, seen: set[Path], depth: int = 0) -> Iterator[Path]:
    """Yield the files that a virtual raster names, and those that these name in turn, each once."""
    if depth > MAX_DEPTH or not _may_be_virtual(path):
        return
    try:
        root = ET.fromstring(path.read_bytes())
    except (ET.ParseError, OSError, ValueError):
        return  # reading says what is wrong with it
    for element in root.iter():
        text = (element.text or "").strip()
        source = path.parent / text.replace("\\", "/")
        local = text and not re.match(r"/vsi|[<{]|\w+://", text)
        if element.tag.lower() in SOURCE_TAGS and local and source not in seen:
            seen.add(source)
            yield source
            yield from _sources(source, seen, depth + 1)


def _may_be_virtual(path: Path) -> bool:
    try:
        if path.stat().st_size > MAX_VRT_BYTES:
            return False
        with path.open("rb") as file:
            head = file.read(200)
        data = path.read_bytes() if b"<VRTDataset" in head or path.suffix.lower() == ".vrt" else b""
    except OSError:
        return False
    return bool(data) and b"<!DOCTYPE" not in data and b"<!ENTITY" not in data


def _shown(file: Path, folder: Path) -> str:
    try:
        return os.path.relpath(file, folder)
    except ValueError:  # another drive
        return str(file)
