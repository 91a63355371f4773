"""Effort, money, wishes, heights and hazards of a planting plan."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from habitat.settings.base import Positive, Section, setting

Money = Annotated[float, Field(ge=0)]


class PlantingSettings(Section):
    """``[planting]``: effort, money, wishes, heights and hazards of the plants that may be chosen."""

    effort: Literal["quick", "proven"] = setting(
        "quick", "How hard the best choice of plants is sought: proven goes on to within gap of it.",
        example="proven",
    )  # fmt: skip
    plants: list[str] = setting(
        [], "Plants to choose among, by any of their names; empty: all in the tables.",
        example=["swamp milkweed", "Zizia aurea"],
    )  # fmt: skip
    exclude: list[str] = setting([], "Plants that no plan uses.", example=["common milkweed"])
    kind_yards_max: Annotated[float, Field(gt=0, le=1)] = setting(
        0.5,
        "Most of the yards in which one kind may stand, kinds of the ground layer apart; in four yards every "
        "kind may (judgement).",
        unit="share, 0 to 1",
        example=0.3,
    )
    caps: dict[str, Annotated[float, Field(ge=0, le=1)]] = setting(
        {}, "The same for single kinds, by any of their names: 1 anywhere, 0 nowhere.",
        unit="share, 0 to 1", example={"eastern redcedar": 0.2},
    )  # fmt: skip
    favoured: list[str] = setting(
        [], "Plants that the group would spread: where they suit, they are taken before like ones.",
        example=["purple milkweed"],
    )  # fmt: skip
    wishes: list[str] = setting(
        [],
        "Butterflies to plan for. Empty: those with a local record; without any, widespread ones, "
        '"if they live near you".',
        example=["monarch", "black swallowtail"],
    )
    budget: Money = setting(
        250.0, "Money for a yard whose participant names none.", unit="money per yard", example=150
    )
    currency: Annotated[str, Field(max_length=20)] = setting(
        "", "What prices and budgets are in, a word or a sign; nothing is ever converted.", example="dollars"
    )
    total_budget: Money | None = setting(
        None, "Money of the whole group, for those who take part; left out: only the yards' own limits hold.",
        unit="money",
        example=5000,
    )  # fmt: skip
    prices: dict[str, Money] = setting(
        {},
        "Prices that win over ours, by form (seed, plug, pot, bare root), or by growth form and form.",
        unit="money per plant",
        example={"plug": 3.5, "shrub.pot": 30},
    )
    support_prices: dict[str, Money] = setting(
        {}, "Prices that win over ours, of what holds a vine: trellis, tall trellis, arbor.",
        unit="money apiece", example={"trellis": 25, "arbor": 90},
    )  # fmt: skip
    max_height_m: Positive | None = setting(
        None, "Nothing taller is planted; left out: no limit.", unit="m", example=1.8
    )
    front_max_height_m: Positive | None = setting(
        None, "Nothing taller stands in the front third of a bed, by the lawn or path.", unit="m", example=0.6
    )
    back_max_height_m: Positive | None = setting(
        None, "Nothing taller stands in a bed at all.", unit="m", example=1.5
    )
    avoid_hazards: list[str] = setting(
        [],
        "Hazards kept out of every yard, beside what participants say: toxic_if_eaten, skin_irritant, "
        "thorns, toxic_to_pets.",
        example=["toxic_to_pets"],
    )
    allow_spreading: bool = setting(
        False, "Whether plants that spread may stand where nothing around a bed holds them.", example=True
    )
    allow_not_native: list[str] = setting(
        [],
        "Plants that may be used though they are not recorded native in the state; all for every one.",
        example=["Passiflora incarnata"],
    )
    everyone: bool = setting(
        False,
        "Whether yards that nobody signed up are planned too, as members; those that said no are not.",
        example=True,
    )
    allow_falling_class: bool = setting(
        False,
        "Whether plants stay that the plan's own trees will shade by a class; it is told.",
        example=True,
    )
    max_species_share: Annotated[float, Field(gt=0, le=1)] = setting(
        0.4, "Most of a yard's planted ground that one kind may take.", unit="share, 0 to 1", example=0.3
    )
    clump_min: Annotated[int, Field(ge=1)] = setting(
        3, "Fewest herbs of a kind that stand together.", unit="plants", example=5
    )
    bed_share_max: Annotated[float, Field(gt=0, le=1)] = setting(
        0.25,
        "Most of a yard's open ground that becomes beds (judgement); 1: all of it is bed as it lies.",
        unit="share, 0 to 1",
        example=0.15,
    )
    hours_a_month: Annotated[float, Field(ge=0)] = setting(
        2.0,
        "Hours that a household has for its beds in the months of growth, where it names none; they "
        "bound their ground (0.1 to 0.25 hours a square metre and year at first: memory).",
        unit="hours a month",
        example=4,
    )
    bed_m2: Positive | None = setting(
        None, "Most ground of beds in a yard; left out: only bed_share_max and the care bound it.", unit="m2",
        example=20,
    )  # fmt: skip
    look: Literal["tidy", "between", "meadow"] = setting(
        "between", "How beds are to look where the participant says nothing.", example="tidy"
    )
    bed_rules: dict[str, Annotated[float, Field(ge=0)]] = setting(
        {},
        "Numbers that beds are put together by, over those of the look: structure_share, ground_share, "
        "season_kinds, yard_kinds, low_m, height_to_width ... (planting/communities/rules.py has all, "
        "with sources).",
        unit="shares 0 to 1, m, m2, or counts",
        example={"ground_share": 0.5, "season_kinds": 4},
    )
    trees_max: Annotated[int, Field(ge=0)] = setting(
        2, "Most new trees in a yard (judgement).", unit="trees", example=1
    )
    large_trees_max: Annotated[int, Field(ge=0)] = setting(
        1, "Most of them that grow taller than a small tree of 9.1 m (judgement).", unit="trees", example=0
    )
    year: Annotated[int, Field(ge=1, le=50)] = setting(
        5, "Plan year in which crowns and leaf are counted.", unit="years", example=3
    )
    enough_m2: Positive = setting(
        20.0, "Leaf beyond this adds nothing for one butterfly in one yard (judgement).", unit="m2 of leaf",
        example=10,
    )  # fmt: skip
    nectar_reach_m: Positive = setting(
        50.0, "How far from leaf nectar still counts for a butterfly.", unit="m", example=100
    )
    gap: Annotated[float, Field(ge=0, lt=1)] = setting(
        0.01, "Effort proven stops once the choice is this near to the best.", unit="share, 0 to 1",
        example=0.05,
    )  # fmt: skip
    node_limit: Annotated[int, Field(ge=1)] = setting(
        2000, "Effort proven stops after so many nodes of the search, whatever its gap.", unit="nodes",
        example=500,
    )  # fmt: skip
    phases: list[Annotated[float, Field(ge=0)]] = setting(
        [],
        "Share of the money to spend in each plan year, adding up to 1; empty: all in the first.",
        unit="share, 0 to 1",
        example=[0.5, 0.3, 0.2],
    )
