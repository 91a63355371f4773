"""Tables as text: CSV, TSV and their relatives, with the separator and the header found out."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from habitat.errors import LayerError
from habitat.layers.formats.text import decode_bytes

SEPARATORS = (",", ";", "\t", "|")
NAMES = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
MAX_BYTES = 2 * 1024**3
MAX_CELL = 16 * 1024**2
"""Letters in one cell: the outline of a county of 400,000 corners takes as many."""

MAX_COLUMNS = 16_384
"""As many columns as spreadsheets have (Office Open XML, as programs implement it)."""

SWALLOWED = 3
"""So many whole lines of the table in one cell are rows that a stray quote has swallowed."""

NUMBER = re.compile(r"[-+−]?\d+([.,]\d+)?")
COMMA_DECIMAL = re.compile(r"[-+−]?\d+,(\d{1,2}|\d{4,})")
POINT_DECIMAL = re.compile(r"[-+−]?\d+\.\d+")


@dataclass(slots=True)
class Grid:
    """Cells of a table as text: header, rows, and what there is to tell."""

    header: list[str]
    rows: list[list[str | None]]
    told: list[str] = field(default_factory=list)
    ragged: dict[int, str] = field(default_factory=dict)
    separator: str = ""


def read_csv(path: Path, stated: str | None) -> tuple[pd.DataFrame, dict[int, str], str, bool, list[str]]:
    """Read a text table.

    Returns
    -------
    Columns as text (None where blank), rows that cannot be lined up with the header and why, the encoding,
    whether numbers use a decimal comma, and what to tell.
    """
    where = path.name
    if path.stat().st_size > MAX_BYTES:
        raise LayerError("the table is larger than 2 GB", where, "Save it as GeoPackage or GeoParquet")
    text, encoding, note = decode_bytes(path.read_bytes(), stated, where)
    grid = parse_text(text, where)
    told = ([note] if note else []) + grid.told
    if "�" in text:
        told.append("Some letters were lost before the file was saved (they show as �): check its encoding")
    table = pd.DataFrame(grid.rows, columns=grid.header, dtype=object)
    return table, grid.ragged, encoding, uses_decimal_comma(table), told


def parse_text(text: str, where: str) -> Grid:
    """Split text into header and rows."""
    text = text.replace("\0", "").lstrip("﻿")
    first = re.match(r"\s*sep=(.)\r?\n", text)
    if first:
        text = text[first.end() :]
    separator = first.group(1) if first else find_separator(text)
    lines = _split(text, separator, where)
    if any("\n" in cell for row in lines for cell in row):
        _split(text, separator, where, strict=True)
        _refuse_swallowed(lines, separator, where)
    return parse_rows(lines, where, separator)


def parse_rows(lines: list[list[str]], where: str, separator: str = "") -> Grid:
    """Make a table of lines of cells: find the header, line the rows up with it, pass blank lines over."""
    cells = _without_comments([row for row in lines if any(c.strip() for c in row)])
    if not cells:
        raise LayerError(
            "the table is empty: not even a header line", where, "The first line names the columns"
        )
    start = _header_row(cells)
    grid = Grid(*_named(cells[start], where), separator=separator)
    if start:
        grid.told.append(f"{start} line(s) above the header were passed over")
    _fill(grid, cells[start + 1 :], where)
    return grid


def find_separator(text: str) -> str:
    r"""Return the separator that gives most lines the header's number of cells; a comma if none does.

    Examples
    --------
    >>> find_separator("plant;lat;lon\nAster;39,9;-82,9\n")
    ';'
    """
    sample = text[:200_000]
    best, choice = (0.0, 0), ","
    for separator in SEPARATORS:
        rows = [r for r in _some_rows(sample, separator) if any(c.strip() for c in r)]
        if not rows:
            continue
        counts = Counter(len(r) for r in rows)
        width, times = max(counts.items(), key=lambda item: (item[0] > 1, item[1], item[0]))
        if width > 1 and (times / len(rows), width) > best:
            best, choice = (times / len(rows), width), separator
    return choice


def _some_rows(text: str, separator: str) -> list[list[str]]:
    out: list[list[str]] = []
    try:
        with _cells_bounded():
            for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator):
                out.append(row)
                if len(out) >= 200:
                    break
    except csv.Error:
        pass  # of a sample: reading the whole says what is wrong
    return out[:-1] if len(out) > 2 and len(text) >= 200_000 else out


@contextmanager
def _cells_bounded() -> Iterator[None]:
    """Let every reader here take cells up to the same size; the library's own bound is 131,072 letters."""
    before = csv.field_size_limit(MAX_CELL)
    try:
        yield
    finally:
        csv.field_size_limit(before)


def _split(text: str, separator: str, where: str, *, strict: bool = False) -> list[list[str]]:
    """Return the rows of a text.

    Raises
    ------
    LayerError
        If the reader stops anywhere, a quote that is never closed among the reasons, or a row is too wide.
    """
    lines = io.StringIO(text, newline="")
    reader = csv.reader(lines, delimiter=separator, skipinitialspace=True, strict=strict)
    out: list[list[str]] = []
    done = 0
    try:
        with _cells_bounded():
            for row in reader:
                out.append(row)
                done = reader.line_num
                if len(row) > MAX_COLUMNS:
                    raise LayerError(
                        f"line {done} has {len(row):,} cells; up to {MAX_COLUMNS:,} are read",
                        where,
                        "Keep the columns that matter; if all rows run on in one line, save it again",
                    )
    except csv.Error as error:
        raise _broken(str(error), done + 1, where) from None
    return out


def _broken(said: str, line: int, where: str) -> LayerError:
    if "end of data" in said:
        return LayerError(
            f"a quote that is opened in line {line} is never closed", where, "Close or remove the quote"
        )
    if "field limit" in said:
        return LayerError(
            f"a cell that begins in line {line} holds more than {MAX_CELL:,} letters",
            where,
            "Close or remove the quote that opens it there, or shorten it",
        )
    return LayerError(
        f"the table does not hold together in or below line {line} ({said})", where, "Save it again as CSV"
    )


def _refuse_swallowed(lines: list[list[str]], separator: str, where: str) -> None:
    """Refuse a table in which a cell holds whole lines of it: a stray quote has swallowed rows."""
    width = Counter(len(row) for row in lines[:200]).most_common(1)[0][0]
    for number, row in enumerate(lines, 1):
        for cell in row:
            whole = [part for part in cell.split("\n")[1:-1] if part.count(separator) == width - 1]
            if width > 2 and len(whole) >= SWALLOWED:
                raise LayerError(
                    f"a quote in row {number} takes in {len(whole):,} whole rows below it as text "
                    f"(the first: {whole[0].strip()[:60]!r})",
                    where,
                    "Remove that quote or close it in its own line, then check again",
                )


def _without_comments(cells: list[list[str]]) -> list[list[str]]:
    """Drop leading lines that begin with #; the last one stays if it names the columns of the lines below."""
    first = next((i for i, row in enumerate(cells) if not row[0].lstrip().startswith("#")), len(cells))
    if 0 < first < len(cells) and len(cells[first - 1]) == len(cells[first]) > 1 and first == 1:
        cells[0][0] = cells[0][0].lstrip().lstrip("#").strip()
        return cells
    return cells[first:]


def _header_row(cells: list[list[str]]) -> int:
    """Return which line names the columns: the first that fills several cells and is not far too short."""
    widths = Counter(len(row) for row in cells[1:200]) or Counter([len(cells[0])])
    usual = widths.most_common(1)[0][0]
    filled = [sum(bool(c.strip()) for c in row) for row in cells[:20]]
    first = next((i for i, n in enumerate(filled) if n >= min(2, usual)), 0)
    if len(cells[first]) * 2 <= usual:
        for i, row in enumerate(cells[:20]):
            if len(row) >= usual and not any(NUMBER.fullmatch(c.strip()) for c in row):
                return i
    return first


def _named(row: list[str], where: str) -> tuple[list[str], list[list[str | None]], list[str]]:
    names = [re.sub(r"\s+", " ", c).strip().strip("﻿") for c in row]
    filled = [n for n in names if n]
    if filled and sum(bool(NUMBER.fullmatch(n)) for n in filled) * 2 >= len(filled):
        raise LayerError(
            f"the first line does not name the columns: {', '.join(filled[:5])}",
            where,
            "Put a line with column names on top",
        )
    told, seen = [], Counter[str]()
    for i, name in enumerate(names):
        names[i] = name or f"column {i + 1}"
        seen[names[i]] += 1
        if seen[names[i]] > 1:
            told.append(
                f"Two columns are named {names[i]!r}: the later one is read as '{names[i]} ({seen[name]})'"
            )
            names[i] = f"{names[i]} ({seen[names[i]]})"
    return names, [], told


def _fill(grid: Grid, cells: list[list[str]], where: str) -> None:
    width = len(grid.header)
    short = 0
    for number, row in enumerate(cells):
        values: list[str | None] = [c.strip() or None for c in row]
        if len(values) > width and any(v is not None for v in values[width:]):
            grid.ragged[number] = f"it has {len(values)} cells where the header names {width} columns"
        elif len(values) < width:
            short += 1
        grid.rows.append((values + [None] * width)[:width])
    if len(grid.ragged) * 2 > len(cells) > 0:
        raise LayerError(
            f"{len(grid.ragged)} of {len(cells)} rows have more cells than the header has columns",
            where,
            f"The separator (delimiter) was taken to be {NAMES.get(grid.separator, grid.separator)}; "
            "numbers with decimal commas need semicolons, tabs or quotes between the columns",
        )
    if short:
        grid.told.append(f"{short} row(s) end before the last column: what is missing is taken as blank")


def uses_decimal_comma(table: pd.DataFrame) -> bool:
    """Return whether the table's numbers are written with decimal commas rather than points."""
    commas = points = 0
    for column in table.columns:
        for value in table[column].head(200):
            if isinstance(value, str):
                commas += bool(COMMA_DECIMAL.fullmatch(value))
                points += bool(POINT_DECIMAL.fullmatch(value))
    return commas > points
