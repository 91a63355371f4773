"""Read rasters window by window on the study's grid, and tell how far they cover the yards."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.enums import Resampling
from rasterio.transform import Affine
from rasterio.warp import reproject
from rasterio.windows import Window

from habitat.errors import CrsError, RasterError
from habitat.grid import Bounds, Grid
from habitat.layers.crs import lon_lat, mover
from habitat.layers.formats.plain import reading
from habitat.layers.join.meet import Extent
from habitat.layers.rasters.file import open_raster_file
from habitat.layers.rasters.opening import class_values, holds_classes
from habitat.layers.rasters.values import look_at_codes, look_at_values, look_for_blends, refuse_small_unit
from habitat.layers.types import RasterLayer
from habitat.remarks import Note

READ_CELLS = 24_000_000
LOOK_CELLS = 9_000_000
MOST_CELLS = 1e9
"""Cells over all yards at most: 20 s of reading; 10,000 yards of 1,000 m2 in cells of 0.1 m have as many."""


def affine_of(layer: RasterLayer) -> Affine:
    """Return the cell-to-map transform of the whole raster, longitudes already brought to -180..180."""
    return Affine(*layer.details["transform"])


def crs_of(layer: RasterLayer) -> CRS:
    """Return the raster's CRS."""
    return CRS.from_wkt(layer.details["crs_wkt"])


def extent_of_raster(layer: RasterLayer) -> Extent:
    """Return where a raster lies, in longitude and latitude."""
    rows, cols = layer.details["shape"]
    at = [(c, r) for c in np.linspace(0, cols, 9) for r in np.linspace(0, rows, 9)]
    points = lon_lat(crs_of(layer), np.array([affine_of(layer) * p for p in at]))
    points = points[np.isfinite(points).all(axis=1)]
    if not len(points):
        raise CrsError(
            f"raster {layer.name!r} lies nowhere on Earth",
            layer.source.path,
            f"State crs under rasters.{layer.name}",
        )
    box = np.array([*points.min(axis=0), *points.max(axis=0)])
    return Extent(
        layer.name, layer.source.path, box, crs_of(layer).is_geographic, layer.source_crs, is_raster=True
    )


def source_window(layer: RasterLayer, bounds: Bounds, crs: CRS, margin: int = 2) -> Window | None:
    """Return the window of a raster that covers bounds in some CRS, None if they do not meet."""
    west, south, east, north = bounds
    side = np.linspace(0, 1, 21)
    x = np.concatenate([west + (east - west) * side] * 2 + [np.full(21, west), np.full(21, east)])
    y = np.concatenate([np.full(21, south), np.full(21, north)] + [south + (north - south) * side] * 2)
    points = to_cells(layer, np.column_stack([x, y]), crs)
    points = points[np.isfinite(points).all(axis=1)]
    if not len(points):
        return None
    rows, cols = layer.details["shape"]
    c0, r0 = np.maximum(np.floor(points.min(axis=0)).astype(np.int64) - margin, 0)
    c1, r1 = np.minimum(np.ceil(points.max(axis=0)).astype(np.int64) + margin, [cols, rows])
    return None if c1 <= c0 or r1 <= r0 else Window(int(c0), int(r0), int(c1 - c0), int(r1 - r0))


def to_cells(layer: RasterLayer, points: NDArray[np.float64], crs: CRS) -> NDArray[np.float64]:
    """Return points as (column, row) of the raster, counted from the corner of its first cell."""
    x, y = mover(crs, crs_of(layer)).transform(points[:, 0], points[:, 1])
    col, row = ~affine_of(layer) * (np.asarray(x), np.asarray(y))
    return np.column_stack([col, row])


def read_cells(layer: RasterLayer, window: Window, data: Any) -> NDArray[np.float64]:
    """Return the real values of a window of the raster's own cells, NaN where unknown."""
    real = read_stored(layer, window, data) * layer.scale + layer.offset
    known = layer.details.get("known_codes")
    if known is not None:
        return np.where(np.isin(real, known), real, np.nan)
    with np.errstate(invalid="ignore"):
        real[(real < layer.details.get("low", -np.inf)) | (real > layer.details.get("high", np.inf))] = np.nan
    return real


def read_stored(layer: RasterLayer, window: Window, data: Any) -> NDArray[np.float64]:
    """Return the stored values of a window, NaN where the file or the study says that nothing is known."""
    with reading(layer.source.path, RasterError):
        stored = data.read(layer.band, window=window).astype(np.float64)
        if layer.details["masked"]:
            stored[data.read_masks(layer.band, window=window) == 0] = np.nan
        if layer.details.get("alpha") is not None:
            stored[data.read(layer.details["alpha"], window=window) == 0] = np.nan
    for bad in layer.nodata:
        same = stored == bad
        if abs(bad) > 1e15:
            same |= np.isclose(stored, bad, rtol=1e-6)
        elif layer.details["dtype"] == "float32":
            same |= stored == np.float64(np.float32(bad))
        stored[same] = np.nan
    stored[~np.isfinite(stored)] = np.nan
    return stored


def read_raster(layer: RasterLayer, grid: Grid) -> NDArray[np.float32]:
    """Return the values of a raster on a grid, whatever its own cells and CRS are.

    Continuous values are resampled bilinearly (averaged where the source is finer), classes take the
    nearest cell.

    Parameters
    ----------
    layer
        As ``habitat.layers.rasters.opening.open_raster`` gives it.
    grid
        The cells to read onto.

    Returns
    -------
    NDArray
        float32 (rows, cols) in the layer's unit, NaN where unknown.

    Raises
    ------
    RasterError
        If the file cannot be read any more.

    Examples
    --------
    >>> import habitat
    >>> layers = habitat.read_layers(habitat.read_study("sample_geodata"))
    >>> ph = read_raster(layers.rasters["ph"], layers.grid)
    >>> ph.shape == layers.grid.shape, bool(4.0 < np.nanmin(ph) < np.nanmax(ph) < 9.0)
    (True, True)
    """
    out = np.full(grid.shape, np.nan, np.float32)
    window = source_window(layer, grid.bounds, grid.crs)
    if window is None:
        return out
    if window.width * window.height > READ_CELLS and min(grid.shape) > 16:
        for rows, cols in grid.tiles(max(8, max(grid.shape) // 2)):
            out[rows, cols] = read_raster(layer, grid.crop(rows, cols))
        return out
    with open_raster_file(layer.path, layer.details["vrt"]) as data:
        cells = read_cells(layer, window, data).astype(np.float32)
    if layer.kind == "class" and not holds_classes(layer.name):
        cells = _numbers_of_classes(layer, cells)
    fine = layer.cell_m < 0.6 * grid.cell_m
    smooth = Resampling.average if fine else Resampling.bilinear
    reproject(
        cells,
        out,
        src_transform=affine_of(layer) @ Affine.translation(window.col_off, window.row_off),
        src_crs=layer.details["crs_wkt"],
        src_nodata=np.nan,
        dst_transform=grid.transform,
        dst_crs=grid.crs.to_wkt(),
        dst_nodata=np.nan,
        resampling=Resampling.nearest if layer.kind == "class" else smooth,
    )
    return out


def _numbers_of_classes(layer: RasterLayer, codes: NDArray[np.float32]) -> NDArray[np.float32]:
    """Classes of a quantity become the numbers they are named by; without numbers they stay unknown."""
    out = np.full_like(codes, np.nan)
    for code, value in (class_values(layer.classes) or {}).items():
        out[codes == code] = value
    return out


def note_coverage(layer: RasterLayer, yards: gpd.GeoDataFrame, grid: Grid) -> RasterLayer:
    """Look at the values around the yards and at how far the raster covers them; return it with notes.

    Raises
    ------
    RasterError
        If it covers no yard, has too many cells over the yards, or its values cannot be what its name says.
    """
    box = yards.geometry.bounds.to_numpy()
    _refuse_too_fine(layer, box)
    notes = list(layer.notes)
    outside, apart = _off_the_raster(layer, box, grid.crs)
    if apart.all():
        raise RasterError(
            f"raster {layer.name!r} does not meet the yards: it covers none of them",
            layer.source.path,
            "Check its extent and CRS, or leave it out",
        )
    if outside.any():
        names = ", ".join(yards["yard_id"].to_numpy()[outside][:10])
        notes.append(
            Note(None, f"{int(outside.sum())} yard(s) lie in part or wholly outside its extent: {names}", 2)
        )
    small = (yards["area_m2"] < layer.cell_m**2).to_numpy()
    if small.any():
        names = ", ".join(yards["yard_id"].to_numpy()[small][:10])
        notes.append(
            Note(None, f"a cell ({layer.cell_m:.3g} m) is larger than {int(small.sum())} yard(s): {names}", 1)
        )
    details = dict(layer.details)
    stored = _sample(layer, box[~apart], grid)
    if layer.kind == "continuous" or (layer.name == "drainage" and not layer.classes):
        found = look_at_values(layer.name, stored, layer.scale, layer.offset, layer.source.path)
        details |= {"low": found.low, "high": found.high}
        if layer.source.scale is None and (layer.scale, layer.offset) == (1.0, 0.0):
            refuse_small_unit(layer.name, stored, found.nodata, layer.source.path)
    else:
        found = look_at_codes(layer.name, stored, bool(layer.classes))
        found.told.extend(look_for_blends(layer.name, stored * layer.scale + layer.offset, layer.source.path))
    notes += [Note(None, what, harm) for what, harm in found.told]
    layer = replace(layer, nodata=layer.nodata + found.nodata)
    if layer.kind == "class" and layer.classes:
        details["known_codes"] = np.array(sorted(layer.classes), dtype=float)
        codes = np.unique(stored[np.isfinite(stored)]) * layer.scale + layer.offset
        strange = [f"{c:g}" for c in codes if c not in layer.classes]
        if strange:
            notes.append(
                Note(None, f"codes without a name in its classes are unknown: {', '.join(strange[:20])}", 2)
            )
    return replace(layer, notes=tuple(sorted(notes, key=lambda n: -n.harm)), details=details)


def _refuse_too_fine(layer: RasterLayer, box: NDArray[np.float64]) -> None:
    area_m2 = float(np.prod(box[:, 2:] - box[:, :2], axis=1).sum())
    if area_m2 > MOST_CELLS * layer.cell_m**2:
        finest = math.ceil(100.0 * math.sqrt(area_m2 / MOST_CELLS)) / 100.0
        raise RasterError(
            f"raster {layer.name!r} has cells of {layer.cell_m:.2g} m, {area_m2 / layer.cell_m**2:,.0f} "
            f"of them over the yards; {MOST_CELLS:,.0f} are read at most",
            layer.source.path,
            f"Make it coarser, cells of {finest:g} m or more",
        )


def _off_the_raster(
    layer: RasterLayer, box: NDArray[np.float64], crs: CRS
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which boxes (metric CRS) reach beyond the raster, and which do not meet it at all."""
    size = np.array(layer.details["shape"][::-1])
    corners = np.stack([to_cells(layer, box[:, [x, y]], crs) for x, y in ((0, 1), (0, 3), (2, 1), (2, 3))])
    low, high = corners.min(axis=0), corners.max(axis=0)
    reach = (low < -0.01).any(axis=1) | (high > size + 0.01).any(axis=1) | ~np.isfinite(low).all(axis=1)
    apart = (high <= 0).any(axis=1) | (low >= size).any(axis=1) | ~np.isfinite(low).all(axis=1)
    return reach, apart


def _sample(layer: RasterLayer, box: NDArray[np.float64], grid: Grid) -> NDArray[np.float64]:
    """Return the stored values around the yards: all, or those of 200 yards spread over a large study."""
    window = source_window(layer, grid.bounds, grid.crs)
    if window is None:
        return np.full((1, 1), np.nan)
    with open_raster_file(layer.path, layer.details["vrt"]) as data:
        if window.width * window.height <= LOOK_CELLS:
            return read_stored(layer, window, data)
        parts = []
        for i in np.unique(np.linspace(0, len(box) - 1, 200).astype(int)):
            one = source_window(layer, tuple(box[i]), grid.crs)
            if one is not None:
                clipped = Window(one.col_off, one.row_off, min(one.width, 256), min(one.height, 256))
                parts.append(read_stored(layer, clipped, data).ravel())
    return np.concatenate(parts)[None, :] if parts else np.full((1, 1), np.nan)
