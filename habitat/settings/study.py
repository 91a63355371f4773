"""What a study is called, where and when it is, and the grid that all of it is worked on."""

from __future__ import annotations

import datetime as dt
import re

from pydantic import field_validator, model_validator
from pyproj import CRS
from pyproj.exceptions import CRSError

from habitat.settings.base import Month, Positive, Section, setting


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

    name: str = setting("Unnamed study", "What the study is called on sheets and maps.", example="Our street")
    contact: str = setting(
        "",
        "Whom households call or write to with questions: on the page for the group, never in public.",
        example="Rosa, 555-0142",
    )
    date: dt.date | None = setting(
        None,
        "The date that stands on sheets and in the calendar; a run needs it.",
        example=dt.date(2026, 3, 1),
    )
    crs: str | None = setting(
        None, "CRS that all is brought into, projected, in metres; left out: chosen from the yards.",
        example="EPSG:32617",
    )  # fmt: skip
    after: str | None = setting(
        None, "Results of an earlier run: plans accepted there stay as they are, drafts are planned.",
        example="first_plan",
    )  # fmt: skip
    cell_m: Positive = setting(
        1.0, "Side of the cells that sun, soil and fit are worked out on: 1 for streets, 0.25 for one yard.",
        unit="m", example=0.5,
    )  # fmt: skip
    season: tuple[Month, Month] = setting(
        (4, 10), "First and last month with leaves and flowers; left out: that of the region.",
        unit="months, 1 to 12", example=[3, 11],
    )  # fmt: skip
    states: list[str] = setting(
        [],
        "Two-letter codes of the states in which plants must be native; left out: the one the yards lie in.",
        example=["OH"],
    )
    sun_months: tuple[Month, Month] = setting(
        (5, 8), "First and last month over which sun hours are averaged.", unit="months, 1 to 12",
        example=[4, 9],
    )  # fmt: skip
    seed: int = setting(
        7, "Start of the random numbers: equal seeds give equal plans.", unit="number",
        example=11,
    )  # fmt: skip

    @field_validator("states")
    @classmethod
    def _codes(cls, value: list[str]) -> list[str]:
        for state in value:
            if not re.fullmatch("[A-Z]{2}", state):
                raise ValueError(f"{state!r} is no code of a state; write two capital letters such as OH")
        return value

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
