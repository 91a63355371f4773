"""Shapes and rasters: cells burnt by their centres, and coverage-weighted summaries of polygons."""

from __future__ import annotations

from collections.abc import Mapping

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from exactextract import exact_extract
from exactextract.raster import NumPyRasterSource
from numpy.typing import NDArray
from rasterio import features

from habitat.arrays import FloatRaster
from habitat.grid import Grid


def rasterize_index(shapes: gpd.GeoSeries, grid: Grid) -> NDArray[np.int32]:
    """Return per cell the position of the last shape that holds the cell's centre, -1 for none.

    Parameters
    ----------
    shapes
        Polygons in the grid's CRS; empty ones hold nothing.
    grid
        Which cells.

    Returns
    -------
    NDArray
        int32 (rows, cols).

    Examples
    --------
    >>> import shapely
    >>> shapes = gpd.GeoSeries([shapely.box(0, 0, 2, 1), shapely.box(1, 0, 2, 1)], crs=32617)
    >>> rasterize_index(shapes, Grid.from_bounds((0, 0, 3, 1), 1.0, shapes.crs)).tolist()
    [[0, 1, -1]]
    """
    pairs = [(shape, i) for i, shape in enumerate(shapes) if not shape.is_empty]
    if not pairs:
        return np.full(grid.shape, -1, np.int32)
    burnt = features.rasterize(pairs, grid.shape, fill=-1, transform=grid.transform, dtype="int32")
    return np.asarray(burnt, np.int32)


# Coverage-weighted summaries of rasters in polygons: each cell counts by the share that lies inside.


def zonal_table(
    shapes: gpd.GeoSeries, rasters: Mapping[str, FloatRaster], grid: Grid, *, classes: tuple[str, ...] = ()
) -> pd.DataFrame:
    """Return summaries of rasters in polygons.

    Parameters
    ----------
    shapes
        Polygons in the grid's CRS; empty ones, and those off the grid, get a row like any other.
    rasters
        Name -> (rows, cols) on the grid, NaN where unknown.
    grid
        The grid of all rasters.
    classes
        Names of the rasters whose values are classes: they get a mode in place of a mean.

    Returns
    -------
    DataFrame
        On the index of ``shapes``; columns ``NAME_mean`` (or ``NAME_mode``; the lower class wins a tie) and
        ``NAME_known``, the known share of the polygon's own area [0-1]. NaN where nothing is known.
    """
    out = pd.DataFrame(index=shapes.index)
    if not rasters:
        return out
    numbers = [name for name in rasters if name not in classes]
    kinds = [name for name in rasters if name in classes]
    area = np.where(shapes.area > 0, shapes.area, np.nan)
    for names, operation in ((numbers, "mean"), (kinds, "mode")):
        if not names:
            continue
        # Of classes that cover alike, the library's mode is the greatest: signs turned, it is the lowest.
        sign = -1 if operation == "mode" else 1
        signed = {name: rasters[name] if sign == 1 else -rasters[name] for name in names}
        table = _extract(shapes, signed, grid, ["count", operation])
        for name in names:
            prefix = "" if len(names) == 1 else f"{name}_"
            counted = table[f"{prefix}count"].to_numpy(float) * grid.cell_m**2
            known = np.clip(np.nan_to_num(counted / area), 0, 1)
            values = sign * table[f"{prefix}{operation}"].to_numpy(float)
            out[f"{name}_{operation}"] = np.where(counted > 0, values, np.nan)
            out[f"{name}_known"] = known
    return out


def _extract(
    shapes: gpd.GeoSeries, rasters: Mapping[str, FloatRaster], grid: Grid, operations: list[str]
) -> pd.DataFrame:
    """Run exactextract on polygons that it can take, and give the others a row of their own."""
    usable = np.asarray([not (s is None or s.is_empty) and s.area > 0 for s in shapes], bool)
    names = [f"{n}_{op}" for n in rasters for op in operations] if len(rasters) > 1 else operations
    out = pd.DataFrame(np.nan, index=range(len(shapes)), columns=names, dtype=float)
    if not usable.any():
        return out.fillna(dict.fromkeys([n for n in names if n.endswith("count")], 0.0))
    wkt = grid.crs.to_wkt()
    sources = [NumPyRasterSource(r, *grid.bounds, name=name, srs_wkt=wkt) for name, r in rasters.items()]
    frame = gpd.GeoDataFrame(geometry=shapely.force_2d(shapes.to_numpy()[usable]), crs=grid.crs)
    table = exact_extract(sources, frame, operations, output="pandas")
    for name in names:
        out.loc[usable, name] = pd.to_numeric(table[name], errors="coerce").to_numpy(float)
    return out


def cover_weights(shapes: gpd.GeoSeries, grid: Grid) -> pd.DataFrame:
    """Return which cells polygons cover, and how much of each.

    Parameters
    ----------
    shapes
        Polygons in the grid's CRS; empty ones cover nothing.
    grid
        Which cells.

    Returns
    -------
    DataFrame
        A row per polygon and cell: shape (position in ``shapes``), cell (row-major number), share of the cell
        (0-1].

    Examples
    --------
    >>> import shapely
    >>> shapes = gpd.GeoSeries([shapely.box(0.5, 0, 2, 1)], crs=32617)
    >>> cover_weights(shapes, Grid.from_bounds((0, 0, 3, 1), 1.0, shapes.crs)).to_dict("list")
    {'shape': [0, 0], 'cell': [0, 1], 'share': [0.5, 1.0]}
    """
    usable = np.flatnonzero([not (s is None or s.is_empty) and s.area > 0 for s in shapes])
    blank = np.zeros(grid.shape, np.uint8)
    empty = {"shape": np.zeros(0, np.int64), "cell": np.zeros(0, np.int64), "share": np.zeros(0)}
    if not len(usable):
        return pd.DataFrame(empty)
    source = NumPyRasterSource(blank, *grid.bounds, srs_wkt=grid.crs.to_wkt())
    frame = gpd.GeoDataFrame(geometry=shapely.force_2d(shapes.to_numpy()[usable]), crs=grid.crs)
    table = exact_extract(source, frame, ["cell_id", "coverage"], output="pandas")
    cells, shares = table["cell_id"].to_numpy(), table["coverage"].to_numpy()
    lengths = [len(c) for c in cells]
    if not sum(lengths):
        return pd.DataFrame(empty)
    return pd.DataFrame(
        {
            "shape": np.repeat(usable, lengths),
            "cell": np.concatenate([np.asarray(c, np.int64) for c in cells]),
            "share": np.concatenate([np.asarray(s, float) for s in shares]),
        }
    )
