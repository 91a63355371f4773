"""An edited list of plantings, read back row by row however a spreadsheet left it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd

from habitat.errors import LayerError, MissingFileError
from habitat.layers.formats.csv_table import read_csv
from habitat.layers.formats.spreadsheet import read_sheet
from habitat.remarks import Remark, Subject, remark

NEEDED = ("planting_id", "plant", "count")


def read_list(path: Path) -> tuple[pd.DataFrame, tuple[Remark, ...]]:
    """Read a list of plantings, CSV or XLSX.

    Returns
    -------
    tuple
        The table, all text as it came, columns in lower case; and what was found in reading it.

    Raises
    ------
    MissingFileError, LayerError
        If it is not there, is no table, or lacks a column without which nobody can tell what was edited.
    """
    if not path.is_file():
        raise MissingFileError("there is no such list of plantings", str(path), "Check the path")
    if path.suffix.lower() == ".xlsx":
        table, ragged, told = read_sheet(path, None)
    else:
        table, ragged, _, _, told = read_csv(path, None)
    table = table.rename(columns=lambda c: "_".join(str(c).casefold().split()))
    for column in NEEDED:
        if column not in table:
            has = ", ".join(map(str, table.columns))
            what = f"the column {column} is missing, so nobody can tell what was edited"
            raise LayerError(what, path.name, f"Put it back; the file has: {has}")
    told = [*told, *(f"row {number + 1}: {what}" for number, what in ragged.items())]
    return table, tuple(remark("decisions_read", file=path.name, what=what) for what in told)


def wanted_of(
    table: pd.DataFrame, file: str, was: Mapping[str, str]
) -> tuple[dict[str, dict[str, Any]], tuple[Remark, ...]]:
    """Return what an edited list wants of plantings, and what is wrong with its rows.

    Parameters
    ----------
    table
        As ``read_list`` returns it.
    file
        Its name.
    was
        ``habitat.planting.settled.fingerprints`` of what the run wrote.

    Returns
    -------
    wanted
        By planting: plant and form, "" where not told, and count; only of plantings whose row is not as it
        was. A planting without a row is struck: its count is 0.
    notes
        A remark for each row that cannot be used, and for second rows of a planting.
    """
    wanted: dict[str, dict[str, Any]] = {}
    named, notes = set(), []
    for number, row in enumerate(table.to_dict("records"), start=1):
        if not any(map(text_of, row.values())):
            continue
        key, count = text_of(row["planting_id"]), count_of(row["count"])
        if wrong := _wrong(key, row, count, was):
            notes.append(_told(row, file, number, wrong))
        else:
            if key in named:
                notes.append(_told(row, file, number, f"a second row of planting {key!r}; this one counts"))
            wanted[key] = {"plant": text_of(row["plant"]), "form": text_of(row.get("form")), "count": count}
        named.add(key)
    for planting in (k.removeprefix("planting ") for k in was if k.startswith("planting ")):
        if planting not in named:
            wanted[planting] = {"plant": "", "form": "", "count": 0}
    return {k: row for k, row in wanted.items() if not _same(row, was[f"planting {k}"])}, tuple(notes)


def _wrong(key: str, row: Mapping[Any, Any], count: int | None, was: Mapping[str, str]) -> str:
    if not key:
        return "it has no planting_id, so it is left out; add plants in plan.gpkg"
    if f"planting {key}" not in was:
        return f"there is no planting {key!r}; the row is left out"
    if count is None:
        return f"the count {text_of(row['count'])!r} is no whole number; the planting stays as it was"
    return ""


def _same(row: Mapping[str, Any], was: str) -> bool:
    plant, form, count = was.split("|")
    return (row["plant"] or plant, row["form"] or form, str(row["count"])) == (plant, form, count)


def _told(row: Mapping[Any, Any], file: str, number: int, what: str) -> Remark:
    yard = text_of(row.get("yard_id"))
    about = Subject(yards=(yard,)) if yard else Subject()
    return remark("list_row", about, file=file, row=number, what=what)


def text_of(value: Any) -> str:
    """Return a cell as text, "" if blank, without the apostrophe that stops a spreadsheet from computing."""
    if value is None or (not isinstance(value, str) and pd.isna(value)):
        return ""
    text = str(value).strip()
    return text[1:] if text[:1] == "'" and text[1:2] in ("=", "+", "-", "@") else text


def count_of(value: Any) -> int | None:
    """Return a count, None if it is no whole number of at least 0."""
    number = math.nan if isinstance(value, bool) else pd.to_numeric(value, errors="coerce")
    if number is None or pd.isna(number) or not float(number).is_integer() or number < 0 or number > 100_000:
        return None
    return int(number)
