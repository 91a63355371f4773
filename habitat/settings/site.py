"""What sun, soil and open ground go by."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from habitat.settings.base import Month, Positive, Section, Share, setting


class SiteSettings(Section):
    """``[site]``: light through leafless crowns, setbacks, coarseness of what is measured."""

    leafless_light: Share = setting(
        0.5, "Direct light that passes bare crowns (common practice: 0.4 to 0.7).", unit="share, 0 to 1",
        example=0.6,
    )  # fmt: skip
    leaf_on: tuple[Month, Month] = setting(
        (5, 10), "First and last month with leaves on trees (common practice).", unit="months, 1 to 12",
        example=[4, 11],
    )  # fmt: skip
    steep_deg: Annotated[float, Field(gt=0, le=90)] = setting(
        25.0, "Steeper ground is not planted (judgement).", unit="degrees", example=20
    )
    setbacks: dict[str, Annotated[float, Field(ge=0)]] = setting(
        {},
        "How far plants stay from things, by thing and growth form (herb, shrub, tree; all for every one). "
        "Local codes and the owners of lines come first.",
        unit="m",
        example={"building.tree": 4, "paving.all": 0.3},
    )
    storey_m: Positive = setting(
        3.0, "Height of a storey of buildings without height_m (common practice).", unit="m", example=2.7
    )
    building_height_m: Positive = setting(
        6.0, "Height of buildings with neither height_m nor storeys (judgement).", unit="m", example=5
    )
    tree_height_m: Positive = setting(
        8.0, "Height of trees without height_m (judgement).", unit="m", example=12
    )
    tree_crown_share: Positive = setting(
        0.6, "Width of crowns without crown_m, for each metre of height (judgement).", unit="m per m",
        example=0.5,
    )  # fmt: skip
    observed_reach_m: Positive = setting(
        30.0, "How far counted sun hours correct their surroundings (judgement).", unit="m", example=15
    )
    organic_matter_pct: Annotated[float, Field(ge=0, le=8)] = setting(
        2.5, "Organic matter of the soil, for the water it holds (Saxton and Rawls 2006, table 3).",
        unit="% of weight", example=4,
    )  # fmt: skip
