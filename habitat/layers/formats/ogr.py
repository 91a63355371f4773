"""Vector files that the format library opens: columns through Arrow, so that ids keep all digits."""

from __future__ import annotations

import datetime as dt
import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pyogrio
import shapely
from pyproj import CRS
from pyproj.exceptions import CRSError

from habitat.errors import LayerError
from habitat.layers.cells.columns import SHAPES
from habitat.layers.formats.nesting import MOST_COLLECTIONS, too_deep_binary, too_deep_text
from habitat.layers.formats.plain import gdal_settings, reading
from habitat.layers.formats.raw import Draft
from habitat.layers.formats.views import refuse_endless_views
from habitat.settings.layers import VectorSource

NO_DATA_LAYERS = ("layer_styles", "qgis_projects", "qgis_plugin")
CURVES = {8, 9, 10, 11, 12, 13, 14}
GPX_OUTLINES = ("tracks", "routes")


def choose_layer(path: Path, name: str, wanted: str | None, shown: str) -> tuple[str, str | None]:
    """Return (layer in the file, what to tell): the one stated, the only one, or the one named like ours.

    Raises
    ------
    LayerError
        If none or several could be meant.
    """
    if path.suffix.lower() == ".gpkg" and not _holds_vectors(path):
        raise LayerError(
            "it holds no layer of shapes or rows, only pictures or nothing",
            shown,
            "Save the vector layer itself as GeoPackage; a raster goes under [rasters]",
        )
    with gdal_settings(), reading(shown):
        listed = pyogrio.list_layers(path)
    layers = [str(row[0]) for row in listed if not str(row[0]).startswith(NO_DATA_LAYERS)]
    if wanted is not None:
        if wanted in layers:
            if path.suffix.lower() == ".gpx":
                _of_gpx(path, [wanted], name, shown, stated=True)
            return wanted, None
        raise LayerError(f"there is no layer {wanted!r}", shown, f"Layers: {', '.join(layers) or 'none'}")
    if path.suffix.lower() == ".gpx":
        return _of_gpx(path, layers, name, shown), None
    if len(layers) == 1:
        return layers[0], None
    same = [one for one in layers if one.casefold() == name.casefold()]
    if len(same) == 1:
        return same[0], f"of the layers {', '.join(layers)} the one named {same[0]!r} is read"
    if not layers:
        raise LayerError("it holds no layer", shown, "Save it again with one layer")
    raise LayerError(
        f"it holds several layers: {', '.join(layers)}", shown, f'State layer = "..." under layers.{name}'
    )


def _holds_vectors(path: Path) -> bool:
    """Return whether a GeoPackage lists features or attributes among its contents; True if it cannot tell."""
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro&immutable=1", uri=True)) as base:
            kinds = {str(row[0]).lower() for row in base.execute("SELECT data_type FROM gpkg_contents")}
    except (sqlite3.Error, ValueError):
        return True
    return bool(kinds & {"features", "attributes", "aspatial"})


def _of_gpx(path: Path, layers: list[str], name: str, shown: str, *, stated: bool = False) -> str:
    """Return the layer of a GPX file that is meant: waypoints, unless the study states tracks or routes.

    Raises
    ------
    LayerError
        If it is empty while others are not, or cannot give the outlines that a layer needs.
    """
    with gdal_settings(), reading(shown):
        names = [str(row[0]) for row in pyogrio.list_layers(path)]
        held = {
            one: int(pyogrio.read_info(path, layer=one, force_feature_count=True)["features"])
            for one in names
        }
    filled = {one: rows for one, rows in held.items() if rows and one in ("waypoints", *GPX_OUTLINES)}
    listed = ", ".join(f"{one} ({rows})" for one, rows in filled.items())
    chosen = layers[0] if stated else "waypoints"
    outlines = [one for one in GPX_OUTLINES if one in filled]
    if not stated and SHAPES.get(name) == "polygon" and outlines:
        raise LayerError(
            f"{name} are areas: a walked track or route is taken as an outline only if the study says so",
            shown,
            f'State layer = "{outlines[0]}" under layers.{name}; it holds {listed}',
        )
    if filled and chosen not in filled:
        raise LayerError(
            f"it holds no {chosen}", shown, f'State layer = "..." under layers.{name}; it holds {listed}'
        )
    return chosen


def read_ogr(
    path: Path, name: str, source: VectorSource, *, shown: str, encoding: str | None = None
) -> Draft:
    """Read one layer of a vector file."""
    if path.suffix.lower() == ".gpkg":
        refuse_endless_views(path, shown)  # before the library lists layers: it runs them for that
    layer, told = choose_layer(path, name, source.layer, shown)
    with gdal_settings(), reading(shown) as warned:
        meta, table = pyogrio.read_arrow(path, layer=layer, encoding=encoding)
    column = _shape_column(meta, table)
    draft = Draft(name, shown, columns_of(table, column), own_format=path.suffix.lower().lstrip("."))
    draft.encoding = "utf-8"
    if told:
        draft.tell(told)
    for line in dict.fromkeys(warned):
        if any(word in line.lower() for word in ("truncat", "error", "skip", "corrupt")):
            draft.tell(f"the reader says: {line[:160]}")
    if column is not None:
        _read_shapes(draft, table[column], path, layer, shown)
        draft.crs, draft.crs_from = file_crs(meta.get("crs")), "file"
        if path.suffix.lower() == ".gpx" and layer in GPX_OUTLINES and draft.shapes is not None:
            _close_outlines(draft)
    return draft


def _shape_column(meta: dict[str, Any], table: pa.Table) -> str | None:
    if meta.get("geometry_type") is None:
        return None
    named = meta.get("geometry_name") or "wkb_geometry"
    if named in table.column_names:
        return str(named)
    return next((n for n in table.column_names if pa.types.is_binary(table.schema.field(n).type)), None)


def file_crs(text: str | None) -> CRS | None:
    """Return the CRS that a file names, None if it names none or one that stands for "unknown"."""
    if not text:
        return None
    try:
        crs = CRS.from_user_input(text)
    except (CRSError, TypeError, ValueError):
        return None
    vague = any(word in crs.name.casefold() for word in ("undefined", "unknown engineering", "unspecified"))
    return None if vague or not (crs.is_geographic or crs.is_projected) else crs


def columns_of(table: pa.Table, leave_out: str | None) -> pd.DataFrame:
    """Return an Arrow table's columns as text, whole numbers that keep every digit, floats and dates."""
    out: dict[str, Any] = {}
    for name in table.column_names:
        if name != leave_out:
            out[name] = _column(
                table[name].combine_chunks() if table[name].num_chunks != 1 else table[name].chunk(0)
            )
    return pd.DataFrame(out, index=pd.RangeIndex(table.num_rows))


def _column(column: pa.Array) -> Any:
    kind = column.type
    if pa.types.is_dictionary(kind):
        column = column.dictionary_decode()
        kind = column.type
    if pa.types.is_string(kind) or pa.types.is_large_string(kind):
        return pd.Series(_texts(column), dtype=object)
    if pa.types.is_boolean(kind):
        return pd.Series(column.to_pylist(), dtype=object)
    if pa.types.is_integer(kind):
        values = column.to_pylist() if column.null_count else column.to_numpy(zero_copy_only=False)
        return pd.Series(values, dtype=object if column.null_count else None)
    if pa.types.is_floating(kind):
        return pd.Series(column.to_numpy(zero_copy_only=False).astype(float))
    if pa.types.is_decimal(kind):
        return pd.Series([None if v is None else format(v, "f") for v in column.to_pylist()], dtype=object)
    if pa.types.is_timestamp(kind) or pa.types.is_date(kind):
        return pd.Series([_iso(v) for v in column.cast(pa.string()).to_pylist()], dtype=object)
    return pd.Series([_other(v) for v in column.to_pylist()], dtype=object)


def _texts(column: pa.Array) -> list[str | None]:
    try:
        column.validate(full=True)
        return list(column.to_pylist())
    except (pa.ArrowInvalid, UnicodeDecodeError):
        raw = column.cast(pa.large_binary(), safe=False).to_pylist()
        return [
            None if v is None else v.decode("utf-8", "surrogateescape").encode("utf-8", "replace").decode()
            for v in raw
        ]


def _iso(text: str | None) -> str | None:
    if text is None:
        return None
    return text[:10] if text[10:].strip("0:. TZ") == "" else text


def _other(value: Any) -> Any:
    if value is None or isinstance(value, (str, bytes, int, float)):
        return value
    if isinstance(value, (dt.date, dt.time)):
        return value.isoformat()
    return json.dumps(value, default=str, ensure_ascii=False)


def _read_shapes(draft: Draft, column: pa.ChunkedArray, path: Path, layer: str, shown: str) -> None:
    try:
        raw = np.array(column.to_pylist(), dtype=object)
    except SystemError:  # lengths that a damaged file states, below nothing
        raise LayerError(
            "its shapes are damaged: one states a length below zero", shown, "Save the file again"
        ) from None
    curved = np.array([_is_curve(v) for v in raw], dtype=bool)
    if curved.any():
        with gdal_settings(), reading(shown):
            straight = pyogrio.raw.read(path, layer=layer, columns=[])[2]
        raw = np.array(list(straight), dtype=object) if len(straight) == len(raw) else raw
        for row in np.flatnonzero(curved):
            draft.tell("its curve (arc) is read as short straight pieces", int(row))
            draft.repaired.add(int(row))
    read_wkb(draft, raw)


def read_wkb(draft: Draft, raw: Any) -> None:
    """Give a draft the shapes of WKB; unclosed rings are closed, what cannot be read becomes a fault."""
    deep = [i for i, value in enumerate(raw) if isinstance(value, bytes) and too_deep_binary(value)]
    raw[deep] = None
    for place in deep:
        draft.shape_faults[place] = (
            f"its shape holds more than {MOST_COLLECTIONS} collections inside each other: it is not read"
        )
    try:
        with np.errstate(invalid="ignore"):
            shapes = np.asarray(shapely.from_wkb(raw, on_invalid="ignore"), dtype=object)
    except (shapely.errors.GEOSException, NotImplementedError, TypeError, ValueError):
        shapes = np.array([None] * len(raw), dtype=object)
    for row in np.flatnonzero(shapely.is_missing(shapes)):
        if raw[row] is not None:
            shapes[row] = _one_shape(raw[row])
            if shapes[row] is None:
                draft.shape_faults[int(row)] = (
                    "its shape cannot be read (damaged, or a ring with too few points)"
                )
            elif "Polygon" in shapes[row].geom_type:
                draft.repaired.add(int(row))
                draft.tell("its outline was not closed: it is closed (repaired)", int(row))
    draft.shapes = shapes


def _one_shape(value: Any) -> Any:
    if value is None:
        return None
    try:
        with np.errstate(invalid="ignore"):
            return shapely.from_wkb(value, on_invalid="fix")
    except (shapely.errors.GEOSException, NotImplementedError, TypeError, ValueError):
        return None


def _is_curve(value: Any) -> bool:
    if not isinstance(value, bytes) or len(value) < 5:
        return False
    code = int.from_bytes(value[1:5], "little" if value[0] == 1 else "big") & 0x0FFFFFFF
    return code % 1000 in CURVES


def _close_outlines(draft: Draft) -> None:
    """Make walked tracks into outlines: the study names the layer, so a track is meant as one."""
    shapes = draft.shapes
    for i in range(len(shapes) if shapes is not None else 0):
        if shapes is None or shapes[i] is None or shapely.is_empty(shapes[i]):
            continue
        points = shapely.get_coordinates(shapes[i])
        if len(points) >= 3:
            gap = float(np.hypot(*(points[0] - points[-1]))) * 111_000 if np.isfinite(points).all() else 0.0
            shapes[i] = shapely.Polygon(points)
            draft.repaired.add(i)
            draft.tell(f"the walked track is closed into an outline (its ends lie some {gap:.0f} m apart)", i)


# GeoParquet: its metadata say what the CRS is, and leaving it out means something else than null.

MOST_CELLS, MOST_BYTES = 100_000_000, 2_000_000_000
"""So much of a Parquet file is read; a county's parcels have a tenth of it."""

MOST_ROW_BYTES = 64_000_000
"""So much a row of it holds on average at most: four million corners, or a book of a cell."""

DEFAULT_CRS = "OGC:CRS84"
"""By the GeoParquet specification 1.1, a column without a crs entry is in longitude and latitude."""


def read_parquet(path: Path, name: str) -> Draft:
    """Read a GeoParquet file, or a plain Parquet table."""
    with reading(path.name):
        _refuse_many_rows(path)
        table = pq.read_table(path)
    geo = _geo(table, path)
    table = _without_index(table)
    columns, main = geo.get("columns", {}), geo.get("primary_column")
    if not isinstance(main, str) or main not in columns or main not in table.column_names:
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


def _refuse_many_rows(path: Path) -> None:
    """Refuse a file that unpacks to very much: equal values take no room on disk, but each in memory."""
    about = pq.read_metadata(path)
    groups = [about.row_group(i) for i in range(about.num_row_groups)]
    size = sum(group.total_byte_size for group in groups)
    cells = about.num_rows * max(1, about.num_columns)
    of_row = max((g.total_byte_size / max(1, g.num_rows) for g in groups), default=0.0)
    if of_row > MOST_ROW_BYTES:
        raise LayerError(
            f"its rows hold {of_row / 1e6:,.0f} MB each",
            path.name,
            f"Keep the columns that matter: {MOST_ROW_BYTES / 1e6:,.0f} MB a row are the most that is read",
        )
    if cells > MOST_CELLS or size > MOST_BYTES:
        raise LayerError(
            f"it holds {about.num_rows:,} rows of {about.num_columns} columns, {size / 1e6:,.0f} MB unpacked",
            path.name,
            f"Keep the rows and columns that matter: {MOST_CELLS:,} cells and {MOST_BYTES / 1e6:,.0f} MB are "
            "the most that is read",
        )


def _geo(table: pa.Table, path: Path) -> dict[str, Any]:
    """Return what the file says of its shapes, every part of the type that the specification names."""
    data = (table.schema.metadata or {}).get(b"geo", b"{}")
    try:
        text = data.decode("utf-8")
        geo = {"": None} if too_deep_text(text) else json.loads(text)
        columns = geo.get("columns", {})
        sound = isinstance(columns, dict) and all(isinstance(entry, dict) for entry in columns.values())
    except (ValueError, AttributeError, RecursionError):
        sound = False
    if not sound or "" in geo:
        raise LayerError(
            "what it says of its shapes (its metadata named geo) is not as GeoParquet has it",
            path.name,
            "Save it again as GeoParquet from the program that made it",
        )
    return dict(geo)


def _without_index(table: pa.Table) -> pa.Table:
    return table.drop_columns([c for c in table.column_names if c.startswith("__index_level_")])


def _shapes(draft: Draft, column: pa.ChunkedArray, entry: Any, path: Path) -> None:
    encoding = str(entry.get("encoding", "WKB"))
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
    except (CRSError, TypeError, ValueError, OverflowError, AttributeError):
        raise LayerError(
            "its coordinate reference system cannot be understood", path.name, "State crs under the layer"
        ) from None
