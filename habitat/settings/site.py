"""What sun, soil and open ground go by."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from habitat.settings.base import Month, Positive, Section, Share


class SiteSettings(Section):
    """``[site]``: light through leafless crowns, setbacks, coarseness of what is measured."""

    leafless_light: Share = 0.5  # share of direct light through bare crowns; common practice 0.4-0.7
    leaf_on: tuple[Month, Month] = (5, 10)  # months with leaves on deciduous trees; common practice
    steep_deg: Annotated[float, Field(gt=0, le=90)] = 25.0  # steeper ground is not planted; judgement
    # "<what>.<growth form>" = metres
    setbacks: dict[str, Annotated[float, Field(ge=0)]] = Field(default_factory=dict)
    storey_m: Positive = 3.0  # height of a storey, where a building has no height_m; common practice
    building_height_m: Positive = 6.0  # of buildings with neither height nor storeys; judgement
    tree_height_m: Positive = 8.0  # of trees without height_m; judgement
    tree_crown_share: Positive = 0.6  # crown width as a share of height, for trees without crown_m; judgement
    observed_reach_m: Positive = 30.0  # how far counted sun hours correct their surroundings; judgement
    organic_matter_pct: Annotated[float, Field(ge=0, le=8)] = 2.5  # for the soil's water; SAXTON table 3
