"""Spreadsheets (XLSX): one sheet read as a table of text."""

from __future__ import annotations

import datetime as dt
import re
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd

from habitat.errors import LayerError
from habitat.layers.formats import csv_table
from habitat.layers.formats.archive import safe_members
from habitat.layers.formats.nesting import refuse_deep_elements
from habitat.layers.formats.plain import reading

EXACT = 2**53
MAX_LOOKED_AT = 200 * 1024**2
FORMULA = re.compile(rb"<f(?:\s[^<>]*)?>[^<]*</f>\s*(?:<v\s*/>|<v>\s*</v>)?\s*</c>")
"""A cell of a sheet (Office Open XML, ECMA-376 part 1, 18.3.1.4) with a formula and no value behind it."""

LONGEST_TEXT = 32_767
"""Letters in one cell: the limit that makers of spreadsheets state."""

MAX_CELLS = 30_000_000


def read_sheet(path: Path, wanted: str | None) -> tuple[pd.DataFrame, dict[int, str], list[str]]:
    """Read one sheet: the one named, or the first that holds a table.

    Returns
    -------
    Columns as text (None where blank), rows that cannot be lined up and why, and what to tell.
    """
    _refuse_harm(path)
    told: list[str] = []
    with reading(path.name):
        book = openpyxl.load_workbook(path, read_only=True, data_only=True, keep_links=False)
        sheets = {s.title: _cells(s, told) for s in book.worksheets if wanted in (None, s.title)}
        names = [s.title for s in book.worksheets]
        book.close()
    told += _formulas_without_values(path)
    filled = {title: rows for title, rows in sheets.items() if rows}
    if wanted is not None and wanted not in names:
        raise LayerError(f"there is no sheet {wanted!r}", path.name, f"Sheets: {', '.join(names)}")
    if not filled:
        raise LayerError("the spreadsheet is empty", path.name, "The first line names the columns")
    title = next((t for t, rows in filled.items() if _is_table(rows)), next(iter(filled)))
    if len(filled) > 1:
        others = ", ".join(t for t in filled if t != title)
        told.append(f"Read from sheet {title!r}; the others ({others}) were not: state layer to choose")
    grid = csv_table.parse_rows(filled[title], path.name)
    table = pd.DataFrame(grid.rows, columns=grid.header, dtype=object)
    return table, grid.ragged, list(dict.fromkeys(told + grid.told))


def _refuse_harm(path: Path) -> None:
    """Refuse a workbook whose parts are too large, declare entities, or nest elements without end."""
    members = [m for m in safe_members(path) if m.filename.lower().endswith((".xml", ".rels"))]
    with reading(path.name), zipfile.ZipFile(path) as archive:
        for member in members:
            if member.file_size > MAX_LOOKED_AT:
                raise LayerError(
                    f"its part {member.filename} unpacks to {member.file_size / 1e6:,.0f} MB",
                    path.name,
                    "Save the sheet as CSV",
                )
            text = archive.read(member).replace(b"\0", b"").decode("latin-1")
            if re.search(r"<!(?:DOCTYPE|ENTITY)", text, re.IGNORECASE):
                raise LayerError(
                    "it declares entities, which spreadsheets have no need of", path.name, "Save it again"
                )
            refuse_deep_elements(text, path.name)


def _formulas_without_values(path: Path) -> list[str]:
    """Tell of formulas whose result the file does not hold: a program wrote them, no spreadsheet ran."""
    with reading(path.name), zipfile.ZipFile(path) as archive:
        sheets = [
            member.filename
            for member in archive.infolist()
            if re.fullmatch(r"xl/worksheets/[^/]+\.xml", member.filename) and member.file_size < MAX_LOOKED_AT
        ]
        bare = sum(len(FORMULA.findall(archive.read(name))) for name in sheets)
    if not bare:
        return []
    return [
        f"{bare} formula(s) hold no result and are read as blank: open the file, save it, and check again"
    ]


def _cells(sheet: Any, told: list[str]) -> list[list[str]]:
    rows: list[list[str]] = []
    cells = 0
    sheet.reset_dimensions()  # what the file says of its size may leave cells out
    for row in sheet.iter_rows():
        values = [_text(cell, told) for cell in row]
        while values and not values[-1]:
            values.pop()
        cells += len(values)
        if cells > MAX_CELLS:
            raise LayerError("the sheet is too large", sheet.title, "Save it as CSV or GeoPackage")
        if values:
            rows.append(values)
    width = max((len(r) for r in rows), default=0)
    return [r + [""] * (width - len(r)) for r in rows]


def _is_table(rows: list[list[str]]) -> bool:
    """Return whether a sheet has two lines of two cells: a cover or a note has not."""
    return sum(sum(bool(c.strip()) for c in row) > 1 for row in rows) > 1


def _text(cell: Any, told: list[str]) -> str:
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(" ")
    if isinstance(value, (dt.date, dt.time)):
        return value.isoformat()
    if isinstance(value, (int, float)):
        return _number(value, str(getattr(cell, "number_format", "") or ""), told)
    if cell.data_type == "e":
        told.append(f"Formula errors such as {value} are read as blank")
        return ""
    if len(text := str(value)) > LONGEST_TEXT:
        raise LayerError(
            f"a cell holds a text of {len(text):,} letters; spreadsheets hold up to {LONGEST_TEXT:,}",
            f"cell {getattr(cell, 'coordinate', '')}",
            "Shorten it, or save the sheet as CSV",
        )
    return text


def _number(value: float, number_format: str, told: list[str]) -> str:
    if isinstance(value, float) and not value.is_integer():
        return repr(value)
    if abs(value) >= 1e15:
        told.append(
            "Spreadsheets keep 15 digits of a number: longer ids may have lost their last ones; format "
            "them as text"
        )
    text = str(int(value))
    if re.fullmatch(r"0+", number_format) and value >= 0:
        return text.zfill(len(number_format))
    return text
