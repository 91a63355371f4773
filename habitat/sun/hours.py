"""Hours of direct sun from a relief: by month, and as the means that plants' needs are stated in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.arrays import FloatRaster
from habitat.grid import Grid
from habitat.study.model import Study
from habitat.sun.path import SunPath, place_of, sun_path
from habitat.sun.relief import Relief
from habitat.sun.shadows import Heights, heights_of, lit_counts

Counts = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class SunTerms:
    """What of a study the sun hours depend on: months, leaves, light through bare crowns.

    leaf_on : first and last month in leaf of trees that do not say otherwise.
    """

    season: tuple[int, ...]
    sun_months: tuple[int, ...]
    leaf_on: tuple[int, int]
    leafless_light: float

    @classmethod
    def of(cls, study: Study) -> SunTerms:
        """Return the terms of a study."""
        head, site = study.study, study.site
        return cls(_months(head.season), _months(head.sun_months), site.leaf_on, site.leafless_light)

    @property
    def months(self) -> tuple[int, ...]:
        """Every month that is needed, in order."""
        return tuple(sorted({*self.season, *self.sun_months}))


def _months(span: tuple[int, int]) -> tuple[int, ...]:
    return tuple(range(span[0], span[1] + 1))


@dataclass(frozen=True, slots=True)
class SunHours:
    """Hours of direct sun per clear day on the ground, float32 (rows, cols), NaN where unknown.

    mean, afternoon : over the study's ``sun_months``; the afternoon begins at the sun's highest stand.
    by_month : month -> hours, for the months of the season.
    """

    mean: FloatRaster
    afternoon: FloatRaster
    by_month: dict[int, FloatRaster]


def sun_hours(relief: Relief, terms: SunTerms) -> SunHours:
    """Return the direct-sun hours of a study's months.

    Positions that only a crown without leaves covers in a month count for the share of light that it lets
    through. A cell under a crown or roof is shaded by it, never lifted on top.
    """
    months = terms.months
    path = sun_path(place_of(relief.grid), months)
    counts = _lit(relief, relief.in_leaf, path, months)
    through = _through_bare(relief, path, months)
    blank = relief.roof | relief.unseen

    def hours(month: int, half: int) -> FloatRaster:
        lit = counts[2 * months.index(month) + half].astype(np.float32)
        if month in through:
            # Positions lit but for bare crowns, less those lit anyway, come through in part.
            lit += np.float32(terms.leafless_light) * (through[month][half] - lit)
        lit *= np.float32(path.step_h)
        lit[blank] = np.nan
        return lit

    mean, afternoon = np.zeros(relief.grid.shape, np.float32), np.zeros(relief.grid.shape, np.float32)
    by_month = {}
    for month in months:
        late = hours(month, 1)
        whole = hours(month, 0) + late
        if month in terms.sun_months:
            mean += whole / np.float32(len(terms.sun_months))
            afternoon += late / np.float32(len(terms.sun_months))
        if month in terms.season:
            by_month[month] = whole
    return SunHours(mean, afternoon, by_month)


def _through_bare(relief: Relief, path: SunPath, months: tuple[int, ...]) -> dict[int, Counts]:
    """Return lit positions of forenoon and afternoon without bare crowns, of months with any."""
    out: dict[int, Counts] = {}
    for raster in {id(r): r for m, r in relief.bare.items() if m in months}.values():
        mine = tuple(m for m in months if relief.bare.get(m) is raster)
        counts = _lit(relief, raster, path.of_months(mine), mine)
        out |= {m: counts[2 * k : 2 * k + 2] for k, m in enumerate(mine)}
    return out


def _lit(relief: Relief, caster: FloatRaster, path: SunPath, months: tuple[int, ...]) -> Counts:
    """Return lit positions, (2 x months, rows, cols): forenoon and afternoon of each month in turn."""
    group = 2 * np.searchsorted(months, path.month) + path.afternoon
    counts = lit_counts(relief_heights(relief, caster), path, group, groups=2 * len(months))
    counts[:, caster > relief.ground + 1e-3] = 0
    return counts


def relief_heights(relief: Relief, caster: FloatRaster) -> Heights:
    """Return a relief's heights as the sweep takes them, with the ground's slope if it matters."""
    return heights_of(
        caster, relief.grid.cell_m, receiver=relief.ground, ground=relief.ground if relief.sloped else None
    )


def open_sky_hours(grid: Grid, terms: SunTerms) -> dict[int, float]:
    """Return the sun hours of level ground without anything around it, by month [h per clear day]."""
    path = sun_path(place_of(grid), terms.months)
    return {m: float((path.month == m).sum()) * path.step_h for m in terms.months}
