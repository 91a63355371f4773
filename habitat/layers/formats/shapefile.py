"""Shapefiles: several files that must fit each other, in an encoding that is often not the one declared."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np
import pandas as pd

from habitat.errors import LayerError
from habitat.layers.formats.archive import link_or_copy
from habitat.layers.formats.ogr import read_ogr
from habitat.layers.formats.plain import gdal_settings
from habitat.layers.formats.raw import Draft
from habitat.layers.formats.text import DBF_LANGUAGES, codec_of, label, likeliest
from habitat.settings.layers import VectorSource


def declared_encoding(dbf: Path | None, cpg: Path | None) -> tuple[str | None, str]:
    """Return (encoding or None, where it is declared) from the sidecar or the table's language byte."""
    if cpg is not None:
        text = cpg.read_bytes()[:40].decode("ascii", "ignore").strip()
        try:
            return codec_of(text), f".cpg ({text})"
        except LayerError:
            return None, ""
    if dbf is not None:
        head = dbf.read_bytes()[:32] if dbf.stat().st_size >= 32 else b""
        if len(head) == 32 and head[29] in DBF_LANGUAGES:
            return DBF_LANGUAGES[head[29]], f"language byte 0x{head[29]:02x}"
    return None, ""


def decode_columns(
    table: pd.DataFrame, stated: str | None, declared: tuple[str | None, str], where: str
) -> tuple[pd.DataFrame, str, list[str]]:
    """Decode the text columns of a table that was read as Latin-1, so that its bytes are still there.

    Returns
    -------
    The table, the encoding used, and what to tell.
    """
    texts = [c for c in table.columns if table[c].dtype == object or pd.api.types.is_string_dtype(table[c])]
    foreign = sorted({v.encode("latin-1") for c in texts for v in table[c].dropna().unique() if _foreign(v)})
    codec, told = choose(foreign, stated, declared, where)
    if not foreign:
        return table, codec, told
    out = table.copy()
    for column in texts:
        own = table[column].dropna().unique()
        lookup = {v: decode_cell(v.encode("latin-1"), codec, stated is None) for v in own if _foreign(v)}
        if lookup:
            out[column] = table[column].map(
                lambda v, lookup=lookup: lookup.get(v, v) if isinstance(v, str) else v
            )
    return out, codec, told


def _foreign(value: object) -> bool:
    return isinstance(value, str) and not value.isascii()


def choose(
    samples: Iterable[bytes], stated: str | None, declared: tuple[str | None, str], where: str
) -> tuple[str, list[str]]:
    """Return the encoding of byte strings and what to tell about the choice.

    Stated wins and must fit. Else UTF-8 if everything fits it, since other text hardly ever does by chance;
    else what the file declares; else the likeliest Western encoding.
    """
    samples = list(samples)
    if stated is not None:
        codec = codec_of(stated, where)
        bad = next((s for s in samples if not fits(s, codec)), None)
        if bad is not None:
            raise LayerError(
                f"the text {_readable(bad)!r} does not decode as {label(codec)}",
                where,
                "State another encoding, or leave it out to have it found",
            )
        return codec, []
    named, place = declared
    if not samples:
        return named or "utf-8", []
    if all(fits(s, "utf-8") for s in samples):
        wrong = named not in (None, "utf-8")
        told = f"{place} says {label(named or '')}, but the text is UTF-8: read as UTF-8 (encoding)"
        return "utf-8", [told] if wrong else []
    if named not in (None, "utf-8") and all(fits(s, named or "") for s in samples):
        return named or "", []
    codec = likeliest(samples)
    why = (
        f"{place} says UTF-8, which does not fit"
        if named == "utf-8"
        else "nothing says which encoding its text is in"
    )
    return codec, [
        f"{why[0].upper()}{why[1:]}: read as {label(codec)}; if letters look wrong, state encoding"
    ]


def _readable(data: bytes) -> str:
    """Return the beginning of bytes as text, however it comes out."""
    return data.decode("utf-8" if fits(data, "utf-8") else "cp1252", "replace")[:40]


def fits(data: bytes, codec: str) -> bool:
    """Return whether bytes decode, a letter cut off at the end of a full field forgiven."""
    try:
        data.decode(codec)
    except UnicodeDecodeError as error:
        return (
            codec == "utf-8"
            and len(data) >= 10
            and len(data) - error.start < 4
            and "end of data" in error.reason
        )
    return True


def decode_cell(data: bytes, codec: str, mixed: bool = False) -> str:
    """Decode one cell; half a letter at the end of a full field is dropped.

    In a table of mixed origin a cell that is plainly UTF-8 is read so whatever the rest is in.
    """
    if codec == "utf-8" or (mixed and fits(data, "utf-8")):
        return data.decode("utf-8", errors="ignore") if fits(data, codec) else data.decode("utf-8", "replace")
    return data.decode(codec, errors="replace")


def deleted_rows(dbf: Path) -> int:
    """Return how many rows of a table are marked as deleted: an asterisk in the first byte of the row."""
    data = dbf.read_bytes()
    if len(data) < 65:
        return 0
    rows, start, width = (int.from_bytes(data[a:b], "little") for a, b in ((4, 8), (8, 10), (10, 12)))
    return data[start : start + rows * width : width].count(b"*") if width else 0


def long_whole_numbers(dbf: Path) -> dict[str, list[str | None]]:
    """Return the columns of whole numbers with more than 15 places as text, each digit as it is stored.

    Readers hand such columns on as floating point, which loses the last digits of long ids. The layout (32
    bytes of header, 32 per field, then rows of fixed width) is that of the dBase III file description.
    """
    data = dbf.read_bytes()
    if len(data) < 65:
        return {}
    rows, start, width = (int.from_bytes(data[a:b], "little") for a, b in ((4, 8), (8, 10), (10, 12)))
    out: dict[str, list[str | None]] = {}
    offset = 1
    for at in range(32, min(start, len(data)) - 32, 32):
        name = data[at : at + 11].split(b"\0")[0].decode("latin-1")
        kind, size, decimals = data[at + 11 : at + 12], data[at + 16], data[at + 17]
        if kind in (b"N", b"F") and size > 15 and decimals == 0:
            records = (data[start + r * width : start + (r + 1) * width] for r in range(rows))
            cells = [c[offset : offset + size].decode("latin-1").strip() for c in records if c[:1] == b" "]
            if all(cell.lstrip("+-").isdigit() or not cell for cell in cells):
                out[name] = [cell or None for cell in cells]
        offset += size
    return out


# Shapefiles: several files that must fit each other, in an encoding that is often not the one declared.

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
