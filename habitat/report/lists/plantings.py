"""The plantings as a table that people may edit: swap a plant, change a count, strike a row."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from habitat.report.plan import Plan
from habitat.report.words.text import csv_cell

COLUMNS = ("planting_id", "yard_id", "bed_id", "plant", "common_name", "form", "count")


def write_plantings(plan: Plan, path: Path) -> Path:
    """Write plantings.csv: UTF-8 with a byte order mark, text quoted against formulas."""
    table = pd.DataFrame(plan.plantings)[list(COLUMNS)].map(csv_cell)
    path.write_text(table.to_csv(index=False, lineterminator="\r\n"), encoding="utf-8-sig", newline="")
    return path
