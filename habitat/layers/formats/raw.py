"""What a reader hands on before anything is judged: columns, shapes, and what the file says of itself."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from habitat.errors import LayerError
from habitat.layers.types import VectorLayer
from habitat.remarks import Note

ShapeArray = NDArray[Any]


MOST_TOLD = 2_000
"""Letters of a note at most: a cell may hold a book."""


@dataclass(slots=True)
class Draft:
    """A layer while it is read: every row ends up used, repaired or set aside.

    Parameters
    ----------
    name
        Layer name in the study.
    where
        The file, for messages.
    table
        Columns, indexed by source row (0-based).
    shapes
        One geometry (or None) per row of ``table``; None for a table without any.
    crs
        CRS of the shapes; None if nothing says.
    crs_from
        What says it: "file", "format", "study", "columns", or "" for nothing.
    row_names
        How rows that came from another file are told of: "more/oak.csv, row 3".
    """

    name: str
    where: str
    table: pd.DataFrame
    shapes: ShapeArray | None = None
    crs: CRS | None = None
    crs_from: str = ""
    encoding: str | None = None
    decimal_comma: bool = False
    rows_in: int = 0
    notes: list[Note] = field(default_factory=list)
    repaired: set[int] = field(default_factory=set)
    aside: list[tuple[int, str, str, Any]] = field(default_factory=list)
    shape_faults: dict[int, str] = field(default_factory=dict)
    row_faults: dict[int, str] = field(default_factory=dict)
    own_format: str = ""
    details: dict[str, Any] = field(default_factory=dict)
    row_names: dict[int, str] = field(default_factory=dict)

    def tell(self, what: str, row: int | None = None, harm: int = 1) -> None:
        """Add a note; the text of a row's note begins with the row's own name. Very long text is cut."""
        if row is not None:
            what = f"{self.label(row)}: {what}"
        if len(what) > MOST_TOLD:
            what = f"{what[:MOST_TOLD]} ... ({len(what) - MOST_TOLD:,} letters more)"
        self.notes.append(Note(row, what, harm))

    def label(self, row: int) -> str:
        """Return how people know a row: its id or name, else its number counted from 1."""
        place = self.place_of(row)
        there = place < len(self.table) and self.table.index[place] == row
        return self._label(row, _record(self.table, place) if there else {})

    def _label(self, row: int, record: Mapping[Any, Any]) -> str:
        named = self.row_names.get(row, f"row {row + 1}")
        own = () if self.name in ("plants", "trees", "sightings", "matches") else ("yard_id",)
        hidden = ("name",) if self.name == "participants" else ()
        for column in (*own, "plant_id", "address", "name", "plant", "id"):
            if column in hidden:
                continue
            value = record.get(column)
            if isinstance(value, str) and value.strip():
                return value if column in ("yard_id", "plant_id") else f"{named} ({value})"
        return named

    def items(self, column: str) -> Iterator[tuple[int, Any]]:
        """Yield (row, value) of a column."""
        yield from zip(map(int, self.table.index), self.table[column], strict=True)

    def row_at(self, place: int) -> int:
        """Return the source row of a place in the table."""
        return int(self.table.index.to_numpy()[place])

    def place_of(self, row: int) -> int:
        """Return the place in the table of a source row."""
        return int(np.searchsorted(self.table.index.to_numpy(), row))

    def set_aside(self, reasons: dict[int, str], harm: int = 2) -> None:
        """Take rows out of use, each with its reason, and tell each."""
        if not reasons:
            return
        columns = [(name, self.table.iloc[:, i].array) for i, name in enumerate(self.table.columns)]
        for row, reason in reasons.items():
            place = self.place_of(row)
            shape = None if self.shapes is None else self.shapes[place]
            record = {name: values[place] for name, values in columns}
            self.notes.append(Note(row, f"{self._label(row, record)}: set aside: {reason}", harm))
            self.aside.append((row, reason, attributes_json(record), (shape, self.crs)))
        keep = ~self.table.index.isin(list(reasons))
        self.table = self.table.loc[keep]
        if self.shapes is not None:
            self.shapes = self.shapes[keep]
        self.repaired -= set(reasons)

    def finish(self, frame: gpd.GeoDataFrame | pd.DataFrame, crs: CRS, source_crs: str | None) -> VectorLayer:
        """Close the account: rows in = used + repaired + set aside."""
        frame_rows = self.rows_in - len(self.aside)
        return VectorLayer(
            name=self.name,
            frame=frame,
            rows_in=self.rows_in,
            used=frame_rows - len(self.repaired),
            repaired=len(self.repaired),
            set_aside=self._aside_frame(crs),
            source_crs=source_crs,
            encoding=self.encoding,
            notes=tuple(sorted(self.notes, key=lambda n: (-n.harm, -1 if n.row is None else n.row))),
            details=self.details,
        )

    def _aside_frame(self, crs: CRS) -> gpd.GeoDataFrame:
        listed = sorted(self.aside, key=lambda item: item[0])
        shapes = _moved([shape for *_, shape in listed], crs)
        return gpd.GeoDataFrame(
            {
                "row": pd.Series([a[0] for a in listed], dtype="int64"),
                "reason": pd.Series([a[1] for a in listed], dtype=object),
                "attributes": pd.Series([a[2] for a in listed], dtype=object),
            },
            geometry=gpd.GeoSeries(shapes, crs=crs),
        )


def _record(table: pd.DataFrame, place: int) -> dict[Any, Any]:
    return {name: table.iloc[:, i].array[place] for i, name in enumerate(table.columns)}


def _moved(shapes: list[tuple[Any, CRS | None]], target: CRS) -> list[Any]:
    """Return shapes, each with its CRS, in one CRS; None for those that have no place in it."""
    out: list[Any] = [None] * len(shapes)
    by_source: dict[int, list[int]] = {}
    for i, (shape, source) in enumerate(shapes):
        if shape is not None and source is not None and not shape.is_empty:
            by_source.setdefault(id(source), []).append(i)
    for places in by_source.values():
        source = shapes[places[0]][1]
        flat = gpd.GeoSeries(shapely.force_2d([shapes[i][0] for i in places]), crs=source)
        for i, moved in zip(places, flat if source == target else flat.to_crs(target), strict=True):
            if np.isfinite(shapely.get_coordinates(moved)).all():
                out[i] = moved
    return out


def refuse_if_nothing_left(draft: Draft) -> None:
    """Stop if not one row of a layer can be used: going on as if it were not there would mislead."""
    if draft.aside and not len(draft.table) and (draft.name == "yards" or draft.rows_in > 1):
        row, reason, _, _ = draft.aside[0]
        raise LayerError(
            f"layer {draft.name!r}: none of its {draft.rows_in} rows can be used; the first (row "
            f"{row + 1}): {reason}",
            draft.where,
            "Mend the rows, or say under which columns the values stand",
        )


def nothing(index: pd.Index) -> pd.Series[Any]:
    """Return a column of None."""
    return pd.Series([None] * len(index), index=index, dtype=object)


PRIVATE = re.compile(
    r"contact|phone|mobile|e.?mail|owner|resident|occupant|signature|birth"
    r"|(?:first|last|sur|family|full).?name|^tel$|^name$",
    re.IGNORECASE,
)
"""Columns that tell who somebody is; no stage needs them, so that results do not keep them."""


def attributes_json(record: dict[Any, Any]) -> str:
    """Return a row's values as JSON text, without what tells who somebody is."""
    kept = {str(k): plain_value(v) for k, v in record.items() if not PRIVATE.search(str(k))}
    return json.dumps(kept, ensure_ascii=False, sort_keys=False)


def plain_value(value: Any) -> Any:
    """Return a value that JSON can carry: numbers, text, true/false, or None for missing."""
    if value is None or value is pd.NaT or value is pd.NA:
        return None
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return float(value) if np.isfinite(value) else None
    if isinstance(value, bytes):
        return value.hex()
    if isinstance(value, (list, tuple, np.ndarray)):
        return [plain_value(v) for v in value]
    if isinstance(value, dict):
        return {str(k): plain_value(v) for k, v in value.items()}
    return str(value)
