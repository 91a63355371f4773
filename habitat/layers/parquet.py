"""GeoParquet: its metadata say what the CRS is, and leaving it out means something else than null."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from pyproj import CRS
from pyproj.exceptions import CRSError

from habitat.errors import LayerError
from habitat.layers.ogr import columns_of, read_wkb
from habitat.layers.plain import reading
from habitat.layers.raw import Draft

DEFAULT_CRS = "OGC:CRS84"
"""By the GeoParquet specification 1.1, a column without a crs entry is in longitude and latitude."""


def read_parquet(path: Path, name: str) -> Draft:
    """Read a GeoParquet file, or a plain Parquet table."""
    with reading(path.name):
        table = pq.read_table(path)
        geo = json.loads((table.schema.metadata or {}).get(b"geo", b"{}"))
    table = _without_index(table)
    columns = geo.get("columns", {}) if isinstance(geo, dict) else {}
    main = geo.get("primary_column") if isinstance(geo, dict) else None
    if not isinstance(columns, dict) or main not in columns or main not in table.column_names:
        return Draft(name, path.name, columns_of(table, None), encoding="utf-8", own_format="table")
    others = [c for c in columns if c != main and c in table.column_names]
    draft = Draft(
        name, path.name, columns_of(table.drop_columns(others), main), encoding="utf-8", own_format="parquet"
    )
    if others:
        draft.tell(f"shapes are read from {main!r}; the other shape columns ({', '.join(others)}) are not")
    _shapes(draft, table[main], columns[main], path)
    draft.crs, draft.crs_from = _crs(columns[main], path)
    return draft


def _without_index(table: pa.Table) -> pa.Table:
    return table.drop_columns([c for c in table.column_names if c.startswith("__index_level_")])


def _shapes(draft: Draft, column: pa.ChunkedArray, entry: Any, path: Path) -> None:
    encoding = str(entry.get("encoding", "WKB")) if isinstance(entry, dict) else "WKB"
    if encoding.upper() == "WKB" and (
        pa.types.is_binary(column.type) or pa.types.is_large_binary(column.type)
    ):
        raw = np.array([*column.to_pylist(), None], dtype=object)[:-1]
        read_wkb(draft, raw)
        return
    with reading(path.name):
        draft.shapes = np.asarray(gpd.read_parquet(path).geometry.values, dtype=object)


def _crs(entry: dict[str, Any], path: Path) -> tuple[CRS | None, str]:
    if "crs" not in entry:
        return CRS.from_user_input(DEFAULT_CRS), "format"
    if entry["crs"] is None:
        return None, ""
    try:
        return CRS.from_user_input(entry["crs"]), "file"
    except CRSError:
        raise LayerError(
            "its coordinate reference system cannot be understood", path.name, "State crs under the layer"
        ) from None
