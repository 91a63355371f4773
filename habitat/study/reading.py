"""Read a study file: its text, and whether the files that it names are there."""

from __future__ import annotations

import datetime as dt
import difflib
import re
import tomllib
from pathlib import Path

from habitat.errors import HabitatError, MissingFileError, StudyError, together
from habitat.layers.formats.tape import is_tape_file
from habitat.study.model import Study, parse_study

MAX_BYTES = 4 * 1024**2
"""A study file with every key explained has 30 kB."""

MAX_DEPTH = 40
"""Lists or tables inside each other, and parts of a name between full stops; a study needs five."""

ALONE_CELL_M = 0.25
"""Cells of a yard that is planned alone, as in a folder of 'habitat new --yard'."""

LISTED = 8
"""So many files of a folder are named where a path leads nowhere."""

LAYER_ENDINGS = (
    *(".gpkg", ".shp", ".shz", ".zip", ".geojson", ".json", ".fgb", ".parquet", ".geoparquet", ".gdb"),
    *(".kml", ".kmz", ".gpx", ".gml", ".dbf", ".csv", ".tsv", ".xlsx", ".ods"),
)
RASTER_ENDINGS = (".tif", ".tiff", ".vrt", ".asc", ".img")
"""Endings of files that are often given where the study file is meant."""

ESCAPES = {8: r"\b", 9: r"\t", 10: r"\n", 12: r"\f", 13: r"\r"}
"""What TOML makes of a backslash before these letters, and how it was typed: "data\\new" holds a new line."""


def read_study(path: str | Path) -> Study:
    """Read a study file and check it.

    Parameters
    ----------
    path
        A TOML file as the README describes it; or a tape table or sketch (CSV) of one yard, which is a study
        of that yard alone, of the day on which the file was saved.

    Raises
    ------
    MissingFileError
        If the file, or a layer or raster that it names, is not there.
    StudyError
        If it is not TOML, or a key is unknown, missing or out of range.

    Examples
    --------
    >>> import habitat
    >>> study = habitat.read_study("sample_geodata")  # a study file, or the folder that holds study.toml
    >>> study.study.crs, study.layers["yards"].layer
    ('EPSG:32617', 'yards')
    >>> study.changed(planting={"budget": 100}).planting.budget
    100.0
    """
    study, faults = open_study(path)
    if faults:
        raise together(list(faults.values()))
    return study


def open_study(path: str | Path) -> tuple[Study, dict[str, HabitatError]]:
    """Read a study file, and tell of each layer, raster or table whose file cannot be meant or is not there.

    Returns
    -------
    The study, and the error of each such key ("layers.plants").

    Raises
    ------
    MissingFileError, StudyError
        If the study file itself cannot be read.
    """
    path = Path(path)
    if path.is_dir():
        path = path / "study.toml"
    if not path.is_file():
        raise MissingFileError(
            "there is no such study file", str(path), "Check the path, or make one with 'habitat new FOLDER'"
        )
    if alone := _drawn_alone(path):
        return alone, {}
    _refuse_layer(path)
    if path.stat().st_size > MAX_BYTES:
        raise StudyError(
            f"it is larger than {MAX_BYTES // 1024**2} MB, which no study file is",
            str(path),
            "Name the study file itself",
        )
    try:
        text = path.read_bytes().decode("utf-8-sig")
        _refuse_deep(text, path)
        data = tomllib.loads(text)
    except StudyError:
        raise
    except UnicodeDecodeError:
        raise StudyError(
            "it is not a text file in UTF-8, which study files are in", str(path), "Save it again as UTF-8"
        ) from None
    except tomllib.TOMLDecodeError as error:
        raise StudyError(f"not a valid TOML file ({error})", str(path), _toml_hint(str(error))) from None
    except (ValueError, OverflowError, RecursionError) as error:  # a number of thousands of digits, a date
        raise StudyError(
            f"a value in it cannot be read ({str(error)[:120]})", str(path), "Mend that value"
        ) from None
    study = parse_study(data, path)
    return study, file_faults(study)


def _drawn_alone(path: Path) -> Study | None:
    """Return a study of a yard that was drawn or measured by tape, and nothing else; None for other files."""
    if not is_tape_file(path):
        return None
    saved = dt.date.fromtimestamp(path.stat().st_mtime)
    head = {"name": path.stem, "date": saved, "cell_m": ALONE_CELL_M}
    return parse_study({"study": head, "layers": {"yards": {"path": path.name}}}, path)


def _refuse_deep(text: str, path: Path) -> None:
    """Refuse lists and tables so deep inside each other that reading them would take without end."""
    depth = 0
    for number, line in enumerate(text.split("\n"), 1):
        bare = re.sub(r"\"[^\"]*\"|'[^']*'|#.*", "", line)  # brackets in text and comments hold nothing
        for sign in re.findall(r"[\[{\]}]", bare):
            depth = max(0, depth + (1 if sign in "[{" else -1))
            if depth > MAX_DEPTH:
                break
        if depth > MAX_DEPTH or bare.partition("=")[0].count(".") > MAX_DEPTH:
            raise StudyError(
                f"line {number} holds lists or tables more than {MAX_DEPTH} deep inside each other",
                str(path),
                "Write the file anew: 'habitat new FOLDER' makes a commented one",
            )


def _refuse_layer(path: Path) -> None:
    """Refuse a layer, table or raster that is given in place of a study file, and say what to do instead."""
    ending = path.suffix.lower()
    if ending not in (*LAYER_ENDINGS, *RASTER_ENDINGS):
        return
    part = "[rasters]" if ending in RASTER_ENDINGS else "[layers]"
    raise StudyError(
        f"this is a file for a study to read, not a study file ({ending})",
        str(path),
        "Make a folder with 'habitat new FOLDER', put the file there, name it in the folder's study.toml "
        f"under {part}, and check the folder",
    )


def _toml_hint(said: str) -> str:
    if "\\" in said:
        return "Mend that line; in paths write / for \\"
    return "Mend that line; text must be in straight quotes"


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
            try:
                there = bool(source.path.strip()) and study.resolve(source.path).exists()
            except (OSError, ValueError):  # too long for the system, or with letters that no path has
                shown = source.path[:60]
                out[key] = MissingFileError(
                    f"{key} names a path of {len(source.path):,} letters that this system cannot take, "
                    f"beginning with {shown!r}",
                    str(study.path),
                    "Name the file by a shorter path",
                )
                continue
            if not there:
                out[key] = _no_file(study, key, source.path)
    folder = study.knowledge.region_folder
    named = study.knowledge.tables | ({"region_folder": f"{folder}/region.toml"} if folder else {})
    for key, table in named.items():
        if not _is_file(study.resolve(table)):
            name = f"knowledge.{key}"
            out[name] = MissingFileError(
                f"{name} names {table!r}, which is not there", str(study.path), "Check the path"
            )
    return out


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


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
