"""The plant list of a designed bed as a table for a nursery."""

from __future__ import annotations

from habitat.bed.design import BedPlan
from habitat.report.words.text import csv_cell

COLUMNS = [
    "number", "plant", "common_name", "count", "form", "layer", "purpose", "spacing_m", "height_m",
    "bloom_months", "cost",
]  # fmt: skip


def plants_csv(bed: BedPlan) -> bytes:
    """Return the plant list as CSV: UTF-8 with a byte order mark, text quoted against formulas."""
    table = bed.plants[COLUMNS].map(csv_cell)
    return table.to_csv(index=False, lineterminator="\r\n").encode("utf-8-sig")
