"""For whom results are written, in which units, on which paper."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import Literal

from pydantic import field_validator

from habitat.settings.base import Section, setting

HOURS = re.compile(r"(\d{4}-\d\d-\d\d)[ T]+(\d{1,2}):(\d\d)\s*(?:-|–|to)\s*(\d{1,2}):(\d\d)")


@dataclass(frozen=True, slots=True)
class Hours:
    """Some hours of one day: when they begin, and how long they last [min]."""

    start: dt.datetime
    minutes: int


def read_hours(text: str) -> Hours:
    """Return hours of a day, as "2026-05-09 9:00-12:00" says them.

    Raises
    ------
    ValueError
        If they are written in another way, are none of the calendar, or end before they begin.
    """
    found = HOURS.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"{text!r} says no hours; write a day and two times, such as 2026-05-09 9:00-12:00")
    try:
        day, numbers = dt.date.fromisoformat(found[1]), [int(n) for n in found.groups()[1:]]
        start = dt.datetime.combine(day, dt.time(numbers[0], numbers[1]))
        end = dt.datetime.combine(day, dt.time(numbers[2], numbers[3]))
    except ValueError as error:
        raise ValueError(f"{text!r} is no time of the calendar ({error})") from error
    if end <= start:
        raise ValueError(f"{text!r} ends before it begins")
    return Hours(start, int((end - start).total_seconds() // 60))


def checked_hours(value: list[str]) -> list[str]:
    """Return hours that can all be read."""
    for text in value:
        read_hours(text)
    return value


class ReportSettings(Section):
    """``[report]``: for whom, in which units, on which paper."""

    audience: Literal["group", "public"] = setting(
        "group", "public leaves out names, addresses and yards without leave to be shown.", example="public"
    )
    units: Literal["metric", "us"] = setting(
        "metric", "Units that people read; tables stay metric.", example="us"
    )
    paper: Literal["letter", "a4"] = setting("letter", "Paper of the sheets.", example="a4")
    formats: list[Literal["geojson", "dxf", "svg", "handover"]] = setting(
        [],
        "Formats to write beside plan.gpkg; handover is a folder for a landscape designer, for the group "
        "alone: for each yard a drawing (DXF) and a plan at true scale (PDF, SVG).",
        example=["geojson", "dxf"],
    )
    plan_paper: Literal["letter", "tabloid", "a4", "a3"] = setting(
        "tabloid", "Paper of these plans, lying.", example="a3"
    )
    mark_drafts: bool = setting(
        True, "Write draft across plans of yards that nobody walked, where trees or a drive may be unseen.",
        example=False,
    )  # fmt: skip
    dpi: Literal[150, 300] = setting(150, "Resolution of the maps.", unit="dots per inch", example=300)
    pick_up: list[str] = setting(
        [],
        "When plants are handed out; households get times spread over these hours, street by street.",
        example=["2026-05-09 9:00-12:00"],
    )
    letter_ask: str | None = setting(
        None,
        "Plain text in your own words for letters to those to ask next; fields stand in braces: {name}, "
        "{address}, {yard}, {study}, {contact}, {date}, {special}, {adds}, {cost}, {plants}, {beds}, "
        "{sheet}, {status}, {pick_up}, {group}. A line with a field of which nothing is known is left out.",
        example="ask.txt",
    )
    letter_hand_over: str | None = setting(
        None, "The same for letters that go with the sheets.", example="hand_over.txt"
    )
    letter_spring: str | None = setting(
        None, "The same for letters that remind in spring.", example="spring.txt"
    )

    _hours = field_validator("pick_up")(checked_hours)
