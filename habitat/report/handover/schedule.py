"""The planting schedule of one yard, as a designer reads it."""

from __future__ import annotations

import math
from typing import Any

from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.words import plant_rows
from habitat.report.words.numbers import Units

HEADINGS = ("No.", "Botanical name", "Common name", "Count", "Spacing", "Bought as", "Height x spread")


def schedule_rows(facts: YardFacts, units: Units) -> list[tuple[str, ...]]:
    """Return a row per plant and form in the order of the numbers, as HEADINGS; sizes when grown."""
    return [
        (
            row["key"],
            row["scientific"],
            row["common"],
            row["count"],
            row["spacing"],
            row["bought_as"],
            f"{row['height']} x {_spread(facts, row, units)}",
        )
        for row in plant_rows(facts, units)
    ]


def _spread(facts: YardFacts, row: dict[str, Any], units: Units) -> str:
    widths = [p.crown_m for p in facts.rows["plant_points"] if str(int(p.key_number)) == row["key"]]
    known = facts.plan.knowledge.plants["spread_m"].get(row["scientific"], math.nan)
    return units.size(float(max(widths, key=widths.count) if widths else known))
