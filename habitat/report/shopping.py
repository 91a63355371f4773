"""What to buy: for the whole group and per yard, with trays, spares, substitutes and seed windows."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pandas as pd

from habitat.report.plan import Plan
from habitat.report.rows import each_row, row_of
from habitat.report.substitutes import Substitutes
from habitat.report.words import counted, csv_cell, listed, month_set, month_words

TRAY = 50
"""Plugs in a tray: common practice (32 to 72; ask the grower)."""

SINGLES = 24
"""Up to this many plugs beyond full trays (under half a tray) are bought singly: judgement."""

SPARE_SHARE = {"seed": 0.0, "plug": 0.1, "pot": 0.0, "bare root": 0.05}
"""Plants bought beyond the plan against losses in the first weeks, by form: common practice."""

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
KEYS = ["year", "plant", "common_name", "form"]


def write_shopping(plan: Plan, path: Path) -> Path:
    """Write shopping.csv: first what the whole group buys, then what each yard gets.

    Text is quoted so that no spreadsheet takes it for a formula; UTF-8 with a byte order mark, so that
    spreadsheets read accents right.
    """
    table = shopping_table(plan).map(csv_cell)
    path.write_text(table.to_csv(index=False, lineterminator="\r\n"), encoding="utf-8-sig", newline="")
    return path


def shopping_table(plan: Plan) -> pd.DataFrame:
    """Return what to buy, columns COLUMNS: rows of list "whole group" first, then of list "yard".

    ``to_buy`` is ``count`` and spares, plugs rounded up to full trays where few singles would be left;
    for yards it is their plants without spares, since spares are bought for the group. ``cost`` is
    ``to_buy`` x ``cost_each``.
    """
    plantings = pd.DataFrame(plan.plantings.drop(columns="geometry", errors="ignore"))
    if plantings.empty:
        return pd.DataFrame(columns=COLUMNS)
    return pd.concat([_group(plan, plantings), _yards(plan, plantings)], ignore_index=True)[COLUMNS]


def _sums(plantings: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    table = plantings.groupby(keys, sort=True, dropna=False).agg({"count": "sum", "cost": "sum"})
    table = table.reset_index()
    table["cost_each"] = table["cost"] / table["count"].where(table["count"] > 0)
    return table


def _group(plan: Plan, plantings: pd.DataFrame) -> pd.DataFrame:
    table = _sums(plantings, KEYS)
    buying = [how_to_buy(int(n), form) for n, form in zip(table["count"], table["form"], strict=True)]
    for column in ("spares", "to_buy", "trays", "singles"):
        table[column] = [row[column] for row in buying]
    table["cost"] = table["cost_each"] * table["to_buy"]
    instead, eaters = Substitutes(plan), _eaters(plan)
    table["butterflies"] = [listed(eaters.get(p, [])) for p in table["plant"]]
    table["substitutes"] = [
        "; ".join(_both(plan, s) for s in instead.of(p)) or "none found" for p in table["plant"]
    ]
    table["seed_collecting"] = [_seed(plan, p) for p in table["plant"]]
    growers = [_growers(plan, r.plant, r.form, int(r.to_buy)) for r in each_row(table)]
    table["growers"], table["note"] = [g[0] for g in growers], [g[1] for g in growers]
    table["list"], table["yard_id"] = "whole group", ""
    return table


def _yards(plan: Plan, plantings: pd.DataFrame) -> pd.DataFrame:
    order = {y: k for k, y in enumerate(plan.yards["yard_id"])}
    table = _sums(plantings, ["yard_id", *KEYS])
    table = table.sort_values("yard_id", key=lambda s: s.map(order), kind="stable")
    eaters = _eaters(plan)
    table["butterflies"] = [listed(eaters.get(p, [])) for p in table["plant"]]
    table["to_buy"] = table["count"]
    table["list"] = "yard"
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
    return f"{when}, only with the landowner's leave and never of protected plants{cold}"


def _growers(plan: Plan, plant: str, form: str, wanted: int) -> tuple[str, str]:
    """Return what the growers' list says of a plant, and a warning if it is short."""
    growers = plan.layers.frame("growers")
    if growers is None or "plant" not in growers or "form" not in growers:
        return "", ""
    mine = growers[(growers["plant"] == plant) & (growers["form"] == form)]
    if mine.empty:
        return "not on the list", "not on the growers' list: ask early, or take a substitute"
    months = listed([str(m) for m in mine.get("months", pd.Series(dtype=str)).dropna().unique()])
    stock = pd.to_numeric(mine.get("quantity", pd.Series(dtype=float)), errors="coerce")
    when = f", {month_words(month_set(months), short=True)}" if month_set(months) else ""
    if stock.isna().any() or stock.empty:
        return f"on the list{when}", ""
    short = wanted - int(stock.sum())
    told = f"{counted(short, 'plant')} short: order early, or take a substitute" if short > 0 else ""
    return f"{stock.sum():,.0f} in stock{when}", told
