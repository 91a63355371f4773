"""What to buy: for the whole group and per yard, with trays, spares, substitutes and seed windows."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pandas as pd

from habitat.knowledge import resolve_plants
from habitat.planting.prices import Offer
from habitat.report.joined import planting_yards
from habitat.report.plan import Plan
from habitat.report.rows import each_row, row_of
from habitat.report.substitutes import Substitutes, grower_offers
from habitat.report.words import counted, csv_cell, listed, month_set, month_words

TRAY = 50
"""Plugs in a tray: common practice (32 to 72; ask the grower)."""

SINGLES = 24
"""Up to this many plugs beyond full trays (under half a tray) are bought singly: judgement."""

SPARE_SHARE = {"seed": 0.0, "plug": 0.1, "pot": 0.0, "bare root": 0.05}
"""Plants bought beyond the plan against losses in the first weeks, by form: common practice."""

NO_SUBSTITUTE = "none found"

SEED_NOTE = ", only with the landowner's leave and never of protected plants"

COLUMNS = [
    "list",
    "yard_id",
    "year",
    "plant",
    "common_name",
    "form",
    "count",
    "spares",
    "to_buy",
    "trays",
    "singles",
    "cost_each",
    "cost",
    "butterflies",
    "growers",
    "substitutes",
    "seed_collecting",
    "note",
]
COULD_JOIN = "yard that could join"
"""List of the plants of yards that take no part yet."""

KEYS = ["year", "plant", "common_name", "form"]


def write_shopping(plan: Plan, path: Path) -> Path:
    """Write shopping.csv: what the whole group buys, then what each yard gets, then what yet others would.

    Text is quoted so that no spreadsheet takes it for a formula; UTF-8 with a byte order mark, so that
    spreadsheets read accents right.
    """
    table = shopping_table(plan).map(csv_cell)
    path.write_text(table.to_csv(index=False, lineterminator="\r\n"), encoding="utf-8-sig", newline="")
    return path


def shopping_table(plan: Plan) -> pd.DataFrame:
    """Return what to buy, columns COLUMNS: rows of list "whole group" first, then of list "yard".

    The group buys for the yards that take part; what the others are planned to grow follows as list "yard
    that could join" and is in no sum of the group's. ``to_buy`` is ``count`` and spares, plugs rounded up to
    full trays where few singles would be left; for yards it is their plants without spares, since spares are
    bought for the group. ``cost`` is ``to_buy`` x ``cost_each``.
    """
    plantings = pd.DataFrame(plan.plantings.drop(columns="geometry", errors="ignore"))
    if plantings.empty:
        return pd.DataFrame(columns=COLUMNS)
    planted = plantings["yard_id"].isin(planting_yards(plan))
    tables = [_group(plan, plantings[planted]), _yards(plan, plantings[planted], "yard")]
    if not planted.all():
        tables.append(_yards(plan, plantings[~planted], COULD_JOIN))
    return pd.concat(tables, ignore_index=True)[COLUMNS]


def _sums(plantings: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    table = plantings.groupby(keys, sort=True, dropna=False).agg({"count": "sum", "cost": "sum"})
    table = table.reset_index()
    table["cost_each"] = (table["cost"] / table["count"].where(table["count"] > 0)).round(4)
    return table


def _group(plan: Plan, plantings: pd.DataFrame) -> pd.DataFrame:
    table = _sums(plantings, KEYS)
    buying = [how_to_buy(int(n), form) for n, form in zip(table["count"], table["form"], strict=True)]
    for column in ("spares", "to_buy", "trays", "singles"):
        table[column] = [row[column] for row in buying]
    table["cost"] = (table["cost_each"] * table["to_buy"]).round(2)
    instead, eaters = Substitutes(plan), _eaters(plan)
    table["butterflies"] = [listed(eaters.get(p, [])) for p in table["plant"]]
    table["substitutes"] = [
        "; ".join(_both(plan, s) for s in instead.of(p)) or NO_SUBSTITUTE for p in table["plant"]
    ]
    table["seed_collecting"] = [_seed(plan, p) for p in table["plant"]]
    offers = None if plan.layers.frame("growers") is None else grower_offers(plan)
    months = _months(plan)
    growers = [_growers(offers, months, row) for row in each_row(table)]
    table["growers"], table["note"] = [g[0] for g in growers], [g[1] for g in growers]
    table["list"], table["yard_id"] = "whole group", ""
    return table


def _yards(plan: Plan, plantings: pd.DataFrame, which: str) -> pd.DataFrame:
    order = {y: k for k, y in enumerate(plan.yards["yard_id"])}
    table = _sums(plantings, ["yard_id", *KEYS])
    table = table.sort_values("yard_id", key=lambda s: s.map(order), kind="stable")
    eaters = _eaters(plan)
    table["butterflies"] = [listed(eaters.get(p, [])) for p in table["plant"]]
    table["to_buy"] = table["count"]
    table["list"] = which
    for column in ("spares", "trays", "singles"):
        table[column] = 0
    for column in ("growers", "substitutes", "seed_collecting", "note"):
        table[column] = ""
    return table


def how_to_buy(count: int, form: str) -> dict[str, int]:
    """Return spares, plants to buy, and full trays and singles of it.

    Examples
    --------
    >>> how_to_buy(30, "plug")
    {'spares': 3, 'to_buy': 50, 'trays': 1, 'singles': 0}
    >>> how_to_buy(100, "plug")
    {'spares': 10, 'to_buy': 110, 'trays': 2, 'singles': 10}
    >>> how_to_buy(3, "pot")
    {'spares': 0, 'to_buy': 3, 'trays': 0, 'singles': 3}
    """
    spares = math.ceil(count * SPARE_SHARE.get(form, 0.0) - 1e-9)
    buy = count + spares
    if form != "plug":
        return {"spares": spares, "to_buy": buy, "trays": 0, "singles": buy}
    trays, singles = divmod(buy, TRAY)
    if singles > SINGLES:
        trays, singles = trays + 1, 0
    return {"spares": spares, "to_buy": trays * TRAY + singles, "trays": trays, "singles": singles}


def _eaters(plan: Plan) -> dict[str, list[str]]:
    """Return common names of the butterflies of this plan by host plant."""
    hosts = plan.knowledge.host_plants
    wishes = set(plan.yard_butterflies["butterfly"])
    names = plan.knowledge.butterflies["common_name"]
    out: dict[str, list[str]] = {}
    for row in each_row(hosts[hosts["butterfly"].isin(wishes)]):
        out.setdefault(row.plant, []).append(str(names.get(row.butterfly, row.butterfly)))
    return {plant: sorted(set(eaters)) for plant, eaters in out.items()}


def _both(plan: Plan, plant: str) -> str:
    return f"{row_of(plan.knowledge.plants, plant)['common_name']} ({plant})"


def _seed(plan: Plan, plant: str) -> str:
    """Return when seed can be gathered, and how long it must lie cold and moist before it grows."""
    if plant not in plan.knowledge.plants.index:
        return ""
    row: pd.Series[Any] = row_of(plan.knowledge.plants, plant)
    if pd.isna(row["seed_collect_start_month"]) or "seed" not in str(row["propagation"]):
        return ""
    months = month_set(f"{row['seed_collect_start_month']:.0f}-{row['seed_collect_end_month']:.0f}")
    days = row["cold_stratification_days"]
    cold = f"; keep moist and cold for {days:.0f} days" if pd.notna(days) and days > 0 else ""
    when = month_words(months, short=True)
    return f"{when}{SEED_NOTE}{cold}"


def _growers(offers: dict[str, Offer] | None, months: dict[str, str], row: Any) -> tuple[str, str]:
    """Return what the growers' list says of a plant, and a warning if it is short."""
    if offers is None:
        return "", ""
    offer = offers.get(row.plant)
    if offer is None or offer.form != row.form:
        return "not on the list", "not on the growers' list: ask early"
    when = f", {months[row.plant]}" if months.get(row.plant) else ""
    if math.isinf(offer.stock):
        return f"on the list{when}", ""
    short = int(row.to_buy) - int(offer.stock)
    instead = ", or take a substitute" if row.substitutes != NO_SUBSTITUTE else ""
    told = f"{counted(short, 'plant')} short: order early{instead}" if short > 0 else ""
    return f"{offer.stock:,.0f} in stock{when}", told


def _months(plan: Plan) -> dict[str, str]:
    """Return the months in which growers sell each plant, in words."""
    growers = plan.layers.frame("growers")
    if growers is None or "months" not in growers:
        return {}
    matches = resolve_plants([str(p) for p in growers["plant"]], plan.knowledge)
    found: dict[str, set[int]] = {}
    for text, match in zip(growers["months"], matches, strict=True):
        if match.accepted is not None:
            found.setdefault(match.accepted, set()).update(month_set(str(text)))
    return {plant: month_words(months, short=True) for plant, months in found.items()}
