"""What each yard holds of a raster: coverage-weighted means and shares, on the raster's own cells."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from exactextract import exact_extract
from exactextract.raster import NumPyRasterSource
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.windows import Window

from habitat.layers.rasters.file import open_raster_file
from habitat.layers.rasters.window import read_cells, to_cells
from habitat.layers.types import RasterLayer

CHUNK_CELLS = 4_000_000
CHUNK_YARDS = 4_000
STRIP_CELLS = 16_000_000
PLANE = CRS.from_wkt(
    'ENGCRS["cells of a raster",EDATUM["its first '
    'corner"],CS[Cartesian,2],AXIS["column",east],AXIS["row",north],'
    'LENGTHUNIT["cell",1]]'
)
"""The plane of a raster's own cells: shapes and values are both given in it."""


@dataclass(slots=True)
class Held:
    """What one yard holds: cells known, their sum, and the cells of each class."""

    known: float = 0.0
    total: float = 0.0
    classes: dict[str, float] = field(default_factory=dict)


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
    held = [Held() for _ in shapes]
    with open_raster_file(layer.path, layer.details["vrt"]) as data:
        for chosen, window in _chunks(layer, shapes):
            for strip in _strips(window):
                cells = read_cells(layer, strip, data)
                _add(layer, cells, strip, shapes[chosen], [held[i] for i in chosen])
    known = np.array([h.known for h in held])
    share = np.divide(known, area, out=np.zeros_like(known), where=area > 0)
    values: list[Any] = [
        {code: part / h.known for code, part in sorted(h.classes.items(), key=lambda p: float(p[0]))}
        if layer.kind == "class"
        else (h.total / h.known if h.known else np.nan)
        for h in held
    ]
    column = "shares" if layer.kind == "class" else "mean"
    return pd.DataFrame(
        {
            "yard_id": yards["yard_id"].to_numpy(),
            "known_share": np.where(share > 1 - 1e-6, 1.0, share),
            column: pd.Series(values, dtype=object if layer.kind == "class" else float),
        }
    )


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
    meets = np.asarray(
        np.isfinite(low).all(axis=1) & (high > 0).all(axis=1) & (low < [cols, rows]).all(axis=1)
    )
    side = np.sqrt(CHUNK_CELLS) / 2
    middle = np.nan_to_num((low + high) / 2)
    key = np.floor(middle / side).astype(np.int64)
    order = np.lexsort((np.arange(len(shapes)), key[:, 0], key[:, 1]))
    order = order[meets[order]]
    start = 0
    while start < len(order):
        stop = start + 1
        while (
            stop < len(order)
            and stop - start < CHUNK_YARDS
            and bool(np.array_equal(key[order[stop]], key[order[start]]))
        ):
            stop += 1
        chosen = order[start:stop]
        c0, r0 = np.maximum(low[chosen].min(axis=0), 0).astype(int)
        c1, r1 = np.minimum(high[chosen].max(axis=0), [cols, rows]).astype(int)
        yield chosen, Window(int(c0), int(r0), max(1, int(c1 - c0)), max(1, int(r1 - r0)))
        start = stop


def _strips(window: Window) -> Iterator[Window]:
    """Yield a window in strips of bounded size: one very large yard must not ask for all cells at once."""
    step = max(1, int(STRIP_CELLS // max(window.width, 1)))
    for row in range(0, window.height, step):
        yield Window(window.col_off, window.row_off + row, window.width, min(step, window.height - row))


def _add(
    layer: RasterLayer,
    cells: NDArray[np.float64],
    window: Window,
    shapes: NDArray[np.object_],
    held: list[Held],
) -> None:
    """Add what shapes hold of one window to their accounts."""
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
    classes = layer.kind == "class"
    found = exact_extract(
        raster, frame, ["count", "unique", "frac"] if classes else ["count", "sum"], output="pandas"
    )
    for account, count, *rest in zip(held, *(found[c] for c in found.columns), strict=True):
        if not count > 0:
            continue
        account.known += float(count)
        if not classes:
            account.total += float(rest[0])
            continue
        for code, part in zip(*rest, strict=True):
            if part > 0 and np.isfinite(code):
                name = str(int(code)) if float(code).is_integer() else f"{code:g}"
                account.classes[name] = account.classes.get(name, 0.0) + float(part) * float(count)
