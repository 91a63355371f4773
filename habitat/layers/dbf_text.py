"""Text of dBase tables: read byte by byte, decoded once the encoding is known."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pandas as pd

from habitat.errors import LayerError
from habitat.layers.text import DBF_LANGUAGES, codec_of, label, likeliest


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
