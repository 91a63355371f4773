"""What each yard holds of a raster: coverage-weighted means and shares, on the raster's own cells."""

from __future__ import annotations

from collections.abc import Iterator

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from exactextract import exact_extract
from exactextract.raster import NumPyRasterSource
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.windows import Window

from habitat.layers.raster import read_cells, to_cells
from habitat.layers.raster_file import open_raster_file
from habitat.layers.types import RasterLayer

CHUNK_CELLS = 4_000_000
CHUNK_YARDS = 4_000
PLANE = CRS.from_wkt(
    'ENGCRS["cells of a raster",EDATUM["its first corner"],CS[Cartesian,2],AXIS["column",east],AXIS["row",north],'
    'LENGTHUNIT["cell",1]]'
)
"""The plane of a raster's own cells: shapes and values are both given in it."""


def yard_values(layer: RasterLayer, yards: gpd.GeoDataFrame) -> pd.DataFrame:
    """Return what each yard holds of a raster.

    Every cell counts by the share of it that lies in the yard, on the raster's own grid (rotated and
    south-up ones too), so nothing is resampled.

    Returns
    -------
    Columns yard_id, known_share (of the yard's area, 0-1), and mean [the raster's unit] (NaN if nothing is
    known), or for classes ``shares`` (code as text -> share of what is known).
    """
    shapes = _in_cells(layer, yards)
    area = shapely.area(shapes)
    records: list[dict[str, object]] = [{"known": 0.0, "mean": np.nan, "shares": {}} for _ in shapes]
    with open_raster_file(layer.path, layer.details["vrt"]) as data:
        for chosen, window in _chunks(layer, shapes):
            cells = read_cells(layer, window, data)
            for i, found in zip(chosen, _extract(layer, cells, window, shapes[chosen]), strict=True):
                records[i] = found
    out = pd.DataFrame({"yard_id": yards["yard_id"].to_numpy()})
    known = np.array([float(r["known"]) for r in records])  # type: ignore[arg-type]
    share = np.divide(known, area, out=np.zeros_like(known), where=area > 0)
    out["known_share"] = np.where(share > 1 - 1e-6, 1.0, share)
    if layer.kind == "class":
        out["shares"] = [r["shares"] for r in records]
    else:
        out["mean"] = [r["mean"] for r in records]
    return out


def _in_cells(layer: RasterLayer, yards: gpd.GeoDataFrame) -> NDArray[np.object_]:
    """Return the yards in the raster's own (column, -row) plane, where a cell is a unit square."""
    crs = CRS.from_user_input(yards.crs)

    def move(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return to_cells(layer, points, crs) * [1.0, -1.0]

    return np.asarray(shapely.transform(yards.geometry.to_numpy(), move), dtype=object)


def _chunks(layer: RasterLayer, shapes: NDArray[np.object_]) -> Iterator[tuple[NDArray[np.int64], Window]]:
    """Yield (yards, window of cells that holds them all): neighbours together, windows bounded."""
    rows, cols = layer.details["shape"]
    box = shapely.bounds(shapes)
    low = np.floor(np.column_stack([box[:, 0], -box[:, 3]])).astype(np.float64)
    high = np.ceil(np.column_stack([box[:, 2], -box[:, 1]])).astype(np.float64)
    meets = np.isfinite(low).all(axis=1) & (high > 0).all(axis=1) & (low < [cols, rows]).all(axis=1)
    side = np.sqrt(CHUNK_CELLS) / 2
    middle = np.nan_to_num((low + high) / 2)
    key = np.floor(middle / side).astype(np.int64)
    order = np.lexsort((np.arange(len(shapes)), key[:, 0], key[:, 1]))
    order = order[meets[order]]
    start = 0
    while start < len(order):
        stop = start + 1
        while (
            stop < len(order) and stop - start < CHUNK_YARDS and (key[order[stop]] == key[order[start]]).all()
        ):
            stop += 1
        chosen = order[start:stop]
        c0, r0 = np.maximum(low[chosen].min(axis=0), 0).astype(int)
        c1, r1 = np.minimum(high[chosen].max(axis=0), [cols, rows]).astype(int)
        yield chosen, Window(int(c0), int(r0), max(1, int(c1 - c0)), max(1, int(r1 - r0)))
        start = stop


def _extract(
    layer: RasterLayer, cells: NDArray[np.float64], window: Window, shapes: NDArray[np.object_]
) -> list[dict[str, object]]:
    west, north = float(window.col_off), -float(window.row_off)
    raster = NumPyRasterSource(
        np.ascontiguousarray(cells),
        west,
        north - window.height,
        west + window.width,
        north,
        nodata=np.nan,
        srs_wkt=PLANE.to_wkt(),
    )
    frame = gpd.GeoDataFrame(geometry=shapes, crs=PLANE)
    operations = ["count", "unique", "frac"] if layer.kind == "class" else ["count", "mean"]
    found = exact_extract(raster, frame, operations, output="pandas")
    out: list[dict[str, object]] = []
    for _, row in found.iterrows():
        record: dict[str, object] = {"known": float(row["count"] or 0.0), "mean": np.nan, "shares": {}}
        if layer.kind == "class":
            pairs = sorted(zip(row["unique"], row["frac"], strict=True))
            record["shares"] = {
                _code(code): float(part) for code, part in pairs if part > 0 and np.isfinite(code)
            }
        elif record["known"]:
            record["mean"] = float(row["mean"])
        out.append(record)
    return out


def _code(value: float) -> str:
    return str(int(value)) if float(value).is_integer() else f"{value:g}"
