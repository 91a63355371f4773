"""From the file's columns to ours: named by the study, by their heading, or by a common other heading."""

from __future__ import annotations

import difflib
import sqlite3
from collections.abc import Iterable

import numpy as np
import pandas as pd

from habitat.errors import LayerError
from habitat.layers.cells import values
from habitat.layers.cells.columns import (
    HAND_FILLED,
    UNIT_SUFFIXES,
    Column,
    columns_of,
    plain_name,
    required_of,
)
from habitat.layers.cells.money import amounts
from habitat.layers.cells.places import LAT, LON, PAIR, SHAPE, X, Y
from habitat.layers.cells.soil_words import numbers_in_words
from habitat.layers.formats.raw import Draft
from habitat.layers.formats.text import looks_garbled
from habitat.settings.layers import VectorSource

ALSO_READ = ("place", "plant_id")
"""Headings that other modules read by themselves."""

ID_FALLBACKS = ("name", "id", "objectid", "fid", "gid")


def map_columns(draft: Draft, source: VectorSource) -> None:
    """Give columns our names, filter rows, and turn cells into ids, numbers, flags and dates."""
    _rename(draft, source)
    if source.where:
        _filter(draft, source.where)
    wanted = columns_of(draft.name)
    came = set(map(str, draft.table.columns))
    found = {column.name: _find(draft, column) for column in wanted}
    _require(draft)
    if draft.name in HAND_FILLED and draft.own_format == "table":
        _tell_unread(draft, came - {source for _, source in found.values()}, source)
    for column in wanted:
        if column.name in draft.table:
            _convert(draft, column, found[column.name][0])
    _tell_garbled(draft)


def _rename(draft: Draft, source: VectorSource) -> None:
    names = list(map(str, draft.table.columns))
    known = [c.name for c in columns_of(draft.name)]
    renamed: dict[str, str] = {}
    for ours, theirs in source.columns.items():
        actual = theirs if theirs in names else _same_name(theirs, names)
        if actual is None:
            close = difflib.get_close_matches(theirs, names, n=1, cutoff=0.4)
            hint = f"Did you mean {close[0]!r}? " if close else ""
            raise LayerError(
                f"layers.{draft.name}.columns names the column {theirs!r}, which is not there",
                draft.where,
                f"{hint}Columns: {', '.join(names[:30])}",
            )
        if ours not in known:
            near = difflib.get_close_matches(ours, known, n=1, cutoff=0.75)
            hint = f"; did you mean {near[0]!r}?" if near else ", so it does nothing"
            lost = bool(near) or draft.name in HAND_FILLED
            what = f"columns gives {ours!r}, which habitat does not look for in this layer{hint}"
            draft.tell(what, harm=2 if lost else 0)
        if actual in renamed:  # one column for two of ours
            draft.table[ours] = draft.table[actual]
        else:
            renamed[actual] = ours
    hidden = {n: f"{n} (in the file)" for n in names if n in renamed.values() and n not in renamed}
    draft.table = draft.table.rename(columns={**hidden, **renamed})


def _same_name(wanted: str, names: Iterable[str]) -> str | None:
    return next((n for n in names if plain_name(n) == plain_name(wanted)), None)


def _filter(draft: Draft, where: str) -> None:
    """Keep the rows for which an SQL condition holds; only reading this one table is possible."""
    table = draft.table
    try:
        with sqlite3.connect(":memory:") as base:
            typed = pd.DataFrame({str(c): _sql_column(table[c]) for c in table.columns}, index=table.index)
            typed.to_sql("rows", base, index_label="_row_")
            base.set_authorizer(_only_select)
            kept = [r[0] for r in base.execute(f'SELECT "_row_" FROM rows WHERE ({where})')]
    except (sqlite3.Error, sqlite3.Warning, pd.errors.DatabaseError) as error:
        raise LayerError(
            f"layers.{draft.name}.where is {where!r}, which does not work ({error})",
            draft.where,
            "Write a condition such as CITY = 'OUR TOWN' AND ACRES < 2; columns: "
            + ", ".join(map(str, table.columns[:30])),
        ) from None
    keep = table.index.isin(kept)
    if not keep.any():
        raise LayerError(
            f"layers.{draft.name}.where keeps none of {len(table)} rows",
            draft.where,
            f"Loosen the condition {where!r} or leave it out",
        )
    draft.tell(f"where keeps {int(keep.sum())} of {len(table)} rows", harm=0)
    draft.table = table.loc[keep]
    if draft.shapes is not None:
        draft.shapes = draft.shapes[keep]
    draft.rows_in = len(draft.table) + len(draft.aside)


def _only_select(action: int, *_: object) -> int:
    allowed = (sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ, sqlite3.SQLITE_FUNCTION)
    return sqlite3.SQLITE_OK if action in allowed else sqlite3.SQLITE_DENY


def _sql_column(column: pd.Series) -> pd.Series:
    """Text that is plain numbers throughout compares as numbers; ids with leading zeros stay text."""
    if not (column.dtype == object or pd.api.types.is_string_dtype(column.dtype)):
        return column
    filled = [v for v in column if not values.is_missing(v)]
    plain = all(isinstance(v, str) and values.NUMBER.fullmatch(v) and not _zero_led(v) for v in filled)
    if filled and plain:
        return pd.to_numeric(column, errors="coerce")
    return pd.Series([_sql_value(v) for v in column], index=column.index, dtype=object)


def _sql_value(value: object) -> object:
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return None
    return value if isinstance(value, (str, int, float)) else str(value)


def _zero_led(text: str) -> bool:
    return len(text) > 1 and text[0] == "0" and text[1].isdigit()


def _find(draft: Draft, column: Column) -> tuple[float | None, str]:
    """Put a column under our name if the file has it; return a length's unit [m] and the heading."""
    own = UNIT_SUFFIXES.get(column.name.rsplit("_", 1)[-1], 1.0) if column.kind == "length" else None
    if column.name in draft.table:
        return own, column.name
    names = {plain_name(str(n)): str(n) for n in reversed(draft.table.columns)}
    exact = names.get(column.name) or (
        names.get(column.name[:10]) if draft.own_format == "shapefile" else None
    )
    if exact is not None:
        draft.table = draft.table.rename(columns={exact: column.name})
        return own, exact
    joined = {name.replace("_", ""): heading for name, heading in names.items()}
    for alias in (column.name, *column.aliases):
        heading = joined.get(alias.replace("_", ""))
        if heading is not None and not _taken(draft, heading):
            draft.tell(f"column {heading!r} is read as {column.name}", harm=0)
            draft.table[column.name] = draft.table[heading]
            return own, heading
    if own is not None:
        for stem in dict.fromkeys(_without_unit(name) for name in (column.name, *column.aliases)):
            for suffix, unit in UNIT_SUFFIXES.items():
                if f"{stem}_{suffix}" in names and not _taken(draft, names[f"{stem}_{suffix}"]):
                    found = names[f"{stem}_{suffix}"]
                    draft.tell(f"column {found!r} is read as {column.name}, converted from {suffix}", harm=0)
                    draft.table[column.name] = draft.table[found]
                    return unit, found
    return own, ""


def _without_unit(name: str) -> str:
    stem, _, unit = name.rpartition("_")
    return stem if unit in UNIT_SUFFIXES else name


def _tell_unread(draft: Draft, left: set[str], source: VectorSource) -> None:
    """Tell which headings of a table that people fill in were not understood, and what was looked for."""
    places = {source.geometry, source.x, source.y, *LON, *LAT, *X, *Y, *PAIR, *SHAPE}
    used = places | {*source.columns, *ALSO_READ}
    unread = [n for n in map(str, draft.table.columns) if n in left and not {n, plain_name(n)} & used]
    missing = [c.name for c in columns_of(draft.name) if c.name not in draft.table]
    if unread and missing:
        draft.tell(
            f"column(s) not read: {', '.join(unread[:20])}. If one of them is {' or '.join(missing[:12])}, "
            f"say so under layers.{draft.name}.columns: our name on the left, the heading on the right"
        )


def _taken(draft: Draft, name: str) -> bool:
    return name in {c.name for c in columns_of(draft.name)}


def _require(draft: Draft) -> None:
    if draft.name == "yards" and "yard_id" not in draft.table:
        _number_yards(draft)
    names = set(map(str, draft.table.columns)) | ({"geometry"} if draft.shapes is not None else set())
    for group in required_of(draft.name):
        if not names & set(group):
            wanted = " or ".join(n for n in group if n != "geometry")
            raise LayerError(
                f"layer {draft.name!r} has no column {wanted}",
                draft.where,
                f'Say which it is: columns = {{ {group[0]} = "..." }}; columns: '
                f"{', '.join(sorted(names)[:30])}",
            )


def _number_yards(draft: Draft) -> None:
    names = {plain_name(str(n)): str(n) for n in reversed(draft.table.columns)}
    for fallback in ID_FALLBACKS:
        found = names.get(fallback)
        if found is not None and draft.table[found].notna().all() and draft.table[found].is_unique:
            draft.tell(f"no column yard_id: {found!r} is used as the id", harm=1)
            draft.table["yard_id"] = draft.table[found]
            return
    draft.tell('no column yard_id: yards are numbered by row; state columns = { yard_id = "..." }', harm=2)
    draft.table["yard_id"] = [str(int(row) + 1) for row in draft.table.index]


def _convert(draft: Draft, column: Column, unit: float | None) -> None:
    series = draft.table[column.name]
    if isinstance(series, pd.DataFrame):
        raise LayerError(f"two columns are both read as {column.name}", draft.where, "Leave one out")
    if column.kind == "id":
        _convert_ids(draft, column, series)
    elif column.kind == "flag":
        pairs = [values.flag(v, if_other=column.other) for v in series]
        draft.table[column.name] = np.array([p[0] for p in pairs], dtype=bool)
        meant = "yes" if column.other else "no"
        _tell_rows(
            draft,
            column,
            {r: str(series[r]) for r, p in zip(series.index, pairs, strict=True) if not p[1]},
            f"is neither yes nor no: taken as {meant}",
            harm=1,
        )
    elif column.kind == "date":
        out, kept, told = values.dates(series)
        draft.table[column.name] = pd.Series(out, index=series.index, dtype=object)
        _tell_rows(draft, column, kept, told or "is kept as written", harm=1)
    elif column.kind in ("number", "money", "length"):
        _convert_numbers(draft, column, series, unit)
    elif column.kind == "answer":
        answers = [None if v is None or pd.isna(v) else values.tidy(str(v)) or None for v in series]
        draft.table[column.name] = pd.Series(answers, index=series.index, dtype=object)
    else:
        draft.table[column.name] = pd.Series([_text(v) for v in series], index=series.index, dtype=object)


def _text(value: object) -> str | None:
    return None if values.is_missing(value) else values.tidy(str(value))


def _convert_ids(draft: Draft, column: Column, series: pd.Series) -> None:
    lost = [r for r, v in draft.items(column.name) if values.lost_digits(v)]
    draft.table[column.name] = pd.Series(
        [values.id_text(v) for v in series], index=series.index, dtype=object
    )
    if lost:
        draft.tell(
            f"{column.name}: {len(lost)} id(s) went through a number that cannot hold their digits "
            f"(first: {values.id_text(series[lost[0]])}); save the column as text",
            harm=3,
        )


def _convert_numbers(draft: Draft, column: Column, series: pd.Series, unit: float | None) -> None:
    numbers_in_words(draft, column.name)
    series = draft.table[column.name]
    own = UNIT_SUFFIXES.get(column.name.rsplit("_", 1)[-1], 1.0) if column.kind == "length" else 1.0
    if column.kind == "money":
        found, faults = amounts(draft, column.name)
    else:
        found, faults = values.numbers(
            series, decimal_comma=draft.decimal_comma, unit=unit if column.kind == "length" else None
        )
    found = np.round(found / own, 9) if column.kind == "length" else found
    outside = (found < column.low) | (found > column.high)
    instead = column.name == "budget" and draft.name == "participants"
    more = ", so the study's planting.budget counts; write the number alone" if instead else ""
    _tell_rows(draft, column, faults, f"is no number: unknown{more}", harm=2 if instead else 1)
    _tell_rows(
        draft,
        column,
        {int(r): f"{v:g}" for r, v in zip(series.index[outside], found[outside], strict=True)},
        f"is outside {column.low:g} to {column.high:g}: unknown",
        harm=2,
    )
    found[outside] = np.nan
    draft.table[column.name] = found


def _tell_rows(draft: Draft, column: Column, rows: dict[int, str], what: str, *, harm: int) -> None:
    """Tell the first few rows one by one and the rest as a number."""
    for row, value in list(rows.items())[:20]:
        draft.tell(f"{column.name} {value!r} {what}", row, harm)
    if len(rows) > 20:
        draft.tell(f"{column.name}: {len(rows) - 20} more value(s) like these: {what}", harm=harm)


def _tell_garbled(draft: Draft) -> None:
    for name in draft.table.columns:
        column = draft.table[name]
        if column.dtype == object or pd.api.types.is_string_dtype(column.dtype):
            bad = [
                r for r, v in draft.items(name) if isinstance(v, str) and not v.isascii() and looks_garbled(v)
            ]
            if bad:
                draft.tell(
                    f"{name} looks garbled by a wrong encoding ({column[bad[0]]!r}, {len(bad)} row(s)): "
                    "kept as it is; mend the file or state encoding",
                    bad[0],
                    harm=2,
                )
