"""The sun of a study: from a given raster or from heights, corrected by what people counted."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from habitat.arrays import FloatRaster
from habitat.cells import rasterize_index
from habitat.layers.types import Layers
from habitat.remarks import Remark, Subject, remark
from habitat.sun.counted import Counted, correct, counted_hours
from habitat.sun.hours import SunHours, SunTerms, open_sky_hours, sun_hours
from habitat.sun.relief import Relief, build_relief


@dataclass(slots=True)
class Sun:
    """Sun of a study: ``rasters`` holds sun_h and sun_afternoon_h, as far as there is anything to go by."""

    rasters: dict[str, FloatRaster] = field(default_factory=dict)
    by_month: dict[int, FloatRaster] = field(default_factory=dict)
    source: str = "unknown"
    relief: Relief | None = None
    counted: list[Counted] = field(default_factory=list)
    notes: list[Remark] = field(default_factory=list)


def survey_sun(layers: Layers) -> Sun:
    """Return the sun hours of a study: a given raster wins over heights, counted hours win over both."""
    sun = Sun()
    terms = SunTerms.of(layers.study)
    sun.relief, sun.notes = build_relief(layers)
    hours = None
    if sun.relief is not None:
        hours, sun.source = sun_hours(sun.relief, terms), sun.relief.source
        sun.notes += _beyond(layers, sun.relief)
    if "sun_h" in layers.rasters:
        given = _given(layers, sun.notes)
        sun.source = "sun raster"
        hours = SunHours(given, np.full_like(given, np.nan), {}) if hours is None else _replaced(hours, given)
    sky = open_sky_hours(layers.grid, terms)
    most = float(np.mean([sky[m] for m in terms.sun_months]))
    sun.counted, told = counted_hours(layers, most)
    if hours is None and sun.counted:
        blank = np.full(layers.grid.shape, np.nan, np.float32)
        hours = SunHours(blank, blank, {})
    if hours is not None:
        reach = layers.study.site.observed_reach_m
        hours, more = correct(hours, sun.counted, layers.grid, reach_m=reach, most_h=most)
        sun.notes += [*told, *more]
        sun.rasters["sun_h"] = hours.mean
        sun.by_month = hours.by_month
        if sun.relief is not None:
            sun.rasters["sun_afternoon_h"] = hours.afternoon
    return sun


def _given(layers: Layers, notes: list[Remark]) -> FloatRaster:
    """Return a given sun raster [h]; what cannot be hours of a day is unknown, and told."""
    values = layers.rasters["sun_h"].read(layers.grid)
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


def _beyond(layers: Layers, relief: Relief) -> list[Remark]:
    """Tell what the sums cannot see: beyond the grid, and holes in the heights where the yards are."""
    notes = [remark("beyond_grid_unseen")]
    yards = rasterize_index(layers.yards.geometry, layers.grid) >= 0
    if not yards.any():
        return notes
    blank = float(np.isnan(relief.in_leaf[yards]).mean())
    if blank > 0:
        notes.append(remark("heights_unknown", share=blank))
    hidden = float((relief.unseen & ~np.isnan(relief.in_leaf))[yards].mean())
    if hidden > 0:
        notes.append(remark("heights_unexplained", share=hidden))
    return notes
