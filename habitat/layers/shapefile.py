"""Shapefiles: several files that must fit each other, in an encoding that is often not the one declared."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from habitat.errors import LayerError
from habitat.layers.archive import link_or_copy
from habitat.layers.dbf_text import declared_encoding, decode_columns, deleted_rows, long_whole_numbers
from habitat.layers.ogr import read_ogr
from habitat.layers.plain import gdal_settings
from habitat.layers.raw import Draft
from habitat.study import VectorSource

PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg")


def read_shapefile(path: Path, name: str, source: VectorSource, folder: Path) -> Draft:
    """Read a shapefile (or a lone dBase table) byte by byte, then decide on its encoding.

    A missing index (.shx) is made anew in a temporary folder; nothing is written beside the file.
    """
    parts = sidecars(path)
    is_table = path.suffix.lower() == ".dbf" and ".shp" not in parts
    _check_counts(path, parts)
    staged = folder / "staged"
    staged.mkdir(parents=True, exist_ok=True)
    for suffix, part in parts.items():
        if suffix in (".shp", ".shx", ".dbf", ".prj"):
            link_or_copy(part, staged / f"layer{suffix}")
    opened = staged / ("layer.dbf" if is_table else "layer.shp")
    with gdal_settings(SHAPE_RESTORE_SHX="YES"):
        kept = source.model_copy(update={"layer": None})
        draft = read_ogr(opened, name, kept, shown=path.name, encoding="ISO-8859-1")
    draft.own_format = "shapefile"
    declared = declared_encoding(parts.get(".dbf"), parts.get(".cpg"))
    draft.table, draft.encoding, told = decode_columns(draft.table, source.encoding, declared, path.name)
    for line in told:
        draft.tell(line)
    if ".dbf" in parts:
        for column, digits in long_whole_numbers(parts[".dbf"]).items():
            if column in draft.table and len(digits) == len(draft.table):
                draft.table[column] = pd.Series(digits, dtype=object)
        if gone := deleted_rows(parts[".dbf"]):
            draft.tell(f"{gone} row(s) are marked as deleted in the table (.dbf): they are not read")
    _tell_missing(draft, parts, is_table)
    return draft


def sidecars(path: Path) -> dict[str, Path]:
    """Return the files that belong to a shapefile by suffix, whatever the case of their names."""
    out: dict[str, Path] = {}
    for file in sorted(path.parent.iterdir()):
        suffix = file.suffix.lower()
        ours = suffix in PARTS and file.stem.casefold() == path.stem.casefold() and file.is_file()
        if ours and (suffix not in out or file.stem == path.stem):
            out[suffix] = file
    return out


def _tell_missing(draft: Draft, parts: dict[str, Path], is_table: bool) -> None:
    if is_table:
        draft.shapes = None
        return
    if ".shx" not in parts:
        draft.tell("the index file (.shx) is missing: it was made anew from the shapes")
    if ".dbf" not in parts:
        draft.tell("the table (.dbf) is missing: rows have shapes but no ids or other columns", harm=2)
        draft.table = draft.table.drop(columns=list(draft.table.columns))


def _check_counts(path: Path, parts: dict[str, Path]) -> None:
    """Refuse a table with another number of rows than shapes: columns would sit on wrong shapes."""
    if not {".dbf", ".shx", ".shp"} <= set(parts):
        return
    head = np.frombuffer(parts[".dbf"].read_bytes()[:32].ljust(32, b"\0"), dtype="<u4", count=1, offset=4)
    shapes = max(0, parts[".shx"].stat().st_size - 100) // 8
    if int(head[0]) != shapes:
        raise LayerError(
            f"the table (.dbf) has {int(head[0])} rows but there are {shapes} shapes (.shx): they do not "
            "belong together",
            path.name,
            "Export the layer again; names and ids would sit on the wrong shapes",
        )
