"""Butterflies, reach, hops, and whom to invite."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from habitat.settings.base import Positive, Section, Share


class ConnectivitySettings(Section):
    """``[connectivity]``: butterflies, reach, hops, and whom to invite."""

    butterflies: list[str] = Field(default_factory=list)  # empty: the wishes
    weights: dict[str, Annotated[float, Field(ge=0)]] = Field(default_factory=dict)
    median_m: dict[str, Positive] = Field(default_factory=dict)  # overrides the table's median movement
    mean_m: dict[str, Positive] = Field(default_factory=dict)  # the same, stated as a mean
    five_percent_m: dict[str, Positive] = Field(default_factory=dict)  # the same: what 5 % exceed
    hop_max_m: dict[str, Positive] = Field(default_factory=dict)
    kernel: Literal["exponential", "fat_tailed"] = "exponential"
    distance: Literal["straight", "by ground"] = "straight"
    crossing_costs: str | None = None  # own table for distance = "by ground"
    ground_cell_m: Positive = 2.0  # cells of the crossing costs; judgement: gaps between houses stay open
    cut: Annotated[float, Field(gt=0, lt=0.1)] = 1e-4  # passages below this are neglected, and bounded
    anchor_host_share: Share = 0.1  # judgement
    invite: Annotated[int, Field(ge=0)] = 10
    invite_budget: Annotated[float, Field(ge=0)] | None = None  # both limits hold where both are given
    rank_draws: Annotated[int, Field(ge=0, le=1000)] = 10  # draws of reach and habitat to try the list on
    rounds: Annotated[int, Field(ge=1, le=3)] = 2
