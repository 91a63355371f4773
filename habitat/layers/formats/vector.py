"""Open a vector layer or table of any format and hand on what it holds, judging nothing yet."""

from __future__ import annotations

import json
import re
import tempfile
from contextlib import ExitStack
from pathlib import Path

import pandas as pd
from pyproj import CRS
from pyproj.exceptions import CRSError

from habitat.errors import CrsError, LayerError
from habitat.layers.formats import csv_table, shapefile
from habitat.layers.formats import ogr as parquet
from habitat.layers.formats import spreadsheet as sheet
from habitat.layers.formats.archive import unpack
from habitat.layers.formats.nesting import MOST_BRACKETS, refuse_deep_elements, too_deep_text
from habitat.layers.formats.ogr import read_ogr
from habitat.layers.formats.plain import NETWORK, reading
from habitat.layers.formats.raw import Draft
from habitat.layers.formats.text import decode_bytes
from habitat.settings.layers import Sources, VectorSource

MAGIC = (
    (b"SQLite format 3", ".gpkg"), (b"PAR1", ".parquet"), (b"fgb", ".fgb"), (b"PK\x03\x04", ".zip"),
    (b"\x00\x00\x27\x0a", ".shp"), (b"\xd0\xcf\x11\xe0", ".xls"), (b"PK\x05\x06", "empty zip"),
    (b"\x1f\x8b", ".gz"),
)  # fmt: skip
TEXT_TABLES = {".csv", ".tsv", ".txt", ".tab"}
SHEETS = {".xlsx", ".xlsm"}
JSON = {".geojson", ".json", ".geojsonl", ".geojsons", ".ndjson"}
NUMBERED = r"(?i)\s*(?:w(?:ay)?\s?p(?:oin)?t?|point|mark|poi)?[\s_#-]{0,3}\d{1,9}\s*"
"""Names that devices give to waypoints: 003, WPT 12, Waypoint 7."""

XML = {".kml", ".gpx"}
BINARY = {".gpkg": ".gpkg", ".fgb": ".fgb", ".parquet": ".parquet", ".geoparquet": ".parquet",
          ".pq": ".parquet",
          ".shp": ".shp", ".zip": ".zip", ".shz": ".zip", ".kmz": ".zip", ".xlsx": ".zip",
          ".xlsm": ".zip"}  # fmt: skip
PACKED = (".gz", ".7z", ".rar", ".tar", ".tgz", ".bz2", ".xz")
READ_SUFFIXES = {*TEXT_TABLES, *SHEETS, *JSON, *XML, *BINARY, ".dbf", ".xls"}
READABLE = "GeoPackage, GeoJSON, shapefile (also zipped), FlatGeobuf, GeoParquet, KML, GPX, CSV, TSV, XLSX"
INNER = (
    ".gpkg",
    ".shp",
    ".fgb",
    ".geojson",
    ".json",
    ".parquet",
    ".geoparquet",
    ".kml",
    ".gpx",
    ".csv",
    ".tsv",
    ".xlsx",
)
NOT_READ = (
    *("NetworkLink", "GroundOverlay", "ScreenOverlay", "PhotoOverlay"),
    *("Style", "StyleMap", "styleUrl", "link"),
)
"""Elements of KML and GPX that point elsewhere or only colour what is there."""

MAX_TEXT = 4 * 1024**3


def open_layer(sources: Sources, name: str) -> Draft:
    """Read one of the vector layers and tables as it stands in its file.

    Raises
    ------
    LayerError
        If the file cannot be read, is of no known format, or does not say which of its layers is meant.
    """
    source = sources.vectors[name]
    path = sources.resolve(source.path)
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="habitat-")))
        draft = _open(path, name, source, folder)
    draft.where = source.path
    draft.table.index = pd.RangeIndex(len(draft.table))
    draft.rows_in = len(draft.table)
    return draft


def _open(path: Path, name: str, source: VectorSource, folder: Path) -> Draft:
    suffix = path.suffix.lower()
    if path.is_dir():
        if suffix == ".gdb":
            return read_ogr(path, name, source, shown=path.name)
        return _open_found(
            _inner(sorted(p for p in path.rglob("*") if p.is_file()), source, path), name, source, folder
        )
    if suffix not in READ_SUFFIXES:
        raise _not_read(path.suffix, name, source)
    _check_magic(path, suffix)
    if suffix in {".zip", ".shz", ".kmz"}:
        return _open_found(_inner(unpack(path, folder / "unpacked"), source, path), name, source, folder)
    return _open_file(path, suffix, name, source, folder)


def _open_found(path: Path, name: str, source: VectorSource, folder: Path) -> Draft:
    _check_magic(path, path.suffix.lower())
    kept = source.model_copy(update={"layer": None}) if source.layer == path.stem else source
    return _open_file(path, path.suffix.lower(), name, kept, folder)


def _open_file(path: Path, suffix: str, name: str, source: VectorSource, folder: Path) -> Draft:
    if suffix in TEXT_TABLES or suffix in SHEETS:
        return _open_table(path, name, source, suffix)
    if suffix in {".shp", ".dbf"}:
        return shapefile.read_shapefile(path, name, source, folder)
    if suffix in {".parquet", ".geoparquet", ".pq"}:
        return parquet.read_parquet(path, name)
    if suffix in JSON | XML:
        return _open_text(path, suffix, name, source, folder)
    if suffix in {".gpkg", ".fgb"}:
        return read_ogr(path, name, source, shown=path.name)
    raise _not_read(suffix, name, source)


def _not_read(suffix: str, name: str, source: VectorSource) -> LayerError:
    packed = suffix.lower() in PACKED
    return LayerError(
        f"layers.{name}: files named *{suffix} are not read",
        source.path,
        "Unpack it, and name the file that was in it" if packed else f"Save it as one of: {READABLE}",
    )


def _check_magic(path: Path, suffix: str) -> None:
    """Refuse a file whose first bytes belong to another format than its name says, or that is empty."""
    if not path.is_file():
        raise LayerError("it is no file", path.name, "Check the path")
    with reading(path.name), path.open("rb") as file:
        head = file.read(64)
    if not head.strip(b"\0 \r\n\t"):
        raise LayerError("the file is empty", path.name, "Save it again from the program that made it")
    actual = next((kind for magic, kind in MAGIC if head.startswith(magic)), None)
    expected = BINARY.get(suffix)
    if suffix == ".dbf":
        return
    if actual == "empty zip":
        raise LayerError("the archive is empty", path.name, "Pack the layer again, with all its files")
    if actual == ".xls":
        raise LayerError("old spreadsheets (.xls) are not read", path.name, "Save it as .xlsx or CSV")
    if actual != expected:
        is_text = suffix in TEXT_TABLES | JSON | XML
        what = f"inside it is {'text or something else' if actual is None else 'a ' + actual + ' file'}"
        if actual is not None or not is_text:
            raise LayerError(
                f"it is named *{suffix}, but {what}", path.name, "Save it again in the format of its name"
            )


def _inner(files: list[Path], source: VectorSource, shown: Path) -> Path:
    """Return the one file that is meant in an archive or folder."""
    found = [f for f in files if f.suffix.lower() in INNER and not f.name.startswith(".")]
    if source.layer is not None and (named := [f for f in found if source.layer in (f.stem, f.name)]):
        found = named
    best = next(
        (
            [f for f in found if f.suffix.lower() == s]
            for s in INNER
            if any(f.suffix.lower() == s for f in found)
        ),
        [],
    )
    if len(best) == 1:
        return best[0]
    if not found:
        raise LayerError("it holds no layer that can be read", shown.name, f"Readable: {READABLE}")
    names = ", ".join(sorted(f.stem for f in found)[:20])
    if source.layer is not None and len(best) > 1:
        raise LayerError(f"it holds no layer {source.layer!r}", shown.name, f"Its layers: {names}")
    raise LayerError(f"it holds several layers: {names}", shown.name, 'State which one with layer = "..."')


def _open_table(path: Path, name: str, source: VectorSource, suffix: str) -> Draft:
    if suffix in SHEETS:
        table, ragged, told = sheet.read_sheet(path, source.layer)
        encoding, comma = None, csv_table.uses_decimal_comma(table)
    else:
        table, ragged, encoding, comma, told = csv_table.read_csv(path, source.encoding)
    draft = Draft(name, source.path, table, encoding=encoding, decimal_comma=comma, own_format="table")
    for text in told:
        draft.tell(text, harm=1)
    draft.row_faults.update(ragged)
    return draft


def _open_text(path: Path, suffix: str, name: str, source: VectorSource, folder: Path) -> Draft:
    """Read GeoJSON, KML or GPX through a cleaned copy: UTF-8, and nothing in it that points elsewhere."""
    if path.stat().st_size > MAX_TEXT:
        raise LayerError(
            "the text file is larger than 4 GB", path.name, "Save it as GeoPackage or FlatGeobuf"
        )
    data = path.read_bytes()
    text, encoding, note = decode_bytes(data, source.encoding, path.name)
    told = [note] if note else []
    if suffix in XML:
        text, more = _harmless_xml(text, path.name)
        told += more
    else:
        _check_json(text, path.name)
        if source.crs is None:
            _check_crs_member(text, path.name, name)
    clean = folder / f"clean{'.geojson' if suffix == '.json' else suffix}"
    clean.write_text(text, encoding="utf-8", newline="")
    try:
        draft = read_ogr(clean, name, source, shown=path.name)
    except LayerError as error:
        raise _broken_json(text, path.name, error) if suffix in (".geojson", ".json") else error from None
    draft.encoding = encoding
    if suffix == ".gpx":
        _name_by_words(draft)
    for line in told:
        draft.tell(line)
    return draft


def _name_by_words(draft: Draft) -> None:
    """Take the description, or comment, of waypoints as their name where a device only numbered them."""
    table = draft.table
    if "name" not in table:
        return
    for column in ("desc", "cmt"):
        words = table.get(column)
        if words is None:
            continue
        numbered = table["name"].astype("string").str.fullmatch(NUMBERED).fillna(False).astype(bool)
        swapped = numbered & words.astype("string").str.contains(r"[^\W\d_]{3}").fillna(False).astype(bool)
        if swapped.any():
            table["name"] = table["name"].where(~swapped, words)
            draft.tell(
                f"{int(swapped.sum())} waypoint(s) have a mere number for a name: read by their {column}"
            )


def _harmless_xml(text: str, shown: str) -> tuple[str, list[str]]:
    if re.search(r"<!(DOCTYPE|ENTITY)", text, re.IGNORECASE):
        raise LayerError(
            "it declares a document type or entities, which map files have no need of",
            shown,
            "Ask for a plain file",
        )
    text = re.sub(r"(<\?xml[^>]*?)\s+encoding=([\"'])[^\"']*\2", r'\1 encoding="UTF-8"', text, count=1)
    refuse_deep_elements(text, shown)
    told = []
    for tag in NOT_READ:
        text, gone = _without(text, tag)
        if tag == "NetworkLink" and gone:
            told.append(
                f"{gone} link(s) to a file elsewhere (href) were not followed: nothing is read from the "
                "network"
            )
    return text, told


def _without(text: str, tag: str) -> tuple[str, int]:
    """Return marked-up text without the elements of a name, and how many there were, in one pass."""
    begins = re.compile(rf"<(?:\w+:)?{tag}(?=[\s/>])")
    ends = re.compile(rf"</(?:\w+:)?{tag}\s{{0,9}}>")
    kept, at, count = [], 0, 0
    while begin := begins.search(text, at):
        close = text.find(">", begin.end())
        if close < 0:
            break
        end = close + 1
        if text[close - 1] != "/":
            found = ends.search(text, end)
            if found is None:
                break
            end = found.end()
        kept.append(text[at : begin.start()])
        at, count = end, count + 1
    kept.append(text[at:])
    return "".join(kept), count


def _check_crs_member(text: str, shown: str, name: str) -> None:
    """Refuse GeoJSON whose (old) crs member names a system that nobody knows: readers take it for degrees."""
    for part in (text[:5000], text[-5000:]):
        found = re.search(r'"crs"\s*:\s*\{[^{}]*\{[^{}]*"(?:name|code|href)"\s*:\s*"?([^"}\s]+)"?', part)
        if found:
            try:
                CRS.from_user_input(found.group(1))
            except CRSError:
                raise CrsError(
                    f"its crs member names {found.group(1)!r}, a CRS that PROJ does not know",
                    shown,
                    f'State crs = "EPSG:..." under layers.{name}',
                ) from None


def _broken_json(text: str, shown: str, error: LayerError) -> LayerError:
    """Return the error of a text that could not be read, with the place where it breaks off if it does."""
    try:
        json.loads(text)
    except json.JSONDecodeError as broken:
        what = f"the file breaks off or is damaged in line {broken.lineno}, column {broken.colno}"
        return LayerError(f"{what} ({broken.msg})", shown, "Save or download it again, whole")
    except (RecursionError, ValueError):
        pass  # nested too deep, or a number of more digits than Python reads
    return error


def _check_json(text: str, shown: str) -> None:
    if too_deep_text(text):
        raise LayerError(
            f"its lists stand more than {MOST_BRACKETS} deep inside each other",
            shown,
            "Export it again from the program that made it",
        )
    start = text.lstrip("﻿\x1e \r\n\t")[:1]
    if start not in ("{", "["):
        raise LayerError("it is not GeoJSON: it does not begin with {", shown, "Save it as GeoJSON again")
    if "gdal_streamed_alg" in text or "vrt" in text[:40].lower():
        raise LayerError(
            "it is a recipe that runs a program, not a layer", shown, "Save its result as GeoPackage"
        )
    if NETWORK.search(text[:300].encode()) and '"features"' not in text and '"coordinates"' not in text:
        raise LayerError(
            "it points to the network and holds no shapes",
            shown,
            "Download the layer and save it as GeoPackage",
        )
