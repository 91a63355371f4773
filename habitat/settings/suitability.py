"""How needs combine into a score, and what the classes mean."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from habitat.settings.base import Section, Share


class SuitabilitySettings(Section):
    """``[suitability]``: how needs combine into a score, and what the classes mean."""

    combine: Literal["scarcest", "geometric", "square_root"] = "scarcest"
    weights: dict[str, Annotated[float, Field(ge=0)]] = Field(default_factory=dict)
    class_limits: tuple[Share, Share, Share] = (0.75, 0.5, 0.25)  # lower limits of S1, S2, S3
    plants: dict[str, dict[str, float | str]] = Field(default_factory=dict)  # overrides per plant
    rasters: list[str] = Field(default_factory=list)  # plants whose fit is written as a raster
    draws: Annotated[int, Field(ge=0, le=10_000)] = 0  # draws of the rasters' error; 0 = not asked
    confidence: Share | None = None  # a plan may ask that the class holds with this chance
