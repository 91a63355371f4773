"""For whom results are written, in which units, on which paper."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from habitat.settings.base import Section


class ReportSettings(Section):
    """``[report]``: for whom, in which units, on which paper."""

    audience: Literal["group", "public"] = "group"
    units: Literal["metric", "us"] = "metric"
    paper: Literal["letter", "a4"] = "letter"
    formats: list[Literal["geojson", "dxf", "svg"]] = Field(default_factory=list)
    dpi: Literal[150, 300] = 150
