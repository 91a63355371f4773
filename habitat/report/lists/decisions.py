"""What became of each yard's plan: a table that people edit and the next run reads."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from habitat.report.plan import Plan
from habitat.report.words.text import csv_cell

COLUMNS = ("yard_id", "address", "status", "date", "note")


def write_decisions(plan: Plan, path: Path) -> Path:
    """Write decisions.csv: UTF-8 with a byte order mark, text quoted against formulas."""
    return write_table(decisions_table(plan), path)


def decisions_table(plan: Plan) -> pd.DataFrame:
    """Return the plan's decisions, COLUMNS and what people added; empty if the plan has none."""
    return pd.DataFrame(columns=list(COLUMNS)) if plan.decisions is None else plan.decisions


def write_table(table: pd.DataFrame, path: Path) -> Path:
    """Write a table of decisions, columns COLUMNS first."""
    path.write_bytes(table_bytes(table))
    return path


def table_bytes(table: pd.DataFrame) -> bytes:
    """Return a table of decisions as a file, columns COLUMNS first."""
    first = list(COLUMNS)
    table = table[[*first, *(c for c in table.columns if c not in first)]].map(csv_cell)
    return table.to_csv(index=False, lineterminator="\r\n").encode("utf-8-sig")


def write_as_edited(plan: Plan, folder: Path) -> list[Path]:
    """Write files that people edited as they came, so that nothing of them is lost."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in plan.as_edited.items():
        (folder / name).write_bytes(data)
    return [folder / name for name in plan.as_edited]
