"""For whom results are written, in which units, on which paper."""

from __future__ import annotations

from typing import Literal

from habitat.settings.base import Section, setting


class ReportSettings(Section):
    """``[report]``: for whom, in which units, on which paper."""

    audience: Literal["group", "public"] = setting(
        "group", "public leaves out names, addresses and yards without leave to be shown.", example="public"
    )
    units: Literal["metric", "us"] = setting(
        "metric", "Units that people read; tables stay metric.", example="us"
    )
    paper: Literal["letter", "a4"] = setting("letter", "Paper of the sheets.", example="a4")
    formats: list[Literal["geojson", "dxf", "svg"]] = setting(
        [], "Formats to write beside plan.gpkg.", example=["geojson", "dxf"]
    )
    mark_drafts: bool = setting(
        True, "Write draft across plans of yards that nobody walked, where trees or a drive may be unseen.",
        example=False,
    )  # fmt: skip
    dpi: Literal[150, 300] = setting(150, "Resolution of the maps.", unit="dots per inch", example=300)
