"""What the cells of the site's grid say of a bed: which lie under it, what they offer, what limits there."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from habitat.grid import Grid
from habitat.planting.types import Cells
from habitat.site.types import SiteWindow
from habitat.suitability.types import NO_LIMIT


def read_cells(
    grid: Grid, values: Mapping[str, NDArray[np.float32]], rows: NDArray[np.int64], cols: NDArray[np.int64]
) -> Cells:
    """Return what some cells of a grid offer, by factor."""
    here = {name: np.asarray(raster[rows, cols], np.float32) for name, raster in values.items()}
    return Cells(np.asarray(grid.x[cols], float), np.asarray(grid.y[rows], float), grid.cell_m, here)


def cell_weights(
    polygon: BaseGeometry, grid: Grid
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
    """Return rows, columns and weights of the cells under a polygon, by 4 x 4 samples a cell; sum 1."""
    rows, cols = grid.window(polygon.bounds)
    part = grid.crop(rows, cols)
    offsets = (np.arange(4) - 1.5) / 4 * grid.cell_m
    x = (part.x[:, None] + offsets).ravel()
    y = (part.y[:, None] - offsets).ravel()
    xx, yy = np.meshgrid(x, y)
    shapely.prepare(polygon)
    inside = shapely.contains_xy(polygon, xx, yy).reshape(len(part.y), 4, len(part.x), 4).sum(axis=(1, 3))
    r, c = np.nonzero(inside)
    if not len(r):
        row, col = grid.rowcol([polygon.centroid.x], [polygon.centroid.y])
        limit = (grid.shape[0] - 1, grid.shape[1] - 1)
        return np.clip(row, 0, limit[0]), np.clip(col, 0, limit[1]), np.ones(1)
    return r + rows.start, c + cols.start, inside[r, c] / inside.sum()


def known_sun_h(
    window: SiteWindow, rows: NDArray[np.int64], cols: NDArray[np.int64], weight: NDArray[np.float64]
) -> float:
    """Return the mean sun [h a day] of some cells, by weight; NaN where none of it is known."""
    if "sun_h" not in window.values:
        return math.nan
    sun = window.values["sun_h"][rows, cols].astype(float)
    known = ~np.isnan(sun)
    return float(np.average(sun[known], weights=weight[known])) if known.any() else math.nan


def costliest(
    low: NDArray[np.uint8], codes: NDArray[np.uint8], weight: NDArray[np.float64]
) -> NDArray[np.uint8]:
    """Return per plant the code of the need that costs most of its fit, the first at a tie; else NO_LIMIT.

    ``low`` is the fit x 255 and ``codes`` what limits it (plants, cells), ``weight`` (cells,) sums to 1.
    """
    kinds = np.unique(codes[codes != NO_LIMIT])
    if not len(kinds):
        return np.full(len(codes), NO_LIMIT, np.uint8)
    lost = 255.0 - low
    cost = np.stack([np.where(codes == kind, lost, 0.0) @ weight for kind in kinds], axis=1)
    worst = kinds[np.argmax(np.round(cost, 6), axis=1)]
    return np.where(cost.max(axis=1) > 1e-6, worst, NO_LIMIT).astype(np.uint8)
