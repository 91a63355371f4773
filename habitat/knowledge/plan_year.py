"""The year of a whole planting: all its butterflies against the bloom and leaf of its plants."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from habitat.knowledge.looks import winter_words
from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import (
    STAGES,
    bloom_months,
    broods,
    feeding_months,
    finds_leaves,
    flight_months,
    leaf_months,
    month_span_words,
    months_text,
    stages,
    takes_nectar,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

STAGE_NAMES = {"egg": "eggs", "larva": "caterpillars", "pupa": "chrysalises", "adult": "adults"}
STAGE_STYLE = {"egg": ("0.75", "."), "larva": ("0.45", "/"), "pupa": ("0.9", "x"), "adult": ("0.15", "")}
"""Grey and hatch of each stage, so that the figure reads in black and white."""


def plan_year(knowledge: Knowledge, butterflies: Sequence[str], plants: Sequence[str]) -> pd.DataFrame:
    """Return the year of a planting as bars: a row per butterfly and stage, and per plant in bloom.

    Returns
    -------
    DataFrame
        kind ("butterfly" or "plant"), name, common_name, what (egg, larva, pupa, adult or bloom), m1 .. m12
        (bool), months (text). Butterflies as given, then nectar plants by first month of bloom, then name.
    """
    rows: list[tuple[Any, ...]] = []
    for name in butterflies:
        about = knowledge.butterflies.loc[[name]].iloc[0]
        year = stages(about)
        rows += [
            ("butterfly", name, about["common_name"], stage, set(year.index[year[stage]])) for stage in STAGES
        ]
    bloomers = knowledge.plants.loc[list(dict.fromkeys(plants))]
    bloomers = bloomers[bloomers["nectar_value"] > 0].sort_values(["bloom_start_month", "scientific_name"])
    rows += [
        ("plant", name, row["common_name"], "bloom", set(bloom_months(row)))
        for name, row in bloomers.iterrows()
    ]
    table = [(*row[:4], *(month in row[4] for month in range(1, 13)), months_text(row[4])) for row in rows]
    columns = ["kind", "name", "common_name", "what", *(f"m{m}" for m in range(1, 13)), "months"]
    return pd.DataFrame(table, columns=columns)


def year_gaps(knowledge: Knowledge, butterflies: Sequence[str], plants: Sequence[str]) -> pd.DataFrame:
    """Return what a planting lacks in the year of each butterfly, a row per gap.

    Returns
    -------
    DataFrame
        butterfly, gap ("nectar" or "leaf"), brood (0 for nectar), months (text), when (by name). A brood
        lacks leaf if no host among the plants is in leaf for most of the time in which its caterpillars eat;
        numbers of plants are not asked here (see ``close_life_cycle``).
    """
    bloom: set[int] = set()
    for _, row in knowledge.plants.loc[list(dict.fromkeys(plants))].iterrows():
        bloom |= set(bloom_months(row)) if row["nectar_value"] > 0 else set()
    rows = []
    for name in butterflies:
        about = knowledge.butterflies.loc[[name]].iloc[0]
        dry = set(flight_months(about)) - bloom if takes_nectar(about) else set()
        if dry:
            rows.append((name, "nectar", 0, months_text(dry), month_span_words(dry)))
        hosts = [p for p in knowledge.hosts_of(name)["plant"] if p in set(plants)]
        leaf = [leaf_months(knowledge.plants.loc[[p]].iloc[0]) for p in hosts]
        rows += [
            (
                name,
                "leaf",
                brood.number,
                months_text(feeding_months(brood)),
                month_span_words(feeding_months(brood)),
            )
            for brood in broods(about)
            if not any(finds_leaves(brood, months) for months in leaf)
        ]
    return pd.DataFrame(rows, columns=["butterfly", "gap", "brood", "months", "when"])


def year_words(knowledge: Knowledge, butterflies: Sequence[str], plants: Sequence[str]) -> list[str]:
    """Return the gaps of a planting and what must be left over winter, in sentences."""
    name_of = knowledge.butterflies["common_name"].to_dict()
    out = []
    for gap in year_gaps(knowledge, butterflies, plants).itertuples():
        name = name_of[gap.butterfly]
        if gap.gap == "nectar":
            out.append(f"The {name} flies without nectar in bloom here: {gap.when}.")
        else:
            out.append(f"Brood {gap.brood} of the {name} finds no leaves here: {gap.when}.")
    return out + [winter_words(knowledge, name) for name in butterflies]


def draw_year(axes: Axes, table: pd.DataFrame) -> None:
    """Draw the year of a planting into axes: butterflies' stages above, bloom below, months across.

    Parameters
    ----------
    axes
        Empty axes; about 0.28 inch of height per row reads well.
    table
        As ``plan_year`` returns it.
    """
    labels = []
    for position, row in enumerate(table.itertuples()):
        grey, hatch = STAGE_STYLE.get(str(row.what), ("0.6", "\\"))
        months = [m for m in range(1, 13) if getattr(row, f"m{m}")]
        axes.broken_barh(
            [(m - 0.5, 1.0) for m in months],
            (position - 0.38, 0.76),
            facecolor=grey,
            hatch=hatch,
            edgecolor="0.3",
            linewidth=0.0,
        )
        labels.append(f"{row.common_name}: {STAGE_NAMES.get(str(row.what), row.what)}")
    axes.set_ylim(len(table) - 0.4, -0.6)
    axes.set_xlim(0.5, 12.5)
    axes.set_xticks(range(1, 13), list("JFMAMJJASOND"))
    axes.set_yticks(range(len(table)), labels)
    named = table["name"].where(table["kind"] == "butterfly", "plants")
    for edge in np.flatnonzero((named != named.shift())[1:]) + 1:
        heavy = named.iloc[edge] == "plants"
        axes.axhline(edge - 0.5, color="0.2", linewidth=1.2 if heavy else 0.4)
    axes.tick_params(length=0)
    axes.grid(axis="x", color="0.9", linewidth=0.5)
    axes.set_axisbelow(True)
