"""Values to plain data and back: text, numbers, raw arrays and the names of a few known types; never code.

Arrays, frames and shapes come back equal to the byte. Of classes of our own only those that the caller
registers are written or made.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from affine import Affine
from geopandas.array import GeometryArray, from_shapely
from numpy.typing import NDArray
from pydantic import BaseModel
from pyproj import CRS
from shapely.geometry.base import BaseGeometry

from habitat.study.model import Study, parse_study

NUMBERS = "biufcmMSU"
"""Kinds of numpy arrays that are plain bytes."""

Types = dict[str, type[Any]]


def _plain(value: object) -> bool:
    return value is None or type(value) in (bool, int, float, str)


class Writer:
    """Takes a value apart into a tree for JSON and a row of arrays.

    Parameters
    ----------
    types
        Classes (dataclasses and pydantic models) that may be written, by name.
    """

    def __init__(self, types: Types) -> None:
        self.names = {kind: name for name, kind in types.items()}
        self.arrays: list[NDArray[Any]] = []
        self.size = 0
        self._seen: dict[int, tuple[Any, Any]] = {}  # id -> (the value, so that it lives, its node)

    def node(self, value: Any) -> Any:
        """Return what JSON can hold of a value.

        Raises
        ------
        TypeError
            If it is of a type that is not registered.
        """
        if _plain(value):
            return value
        if isinstance(value, np.ndarray | BaseGeometry):
            if id(value) not in self._seen:
                self._seen[id(value)] = (value, self._made(value))
            return self._seen[id(value)][1]
        return self._made(value)

    def _made(self, value: Any) -> Any:
        kind = type(value)
        if kind in WRITERS:
            tag, write = WRITERS[kind]
            return [tag, *write(self, value)]
        if kind in self.names:
            return ["made", self.names[kind], self.node(_fields(value))]
        if isinstance(value, np.generic):
            return ["scalar", self.node(np.asarray(value))]
        if isinstance(value, BaseGeometry):
            return ["shapes", *self._shapes(np.array([value], object))]
        if isinstance(value, pd.Index):
            return ["index", self._column(value.array), self.node(value.name)]
        raise TypeError(f"{kind.__module__}.{kind.__qualname__} is not registered")

    def nodes(self, values: Any) -> list[Any]:
        """Return the nodes of many values."""
        return [v if _plain(v) else self.node(v) for v in values]

    def array(self, value: NDArray[Any]) -> list[Any]:
        """Keep an array and return where."""
        if value.dtype.kind == "O":
            return ["objects", list(value.shape), self.nodes(value.ravel().tolist())]
        if value.dtype.kind not in NUMBERS:
            raise TypeError(f"arrays of {value.dtype} are not plain")
        by_column = value.flags.f_contiguous and not value.flags.c_contiguous
        start = self.size
        self.arrays.append(value.T if by_column else np.ascontiguousarray(value))
        self.size += value.nbytes
        return [value.dtype.str, list(value.shape), "F" if by_column else "C", start]

    def _shapes(self, shapes: NDArray[Any]) -> list[Any]:
        if (shapely.get_type_id(shapes) == 2).any():
            raise TypeError("rings would come back as lines")
        texts = shapely.to_wkb(shapes, include_srid=True)
        lengths = np.array([-1 if t is None else len(t) for t in texts], np.int64)
        whole = np.frombuffer(b"".join(t for t in texts if t is not None), np.uint8)
        return [self.array(lengths), self.array(whole)]

    def _column(self, values: Any) -> Any:
        """Return the node of a column or an index."""
        if isinstance(values, GeometryArray):
            return ["geometry", *self._shapes(np.asarray(values)), self.node(values.crs)]
        if isinstance(values, pd.arrays.NumpyExtensionArray):
            return ["array", self.array(values.to_numpy())]
        dtype = values.dtype
        if isinstance(dtype, pd.StringDtype):
            texts = [None if gone else str(v) for v, gone in zip(values, values.isna(), strict=True)]
            return ["text", dtype.storage, dtype.na_value is pd.NA, texts]
        if isinstance(dtype, pd.CategoricalDtype):
            return [
                "category",
                self.array(np.asarray(values.codes)),
                self.node(dtype.categories),
                dtype.ordered,
            ]
        if isinstance(values, pd.arrays.IntegerArray | pd.arrays.FloatingArray | pd.arrays.BooleanArray):
            gone = np.asarray(values.isna())
            filled = values.to_numpy(dtype=dtype.numpy_dtype, na_value=dtype.numpy_dtype.type(0))
            return ["masked", self.array(filled), self.array(gone)]
        if not isinstance(dtype, np.dtype):
            raise TypeError(f"columns of {dtype} are not plain")
        return ["array", self.array(np.asarray(values))]

    def frame(self, frame: pd.DataFrame) -> list[Any]:
        """Return index, columns, and what stands in them."""
        columns = [self._column(frame.iloc[:, i].array) for i in range(frame.shape[1])]
        active = frame._geometry_column_name if isinstance(frame, gpd.GeoDataFrame) else None
        return [
            self.node(frame.index),
            self.node(frame.columns),
            columns,
            active,
            self.node(dict(frame.attrs)),
        ]

    def series(self, series: pd.Series[Any]) -> list[Any]:
        """Return values, index and name."""
        return [self._column(series.array), self.node(series.index), self.node(series.name)]


def _fields(value: Any) -> dict[str, Any]:
    if isinstance(value, Study):
        return {"data": value.model_dump(), "path": value.path}
    if isinstance(value, BaseModel):
        return value.model_dump()
    return {f.name: getattr(value, f.name) for f in dataclasses.fields(value)}


WRITERS: dict[type[Any], tuple[str, Callable[[Writer, Any], list[Any]]]] = {
    list: ("list", lambda w, v: [w.nodes(v)]),
    tuple: ("tuple", lambda w, v: [w.nodes(v)]),
    set: ("set", lambda w, v: [sorted(w.nodes(v), key=json.dumps)]),
    frozenset: ("frozenset", lambda w, v: [sorted(w.nodes(v), key=json.dumps)]),
    dict: ("dict", lambda w, v: [w.nodes(v), w.nodes(v.values())]),
    bytes: ("bytes", lambda w, v: [w.array(np.frombuffer(v, np.uint8))]),
    np.ndarray: ("array", lambda w, v: [w.array(v)]),
    pd.DataFrame: ("frame", lambda w, v: w.frame(v)),
    gpd.GeoDataFrame: ("geoframe", lambda w, v: w.frame(v)),
    pd.Series: ("series", lambda w, v: w.series(v)),
    gpd.GeoSeries: ("geoseries", lambda w, v: w.series(v)),
    pd.RangeIndex: ("range", lambda w, v: [v.start, v.stop, v.step, w.node(v.name)]),
    pd.MultiIndex: (
        "multi",
        lambda w, v: [
            [w._column(v.get_level_values(i).array) for i in range(v.nlevels)],
            w.nodes(v.names),
        ],
    ),
    type(pd.NA): ("na", lambda *_: []),
    type(pd.NaT): ("nat", lambda *_: []),
    dt.date: ("date", lambda _, v: [v.isoformat()]),
    dt.datetime: ("datetime", lambda _, v: [v.isoformat()]),
    CRS: ("crs", lambda _, v: [v.srs]),
    Affine: ("affine", lambda _, v: [list(v)[:6]]),
    type(Path()): ("path", lambda _, v: [str(v)]),
}
"""Known types: the tag of their nodes, and what follows it."""


class Reader:
    """Puts values together again from a tree and the bytes of the arrays.

    Parameters
    ----------
    types
        Classes that may be made, by name.
    data
        The arrays' bytes, uint8.
    """

    def __init__(self, types: Types, data: NDArray[np.uint8]) -> None:
        self.types, self.data = types, data
        self._seen: dict[str, Any] = {}  # arrays and shapes that were one are one again
        self._crs: dict[str, CRS] = {}

    def value(self, node: Any) -> Any:
        """Return the value of a node.

        Raises
        ------
        ValueError, KeyError, TypeError and the like
            If the node is none that ``Writer`` makes, or names a class that is not registered.
        """
        if _plain(node):
            return node
        tag, *rest = node
        if tag not in ("array", "shapes"):
            return READERS[tag](self, *rest)
        if rest[0][0] == "objects":
            return self.array(*rest)
        place = str(node)
        if place not in self._seen:
            self._seen[place] = self.array(*rest) if tag == "array" else self._shapes(*rest)[0]
        return self._seen[place]

    def values(self, nodes: list[Any]) -> list[Any]:
        """Return the values of many nodes."""
        return [n if _plain(n) else self.value(n) for n in nodes]

    def array(self, where: list[Any]) -> NDArray[Any]:
        """Return a kept array."""
        if where[0] == "objects":
            out = np.empty(len(where[2]), object)
            out[:] = self.values(where[2])
            return out.reshape(where[1])
        dtype, shape, order, start = np.dtype(where[0]), tuple(where[1]), where[2], where[3]
        if dtype.kind not in NUMBERS or min(*shape, start, 0) < 0:
            raise ValueError(f"no array of {dtype} and shape {shape} is kept at {start}")
        count = int(np.prod(shape, dtype=np.int64))
        flat = np.array(self.data[start : start + count * dtype.itemsize], np.uint8).view(dtype)
        return flat.reshape(shape[::-1]).T if order == "F" else flat.reshape(shape)

    def _shapes(self, lengths: list[Any], whole: list[Any]) -> NDArray[Any]:
        data, at = self.array(whole).tobytes(), 0
        texts = np.empty(0 if not lengths[1] else lengths[1][0], object)
        for i, length in enumerate(self.array(lengths).tolist()):
            texts[i] = None if length < 0 else data[at : at + length]
            at += max(0, length)
        return shapely.from_wkb(texts)

    def column(self, node: list[Any]) -> Any:
        """Return a column or the values of an index."""
        tag, *rest = node
        if tag == "geometry":
            return from_shapely(self._shapes(*rest[:2]), crs=self.value(rest[2]))
        if tag == "text":
            storage, na, texts = rest
            dtype = pd.StringDtype(storage) if na else pd.StringDtype(storage, na_value=np.nan)
            return pd.array(np.array(texts, object), dtype=dtype)
        if tag == "category":
            return pd.Categorical.from_codes(self.array(rest[0]), self.value(rest[1]), ordered=rest[2])
        if tag == "masked":
            filled, gone = self.array(rest[0]), self.array(rest[1])
            kinds = {"b": pd.arrays.BooleanArray, "f": pd.arrays.FloatingArray}
            return kinds.get(filled.dtype.kind, pd.arrays.IntegerArray)(filled, gone)
        if tag != "array":
            raise ValueError(f"{tag!r} is no column")
        return self.array(rest[0])

    def frame(self, index: Any, columns: Any, values: list[Any], _active: Any, attrs: Any) -> pd.DataFrame:
        """Return a frame, without its geometry set."""
        names = self.value(columns)
        parts = [pd.Series(c, dtype=c.dtype) for c in map(self.column, values)]
        frame = pd.DataFrame(dict(enumerate(parts)), index=pd.RangeIndex(len(self.value(index))))
        frame.index, frame.columns = self.value(index), names
        frame.attrs = self.value(attrs)
        return frame

    def geoframe(self, *parts: Any) -> gpd.GeoDataFrame:
        """Return a frame with the geometry column that it had."""
        frame = gpd.GeoDataFrame(self.frame(*parts))
        frame._geometry_column_name = self.value(parts[3])
        return frame

    def series(self, column: Any, index: Any, name: Any) -> pd.Series[Any]:
        """Return a series."""
        values = self.column(column)
        return pd.Series(values, index=self.value(index), name=self.value(name), dtype=values.dtype)

    def index(self, column: Any, name: Any) -> pd.Index[Any]:
        """Return an index of values."""
        values = self.column(column)
        return pd.Index(values, dtype=values.dtype, name=self.value(name))

    def crs(self, text: str) -> CRS:
        """Return a CRS; equal ones are one."""
        if text not in self._crs:
            self._crs[text] = CRS(text)
        return self._crs[text]

    def made(self, name: str, fields: Any) -> Any:
        """Return an instance of a registered class."""
        kind, values = self.types[name], self.value(fields)
        if issubclass(kind, Study):
            return parse_study(values["data"], values["path"])
        return kind.model_validate(values) if issubclass(kind, BaseModel) else kind(**values)


READERS: dict[str, Callable[..., Any]] = {
    "list": lambda r, items: r.values(items),
    "tuple": lambda r, items: tuple(r.values(items)),
    "set": lambda r, items: set(r.values(items)),
    "frozenset": lambda r, items: frozenset(r.values(items)),
    "dict": lambda r, keys, items: dict(zip(r.values(keys), r.values(items), strict=True)),
    "bytes": lambda r, where: r.array(where).tobytes(),
    "frame": Reader.frame,
    "geoframe": Reader.geoframe,
    "series": Reader.series,
    "geoseries": lambda r, *parts: gpd.GeoSeries(r.series(*parts)),
    "index": Reader.index,
    "range": lambda r, start, stop, step, name: pd.RangeIndex(start, stop, step, name=r.value(name)),
    "multi": lambda r, levels, names: pd.MultiIndex.from_arrays(
        [r.column(level) for level in levels], names=r.values(names)
    ),
    "scalar": lambda r, node: r.value(node)[()],
    "na": lambda _: pd.NA,
    "nat": lambda _: pd.NaT,
    "date": lambda _, text: dt.date.fromisoformat(text),
    "datetime": lambda _, text: dt.datetime.fromisoformat(text),
    "crs": Reader.crs,
    "affine": lambda _, terms: Affine(*terms),
    "path": lambda _, text: Path(text),
    "made": Reader.made,
}
