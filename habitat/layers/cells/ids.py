"""Ids of yards: blanks numbered, copies set aside, parts of one parcel joined, different yards told apart."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import pandas as pd
import shapely

from habitat.errors import LayerError
from habitat.layers.formats.raw import Draft

MOST_OF_ONE_ID = 1_000
"""An id that more rows of different shapes carry than this is no id of a yard: judgement."""

MACHINE_COLUMNS = ("fid", "objectid", "gid", "globalid", "id")
"""Columns that programs fill in: they differ between the parts of one parcel too."""


def settle_ids(draft: Draft) -> None:
    """Give every yard an id of its own.

    Rows of one id are: copies, if their shapes are equal (the later ones are set aside); parts of one parcel,
    if whatever else the table says in words is the same (joined into one yard); else different yards that
    carry one id by a slip (the later ones get a number behind it, and nothing joins to the id any more).

    Raises
    ------
    LayerError
        If more than ``MOST_OF_ONE_ID`` rows of different shapes carry one id.
    """
    _number_blanks(draft)
    groups: dict[str, list[int]] = defaultdict(list)
    for row, name in draft.items("yard_id"):
        groups[name].append(row)
    twice = {name: rows for name, rows in groups.items() if len(rows) > 1}
    if not twice:
        return
    texts = _words(draft)
    copies: dict[int, str] = {}
    merged: set[int] = set()
    renamed: dict[int, str] = {}
    ambiguous: dict[str, list[str]] = {}
    for name, rows in twice.items():
        parts = _without_copies(draft, name, rows, copies)
        if len(parts) < 2:
            continue
        if len(parts) > MOST_OF_ONE_ID:
            raise LayerError(
                f"{len(parts):,} rows of different shapes carry the yard id {name!r}: it is no id of a yard",
                draft.where,
                'Name the column of ids: columns = { yard_id = "..." } under layers.yards',
            )
        if len({texts[r] for r in parts}) == 1:
            _join(draft, parts)
            merged |= set(parts[1:])
        else:
            renamed |= {r: _fresh(f"{name} ({k})", groups) for k, r in enumerate(parts[1:], 2)}
            ambiguous[name] = [name, *(renamed[r] for r in parts[1:])]
            _tell_different(draft, name, parts, ambiguous[name])
    draft.set_aside(copies)
    ids = [renamed.get(row, name) for row, name in draft.items("yard_id")]
    draft.table["yard_id"] = pd.Series(ids, index=draft.table.index, dtype=object)
    draft.repaired |= set(renamed)
    draft.details["ambiguous_ids"] = ambiguous
    _drop(draft, merged)


def _number_blanks(draft: Draft) -> None:
    taken = set(draft.table["yard_id"].dropna())
    names = []
    for row, name in draft.items("yard_id"):
        if name is None:
            name = f"row {row + 1}"  # noqa: PLW2901
            while name in taken:
                name += "'"  # noqa: PLW2901
            draft.tell(f"it has no id: called {name!r}", row, 2)
            draft.repaired.add(row)
        names.append(name)
    draft.table["yard_id"] = pd.Series(names, index=draft.table.index, dtype=object)


def _words(draft: Draft) -> dict[int, tuple[str, ...]]:
    """Return what each row says in words beside its id."""
    columns = [
        c
        for c in draft.table.columns
        if c != "yard_id" and draft.table[c].dtype == object and str(c).casefold() not in MACHINE_COLUMNS
    ]
    records = (
        zip(*(draft.table[c] for c in columns), strict=True)
        if columns
        else iter(() for _ in draft.table.index)
    )
    kept = [tuple("" if not isinstance(v, str) else v.casefold() for v in record) for record in records]
    return dict(zip(map(int, draft.table.index), kept, strict=True))


def _without_copies(draft: Draft, name: str, rows: list[int], copies: dict[int, str]) -> list[int]:
    assert draft.shapes is not None
    parts: list[int] = []
    seen: dict[bytes, int] = {}
    for row in rows:
        key = shapely.to_wkb(shapely.normalize(draft.shapes[draft.place_of(row)]))
        if key in seen:
            copies[row] = (
                f"duplicate id {name}: row {row + 1} has the same shape as row {seen[key] + 1}, which is kept"
            )
        else:
            seen[key] = row
            parts.append(row)
    return parts


def _join(draft: Draft, parts: list[int]) -> None:
    """Make rows one yard of several parts, in the place of the first."""
    assert draft.shapes is not None
    shapes: list[Any] = [draft.shapes[draft.place_of(r)] for r in parts]
    whole: Any = shapely.union_all(shapes)
    draft.shapes[draft.place_of(parts[0])] = whole
    draft.repaired |= set(parts)
    gap = max(shapely.distance(shapes[0], s) for s in shapes[1:])
    lost = sum(s.area for s in shapes) - whole.area
    apart = f", up to {gap:,.0f} m apart" if gap > 1 else ""
    over = f"; they overlap by {lost:,.1f} m2" if lost > 0.01 else ""
    listed = ", ".join(str(r + 1) for r in parts[:8])
    draft.tell(
        f"duplicate id: {len(parts)} rows carry it (rows {listed}) and say the same: taken as one yard of "
        f"several parts{apart}{over}. If they are different yards, give each its own id",
        parts[0],
        3 if gap > 100 else 2,
    )


def _tell_different(draft: Draft, name: str, parts: list[int], names: list[str]) -> None:
    listed = ", ".join(str(r + 1) for r in parts[:8])
    draft.tell(
        f"duplicate id: {len(parts)} different yards carry the same id {name} (rows {listed}); they are "
        f"called {', '.join(names[:8])}, and rows of other tables that name {name} are not matched. Give "
        "each its own id",
        parts[0],
        3,
    )


def _fresh(name: str, taken: dict[str, list[int]]) -> str:
    while name in taken:
        name += "'"
    return name


def _drop(draft: Draft, merged: set[int]) -> None:
    if merged and draft.shapes is not None:
        keep = ~draft.table.index.isin(list(merged))
        draft.table = draft.table.loc[keep]
        draft.shapes = draft.shapes[keep]
