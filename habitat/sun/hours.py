"""Hours of direct sun from a relief: by month, and as the means that plants' needs are stated in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.arrays import FloatRaster
from habitat.grid import Grid
from habitat.settings.site import SiteSettings
from habitat.sun.path import SunPath, place_of, sun_path
from habitat.sun.relief import Relief
from habitat.sun.shadows import Heights, heights_of, lit_counts

Counts = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class SunTerms:
    """What the sun hours depend on beside heights: months, leaves, light through bare crowns.

    season : months that hours are worked out for one by one, 1-12. sun_months : months that the means are
    taken over. leaf_on : first and last month in leaf of trees that do not say otherwise. leafless_light :
    share of direct light through crowns without leaves [0-1].
    """

    season: tuple[int, ...]
    sun_months: tuple[int, ...]
    leaf_on: tuple[int, int]
    leafless_light: float

    @classmethod
    def of(
        cls, season: tuple[int, int], sun_months: tuple[int, int], settings: SiteSettings | None = None
    ) -> SunTerms:
        """Return the terms of a season and of the months of the means.

        Parameters
        ----------
        season, sun_months
            First and last month, 1-12, of what is worked out month by month, and of what the means are over.
        settings
            Leaves and light through bare crowns; None for the usual ones.
        """
        usual = SiteSettings() if settings is None else settings
        return cls(_months(season), _months(sun_months), usual.leaf_on, usual.leafless_light)

    @property
    def months(self) -> tuple[int, ...]:
        """Every month that is needed, in order."""
        return tuple(sorted({*self.season, *self.sun_months}))


def _months(span: tuple[int, int]) -> tuple[int, ...]:
    return tuple(range(span[0], span[1] + 1))


@dataclass(frozen=True, slots=True)
class SunHours:
    """Hours of direct sun per clear day on the ground, float32 (rows, cols), NaN where unknown.

    mean, afternoon : over ``SunTerms.sun_months``; the afternoon begins at the sun's highest stand.
    by_month : month -> hours, for the months of the season.
    """

    mean: FloatRaster
    afternoon: FloatRaster
    by_month: dict[int, FloatRaster]


def sun_hours(relief: Relief, terms: SunTerms) -> SunHours:
    """Return the hours of direct sun on the ground, per clear day.

    Parameters
    ----------
    relief
        Heights of the ground and of what stands on it [m]: ``build_relief``, or ``relief_of_heights``.
    terms
        The months, and how leafless crowns count.

    Returns
    -------
    SunHours
        0 to the hours of open sky [h per clear day]; NaN on roofs and where no ground is known.

    Notes
    -----
    The sun of the 15th stands for its month, in steps of 15 minutes. Positions that only a crown without
    leaves covers in a month count for the share of light that it lets through. A cell under a crown or roof
    is shaded by it, never lifted on top. What lies beyond the grid casts no shadow.

    Examples
    --------
    >>> from habitat.sun.relief import relief_of_heights
    >>> grid = Grid.from_bounds((337_000, 4_418_000, 337_040, 4_418_020), 1.0, "EPSG:32617")
    >>> heights = np.zeros(grid.shape, np.float32)
    >>> heights[:, 20] = 6.0  # a hedge of 6 m from south to north
    >>> hours = sun_hours(relief_of_heights(heights, grid), SunTerms.of((4, 10), (5, 8)))
    >>> [round(float(hours.mean[10, column])) for column in (0, 17, 20, 23)]
    [13, 9, 0, 9]
    >>> [round(float(hours.afternoon[10, column])) for column in (17, 23)]  # west of it, east of it
    [7, 2]
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
    counts = lit_counts(_heights(relief, caster), path, group, groups=2 * len(months))
    counts[:, caster > relief.ground + 1e-3] = 0
    return counts


def _heights(relief: Relief, caster: FloatRaster) -> Heights:
    """Return a relief's heights as the sweep takes them, with the ground's slope if it matters."""
    return heights_of(
        caster, relief.grid.cell_m, receiver=relief.ground, ground=relief.ground if relief.sloped else None
    )


def open_sky_hours(grid: Grid, terms: SunTerms) -> dict[int, float]:
    """Return the sun hours of level ground without anything around it, by month [h per clear day].

    Parameters
    ----------
    grid
        Its centre is the place.
    terms
        Which months.
    """
    path = sun_path(place_of(grid), terms.months)
    return {m: float((path.month == m).sum()) * path.step_h for m in terms.months}
