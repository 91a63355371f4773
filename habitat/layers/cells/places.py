"""Places in tables: longitude and latitude in any common notation, x and y, or shapes as text."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from habitat.errors import LayerError
from habitat.layers.cells import values
from habitat.layers.cells.columns import plain_name
from habitat.layers.formats.nesting import too_deep_binary, too_deep_text
from habitat.layers.formats.raw import Draft, ShapeArray
from habitat.settings.layers import VectorSource

LON = (
    "lon",
    "longitude",
    "long",
    "lng",
    "decimallongitude",
    "decimal_longitude",
    "lon_dd",
    "x_lon",
    "gps_lon",
    "gps_longitude",
)
LAT = ("lat", "latitude", "decimallatitude", "decimal_latitude", "lat_dd", "y_lat", "gps_lat", "gps_latitude")
X = ("x", "easting", "east", "x_coord", "xcoord", "point_x", "coord_x", "x_m")
Y = ("y", "northing", "north", "y_coord", "ycoord", "point_y", "coord_y", "y_m")
LON_FIRST = ("lon_lat", "lonlat", "long_lat", "longlat", "lng_lat", "x_y")
"""Columns of pairs that say by their name that longitude comes first."""

PAIR = (
    *LON_FIRST,
    "location",
    "geolocation",
    "gps_location",
    "coordinates",
    "lat_lon",
    "latlon",
    "lat_long",
    "latlong",
    "lat_lng",
    "gps",
    "coords",
    "coordinate",
    "position",
)
SHAPE = (
    "geometry",
    "geom",
    "wkt",
    "the_geom",
    "wkt_geom",
    "shape",
    "wkb",
    "wkb_geometry",
    "ewkt",
    "geojson",
    "geometry_wkt",
)
WGS84 = CRS.from_epsg(4326)
HEX = re.compile(r"(?:\\x|0x)?[0-9A-Fa-f]{42,}")


def parse_angle(text: str) -> tuple[float, str]:
    """Return (degrees, hemisphere letter or "") of an angle in any common notation; NaN if it is none.

    Examples
    --------
    >>> parse_angle("N 39°53.25"), parse_angle("82 52 30 W")
    ((39.8875, 'N'), (-82.875, 'W'))
    >>> parse_angle("-82,9007729"), parse_angle("39:53:15")
    ((-82.9007729, ''), (39.8875, ''))
    """
    clean = values.with_minus(values.tidy(text)).replace("º", "°").replace("˚", "°")
    clean = re.sub("[´`‘’ʹ′]", "'", re.sub("[“”„ʺ″]", '"', clean)).replace("''", '"')
    clean = re.sub(r"(?<=\d)s(?=\s*[NSEWnsew]?\s*$)|(?<=\d)S(?=\s*[NSEW]\s*$)", '"', clean).upper()
    clean = re.sub(r"\b(NORTH|SOUTH|EAST|WEST)\b", lambda m: m.group(1)[0], clean)
    clean = re.sub(r"(DEGREES?|DEG)\b", "°", clean)
    clean = re.sub(r"(MINUTES?|MIN)\b", "'", clean)
    clean = re.sub(r"(SECONDS?|SEC)\b", '"', clean)
    letters = re.findall(r"[A-Z]", re.sub(r"(?<=\d)D(?=\s*\d|\s*$)|(?<=\d)M(?=\s*\d|\s*$)", "°", clean))
    letter = letters[0] if len(letters) == 1 and letters[0] in "NSEW" else ""
    if (letters and not letter) or clean.endswith("-") or not re.fullmatch(r"[NSEWDM\d.,°'\":+\-\s]+", clean):
        return float("nan"), ""
    parts = [float(p.replace(",", ".")) for p in re.findall(r"\d+(?:[.,]\d+)?", clean)]
    if not 1 <= len(parts) <= 3 or any(p >= 60 for p in parts[1:]) or any(p % 1 for p in parts[:-1]):
        return float("nan"), ""
    size = sum(p / 60**i for i, p in enumerate(parts))
    minus = bool(re.search(r"(^|[NSEW\s])-\s*\d", clean)) or letter in ("S", "W")
    return (-size if minus else size), letter


def angles(
    column: pd.Series[Any], *, decimal_comma: bool | None = None
) -> tuple[NDArray[np.float64], dict[int, str], set[str]]:
    """Return a column as numbers, the rows that are no coordinate, and the hemisphere letters met.

    ``decimal_comma`` is None for degrees, where a comma can only be a decimal one; for eastings and
    northings it says whether the table writes decimal commas.
    """
    if pd.api.types.is_numeric_dtype(column.dtype):
        return column.to_numpy(dtype=float, na_value=np.nan), {}, set()
    quick = np.array(pd.to_numeric(column, errors="coerce"), dtype=float)
    rows = [int(r) for r in column.index.to_numpy()]
    faults: dict[int, str] = {}
    letters: set[str] = set()
    for i in np.flatnonzero(np.isnan(quick)):
        value = column.iloc[i]
        if values.is_missing(value):
            continue
        if decimal_comma is not None:
            quick[i] = values.number(str(value), decimal_comma=decimal_comma)
        if np.isnan(quick[i]):
            quick[i], letter = parse_angle(str(value))
            letters |= {letter} - {""}
        if np.isnan(quick[i]):
            faults[rows[i]] = str(value)
    return quick, faults, letters


def find_places(draft: Draft, source: VectorSource) -> None:
    """Give a table its shapes if it has any: a shape column, a pair of columns, or one column of pairs."""
    names = {plain_name(str(n)): str(n) for n in reversed(draft.table.columns)}
    shape = source.geometry or next((names[n] for n in SHAPE if n in names), None)
    if source.geometry and source.geometry not in draft.table:
        raise _no_column(draft, "geometry", source.geometry)
    if source.x or source.y:
        _from_pair(draft, *_stated_pair(draft, source))
        return
    if shape is not None and (source.geometry or _mostly_shapes(draft.table[shape])):
        _from_shapes(draft, shape)
        return
    for first, second in ((LON, LAT), (X, Y)):
        x = next((names[n] for n in first if n in names), None)
        y = next((names[n] for n in second if n in names), None)
        if x is not None and y is not None:
            _from_pair(draft, x, y, degrees=first is LON)
            return
    pair = next((names[n] for n in PAIR if n in names and _mostly_pairs(draft.table[names[n]])), None)
    if pair is not None:
        _from_texts(draft, pair)


def _no_column(draft: Draft, key: str, name: str) -> LayerError:
    return LayerError(
        f"layers.{draft.name}.{key} names the column {name!r}, which is not there",
        draft.where,
        f"Columns: {', '.join(map(str, draft.table.columns[:30]))}",
    )


def _stated_pair(draft: Draft, source: VectorSource) -> tuple[str, str, bool]:
    if not (source.x and source.y):
        raise LayerError(f"layers.{draft.name} states only one of x and y", draft.where, "State both")
    for key, name in (("x", source.x), ("y", source.y)):
        if name not in draft.table:
            raise _no_column(draft, key, name)
    named = plain_name(source.x) in LON or plain_name(source.y) in LAT
    return source.x, source.y, named


def _from_pair(draft: Draft, x_name: str, y_name: str, degrees: bool) -> None:
    comma = None if degrees else draft.decimal_comma
    x, x_faults, x_letters = angles(draft.table[x_name], decimal_comma=comma)
    y, y_faults, y_letters = angles(draft.table[y_name], decimal_comma=comma)
    if x_letters & {"N", "S"} or y_letters & {"E", "W"}:
        raise LayerError(
            f"{x_name!r} holds latitudes (N or S) or {y_name!r} longitudes (E or W): the columns are swapped",
            draft.where,
            f"State x = {y_name!r} and y = {x_name!r} under layers.{draft.name}",
        )
    _points(draft, x, y)
    for row in {**x_faults, **y_faults}:
        draft.shape_faults[row] = (
            f"its place cannot be read: {x_faults.get(row) or y_faults.get(row)!r} is no coordinate"
        )
    if degrees or x_letters or y_letters:
        draft.crs, draft.crs_from = WGS84, "columns"


def _points(draft: Draft, x: NDArray[np.float64], y: NDArray[np.float64]) -> None:
    known = np.isfinite(x) & np.isfinite(y)
    shapes = np.full(len(x), None, dtype=object)
    shapes[known] = shapely.points(x[known], y[known])
    draft.shapes = shapes


def _mostly_pairs(column: pd.Series[Any]) -> bool:
    filled = [str(v) for v in column.head(200) if not values.is_missing(v)]
    return bool(filled) and sum(_split_pair(v) is not None for v in filled) * 2 >= len(filled)


def _from_texts(draft: Draft, name: str) -> None:
    """Read one column that holds "latitude, longitude" or, by its name, the reverse.

    Hemisphere letters decide the order where there are any.
    """
    lon_first = plain_name(name) in LON_FIRST
    x, y = np.full(len(draft.table), np.nan), np.full(len(draft.table), np.nan)
    for i, (row, value) in enumerate(draft.items(name)):
        if values.is_missing(value):
            continue
        found = _split_pair(str(value))
        if found is None:
            draft.shape_faults[row] = f"its place cannot be read: {value!r}"
        else:
            lettered = re.search(r"[NSEWnsew]", str(value)) is not None
            x[i], y[i] = found[::-1] if lon_first and not lettered else found
    _points(draft, x, y)
    draft.crs, draft.crs_from = WGS84, "columns"
    order = "longitude, then latitude" if lon_first else "latitude, then longitude"
    draft.tell(f"column {name!r} is read as {order}", harm=1)


def _split_pair(text: str) -> tuple[float, float] | None:
    clean = values.tidy(text).strip("()[]")
    for pattern in (r"[;|/]", r",\s+", r",", r"(?<=[NSEWnsew])\s+(?=[\dNSEWnsew+-])", r"\s+"):
        parts = [p for p in re.split(pattern, clean) if p.strip()]
        if len(parts) == 2:
            (first, a), (second, b) = parse_angle(parts[0]), parse_angle(parts[1])
            if np.isfinite(first) and np.isfinite(second):
                return (first, second) if a in ("E", "W") or b in ("N", "S") else (second, first)
    return None


def _mostly_shapes(column: pd.Series[Any]) -> bool:
    filled = [v for v in column.head(200) if not values.is_missing(v)]
    return bool(filled) and sum(looks_like_shape(v) for v in filled) * 2 >= len(filled)


def looks_like_shape(value: Any) -> bool:
    """Return whether a cell holds a shape as WKT, EWKT, WKB or GeoJSON."""
    if isinstance(value, bytes):
        return len(value) > 20 and value[0] in (0, 1)
    text = str(value).lstrip()
    return bool(
        HEX.match(text)
        or re.match(r"(?i)(SRID=\d+;\s*)?(MULTI|POINT|LINE|POLY|GEOMETRYC|CURVE|CIRCULAR)|\{", text)
    )


def _from_shapes(draft: Draft, name: str) -> None:
    shapes: ShapeArray = np.full(len(draft.table), None, dtype=object)
    srids: set[int] = set()
    for i, (row, value) in enumerate(draft.items(name)):
        if values.is_missing(value):
            continue
        try:
            shapes[i], srid = parse_shape(value)
            srids |= {srid} - {0}
        except (
            shapely.errors.GEOSException,
            ValueError,
            TypeError,
            LookupError,
            NotImplementedError,
        ) as error:
            first = str(error).splitlines()[0][:120] if str(error) else "damaged"
            first = "a curve in text; save it as straight pieces" if "onlinear" in first else first
            draft.shape_faults[row] = f"its shape cannot be read ({first})"
    if len(srids) > 1:
        raise LayerError(
            f"the shapes name several coordinate reference systems: {sorted(srids)}",
            draft.where,
            "Split the table",
        )
    draft.shapes = shapes
    draft.table = draft.table.drop(columns=name)
    if srids:
        draft.crs, draft.crs_from = CRS.from_epsg(srids.pop()), "file"


def parse_shape(value: Any) -> tuple[Any, int]:
    """Return (shape, SRID or 0) of WKT, EWKT, WKB or EWKB (bytes or hex), or GeoJSON text.

    Raises
    ------
    GEOSException, ValueError
        If it is none of these; a ring that is merely not closed is closed.
    """
    if isinstance(value, bytes):
        _refuse_deep(too_deep_binary(value))
        shape = _read_closing(shapely.from_wkb, value)
        return shape, int(shapely.get_srid(shape))
    text = str(value).strip()
    srid = 0
    if match := re.match(r"(?i)SRID=(\d+);\s*", text):
        srid, text = int(match.group(1)), text[match.end() :]
    _refuse_deep(too_deep_text(text))
    if text.startswith("{"):
        json.loads(text)
        return shapely.from_geojson(text), srid
    if HEX.match(text):
        data = bytes.fromhex(re.sub(r"^(\\x|0x)", "", text))
        _refuse_deep(too_deep_binary(data))
        shape = _read_closing(shapely.from_wkb, data)
        return shape, srid or int(shapely.get_srid(shape))
    return _read_closing(shapely.from_wkt, text), srid


def _refuse_deep(deep: bool) -> None:
    if deep:
        raise ValueError("it holds collections or lists too deep inside each other")


def _read_closing(read: Callable[..., Any], data: Any) -> Any:
    try:
        return read(data)
    except shapely.errors.GEOSException:
        shape = read(data, on_invalid="fix")
        if shape is None:
            raise
        return shape
