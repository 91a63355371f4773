"""Tables as text: the shipped ones, and own ones laid over them by row and by cell. Files open here."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path

import pandas as pd

from habitat.errors import MissingFileError, StudyError
from habitat.knowledge.schema import FILES, SCHEMAS, Schema, nearest

OWN_ROW = ("source", "source_kind", "checked_fields")
"""Cells that speak for the row they stand in: an own row laid over a shipped one does not replace them."""

BY_CELL = ("plants", "butterflies")
"""Tables with a source for each cell of an own row (``value_source``); in the others it is told by row."""

Cells = dict[str, str]
Key = tuple[str, ...]


@dataclass(slots=True)
class TextTable:
    """A table as text, row by row, with where each row and each own cell came from.

    ``rows`` : key -> column -> text. ``places`` : key -> "file, row N". ``own`` : (key, column) -> source in
    words of a cell that an own table gave.
    """

    name: str
    schema: Schema
    rows: dict[Key, Cells] = field(default_factory=dict)
    places: dict[Key, str] = field(default_factory=dict)
    own: dict[tuple[Key, str], str] = field(default_factory=dict)


def read_text_table(name: str, own: Path | None, faults: list[str]) -> TextTable:
    """Return a shipped table with an own one laid over it; faults are added to the list.

    Raises
    ------
    MissingFileError
        If the own table is not there.
    StudyError
        If it is a spreadsheet that cannot be read here.
    """
    table = TextTable(name, SCHEMAS[name])
    shipped = (files("habitat.knowledge") / "data" / FILES[name]).read_text(encoding="utf-8")
    _lay(table, FILES[name], list(_lines(shipped)), faults, own=False)
    if own is not None:
        _lay(table, own.name, _read_own(own), faults, own=True)
    return table


def _read_own(path: Path) -> list[tuple[int, list[str]]]:
    if not path.is_file():
        raise MissingFileError("there is no such table", str(path), "Check the path under [knowledge]")
    if path.suffix.lower() == ".xls":
        raise StudyError("is a spreadsheet of the old kind", str(path), "Save it as .xlsx or as CSV")
    if path.suffix.lower() == ".xlsx":
        sheet = pd.read_excel(path, dtype=str, header=None, keep_default_na=False)
        rows = [
            (i + 1, [str(cell).strip() for cell in row]) for i, row in enumerate(sheet.to_numpy().tolist())
        ]
        return [(number, cells) for number, cells in rows if any(cells)]
    raw = path.read_bytes()
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
    return list(_lines(text))


def _lines(text: str) -> list[tuple[int, list[str]]]:
    """Return (line number, cells) of every row that holds anything; comma, semicolon or tab between cells."""
    head = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=head.count)
    reader = csv.reader(io.StringIO(text.replace("\r\n", "\n"), newline=""), delimiter=delimiter)
    out, before = [], 0
    for cells in reader:
        if any(c.strip() for c in cells):
            out.append((before + 1, [c.strip() for c in cells]))
        before = reader.line_num
    return out


def _lay(
    table: TextTable, file: str, lines: list[tuple[int, list[str]]], faults: list[str], *, own: bool
) -> None:
    """Lay the rows of a file over a table, by row (new keys) and by cell (keys that are there)."""
    if not lines:
        faults.append(f"{file}, row 1: the table is empty; its first row must name the columns")
        return
    header = lines[0][1]
    if not _header_is_right(table, file, header, faults):
        return
    seen: dict[Key, int] = {}
    for number, values in lines[1:]:
        place = f"{file}, row {number}"
        if len(values) > len(header) and any(values[len(header) :]):
            faults.append(f"{place}: has {len(values)} cells, but the first row names {len(header)} columns")
            continue
        cells = {c: v for c, v in zip(header, values, strict=False) if c and v}
        key = tuple(cells.get(c, "") for c in table.schema.key)
        blank = [c for c, v in zip(table.schema.key, key, strict=True) if not v]
        if blank:
            faults.append(f"{place}, {blank[0]}: must not be blank, since it says which row this is")
        elif key in seen:
            faults.append(f"{place} ({' / '.join(key)}): the same row stands in row {seen[key]} already")
        else:
            seen[key] = number
            _lay_row(table, key, cells, place, file, own=own)


def _header_is_right(table: TextTable, file: str, header: list[str], faults: list[str]) -> bool:
    known = list(table.schema.columns)
    before = len(faults)
    for column in header:
        if column and column not in known:
            faults.append(f"{file}, row 1, {column}: no such column{nearest(column, known)}")
        elif column and header.count(column) > 1:
            faults.append(f"{file}, row 1, {column}: named more than once")
    faults.extend(
        f"{file}, row 1: the column {column!r} is missing"
        for column in table.schema.key
        if column not in header
    )
    return len(faults) == before


def _lay_row(table: TextTable, key: Key, cells: Cells, place: str, file: str, *, own: bool) -> None:
    if own:
        source = f"own table {file}" + (f": {cells['source']}" if cells.get("source") else "")
        fresh = key not in table.rows
        skip = table.schema.key if fresh else (*table.schema.key, *OWN_ROW)
        table.own.update({(key, c): source for c in cells if c not in skip})
        if fresh and not cells.get("source"):
            cells = {**cells, "source": source} if "source" in table.schema.columns else cells
        elif not fresh:
            given = [c for c in cells if c not in skip]
            cells = {c: v for c, v in cells.items() if c not in OWN_ROW}
            if given and "source" in table.schema.columns and table.name not in BY_CELL:
                words = f"{source} ({', '.join(given)}); else {table.rows[key].get('source', '')}"
                cells |= {"source": words, "source_kind": ""}
    table.rows[key] = {**table.rows.get(key, {}), **cells}
    table.places[key] = place
