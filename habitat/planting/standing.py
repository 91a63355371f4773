"""What grows in a yard already, as the program needs it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.knowledge.broods import brood_need
from habitat.knowledge.tables import Knowledge
from habitat.planting.facts import Facts, month_bits
from habitat.planting.levels import gives_bark, gives_stems, nectar_months
from habitat.planting.problem import Standing


@dataclass(frozen=True, slots=True)
class StandingFacts:
    """All plants of the tables, planned with or not, as arrays (N,); ``preference`` is (B, N)."""

    order: dict[str, int]
    preference: NDArray[np.float64]
    need: NDArray[np.float64]
    months: NDArray[np.int64]
    stems: NDArray[np.bool_]
    bark: NDArray[np.bool_]


def read_standing_facts(knowledge: Knowledge, facts: Facts) -> StandingFacts:
    """Return what standing plants of any kind give."""
    names = list(knowledge.plants.index)
    order = {name: i for i, name in enumerate(names)}
    preference = np.zeros((len(facts.butterflies), len(names)))
    for b, butterfly in enumerate(facts.butterflies):
        hosts = knowledge.hosts_of(butterfly)
        for plant, worth in zip(hosts["plant"], hosts["preference"], strict=True):
            preference[b, order[plant]] = worth
    return StandingFacts(
        order,
        preference,
        np.array([brood_need(knowledge, n).plants for n in names], float),
        np.array([month_bits(nectar_months(n, knowledge)) & facts.season_mask for n in names], np.int64),
        np.array([gives_stems(n, knowledge) for n in names], bool),
        np.array([gives_bark(n, knowledge) for n in names], bool),
    )


def standing_plants(rows: pd.DataFrame, facts: StandingFacts, *, sprayed: bool) -> Standing:
    """Return leaf, share of a brood's need, months in bloom and winter places of standing plants.

    Leaf is crown area x fit at the plant x preference; a sprayed yard's leaf feeds nobody.

    Parameters
    ----------
    rows
        The yard's rows of ``existing_plants`` with a column ``fit`` [0-1].
    """
    known = rows[rows["plant"].notna()]
    kind = np.array([facts.order[name] for name in known["plant"]], np.int64)
    crowns = np.nan_to_num(known["crown_m2"].to_numpy(float)) * known["fit"].fillna(1.0).to_numpy(float)
    count = known["count"].to_numpy(float)
    worth = facts.preference[:, kind] * (0.0 if sprayed else 1.0)
    return Standing(
        leaf_m2=worth @ crowns,
        fed=worth @ (count / facts.need[kind]),
        months=int(np.bitwise_or.reduce(facts.months[kind])) if len(kind) else 0,
        plants=frozenset(str(name) for name in known["plant"]),
        stems=bool(facts.stems[kind].any()),
        bark=bool(facts.bark[kind].any()),
    )
