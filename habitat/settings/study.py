"""What a study is called, where and when it is, and the grid that all of it is worked on."""

from __future__ import annotations

import datetime as dt
import re

from pydantic import field_validator, model_validator
from pyproj import CRS
from pyproj.exceptions import CRSError

from habitat.settings.base import Month, Positive, Section


def known_crs(text: str) -> CRS:
    """Return the CRS of a code, a full definition, or its exact name.

    Raises
    ------
    CRSError, ValueError
        If PROJ does not know it; a name that only resembles one counts as unknown.
    """
    text = text.strip()
    crs = CRS.from_user_input(int(text) if text.isdigit() else text)
    is_name = not re.search(r"[:\[{=+]", text) and not text.isdigit()
    if is_name and _letters(text) not in (_letters(crs.name), _letters(crs.name.split("/")[-1])):
        raise ValueError(f"{text!r} is no name of a CRS; the nearest is {crs.name!r}")
    return crs


def _letters(text: str) -> str:
    return re.sub(r"\W", "", text).casefold()


class StudyHead(Section):
    """``[study]``: name, date, grid and season."""

    name: str = "Unnamed study"
    date: dt.date | None = None
    crs: str | None = None
    cell_m: Positive = 1.0
    season: tuple[Month, Month] = (4, 10)
    sun_months: tuple[Month, Month] = (5, 8)
    seed: int = 7

    @field_validator("crs")
    @classmethod
    def _projected(cls, value: str | None) -> str | None:
        if value is None:
            return None
        try:
            crs = known_crs(value)
        except (CRSError, ValueError) as error:
            raise ValueError(f"{value!r} is not a coordinate reference system that PROJ knows") from error
        if not crs.is_projected or any(axis.unit_conversion_factor != 1.0 for axis in crs.axis_info[:2]):
            raise ValueError(f"{value!r} must be projected, in metres; leave it out to have one chosen")
        if crs.to_epsg() == 3857:
            raise ValueError(
                "Web Mercator stretches lengths (1.3 times at 40 degrees); leave crs out to have one chosen"
            )
        return value

    @model_validator(mode="after")
    def _ordered(self) -> StudyHead:
        for key in ("season", "sun_months"):
            first, last = getattr(self, key)
            if first > last:
                raise ValueError(
                    f"{key} must run from an earlier to a later month of one year, not {[first, last]}"
                )
        return self
