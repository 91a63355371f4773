"""What a planting lacks in a butterfly's year: bloom while adults fly, leaf while caterpillars eat."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import (
    bloom_months,
    broods,
    feeding_months,
    finds_leaves,
    flight_months,
    leaf_months,
    month_span_words,
    months_text,
    takes_nectar,
)


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
