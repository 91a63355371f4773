"""How many plants lived in the group's yards, beside what is published."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from habitat.planting.years.survival import ENOUGH_CASES, PUBLISHED, SEVEN_YEARS, observed
from habitat.report.plan import Plan
from habitat.report.words.text import csv_cell

COLUMNS = (
    "plant", "common_name", "form", "ground", "planted", "alive", "share", "low", "high", "published_low",
    "published_high", "published_source", "used",
)  # fmt: skip
"""Shares are 0 to 1; low and high bound the share at 95 % (Wilson 1927)."""


def write_survival(plan: Plan, path: Path) -> Path:
    """Write survival.csv: UTF-8 with a byte order mark, text quoted against formulas."""
    table = survival_table(plan).map(csv_cell)
    path.write_text(table.to_csv(index=False, lineterminator="\r\n"), encoding="utf-8-sig", newline="")
    return path


def survival_table(plan: Plan) -> pd.DataFrame:
    """Return a row per plant, form and kind of ground with cases, COLUMNS; empty before the first season."""
    if plan.carried is None:
        return pd.DataFrame(columns=list(COLUMNS))
    table = observed(plan.carried.survival)
    published = [PUBLISHED.get(str(form)) for form in table["form"]]
    table["common_name"] = table["plant"].map(plan.knowledge.plants["common_name"])
    table[["share", "low", "high"]] = table[["share", "low", "high"]].astype(float).round(3)
    table["published_low"] = [None if p is None else p[0] for p in published]
    table["published_high"] = [None if p is None else p[1] for p in published]
    long = f"after seven years without weeding {SEVEN_YEARS}: Restoration Ecology 2006"
    table["published_source"] = [
        f"none for this form; {long}" if p is None else f"{p[2]}; {long}" for p in published
    ]
    table["used"] = [
        "yes: numbers to order and replacements"
        if n >= ENOUGH_CASES
        else f"no: fewer than {ENOUGH_CASES} cases"
        for n in table["planted"]
    ]
    return table[list(COLUMNS)]
