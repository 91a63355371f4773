"""How needs combine into a score, and what the classes mean."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from habitat.settings.base import Section, Share, setting


class SuitabilitySettings(Section):
    """``[suitability]``: how needs combine into a score, and what the classes mean."""

    combine: Literal["scarcest", "geometric", "square_root"] = setting(
        "scarcest",
        "The score of a place: that of the need met worst, the geometric mean of all, or the worst times the "
        "square root of the product of the others.",
        example="geometric",
    )
    weights: dict[str, Annotated[float, Field(ge=0)]] = setting(
        {}, "How much each need counts, by its name; 1 where nothing is said.", unit="weight",
        example={"ph": 0.5},
    )  # fmt: skip
    class_limits: tuple[Share, Share, Share] = setting(
        (0.75, 0.5, 0.25), "Lowest scores of the classes S1, S2 and S3.", unit="score, 0 to 1",
        example=[0.8, 0.6, 0.4],
    )  # fmt: skip
    plants: dict[str, dict[str, float | str]] = setting(
        {}, "Values that win over the plant table's, by plant and column, in the column's unit.",
        unit="as the column's", example={"swamp milkweed": {"ph_max": 7.5}},
    )  # fmt: skip
    rasters: list[str] = setting(
        [], "Plants whose fit is written as a raster.", example=["Asclepias incarnata"]
    )
    draws: Annotated[int, Field(ge=0, le=10_000)] = setting(
        0, "Draws of the rasters' errors, for how sure a class is; 0: not asked.", unit="draws", example=500
    )
    confidence: Share | None = setting(
        None, "A plan may ask that the class of a place holds with this chance; left out: it does not ask.",
        unit="probability", example=0.8,
    )  # fmt: skip
