"""Tables as text: shared rows, a region's in their place, own ones over both by cell. Files open here."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from habitat.errors import MissingFileError, StudyError
from habitat.knowledge.columns import Schema, nearest, split_list
from habitat.knowledge.region import SHIPPED, Region
from habitat.knowledge.schema import FILES, schema_of

WORKED_OUT = {
    "butterflies": (
        ("flight_start_month", "flight_end_month", "broods_per_year", "overwinter_stage", "egg_start_month"),
        ("flight_windows", "egg_windows", "egg_broods", "feeding_windows", "feeding_broods"),
    ),
    "plants": (("leaf_start_month", "leaf_end_month"), ("leaf_windows",)),
}
"""Cells of an own row, and those of ours that do not hold beside them and are worked out anew."""

OWN_ROW = ("source", "source_kind", "checked_fields")
"""Cells that speak for the row they stand in: an own row laid over a shipped one does not replace them."""

COUNTS_AS = {
    "plants": {
        "sun_top_kind": "memory",
        "leaf_habit": "deciduous if woody, else dies_back",
        "leaf_windows": "its leaf months, else April to October",
        "companions": "none needed",
        "night_flower": "none",
        "flower_color": "not known: disliked by nobody, drawn without a colour",
    },
    "butterflies": {
        "kind": "butterfly",
        "flies": "day",
        "flight_windows": "its flight months",
        "egg_windows": "worked out from flight, broods and winter stage",
        "eggs_on": "leaf",
        "feeding_windows": "worked out from flight, broods and winter stage",
        "gregarious": "no",
        "brood_plants_factor": "1",
    },
    "hosts": {"lays": "yes", "eaten_when": "any", "part_eaten": "leaf"},
}
"""What cells of an own new row count as that are blank or of columns that its table does not have."""

BY_CELL = ("plants", "butterflies")
"""Tables with a source for each cell of an own row (``value_source``); in the others it is told by row."""

Cells = dict[str, str]
Key = tuple[str, ...]


@dataclass(slots=True)
class TextTable:
    """A table of one region as text, row by row, with where each row and each own cell came from.

    ``rows`` : key -> column -> text. ``places`` : key -> "file, row N". ``own`` : (key, column) -> source in
    words of a cell that an own table gave. ``others`` : (file, region) -> "row N (key)" of own rows that are
    for another region. ``fresh`` : file -> own rows that no shipped one has. ``shared`` : rows of the shared
    folder that nothing was laid over.
    """

    name: str
    schema: Schema
    rows: dict[Key, Cells] = field(default_factory=dict)
    places: dict[Key, str] = field(default_factory=dict)
    own: dict[tuple[Key, str], str] = field(default_factory=dict)
    others: dict[tuple[str, str], list[str]] = field(default_factory=dict)
    fresh: dict[str, list[Key]] = field(default_factory=dict)
    shared: set[Key] = field(default_factory=set)

    @property
    def own_keys(self) -> set[Key]:
        """The rows that an own table gave or changed."""
        return {key for key, _ in self.own}


def read_text_table(name: str, region: Region, own: Path | None, faults: list[str]) -> TextTable:
    """Return a table of a region with an own one laid over it; faults are added to the list.

    Shared rows come first, a row of the region's folder in the place of one with its key; both are in the
    order of the files. An own row replaces only the cells that it fills, and is set aside if it names other
    regions.

    Raises
    ------
    MissingFileError
        If the own table is not there.
    StudyError
        If it is a spreadsheet that cannot be read here.
    """
    table = TextTable(name, schema_of(name))
    for folder in (SHIPPED / "shared", region.folder):
        path = None if folder is None else folder / FILES[name]
        if path is not None and path.is_file():
            lines = _lines(path.read_text(encoding="utf-8"))
            lines = _of_schema(table, lines) if path.is_relative_to(SHIPPED) else lines
            _lay(table, FILES[name], lines, region.id, faults, own=False)
        if folder != region.folder:
            table.shared = set(table.rows)
    if own is not None:
        _lay(table, own.name, _read_own(own), region.id, faults, own=True)
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
    return _lines(text)


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


def _of_schema(table: TextTable, lines: list[tuple[int, list[str]]]) -> list[tuple[int, list[str]]]:
    """Return the rows of a shipped file with the columns that the schema names; a test holds them equal."""
    places = [i for i, column in enumerate(lines[0][1]) if column in table.schema.columns]
    return [(number, [cells[i] if i < len(cells) else "" for i in places]) for number, cells in lines]


def _lay(
    table: TextTable,
    file: str,
    lines: list[tuple[int, list[str]]],
    region: str,
    faults: list[str],
    *,
    own: bool,
) -> None:
    """Lay the rows of a file over a table: shipped ones by row, own ones by row and cell."""
    if not lines:
        faults.append(f"{file}, row 1: the table is empty; its first row must name the columns")
        return
    header = lines[0][1]
    if not _header_is_right(table, file, header, faults):
        return
    seen: dict[tuple[Key, str], int] = {}
    for number, values in lines[1:]:
        place = f"{file}, row {number}"
        if len(values) > len(header) and any(values[len(header) :]):
            faults.append(f"{place}: has {len(values)} cells, but the first row names {len(header)} columns")
            continue
        cells = {c: v for c, v in zip(header, values, strict=False) if c and v}
        key = tuple(cells.get(c, "") for c in table.schema.key)
        blank = [c for c, v in zip(table.schema.key, key, strict=True) if not v]
        named = cells.get("region", "")
        if blank:
            faults.append(f"{place}, {blank[0]}: must not be blank, since it says which row this is")
        elif (key, named) in seen:
            again = seen[(key, named)]
            faults.append(f"{place} ({' / '.join(key)}): the same row stands in row {again} already")
        elif named and region not in split_list(named):
            seen[(key, named)] = number
            table.others.setdefault((file, named), []).append(f"row {number} ({' / '.join(key)})")
        else:
            seen[(key, named)] = number
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
    if not own:
        table.rows[key] = cells
    else:
        source = f"own table {file}" + (f": {cells['source']}" if cells.get("source") else "")
        fresh = key not in table.rows
        if fresh:
            table.fresh.setdefault(file, []).append(key)
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
        below = table.rows.get(key, {})
        said, follow = WORKED_OUT.get(table.name, ((), ()))
        if any(c in cells and cells[c] != below.get(c) for c in said):
            below = {c: v for c, v in below.items() if c not in follow}
        table.rows[key] = {**below, **cells}
        table.shared.discard(key)
    table.places[key] = place


def left_out_words(table: TextTable, region: str) -> list[str]:
    """Return a sentence per file and region of own rows that are for another region, with how to use them."""
    out = []
    for (file, named), rows in sorted(table.others.items()):
        more = f" and {len(rows) - 5} more" if len(rows) > 5 else ""
        out.append(
            f"{file}: {len(rows)} row{'s' * (len(rows) != 1)} set aside, for region {named!r} and not "
            f"{region!r}: {', '.join(rows[:5])}{more}. Leave the cell region blank, or write {region!r} in "
            "it, to use them"
        )
    return out


def counted_as_words(table: TextTable) -> list[str]:
    """Return a sentence per file on what blank cells of new own rows count as, and in which rows."""
    out = []
    for file, keys in sorted(table.fresh.items()):
        blank = {c: [k for k in keys if not table.rows[k].get(c)] for c in COUNTS_AS.get(table.name, {})}
        told = [f"{c} as {COUNTS_AS[table.name][c]}" for c, rows in blank.items() if rows]
        if not told:
            continue
        named = [" / ".join(key) for key in keys if any(key in rows for rows in blank.values())]
        more = f" and {len(named) - 5} more" if len(named) > 5 else ""
        rows = f"{', '.join(named[:5])}{more}"
        out.append(f"{file}: cells that are blank or left out in new rows ({rows}) count: {'; '.join(told)}")
    return out
