"""Soil polygons on the grid: by the area that each covers of a cell."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.arrays import FloatRaster
from habitat.cells import cover_weights
from habitat.factors import FACTORS
from habitat.grid import Grid
from habitat.remarks import Remark, Subject, remark
from habitat.soil.texture import texture_class

LEAST_SHARE = 0.5
"""A cell's value is known if at least this share of it lies in polygons that tell."""


def units_on_grid(frame: gpd.GeoDataFrame, grid: Grid) -> tuple[dict[str, FloatRaster], list[Remark]]:
    """Return the attributes of soil polygons as rasters; texture from sand and clay if it is not given.

    Quantities are averaged by area; of classes the one with the greatest area in a cell wins, the lower
    number at a tie.

    Parameters
    ----------
    frame
        Polygons in the grid's CRS, with any of the columns ph, depth_cm [cm], sand_pct and clay_pct [%],
        salt, drainage, texture and zone (classes in words).
    grid
        Where the rasters lie.

    Returns
    -------
    tuple
        Rasters float32 (rows, cols) by name, NaN where less than half a cell is known; and what words meant
        nothing.

    Examples
    --------
    >>> import geopandas as gpd, shapely
    >>> halves = [shapely.box(0, 0, 1, 2), shapely.box(1, 0, 4, 2)]
    >>> told = {"ph": [6.0, 8.0], "drainage": ["well", "poorly"]}
    >>> units = gpd.GeoDataFrame(told, geometry=halves, crs=32617)
    >>> rasters, notes = units_on_grid(units, Grid.from_bounds((0, 0, 4, 2), 2.0, units.crs))
    >>> rasters["ph"].tolist(), rasters["drainage"].tolist()
    ([[7.0, 8.0]], [[2.0, 2.0]])
    """
    if not len(frame):
        return {}, []
    weights = cover_weights(frame.geometry, grid)
    out, notes = {}, []
    ground = [f for f in FACTORS.of_group("ground") if f.given]
    for name in (*(f.name for f in ground if f.read_class is None), "sand_pct", "clay_pct"):
        if name in frame.columns:
            values = pd.to_numeric(frame[name], errors="coerce").to_numpy(float)
            out[name] = _mean_on_grid(weights, values, grid)
    for name, number in ((f.name, f.read_class) for f in ground):
        if name in frame.columns and number is not None:
            values = np.array([_number(number, v) for v in frame[name]], float)
            strange = frame[name].notna().to_numpy() & np.isnan(values)
            if strange.any():
                values_named = sorted({str(v) for v in frame[name][strange]}, key=repr)[:5]
                notes.append(
                    remark(
                        "soil_unit_classes_unknown",
                        Subject(layers=("soil_units",)),
                        column=name,
                        values=tuple(values_named),
                    )
                )
            out[name] = _greatest_on_grid(weights, values, grid)
    if "texture" not in out and {"sand_pct", "clay_pct"} <= set(out):
        out["texture"] = texture_class(out["sand_pct"], out["clay_pct"])
    return out, notes


def _number(translate: Callable[[object], float], value: object) -> float:
    return translate(str(value)) if value is not None else float("nan")


def _mean_on_grid(weights: pd.DataFrame, values: NDArray[np.float64], grid: Grid) -> FloatRaster:
    """Return per cell the mean of polygon values by area; NaN where less than half the cell is known."""
    cells = grid.shape[0] * grid.shape[1]
    value = values[weights["shape"].to_numpy()]
    share = np.where(np.isnan(value), 0.0, weights["share"].to_numpy())
    known = np.bincount(weights["cell"], share, cells)
    total = np.bincount(weights["cell"], share * np.nan_to_num(value), cells)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(known >= LEAST_SHARE, total / known, np.nan)
    return mean.reshape(grid.shape).astype(np.float32)


def _greatest_on_grid(weights: pd.DataFrame, values: NDArray[np.float64], grid: Grid) -> FloatRaster:
    """Return the value that covers most of each cell, the lower at a tie; NaN if less than half is known."""
    table = pd.DataFrame(
        {"cell": weights["cell"], "value": values[weights["shape"].to_numpy()], "share": weights["share"]}
    ).dropna()
    sums = table.groupby(["cell", "value"], sort=True)["share"].sum().reset_index()
    known = sums.groupby("cell")["share"].sum()
    best = sums.sort_values(["cell", "share", "value"], ascending=[True, False, True]).drop_duplicates("cell")
    out = np.full(grid.shape[0] * grid.shape[1], np.nan, np.float32)
    enough = known.reindex(best["cell"]).to_numpy() >= LEAST_SHARE
    out[best["cell"].to_numpy(int)[enough]] = best["value"].to_numpy()[enough]
    return out.reshape(grid.shape)
