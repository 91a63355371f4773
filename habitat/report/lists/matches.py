"""Which row of the sign-up sheet joined which yard, and how: to confirm or refuse for the next run."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd

from habitat.layers.join.matches import COLUMNS
from habitat.report.plan import Plan
from habitat.report.words.text import csv_cell


def write_matches(plan: Plan, path: Path) -> Path:
    """Write matches.csv: UTF-8 with a byte order mark, text quoted against formulas."""
    table = pd.DataFrame(matches_of(plan), columns=list(COLUMNS)).map(csv_cell)
    path.write_text(table.to_csv(index=False, lineterminator="\r\n"), encoding="utf-8-sig", newline="")
    return path


def matches_of(plan: Plan) -> list[dict[str, Any]]:
    """Return a row for each row of the sign-up sheet, or each yard it might be of; none without a sheet."""
    people = plan.layers.vectors.get("participants")
    return [] if people is None else people.details.get("matches", [])
