"""Water that a soil holds for plants, from its texture and organic matter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from habitat.arrays import Floats


@dataclass(frozen=True, slots=True)
class SoilWater:
    """Water contents of a soil, all of one shape.

    wilting_pct, field_capacity_pct, saturation_pct : share of the volume [%] at 1500 kPa, at 33 kPa and full.
    conductivity_mm_h : saturated hydraulic conductivity [mm/h]. density : of the dry soil [g/cm3].
    """

    wilting_pct: Floats
    field_capacity_pct: Floats
    saturation_pct: Floats
    conductivity_mm_h: Floats
    density: Floats

    @property
    def available_pct(self) -> Floats:
        """Plant-available water: field capacity less wilting point [% of volume]."""
        return self.field_capacity_pct - self.wilting_pct


def soil_water(sand_pct: ArrayLike, clay_pct: ArrayLike, organic_matter_pct: ArrayLike = 2.5) -> SoilWater:
    """Return the water contents of soils.

    Parameters
    ----------
    sand_pct, clay_pct
        Shares of the fine earth [%]. The equations were fitted to clay up to 60 %.
    organic_matter_pct
        Organic matter [% of weight], up to 8.

    Returns
    -------
    SoilWater
        NaN where an input is.

    References
    ----------
    Saxton & Rawls (2006), Soil water characteristic estimates by texture and organic matter, Soil Science
    Society of America Journal 70:1569-1578: equations 1-5 and 16, without salt, gravel or compaction.

    Examples
    --------
    >>> loam = soil_water(40, 20)
    >>> round(float(loam.available_pct), 1), round(float(loam.conductivity_mm_h), 1)
    (14.3, 15.5)
    """
    s, c = np.asarray(sand_pct, float) / 100, np.asarray(clay_pct, float) / 100
    om = np.asarray(organic_matter_pct, float)
    wilting = _wilting(s, c, om)
    capacity = _field_capacity(s, c, om)
    saturation = capacity + _drained(s, c, om) - 0.097 * s + 0.043  # equation 5
    slope = (np.log(capacity) - np.log(wilting)) / (np.log(1500) - np.log(33))  # 1 / B, equation 15
    conductivity = 1930 * (saturation - capacity) ** (3 - slope)  # equation 16
    density = (1 - saturation) * 2.65  # equation 6
    return SoilWater(100 * wilting, 100 * capacity, 100 * saturation, conductivity, density)


def _wilting(s: Floats, c: Floats, om: Floats) -> Floats:
    """Return the moisture at 1500 kPa as a share: equation 1."""
    first = -0.024 * s + 0.487 * c + 0.006 * om + 0.005 * s * om - 0.013 * c * om + 0.068 * s * c + 0.031
    return first + (0.14 * first - 0.02)


def _field_capacity(s: Floats, c: Floats, om: Floats) -> Floats:
    """Return the moisture at 33 kPa as a share: equation 2."""
    first = -0.251 * s + 0.195 * c + 0.011 * om + 0.006 * s * om - 0.027 * c * om + 0.452 * s * c + 0.299
    return first + (1.283 * first**2 - 0.374 * first - 0.015)


def _drained(s: Floats, c: Floats, om: Floats) -> Floats:
    """Return the moisture between saturation and 33 kPa as a share: equation 3."""
    first = 0.278 * s + 0.034 * c + 0.022 * om - 0.018 * s * om - 0.027 * c * om - 0.584 * s * c + 0.078
    return first + (0.636 * first - 0.107)
