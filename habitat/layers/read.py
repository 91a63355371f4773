"""Read everything that a study names onto one metric CRS and one grid."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pandas as pd
from pyproj import CRS

from habitat.errors import CrsError, LayerError
from habitat.grid import Grid
from habitat.layers.raster import open_raster
from habitat.layers.types import Layers, Note, VectorLayer
from habitat.study import Study, VectorSource

Progress = Callable[[str, int, int], None]
EDGE_M = 50.0
FLAGS = ("publish", "children", "pets", "sprayed", "deer", "septic")


def read_layers(study: Study, progress: Progress | None = None) -> Layers:
    """Read every layer and raster of a study."""
    frames = {}
    for done, (name, source) in enumerate(study.layers.items()):
        if progress:
            progress("reading layers", done, len(study.layers))
        frames[name] = _frame(study, name, source)
    crs = CRS.from_user_input(study.study.crs) if study.study.crs else frames["yards"].estimate_utm_crs()
    vectors = {}
    for name, frame in frames.items():
        rows = len(frame)
        if isinstance(frame, gpd.GeoDataFrame):
            source_crs = frame.crs.to_string()
            frame = frame.to_crs(crs)
            bad = frame.geometry.is_empty | frame.geometry.isna()
            aside = frame.loc[bad]
            frame = frame.loc[~bad]
        else:
            source_crs, aside = None, frame.iloc[:0]
        listed = gpd.GeoDataFrame(
            {
                "row": list(aside.index),
                "reason": ["no geometry"] * len(aside),
                "attributes": ["{}"] * len(aside),
            },
            geometry=[None] * len(aside),
            crs=crs,
        )
        vectors[name] = VectorLayer(name, frame, rows, rows - len(aside), 0, listed, source_crs, None)
    yards = _join(vectors["yards"].frame, frames.get("participants"))
    vectors["yards"] = VectorLayer("yards", yards, len(yards), len(yards), 0, vectors["yards"].set_aside, None, None)
    if "plants" in vectors:
        plants = vectors["plants"].frame
        inside = gpd.sjoin(plants[["geometry"]], yards[["yard_id", "geometry"]].sort_values("yard_id"), how="left")
        first = inside[~inside.index.duplicated()]["yard_id"]
        plants["yard_id"] = first.reindex(plants.index)
    west, south, east, north = yards.total_bounds
    bounds = (west - EDGE_M, south - EDGE_M, east + EDGE_M, north + EDGE_M)
    grid = Grid.from_bounds(bounds, study.study.cell_m, crs)
    rasters = {n: open_raster(study, n, s) for n, s in study.rasters.items()}
    return Layers(study, crs, grid, vectors, rasters, (Note(None, f"Metric CRS: {crs.to_string()}", 0),))


def _frame(study: Study, name: str, source: VectorSource) -> gpd.GeoDataFrame | pd.DataFrame:
    path = study.resolve(source.path)
    if path.suffix.lower() == ".csv":
        table = pd.read_csv(path, dtype={"yard_id": str}, encoding=source.encoding)
        table = table.rename(columns={theirs: ours for ours, theirs in source.columns.items()})
        if {"lon", "lat"} <= set(table.columns):
            shapes = gpd.points_from_xy(table["lon"], table["lat"])
            return gpd.GeoDataFrame(table, geometry=shapes, crs=source.crs or 4326)
        return table
    frame = gpd.read_file(path, layer=source.layer)
    frame = frame.rename(columns={theirs: ours for ours, theirs in source.columns.items()})
    if source.crs:
        frame = frame.set_crs(source.crs, allow_override=True)
    if frame.crs is None:
        raise CrsError(f"layer {name!r} has no CRS", str(path), f"State it under [layers.{name}] crs")
    if frame.empty:
        raise LayerError(f"layer {name!r} has no rows", str(path), "Check the file and the layer name")
    return frame


def _join(yards: gpd.GeoDataFrame, people: pd.DataFrame | None) -> gpd.GeoDataFrame:
    yards = yards.copy()
    yards["yard_id"] = yards["yard_id"].astype(str)
    fields = ["role", *FLAGS, "budget", "max_height_m"]
    if people is not None:
        rows = people.drop_duplicates("yard_id").set_index("yard_id")
        for name in (*fields, "address"):
            if name in rows:
                yards[name] = yards["yard_id"].map(rows[name])
    yards["role"] = yards["role"].fillna("other") if "role" in yards else "member"
    for name in FLAGS:
        words = yards[name] if name in yards else pd.Series("no", index=yards.index)
        yards[name] = words.astype(str).str.lower().isin(["yes", "true", "1", "y"])
    for name in ("budget", "max_height_m"):
        yards[name] = pd.to_numeric(yards[name], errors="coerce") if name in yards else np.nan
    if "address" not in yards:
        yards["address"] = None
    yards["area_m2"] = yards.geometry.area
    return yards
