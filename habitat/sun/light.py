"""The sun of a place: from a given raster or from heights, corrected by what people counted."""

from __future__ import annotations

from dataclasses import dataclass, field

import geopandas as gpd
import numpy as np
import pandas as pd

from habitat.arrays import FloatRaster
from habitat.cells import rasterize_index
from habitat.grid import Grid
from habitat.remarks import Remark, Subject, remark
from habitat.sun.counted import Counted, correct, counted_hours
from habitat.sun.hours import SunHours, SunTerms, open_sky_hours, sun_hours
from habitat.sun.relief import Relief

GIVEN = "sun raster"
"""Source of hours that a raster of the study tells."""


@dataclass(slots=True)
class Sun:
    """Sun of a place, as far as there is anything to go by.

    rasters : sun_h and sun_afternoon_h [h per clear day], float32 (rows, cols), NaN where unknown. by_month :
    month -> the same. source : words for what they were worked out from. counted : what people counted.
    """

    rasters: dict[str, FloatRaster] = field(default_factory=dict)
    by_month: dict[int, FloatRaster] = field(default_factory=dict)
    source: str = "unknown"
    relief: Relief | None = None
    counted: list[Counted] = field(default_factory=list)
    notes: list[Remark] = field(default_factory=list)


def sun_of_place(
    grid: Grid,
    yards: gpd.GeoDataFrame,
    terms: SunTerms,
    *,
    relief: Relief | None = None,
    given_h: FloatRaster | None = None,
    tests: pd.DataFrame | None = None,
    observed_reach_m: float,
) -> Sun:
    """Return the sun hours of a place: a given raster wins over heights, counted hours win over both.

    Parameters
    ----------
    grid
        The grid of all rasters.
    yards
        yard_id and geometry.
    terms
        The months, and how leafless crowns count.
    relief
        Heights to work the hours out from; None without any.
    given_h
        (rows, cols) hours that somebody worked out before [h per clear day]; NaN where unknown.
    tests
        Counted hours, as ``counted_hours`` takes them.
    observed_reach_m
        How far a count speaks for its surroundings [m].

    Returns
    -------
    Sun
        Without any of the three its rasters are empty.
    """
    sun = Sun(relief=relief)
    hours = None
    if relief is not None:
        hours, sun.source = sun_hours(relief, terms), relief.source
        sun.notes += _beyond(yards, grid, relief)
    if given_h is not None:
        given = _given(given_h, sun.notes)
        sun.source = GIVEN
        hours = SunHours(given, np.full_like(given, np.nan), {}) if hours is None else _replaced(hours, given)
    sky = open_sky_hours(grid, terms)
    most = float(np.mean([sky[m] for m in terms.sun_months]))
    sun.counted, told = counted_hours(tests, yards, grid, most)
    if hours is None and sun.counted:
        blank = np.full(grid.shape, np.nan, np.float32)
        hours = SunHours(blank, blank, {})
    if hours is not None:
        hours, more = correct(hours, sun.counted, grid, reach_m=observed_reach_m, most_h=most)
        sun.notes += [*told, *more]
        sun.rasters["sun_h"] = hours.mean
        sun.by_month = hours.by_month
        if sun.relief is not None:
            sun.rasters["sun_afternoon_h"] = hours.afternoon
    return sun


def _given(values: FloatRaster, notes: list[Remark]) -> FloatRaster:
    """Return a given sun raster [h]; what cannot be hours of a day is unknown, and told."""
    bad = (values < 0) | (values > 24)
    if bad.any():
        notes.append(remark("sun_raster_impossible", Subject(layers=("sun_h",)), share=float(bad.mean())))
    return np.where(bad, np.nan, values).astype(np.float32)


def _replaced(hours: SunHours, given: FloatRaster) -> SunHours:
    """Return worked-out hours with a given mean; afternoon and months keep their share of the day."""
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where(hours.mean > 0, given / hours.mean, np.nan).astype(np.float32)
    months = {month: raster * ratio for month, raster in hours.by_month.items()}
    return SunHours(given, hours.afternoon * ratio, months)


def _beyond(yards: gpd.GeoDataFrame, grid: Grid, relief: Relief) -> list[Remark]:
    """Tell what the sums cannot see: beyond the grid, and holes in the heights where the yards are."""
    notes = [remark("beyond_grid_unseen")]
    inside = rasterize_index(yards.geometry, grid) >= 0
    if not inside.any():
        return notes
    blank = float(np.isnan(relief.in_leaf[inside]).mean())
    if blank > 0:
        notes.append(remark("heights_unknown", share=blank))
    hidden = float((relief.unseen & ~np.isnan(relief.in_leaf))[inside].mean())
    if hidden > 0:
        notes.append(remark("heights_unexplained", share=hidden))
    return notes
