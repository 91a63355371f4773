"""Where the sun stands: positions on the middle day of each month, at the middle of each time step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pvlib import solarposition
from pyproj import CRS, Proj, Transformer

from habitat.errors import ParameterError
from habitat.grid import Grid

REFERENCE_YEAR = 2025
"""The year whose mid-month days are used; another year moves the sun by less than 0.3 degrees."""

STEP_MINUTES = 15
"""Length of a time step; the sun at its middle stands for the whole step."""


@dataclass(frozen=True, slots=True)
class Place:
    """A place on the earth: ``convergence_deg`` is grid north seen from true north, clockwise [degrees]."""

    latitude: float
    longitude: float
    convergence_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class SunPath:
    """Sun positions above the horizon, in order of time.

    month : (positions,) 1-12. azimuth : clockwise from *grid* north [radians]. elevation : above the horizon,
    centre of the sun, without refraction [radians]. solar_hour : 0-24, the sun due south (or north) at 12.
    step_h : how many hours each position stands for.
    """

    month: NDArray[np.int64]
    azimuth: NDArray[np.float64]
    elevation: NDArray[np.float64]
    solar_hour: NDArray[np.float64]
    step_h: float

    @property
    def afternoon(self) -> NDArray[np.bool_]:
        """Whether the sun has passed its highest stand."""
        return self.solar_hour > 12.0

    def of_months(self, months: Sequence[int]) -> SunPath:
        """Return the positions of some months."""
        keep = np.isin(self.month, months)
        return SunPath(
            self.month[keep], self.azimuth[keep], self.elevation[keep], self.solar_hour[keep], self.step_h
        )


def place_of(grid: Grid) -> Place:
    """Return where a grid lies: latitude and longitude of its centre, and its meridian convergence.

    Parameters
    ----------
    grid
        In a projected CRS.

    Returns
    -------
    Place
        WGS 84 [degrees].
    """
    west, south, east, north = grid.bounds
    to_degrees = Transformer.from_crs(grid.crs, CRS.from_epsg(4326), always_xy=True)
    longitude, latitude = to_degrees.transform((west + east) / 2, (south + north) / 2)
    factors = Proj(grid.crs).get_factors(longitude, latitude)
    return Place(float(latitude), float(longitude), float(factors.meridian_convergence))


def sun_path(place: Place, months: Sequence[int], *, step_minutes: int = STEP_MINUTES) -> SunPath:
    """Return where the sun stands on the 15th of each month.

    Parameters
    ----------
    place
        Latitude and longitude [degrees]; azimuths are turned by the convergence, to count from grid north.
    months
        Months 1-12; each is taken once.
    step_minutes
        Length of a time step [min], a divisor of 1440; positions are those of the middle of each step.

    Raises
    ------
    ParameterError
        If the step does not divide a day, or a month is out of range.

    References
    ----------
    Reda & Andreas (2004), Solar position algorithm, NREL/TP-560-34302, as implemented by pvlib.

    Examples
    --------
    >>> path = sun_path(Place(39.9, -83.0), [6])
    >>> round(len(path.month) * path.step_h, 1)
    15.0
    """
    if not (1 <= step_minutes <= 60 and 1440 % step_minutes == 0):
        raise ParameterError("step_minutes", step_minutes, "a divisor of 1440 from 1 to 60 [min]")
    if any(not 1 <= m <= 12 for m in months):
        raise ParameterError("months", list(months), "each from 1 to 12")
    parts = [_day(place, month, step_minutes) for month in sorted(set(months))]
    month, azimuth, elevation, hour = (np.concatenate(column) for column in zip(*parts, strict=True))
    return SunPath(month, azimuth, elevation, hour, step_minutes / 60)


def _day(place: Place, month: int, step_minutes: int) -> tuple[NDArray[np.generic], ...]:
    """Return month, azimuth, elevation and solar hour of the steps of one local day with the sun up."""
    midnight = pd.Timestamp(REFERENCE_YEAR, month, 15, tz="UTC") - pd.Timedelta(hours=place.longitude / 15)
    times = pd.date_range(midnight.round("s"), periods=1440 // step_minutes, freq=f"{step_minutes}min")
    times = times + pd.Timedelta(minutes=step_minutes / 2)
    position = solarposition.spa_python(times, place.latitude, place.longitude)
    elevation = np.radians(position["elevation"].to_numpy())
    azimuth = np.radians(position["azimuth"].to_numpy() - place.convergence_deg)
    clock = (np.arange(len(times)) + 0.5) * step_minutes / 60
    solar_hour = clock + position["equation_of_time"].to_numpy() / 60
    up = elevation > 0
    return np.full(int(up.sum()), month), azimuth[up] % (2 * np.pi), elevation[up], solar_hour[up]
