"""Effort, money, wishes, heights and hazards of a planting plan."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from habitat.settings.base import Positive, Section


class PlantingSettings(Section):
    """``[planting]``: effort, money, wishes, heights and hazards."""

    effort: Literal["quick", "proven"] = "quick"
    plants: list[str] = Field(default_factory=list)  # empty: all in the tables
    exclude: list[str] = Field(default_factory=list)
    # butterflies; empty: those with a local record; without any, widespread ones, "if they live near you"
    wishes: list[str] = Field(default_factory=list)
    budget: Annotated[float, Field(ge=0)] = 250.0  # money per yard where the participant gives none
    currency: Annotated[str, Field(max_length=20)] = ""  # as prices and budgets are in: a word or a sign
    total_budget: Annotated[float, Field(ge=0)] | None = None  # for the whole group
    prices: dict[str, Annotated[float, Field(ge=0)]] = Field(default_factory=dict)  # seed, plug, pot, ...
    max_height_m: Positive | None = None
    front_max_height_m: Positive | None = None  # of what stands in the front third of a bed
    back_max_height_m: Positive | None = None  # of what stands in a bed at all
    avoid_hazards: list[str] = Field(default_factory=list)  # for every yard, beside what participants say
    allow_spreading: bool = False
    allow_falling_class: bool = False
    max_species_share: Annotated[float, Field(gt=0, le=1)] = 0.4
    clump_min: Annotated[int, Field(ge=1)] = 3
    bed_share_max: Annotated[float, Field(gt=0, le=1)] = 0.25  # of a yard's open ground; judgement
    year: Annotated[int, Field(ge=1, le=50)] = 5  # plan year in which crowns and leaf are counted
    enough_m2: Positive = 20.0  # leaf beyond this adds nothing for one butterfly in one yard; judgement
    nectar_reach_m: Positive = 50.0
    gap: Annotated[float, Field(ge=0, lt=1)] = 0.01  # effort "proven" stops here
    node_limit: Annotated[int, Field(ge=1)] = 2000
    phases: list[Annotated[float, Field(ge=0)]] = Field(default_factory=list)  # share of money by year
