"""What ``habitat check`` tells: one object for programs, tables for people, a map of where the trouble is."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from habitat.commands.check.further import next_step
from habitat.commands.check.map import draw_check_map
from habitat.commands.check.tables import check_tables
from habitat.commands.check.types import (
    Account,
    Description,
    ErrorRecord,
    GridRecord,
    KnownRecord,
    LayerRecord,
    NoteRecord,
    PlantRecord,
    RasterRecord,
    RowRecord,
    YardRecord,
)
from habitat.errors import HabitatError, together
from habitat.grid import Grid
from habitat.layers.cells.columns import CONTACT
from habitat.layers.crs import WGS84, crs_label, mover
from habitat.layers.formats.raw import plain_value
from habitat.layers.rasters.zonal import yard_values
from habitat.layers.size import memory_mb
from habitat.layers.types import Layers, Parts, RasterLayer, VectorLayer
from habitat.pipeline.reading import read_parts
from habitat.progress import Progress
from habitat.remarks import Note
from habitat.study.model import Study
from habitat.study.reading import open_study

__all__ = ["check_study", "check_tables", "describe_layers", "draw_check_map"]

TOLD_YARDS = 100
MoreNotes = Callable[[Study, Layers], dict[str, list[Note]]]


def check_study(
    path: str | Path,
    progress: Progress | None = None,
    more: MoreNotes | None = None,
    overview: str | Path | None = None,
    ready: Callable[[Study, Layers], object] | None = None,
) -> Account:
    """Return everything that ``habitat check --json`` prints; errors are told in it, not raised.

    What one layer is wrong in hides nothing of the others: all errors are told together, beside all that
    could be read.

    Parameters
    ----------
    path
        The study file, or its folder.
    progress
        Called with (words, done, total).
    more
        Gives notes by layer that later stages would make of the same data.
    overview
        A PNG file into which a map of what was read is drawn, if there are yards to draw.
    ready
        Raises what a run would refuse of a study whose layers are sound (``preflight.make_ready``).

    Returns
    -------
    Account
        ``exit`` (0 done, 1 a row was set aside, 2 cannot go on), ``error`` (None or kind and message),
        ``errors`` (each by itself: part, kind, message), ``next`` (what to bring next, "" for nothing), and
        what ``describe_layers`` gives.

    Examples
    --------
    >>> account = check_study("sample_geodata")
    >>> account["error"], account["layers"]["yards"]["used"]
    (None, 225)
    """
    try:
        study, missing = open_study(path)
    except HabitatError as error:
        one, each = _errors({"study": error})
        return {"exit": 2, "error": one, "errors": each, "next": "", **empty_description()}
    parts = read_parts(study, progress, missing)
    faults = dict(parts.faults)
    result = describe_layers(parts)
    result["units"] = study.report.units
    layers = parts.whole()
    if layers is not None and more is not None and not any(key.startswith("knowledge") for key in faults):
        try:
            for name, notes in more(study, layers).items():
                told = result["layers"][name]["notes"] if name in result["layers"] else result["notes"]
                told += _notes(notes)
        except HabitatError as error:
            faults["knowledge"] = error
    if layers is not None and ready is not None and not faults:
        try:
            ready(study, layers)
        except HabitatError as error:
            faults["study"] = error
    if layers is not None and overview is not None:
        try:
            draw_check_map(layers, overview, study.study.name)
        except HabitatError as error:
            faults["map"] = error
    aside = any(layer["set_aside"] for layer in result["layers"].values())
    one, each = _errors(faults)
    given = {*result["layers"], *result["rasters"]} - (layers.only_drawn() if layers is not None else set())
    code = 2 if faults else int(aside)
    return {"exit": code, "error": one, "errors": each, "next": next_step(given), **result}


def _errors(faults: dict[str, HabitatError]) -> tuple[ErrorRecord | None, list[ErrorRecord]]:
    """Return the errors as one and one by one."""
    one = together(list(faults.values())) if faults else None
    each: list[ErrorRecord] = [{"part": key, "kind": e.kind, "message": str(e)} for key, e in faults.items()]
    return None if one is None else {"kind": one.kind, "message": str(one)}, each


def empty_description() -> Description:
    """Return the object of a study that could not be read."""
    return {
        "crs": None,
        "grid": None,
        "units": "metric",
        "notes": [],
        "layers": {},
        "yards": [],
        "ground_area_m2": None,
        "overlap_m2": None,
        "plants": [],
        "tables": {},
        "rasters": {},
    }


def describe_layers(parts: Layers | Parts) -> Description:
    """Return what was read as plain values, ready for JSON; all that a check tells but exit and errors."""
    own = parts.vectors.get("yards")
    plants = parts.vectors.get("plants") if own is not None else None
    yards = None if own is None else own.frame
    return {
        **empty_description(),
        "crs": None if parts.crs is None else crs_label(parts.crs),
        "grid": None if parts.grid is None else _grid(parts.grid),
        "notes": _notes(parts.notes),
        "layers": {name: _layer(layer) for name, layer in parts.vectors.items()},
        "yards": [] if yards is None else _yards(yards),
        "ground_area_m2": None if own is None else own.details.get("ground_area_m2"),
        "overlap_m2": None if own is None else own.details.get("overlap_m2"),
        "plants": [] if plants is None else _plants(plants),
        "tables": {
            name: {
                "matched": layer.details["matched"],
                "unmatched": layer.details["unmatched"],
                "unmatched_rows": [{"row": r, "what": w} for r, w in layer.details["unmatched_rows"].items()],
            }
            for name, layer in parts.vectors.items()
            if "matched" in layer.details
        },
        "rasters": {name: _raster(raster, yards) for name, raster in parts.rasters.items()},
    }


def _grid(grid: Grid) -> GridRecord:
    rows, cols = grid.shape
    memory = round(memory_mb(grid.bounds, grid.cell_m), 3)
    return {"rows": rows, "cols": cols, "cell_m": grid.cell_m, "memory_mb": memory}


def _notes(notes: tuple[Note, ...] | list[Note]) -> list[NoteRecord]:
    return [{"row": n.row, "what": n.what, "harm": n.harm} for n in notes]


def _layer(layer: VectorLayer) -> LayerRecord:
    frame = layer.frame
    shaped = isinstance(frame, gpd.GeoDataFrame)
    kinds = sorted(set(frame.geometry.geom_type.dropna())) if shaped else []
    return {
        "rows_in": layer.rows_in,
        "used": layer.used,
        "repaired": layer.repaired,
        "set_aside": len(layer.set_aside),
        "crs": layer.source_crs,
        "encoding": layer.encoding,
        "geometry_types": kinds,
        "area_m2": float(frame.geometry.area.sum())
        if shaped and {"Polygon", "MultiPolygon"} & set(kinds)
        else None,
        "notes": _notes(layer.notes),
        "rows": _rows(frame, tuple(c.name for c in CONTACT) if layer.name == "participants" else ()),
        "set_aside_rows": [
            {"row": int(r.row), "reason": r.reason, "attributes": r.attributes}
            for r in layer.set_aside.itertuples()
        ],
    }


def _rows(frame: pd.DataFrame, personal: tuple[str, ...] = ()) -> list[RowRecord]:
    table = pd.DataFrame(frame.drop(columns="geometry")) if "geometry" in frame else frame
    table = table.drop(columns=[c for c in personal if c in table])
    columns = {str(c): _plain_column(table[c]) for c in table.columns}
    names = list(columns)
    lon, lat = _points(frame)
    ids = columns.get("yard_id", [None] * len(table))
    values = zip(*columns.values(), strict=True) if names else iter([()] * len(table))
    out = []
    for row, record, yard, x, y in zip(table.index, values, ids, lon, lat, strict=True):
        entry: RowRecord = {
            "row": int(row),
            "yard_id": yard,
            "attributes": dict(zip(names, record, strict=True)),
        }
        if x is not None:
            entry["lon"], entry["lat"] = x, y
        out.append(entry)
    return out


def _plain_column(column: pd.Series[Any]) -> list[Any]:
    """Return a column as values that JSON can carry."""
    if column.dtype.kind in "iu" and isinstance(column.dtype, np.dtype):
        return list(column.tolist())
    if column.dtype.kind == "f" and isinstance(column.dtype, np.dtype):
        finite = np.isfinite(column.to_numpy())
        return [v if known else None for v, known in zip(column.tolist(), finite, strict=True)]
    return [v if type(v) is str else plain_value(v) for v in column]


def _points(frame: pd.DataFrame) -> tuple[list[float | None], list[float | None]]:
    """Return longitude and latitude of the rows that are points, None for the rest."""
    nothing: list[float | None] = [None] * len(frame)
    if not isinstance(frame, gpd.GeoDataFrame) or frame.empty:
        return nothing, nothing
    shapes = frame.geometry.to_numpy()
    is_point = (shapely.get_type_id(shapes) == 0) & ~shapely.is_empty(shapes)
    lon, lat = list(nothing), list(nothing)
    move = mover(CRS.from_user_input(frame.crs), WGS84)
    x, y = move.transform(shapely.get_x(shapes[is_point]), shapely.get_y(shapes[is_point]))
    for i, a, b in zip(np.flatnonzero(is_point), x, y, strict=True):
        lon[i], lat[i] = round(float(a), 9), round(float(b), 9)
    return lon, lat


def _yards(yards: gpd.GeoDataFrame) -> list[YardRecord]:
    return [
        {"yard_id": name, "area_m2": float(area), "overlap_m2": float(over), "role": role}
        for name, area, over, role in zip(
            yards["yard_id"], yards["area_m2"], yards["overlap_m2"], yards["role"], strict=True
        )
    ]


def _plants(layer: VectorLayer) -> list[PlantRecord]:
    frame = layer.frame
    lon, lat = _points(frame)
    return [
        {
            "row": int(row),
            "plant": plain_value(plant),
            "count": _whole(count),
            "yard_id": yard,
            "lon": x,
            "lat": y,
        }
        for row, plant, count, yard, x, y in zip(
            frame.index, frame["plant"], frame["count"], frame["yard_id"], lon, lat, strict=True
        )
    ]


def _whole(value: float) -> float | int:
    return int(value) if float(value).is_integer() else float(value)


def _raster(raster: RasterLayer, yards: gpd.GeoDataFrame | None) -> RasterRecord:
    found = pd.DataFrame() if yards is None else yard_values(raster, yards)
    notes = list(raster.notes) + ([] if yards is None else _cover_notes(found))
    records = [_known(raster, row) for row in found.to_dict("records")]
    return {
        "crs": raster.source_crs,
        "cell_m": raster.cell_m,
        "kind": raster.kind,
        "band": raster.band,
        "scale": raster.scale,
        "offset": raster.offset,
        "nodata": [v if np.isfinite(v) else None for v in raster.nodata],
        "classes": None if raster.classes is None else {str(k): v for k, v in raster.classes.items()},
        "notes": _notes(notes),
        "yards": records,
    }


def _known(raster: RasterLayer, row: dict[Hashable, Any]) -> KnownRecord:
    """Return what a raster says of a yard."""
    known: KnownRecord = {"yard_id": row["yard_id"], "known_share": row["known_share"]}
    if raster.kind == "class":
        known["shares"] = row["shares"]
    else:
        known["mean"] = plain_value(row["mean"])
    return known


def _cover_notes(found: pd.DataFrame) -> list[Note]:
    """Tell each yard that the raster knows only in part, the least known first."""
    part = found[found["known_share"] < 0.999].sort_values(["known_share", "yard_id"])
    out = [
        Note(
            None,
            f"{yard}: {'not covered' if share <= 0 else f'covered in part only, {share:.0%} of it known'}",
            1,
        )
        for yard, share in zip(part["yard_id"][:TOLD_YARDS], part["known_share"][:TOLD_YARDS], strict=True)
    ]
    if len(part) > TOLD_YARDS:
        out.append(Note(None, f"{len(part) - TOLD_YARDS} more yards are covered in part only", 1))
    return out
