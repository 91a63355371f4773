"""Blocks of neighbours to ask in one go: a row per door, and what all doors of a block add together."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from habitat.report.plan import Plan
from habitat.report.rows import each_row
from habitat.report.sheets.facts import addresses, street_order
from habitat.report.words.figures import gain_words
from habitat.report.words.numbers import Units
from habitat.report.words.text import csv_cell, plain

COLUMNS = ["block", "address", "yard_id", "cost", "plants", "block_adds"]


def write_blocks(plan: Plan, path: Path) -> Path:
    """Write blocks-to-ask.csv: UTF-8 with a byte order mark, text quoted against formulas."""
    table = block_table(plan).astype(object).map(csv_cell, na_action="ignore")
    path.write_text(table.to_csv(index=False, lineterminator="\r\n"), encoding="utf-8-sig", newline="")
    return path


def block_table(plan: Plan) -> pd.DataFrame:
    """Return a row per door of each block, columns COLUMNS: the best block first, doors in street order."""
    if plan.blocks is None or not len(plan.blocks):
        return pd.DataFrame(columns=COLUMNS)
    units, lived = Units(plan.study.report.units), addresses(plan)
    place = {y: k for k, y in enumerate(street_order(plan, [str(y) for y in plan.blocks["yard_id"]]))}
    rows = [
        {
            "block": int(row.block),
            "address": plain(lived.get(str(row.yard_id), ""), 120),
            "yard_id": str(row.yard_id),
            "cost": round(float(row.cost), 2),
            "plants": int(row.plants),
            "block_adds": gain_words(row, units),
        }
        for row in each_row(plan.blocks)
    ]
    rows.sort(key=lambda row: (row["block"], place[str(row["yard_id"])]))
    return pd.DataFrame(rows, columns=COLUMNS)
