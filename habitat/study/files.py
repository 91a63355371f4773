"""Whether the files that a study names are there, and which ones may have been meant."""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import TYPE_CHECKING

from habitat.errors import HabitatError, MissingFileError, StudyError

if TYPE_CHECKING:
    from habitat.study.model import Study

LISTED = 8
"""So many files of a folder are named where a path leads nowhere."""

ESCAPES = {8: r"\b", 9: r"\t", 10: r"\n", 12: r"\f", 13: r"\r"}
"""What TOML makes of a backslash before these letters, and how it was typed: "data\\new" holds a new line."""


def file_faults(study: Study) -> dict[str, HabitatError]:
    """Return the error of each layer, raster and table whose file is not there or may not be read."""
    out: dict[str, HabitatError] = {}
    for section, sources in (("layers", study.layers), ("rasters", study.rasters)):
        for name, source in sources.items():
            key = f"{section}.{name}"
            try:
                _refuse_network(source.path, f"{key}.path", study)
            except StudyError as error:
                out[key] = error
                continue
            if not source.path.strip() or not study.resolve(source.path).exists():
                out[key] = _no_file(study, key, source.path)
    for key, table in study.knowledge.model_dump(exclude={"region"}).items():
        if table is not None and not study.resolve(table).is_file():
            name = f"knowledge.{key}"
            out[name] = MissingFileError(
                f"{name} names {table!r}, which is not there", str(study.path), "Check the path"
            )
    return out


def _no_file(study: Study, key: str, path: str) -> MissingFileError:
    where = str(study.path)
    if not path.strip():
        return MissingFileError(f"{key}.path is empty", where, "Name a file, or leave the whole part out")
    typed = path.translate(ESCAPES)
    if "\\" in typed:
        return MissingFileError(
            f"{key} names '{typed}', which is not there", where, "In paths write / for \\, on every computer"
        )
    near = _nearest_file(study.resolve(path))
    return MissingFileError(
        f"{key} names {path!r}, which is not there",
        where,
        f"Check the path; it is relative to the study file{near}",
    )


def _refuse_network(path: str, key: str, study: Study) -> None:
    if "://" in path or path.startswith("/vsi"):
        raise StudyError(
            f"{key} is {path!r}, but only files on disk are read, never the network",
            str(study.path),
            "Download the file first and name it by its path",
        )


def _nearest_file(path: Path) -> str:
    if not path.parent.is_dir():
        return f" (there is no folder {str(path.parent)!r})"
    there = sorted(p.name for p in path.parent.iterdir() if not p.name.startswith("."))
    parts = [n for n in there if Path(n).stem.casefold() == path.stem.casefold()]
    if path.suffix.lower() == ".shp" and any(Path(n).suffix.lower() == ".dbf" for n in parts):
        return f"; of this shapefile {', '.join(parts)} are there, but not the .shp, which holds its shapes"
    stems = {Path(name).stem.casefold(): name for name in reversed(there)}
    close = difflib.get_close_matches(path.stem.casefold(), list(stems), n=1, cutoff=0.6)
    if close:
        return f"; did you mean {stems[close[0]]!r}?"
    more = f" and {len(there) - LISTED} more" if len(there) > LISTED else ""
    return f"; that folder holds {', '.join(there[:LISTED])}{more}" if there else "; that folder is empty"
