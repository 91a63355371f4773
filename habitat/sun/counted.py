"""Sun hours that people counted: they win at their spot, and correct what the sums are off by around it."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import ndimage

from habitat.arrays import FloatRaster
from habitat.cells import rasterize_index
from habitat.grid import Grid
from habitat.remarks import Remark, Subject, remark
from habitat.soil.measured import tests_with_yards
from habitat.sun.hours import SunHours


@dataclass(frozen=True, slots=True)
class Counted:
    """One count: where (cells of the spot, or of the whole yard), the hours, and whose yard."""

    row: int
    yard_id: str
    hours: float
    cells: NDArray[np.bool_]
    spot: bool


def counted_hours(
    frame: pd.DataFrame | None, yards: gpd.GeoDataFrame, grid: Grid, most_h: float
) -> tuple[list[Counted], list[Remark]]:
    """Return the counts that can be: between 0 and the hours of open sky.

    A row with a place holds for that cell; a row with only a yard holds for the yard's mean. Several counts
    of the same spot or yard are taken as their mean.

    Parameters
    ----------
    frame
        A row each, with hours of sun in column sun_h [h per clear day, a mean over the sun months], and a
        yard_id or a place of the yards' CRS; None for none.
    yards
        yard_id and geometry.
    grid
        The grid of the sun hours.
    most_h
        Hours of open sky [h per clear day].

    Returns
    -------
    tuple
        The counts in order of yard and cell, and a note for each row that cannot be.
    """
    tests, _ = tests_with_yards(frame, yards)
    if "sun_h" not in tests:
        return [], []
    hours = pd.to_numeric(tests["sun_h"], errors="coerce")
    tests = tests.assign(sun_h=hours)[hours.notna()]
    odd = ~tests["sun_h"].between(0, most_h + 0.5)
    notes = [
        remark("sun_count_impossible", _of_test(int(row)), sun_h=float(given), most_h=float(most_h))
        for row, given in zip(tests.index[odd], tests.loc[odd, "sun_h"], strict=True)
    ]
    tests = tests[~odd]
    places = frame.geometry if isinstance(frame, gpd.GeoDataFrame) else None
    out = []
    for (_, _), group in tests.groupby(_where(tests, places, grid), sort=True):
        first = group.iloc[0]
        place = None if places is None else places[first.name]
        cells, spot = _cells(place, str(first["yard_id"]), yards, grid)
        if cells.any():
            mean = float(group["sun_h"].mean())
            out.append(Counted(int(str(first.name)), str(first["yard_id"]), mean, cells, spot))
    return out, notes


def _of_test(row: int, *yards: str) -> Subject:
    return Subject(yards=yards, layers=("soil_tests",), rows=(row,), household=("soil_test",))


def _where(tests: pd.DataFrame, places: gpd.GeoSeries | None, grid: Grid) -> list[pd.Series]:
    """Return what counts are grouped by: yard, and the cell for those with a place."""
    cell = pd.Series(-1, index=tests.index)
    if places is not None:
        points = places[tests.index].centroid
        usable = ~(points.isna() | points.is_empty)
        row, col = grid.rowcol(points.x[usable], points.y[usable])
        cell[usable] = row * grid.shape[1] + col
    return [tests["yard_id"].astype(str), cell]


def _cells(
    place: object, yard_id: str, yards: gpd.GeoDataFrame, grid: Grid
) -> tuple[NDArray[np.bool_], bool]:
    """Return the cells that a count holds for, and whether it is a spot."""
    cells = np.zeros(grid.shape, bool)
    point = getattr(place, "centroid", None)
    if point is not None and not point.is_empty:
        row, col = (int(v) for v in grid.rowcol(point.x, point.y))
        if 0 <= row < cells.shape[0] and 0 <= col < cells.shape[1]:
            cells[row, col] = True
            return cells, True
    yard = yards[yards["yard_id"].astype(str) == yard_id]
    return rasterize_index(yard.geometry, grid) >= 0, False


def correct(
    hours: SunHours, counted: list[Counted], grid: Grid, *, reach_m: float, most_h: float
) -> tuple[SunHours, list[Remark]]:
    """Return sun hours corrected by counts.

    Parameters
    ----------
    hours
        As worked out from heights.
    counted
        What people counted, a mean over the sun months.
    reach_m
        How far a count speaks for its surroundings [m]: the correction there is the counts' differences
        weighted by w = exp(-(distance / reach_m)^2), and fades with the greatest w.
    most_h
        Hours of open sky: no cell gets more.

    Returns
    -------
    SunHours
        ``mean`` equals the count at its spot (or in the mean of its yard, up to ``most_h``); the afternoon
        and the months change in proportion. Unknown cells stay unknown, but for the spots themselves.
    """
    if not counted:
        return hours, []
    shift = _shift(hours.mean, counted, grid, reach_m)
    mean = np.clip(hours.mean + shift, 0, np.float32(most_h)).astype(np.float32)
    for count in counted:
        _win(mean, count, most_h)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where(hours.mean > 0, mean / hours.mean, 1).astype(np.float32)
    by_month = {month: raster * ratio for month, raster in hours.by_month.items()}
    return SunHours(mean, hours.afternoon * ratio, by_month), _told(hours.mean, counted)


def _difference(mean: FloatRaster, count: Counted) -> float:
    """Return count less sum, NaN where the sum is unknown."""
    inside = mean[count.cells]
    known = inside[~np.isnan(inside)]
    return count.hours - float(known.mean()) if len(known) else float("nan")


def _shift(mean: FloatRaster, counted: list[Counted], grid: Grid, reach_m: float) -> FloatRaster:
    """Return the correction of every cell [h]."""
    total, weights, most = (np.zeros(grid.shape) for _ in range(3))
    for count in counted:
        difference = _difference(mean, count)
        if np.isnan(difference):
            continue
        window = _around(count.cells, 3 * reach_m / grid.cell_m)
        away = ndimage.distance_transform_edt(~count.cells[window]) * grid.cell_m
        weight = np.exp(-((away / reach_m) ** 2))
        total[window] += weight * weight * difference
        weights[window] += weight * weight
        most[window] = np.maximum(most[window], weight)
    mixed = np.divide(total, weights, out=np.zeros(grid.shape), where=weights > 0)
    return (most * mixed).astype(np.float32)


def _around(cells: NDArray[np.bool_], margin: float) -> tuple[slice, slice]:
    wide = int(np.ceil(margin))
    rows, cols = np.flatnonzero(cells.any(axis=1)), np.flatnonzero(cells.any(axis=0))
    return slice(max(0, rows[0] - wide), rows[-1] + wide + 1), slice(
        max(0, cols[0] - wide), cols[-1] + wide + 1
    )


def _win(mean: FloatRaster, count: Counted, most_h: float) -> None:
    """Let a count win at its place, in place: the cell itself, or the mean of the yard's known cells."""
    if count.spot:
        mean[count.cells] = count.hours
        return
    off = _difference(mean, count)
    if np.isfinite(off):
        mean[count.cells] = np.clip(mean[count.cells] + np.float32(off), 0, np.float32(most_h))


def _told(mean: FloatRaster, counted: list[Counted]) -> list[Remark]:
    notes = []
    for count in counted:
        off = _difference(mean, count)
        about = _of_test(count.row, count.yard_id)
        if np.isnan(off):
            notes.append(remark("sun_count_alone", about, sun_h=float(count.hours)))
        else:
            notes.append(
                remark("sun_count_corrects", about, sun_h=float(count.hours), difference_h=float(off))
            )
    return notes
