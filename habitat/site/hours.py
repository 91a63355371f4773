"""Hours of direct sun from a relief: by month, and as the means that plants' needs are stated in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.site.relief import Relief
from habitat.site.sun import Heights, heights_of, lit_counts
from habitat.site.sunpath import SunPath, place_of, sun_path
from habitat.study import Study

FloatRaster = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class SunHours:
    """Hours of direct sun per clear day on the ground, float32 (rows, cols), NaN where unknown.

    mean, afternoon : over the study's ``sun_months``; afternoon counts from the sun's highest stand on.
    by_month : month -> hours, for the months of the season.
    """

    mean: FloatRaster
    afternoon: FloatRaster
    by_month: dict[int, FloatRaster]


def sun_hours(relief: Relief, study: Study) -> SunHours:
    """Return the direct-sun hours of a study's months.

    In months without leaves, positions that only a bare crown covers count for the share of light that it lets
    through. A cell under a crown or roof is shaded by it, never lifted on top.
    """
    settings, head = study.site, study.study
    season, needed = _months(head.season), _months(head.sun_months)
    months = sorted({*season, *needed})
    path = sun_path(place_of(relief.grid), months)
    bare = [m for m in months if not settings.leaf_on[0] <= m <= settings.leaf_on[1]]
    lit = _lit(relief, relief.in_leaf, path, months)
    if bare and relief.leafless is not relief.in_leaf:
        _let_light_through(lit, relief, path, bare, settings.leafless_light)
    hours = {key: counted * np.float32(path.step_h) for key, counted in lit.items()}
    blank = relief.roof | relief.unseen
    for raster in hours.values():
        raster[blank] = np.nan
    by_month = {m: hours[m, 0] + hours[m, 1] for m in months}
    mean = np.mean([by_month[m] for m in needed], axis=0, dtype=np.float32)
    afternoon = np.mean([hours[m, 1] for m in needed], axis=0, dtype=np.float32)
    return SunHours(mean, afternoon, {m: by_month[m] for m in season})


def _months(span: tuple[int, int]) -> list[int]:
    return list(range(span[0], span[1] + 1))


def _lit(
    relief: Relief, caster: FloatRaster, path: SunPath, months: list[int]
) -> dict[tuple[int, int], FloatRaster]:
    """Return lit positions by (month, half of the day), shade from what stands over a cell included."""
    group = 2 * np.searchsorted(months, path.month) + path.afternoon
    counts = lit_counts(relief_heights(relief, caster), path, group)
    counts[:, caster > relief.ground + 1e-3] = 0
    return {
        (m, half): counts[2 * i + half].astype(np.float32) for i, m in enumerate(months) for half in (0, 1)
    }


def relief_heights(relief: Relief, caster: FloatRaster) -> Heights:
    """Return a relief's heights as the sweep takes them: what shades, the ground, and its slope if it matters."""
    return heights_of(
        caster, relief.grid.cell_m, receiver=relief.ground, ground=relief.ground if relief.sloped else None
    )


def _let_light_through(
    lit: dict[tuple[int, int], FloatRaster], relief: Relief, path: SunPath, bare: list[int], share: float
) -> None:
    """Add to the leafless months the light that comes through bare crowns."""
    keep = np.isin(path.month, bare)
    some = SunPath(
        path.month[keep], path.azimuth[keep], path.elevation[keep], path.solar_hour[keep], path.step_h
    )
    for key, counted in _lit(relief, relief.leafless, some, bare).items():
        lit[key] += np.float32(share) * (counted - lit[key])
