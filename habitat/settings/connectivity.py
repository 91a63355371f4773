"""Butterflies, reach, hops, and whom to invite."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from habitat.settings.base import Positive, Section, Share, setting


class ConnectivitySettings(Section):
    """``[connectivity]``: butterflies, their reach, the longest hop, and how many to invite."""

    butterflies: list[str] = setting(
        [],
        "Butterflies of the corridor; empty: those of planting.wishes.",
        example=["monarch"],
    )
    weights: dict[str, Annotated[float, Field(ge=0)]] = setting(
        {}, "How much each butterfly counts in the joint score; 1 where nothing is said.", unit="weight",
        example={"monarch": 2},
    )  # fmt: skip
    median_m: dict[str, Positive] = setting(
        {}, "Distance that half of a butterfly's movements exceed, in place of the tables'.", unit="m",
        example={"pearl crescent": 250},
    )  # fmt: skip
    mean_m: dict[str, Positive] = setting(
        {}, "The same, stated as the mean distance.", unit="m", example={"pearl crescent": 360}
    )
    five_percent_m: dict[str, Positive] = setting(
        {}, "The same, stated as the distance that 5 of 100 movements exceed.", unit="m",
        example={"pearl crescent": 1080},
    )  # fmt: skip
    hop_max_m: dict[str, Positive] = setting(
        {}, "Longest single hop of a butterfly; left out: the tables'.", unit="m",
        example={"pearl crescent": 500},
    )  # fmt: skip
    kernel: Literal["exponential", "fat_tailed"] = setting(
        "exponential", "How movements thin out: fat_tailed if a few get much farther than most.",
        example="fat_tailed",
    )  # fmt: skip
    distance: Literal["straight", "by ground"] = setting(
        "straight",
        "Straight, or by what the ground between hinders (takes longer).",
        example="by ground",
    )
    crossing_costs: str | None = setting(
        None, 'Own table of crossing costs (CSV) for distance = "by ground"; left out: ours.',
        example="crossing_costs.csv",
    )  # fmt: skip
    ground_cell_m: Positive = setting(
        2.0, "Side of the cells of the crossing costs (judgement: gaps between houses stay open).", unit="m",
        example=1,
    )  # fmt: skip
    cut: Annotated[float, Field(gt=0, lt=0.1)] = setting(
        1e-4, "Passages less likely than this are neglected; what that can cost is bounded and told.",
        unit="probability", example=0.001,
    )  # fmt: skip
    anchor_host_share: Share = setting(
        0.1, "Leaf of hosts as a share of an anchor's ground, where the layer says nothing (judgement).",
        unit="share, 0 to 1", example=0.05,
    )  # fmt: skip
    candidates: Literal["sheet", "all"] = setting(
        "all",
        "Who may be asked, where there is a sign-up sheet: also all within reach that are not on it and have "
        "open ground, or only yards that it marks as candidates.",
        example="sheet",
    )
    where: dict[str, list[str]] = setting(
        {}, 'With candidates = "all": only yards whose parcel has one of these words in a column (a zone, an '
        "owner who lives there); blank cells do not pass.",
        example={"OCCUPANCY": ["owner"]},
    )  # fmt: skip
    where_least: dict[str, float] = setting(
        {}, "The same for a column of numbers: this or more.", unit="the column's own", example={"ACRES": 0.1}
    )
    where_most: dict[str, float] = setting(
        {}, "The same: this or less.", unit="the column's own", example={"ACRES": 2}
    )
    plan_at_most: Annotated[int, Field(ge=0, le=2000)] = setting(
        200, 'With candidates = "all": so many of them get a plan, the best by estimate.',
        unit="yards", example=50,
    )  # fmt: skip
    invite: Annotated[int, Field(ge=0)] = setting(
        10, "How many neighbours to suggest asking next.", unit="yards", example=5
    )
    invite_budget: Annotated[float, Field(ge=0)] | None = setting(
        None,
        "Money for the yards to ask; both limits hold where both are given.",
        unit="money",
        example=2000,
    )
    rank_by: Literal["door", "money", "plant"] = setting(
        "door", "What the list of invitations goes by: what is gained in all, per money of each plan, or per "
        "plant of it.",
        example="money",
    )  # fmt: skip
    spread: bool = setting(
        False, "Whether to double the linked ground of any butterfly counts the same, so that invitations "
        "are spread over butterflies and those with least come first.",
        example=True,
    )  # fmt: skip
    rank_draws: Annotated[int, Field(ge=0, le=1000)] = setting(
        10, "Draws of reach and habitat to try the list of invitations on; 0: none.", unit="draws", example=50
    )
    rounds: Annotated[int, Field(ge=1, le=3)] = setting(
        2, "Rounds between planting and corridor: what each yard plants goes by what its neighbours hold.",
        unit="rounds", example=1,
    )  # fmt: skip
