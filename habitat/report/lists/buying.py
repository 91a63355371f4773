"""How many plants to buy for a plan: spares, trays and singles, and what all of it costs."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping

import pandas as pd

from habitat.planting.settled import PLANTED_IN
from habitat.planting.supply import SEEDS_A_M2, SOWN_SPACING_M

TRAY = 50
"""Plugs in a tray: common practice (32 to 72; ask the grower)."""

SINGLES = 24
"""Up to this many plugs beyond full trays (under half a tray) are bought singly: judgement."""

SPARE_SHARE = {"seed": 0.0, "plug": 0.1, "pot": 0.0, "bare root": 0.05}
"""Plants bought beyond the plan against losses in the first weeks, by form: common practice."""

KEYS = ["year", "plant", "common_name", "form"]


def sums(plantings: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    """Return count, cost and mean price of a plant, ``cost_each``, by some keys."""
    table = plantings.groupby(keys, sort=True, dropna=False).agg({"count": "sum", "cost": "sum"})
    table = table.reset_index()
    table["cost_each"] = (table["cost"] / table["count"].where(table["count"] > 0)).round(4)
    return table


def in_ground(plantings: pd.DataFrame) -> pd.Series[bool]:
    """Return which plantings are in the ground already, so that nobody buys or plants them again."""
    if PLANTED_IN not in plantings:
        return pd.Series(False, index=plantings.index)
    return plantings[PLANTED_IN].notna()


def to_buy(plantings: pd.DataFrame, shares: Mapping[tuple[str, str], float] | None = None) -> pd.DataFrame:
    """Return what a group buys for some plantings together, a row per KEYS.

    ``shares`` are spares of a plant and form by what lived before (``spare_shares``); others go by the form.
    Columns: KEYS, count, cost_each, spares, to_buy, trays, singles, cost (``to_buy`` x ``cost_each``).
    """
    table = sums(plantings, KEYS)
    wanted = zip(table["count"], table["form"], table["plant"], strict=True)
    seen = shares or {}
    buying = [how_to_buy(int(n), form, seen.get((plant, form))) for n, form, plant in wanted]
    for column in ("spares", "to_buy", "trays", "singles"):
        table[column] = [row[column] for row in buying]
    table["cost"] = (table["cost_each"] * table["to_buy"]).round(2)
    return table


def cost_to_buy(
    plantings: pd.DataFrame,
    yards: Collection[str],
    shares: Mapping[tuple[str, str], float] | None = None,
) -> float:
    """Return what plants, spares and full trays cost that a group buys for some yards together."""
    plantings = plantings[~in_ground(plantings)]
    mine = pd.DataFrame(plantings.drop(columns="geometry", errors="ignore"))
    mine = mine[mine["yard_id"].isin(list(yards))] if len(mine) else mine
    return float(to_buy(mine, shares)["cost"].sum()) if len(mine) else 0.0


def how_to_buy(count: int, form: str, spare_share: float | None = None) -> dict[str, int]:
    """Return spares, plants to buy, and full trays and singles of it.

    ``spare_share`` is what the group's own counts ask for (``spare_shares``); None goes by the form.

    Examples
    --------
    >>> how_to_buy(30, "plug")
    {'spares': 3, 'to_buy': 50, 'trays': 1, 'singles': 0}
    >>> how_to_buy(100, "plug")
    {'spares': 10, 'to_buy': 110, 'trays': 2, 'singles': 10}
    >>> how_to_buy(3, "pot")["singles"], how_to_buy(3, "seed")["singles"]  # seed comes in packets
    (3, 0)
    """
    share = SPARE_SHARE.get(form, 0.0) if spare_share is None else spare_share
    spares = math.ceil(count * share - 1e-9)
    buy = count + spares
    if form != "plug":
        return {"spares": spares, "to_buy": buy, "trays": 0, "singles": 0 if form == "seed" else buy}
    trays, singles = divmod(buy, TRAY)
    if singles > SINGLES:
        trays, singles = trays + 1, 0
    return {"spares": spares, "to_buy": trays * TRAY + singles, "trays": trays, "singles": singles}


def seed_grams(plants: float, spacing_m: float, seeds_a_gram: float) -> float:
    """Return the pure live seed [g] that sows the ground of some plants, losses included.

    Parameters
    ----------
    plants
        How many are to stand in the end.
    spacing_m
        Their spacing; the ground of each is that of a triangular lattice.
    seeds_a_gram
        As ``seeds_per_gram`` returns it.

    Notes
    -----
    430 pure live seeds a square metre (``SEEDS_A_M2``), of which 5 to 10 % come up (Williams et al. 2007).

    Examples
    --------
    A square metre of big bluestem, 318 seeds a gram: 430 / 318 g.

    >>> round(seed_grams(12.83, 0.3, 318.0), 2)
    1.35
    """
    ground = plants * math.sqrt(0.75) * max(spacing_m, SOWN_SPACING_M) ** 2
    return float(SEEDS_A_M2 * ground / seeds_a_gram)
