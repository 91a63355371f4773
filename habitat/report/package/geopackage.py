"""The GIS package: plan.gpkg (OGC GeoPackage) and run.json."""

from __future__ import annotations

import json
import math
import sqlite3
import unicodedata
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely
from pyproj import CRS

from habitat.remarks import Remark
from habitat.report.package.rules import rules_used
from habitat.report.package.tables import TABLES, Table, described
from habitat.report.plan import Plan
from habitat.report.words.en import english

_DTYPES = {"text": "object", "int": "Int64", "float": "float64", "bool": "boolean"}


def write_geopackage(plan: Plan, path: Path) -> None:
    """Write all tables of a plan as one GeoPackage with titles, units and descriptions.

    Equal plans give equal bytes: the time stamp of each layer is the study's date.

    References
    ----------
    OGC 12-128r18, GeoPackage Encoding Standard 1.3: layers in clause 2.1, the Schema extension (column
    descriptions, ``gpkg_data_columns``) in annex F.9.
    """
    with _fixed_date(plan):
        for table in TABLES:
            _write_table(plan, table, path)
    _describe_columns(path)


@contextmanager
def _fixed_date(plan: Plan) -> Iterator[None]:
    date = plan.study.study.date
    stamp = f"{date.isoformat() if date else '1970-01-01'}T00:00:00.000Z"
    # No waiting for the disk at every layer: the file counts only once the whole folder is in place.
    options = {"OGR_CURRENT_DATE": stamp, "OGR_SQLITE_SYNCHRONOUS": "OFF"}
    pyogrio.set_gdal_config_options(options)
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(dict.fromkeys(options))


def table_frame(plan: Plan, table: Table) -> gpd.GeoDataFrame | pd.DataFrame:
    """Return a table of a plan as it is written: described columns first, typed; extra ones after."""
    given = getattr(plan, table.source)
    if given is None:
        given = gpd.GeoDataFrame(geometry=[], crs=plan.layers.crs)
    return _as_written(given, table, plan.layers.crs)


def replace_layers(path: Path, tables: Mapping[str, pd.DataFrame], crs: CRS) -> None:
    """Write other rows for some layers of a package that is there; all others stay.

    Parameters
    ----------
    path
        plan.gpkg of results.
    tables
        Rows by the name of the layer.
    crs
        Of the study.
    """
    for table in (table for table in TABLES if table.name in tables):
        _write(_as_written(tables[table.name], table, crs), table, path, append=False)


def _as_written(given: pd.DataFrame, table: Table, crs: CRS) -> gpd.GeoDataFrame | pd.DataFrame:
    names = [c[0] for c in table.columns]
    extra = [c for c in given.columns if c not in names and c != "geometry"]
    data = {n: _typed(given.get(n), kind, given.index) for n, kind, _, _ in table.columns}
    data |= {c: _plain(given[c]) for c in extra}
    frame = pd.DataFrame(data, index=given.index)
    if not table.geometry:
        return frame
    shapes = (
        given.geometry
        if "geometry" in given.columns
        else gpd.GeoSeries([None] * len(given), index=given.index)
    )
    return gpd.GeoDataFrame(frame, geometry=_shapes(shapes, table.geometry), crs=crs)


def _typed(values: pd.Series[Any] | None, kind: str, index: pd.Index[Any]) -> pd.Series[Any]:
    if values is None:
        return pd.Series([None] * len(index), index=index, dtype=_DTYPES[kind])
    if kind == "text":
        return values.astype(object).where(values.notna(), None).map(_text)
    numbers = pd.to_numeric(values, errors="coerce").astype("float64")
    if kind == "int":
        return numbers.round().astype("Int64")
    return numbers if kind == "float" else numbers.astype("boolean")


def _plain(values: pd.Series[Any]) -> pd.Series[Any]:
    if pd.api.types.is_bool_dtype(values) or pd.api.types.is_numeric_dtype(values):
        return values
    return values.astype(object).where(values.notna(), None).map(_text)


def _text(value: Any) -> str | None:
    """Return text that any reader takes: control characters and lone surrogates become spaces."""
    if value is None:
        return None
    if isinstance(value, (Remark, tuple)):
        value = english()(value)
    return "".join(" " if unicodedata.category(c) in ("Cc", "Cs") else c for c in str(value))


def _shapes(shapes: gpd.GeoSeries, kind: str) -> Any:
    if kind == "Unknown":
        return shapes.array
    wanted = {"Multi" + kind.removeprefix("Multi"), kind.removeprefix("Multi")}
    array = np.asarray(shapes.array, dtype=object)
    bad = [g is not None and not g.is_empty and g.geom_type not in wanted for g in array]
    array[bad] = [_part(g, wanted) for g in array[bad]]
    array[[g is not None and g.is_empty for g in array]] = None
    return array


def _part(shape: Any, wanted: set[str]) -> Any:
    """Return the parts of a mixed shape that a layer takes."""
    parts = [p for p in shapely.get_parts(shape) if p.geom_type in wanted]
    return shapely.union_all(parts) if parts else None


def _write_table(plan: Plan, table: Table, path: Path) -> None:
    _write(table_frame(plan, table), table, path, append=path.exists())


def _write(frame: pd.DataFrame, table: Table, path: Path, *, append: bool) -> None:
    options: dict[str, Any] = {"layer_options": {"DESCRIPTION": table.title, "IDENTIFIER": table.name}}
    if table.geometry:
        options |= {"geometry_type": table.geometry, "promote_to_multi": table.geometry.startswith("Multi")}
    pyogrio.write_dataframe(frame, path, layer=table.name, driver="GPKG", append=append, **options)


def _describe_columns(path: Path) -> None:
    """Add unit and meaning of every column, as the standard's Schema extension has it."""
    definition = "http://www.geopackage.org/spec131/#extension_schema"
    with closing(sqlite3.connect(path)) as base, base:
        base.execute("PRAGMA synchronous = OFF")
        base.execute(
            "CREATE TABLE IF NOT EXISTS gpkg_data_columns (table_name TEXT NOT NULL, "
            "column_name TEXT NOT NULL, name TEXT, title TEXT, description TEXT, mime_type TEXT, "
            "constraint_name TEXT, CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name), "
            "CONSTRAINT gdc_tn UNIQUE (table_name, name))"
        )
        base.execute(
            "CREATE TABLE IF NOT EXISTS gpkg_data_column_constraints (constraint_name TEXT NOT NULL, "
            "constraint_type TEXT NOT NULL, value TEXT, min NUMERIC, min_is_inclusive BOOLEAN, max NUMERIC, "
            "max_is_inclusive BOOLEAN, description TEXT, "
            "CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value))"
        )
        base.executemany(
            "INSERT INTO gpkg_extensions (table_name, column_name, extension_name, definition, scope) "
            "VALUES (?, NULL, 'gpkg_schema', ?, 'read-write')",
            [(name, definition) for name in ("gpkg_data_columns", "gpkg_data_column_constraints")],
        )
        base.executemany(
            "INSERT INTO gpkg_data_columns (table_name, column_name, name, title, description) "
            "VALUES (?, ?, ?, ?, ?)",
            [
                (table.name, name, name, f"{name.replace('_', ' ')}{f' [{unit}]' if unit else ''}", what)
                for table in TABLES
                for name, unit, what in _described(base, table)
            ],
        )


def _described(base: sqlite3.Connection, table: Table) -> Iterator[tuple[str, str, str]]:
    """Yield name, unit and meaning of a layer's columns, those of the contract first."""
    yield from ((name, unit, what) for name, _, unit, what in table.columns)
    names = {c[0] for c in table.columns} | {"fid", "geom"}
    for row in base.execute(f'PRAGMA table_info("{table.name}")').fetchall():
        if row[1] not in names and (told := described(table.name, row[1]))[1]:
            yield row[1], *told


def write_run_json(plan: Plan, path: Path) -> None:
    """Write what the run was made from and its headline figures; unknown is null."""
    head = plan.study.study
    report = plan.study.report
    data = {
        "study": head.name,
        "date": head.date.isoformat() if head.date else None,
        "audience": report.audience,
        **plan.run_info,
        "rules": rules_used(plan),
        "headline": plan.headline,
        "breaks": plan.breaks,
        "sentences": list(map(english(), plan.sentences)),
        "notes": list(map(english(), plan.notes)),
    }
    text = json.dumps(plain_json(data), ensure_ascii=False, indent=1, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8")


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of a table as dicts, without the geometry."""
    rows = frame.drop(columns="geometry", errors="ignore").to_dict(orient="records")
    return [{str(k): v for k, v in row.items()} for row in rows]


def plain_json(value: Any) -> Any:
    """Return a value as JSON has it: numpy numbers as numbers, not-a-number and the unknown as None."""
    if isinstance(value, Remark):
        return english()(value)
    if isinstance(value, dict):
        return {str(k): plain_json(v) for k, v in value.items()}
    if isinstance(value, (list, tuple, set, frozenset, np.ndarray)):
        return [plain_json(v) for v in (sorted(value) if isinstance(value, (set, frozenset)) else value)]
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or value is pd.NA or (isinstance(value, float) and not math.isfinite(value)):
        return None
    return value if isinstance(value, (str, int, float, bool)) else str(value)
