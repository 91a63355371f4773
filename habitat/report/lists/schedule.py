"""The plant schedule: per yard, which plants by size, with what a designer needs to set them out."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from habitat.report.plan import Plan
from habitat.report.words.text import csv_cell
from habitat.site.types import GROWTH_FORM

SIZES = ("tree", "shrub", "tall", "low")
"""Sizes in the order of the schedule; tall and low are herbs."""

TALL_M = 1.0
"""A herb at least this high at maturity is tall: judgement, about waist height."""

COLUMNS = [
    "yard_id", "size", "key_number", "plant", "common_name", "count", "form", "height_m", "spread_m",
    "spacing_m", "layer", "group_size", "beds", "year",
]  # fmt: skip


def write_schedule(plan: Plan, path: Path) -> Path:
    """Write plant-schedule.csv: UTF-8 with a byte order mark, text quoted against formulas."""
    table = schedule_table(plan).map(csv_cell)
    path.write_text(table.to_csv(index=False, lineterminator="\r\n"), encoding="utf-8-sig", newline="")
    return path


def schedule_table(plan: Plan) -> pd.DataFrame:
    """Return a row per yard, plant, form and plan year, columns COLUMNS; largest plants first.

    ``key_number`` is that of the sheet (missing where nothing is placed), ``height_m`` and ``spread_m`` are
    those at maturity, ``beds`` the numbers of the beds that hold it.
    """
    plantings = pd.DataFrame(plan.plantings.drop(columns="geometry", errors="ignore"))
    if plantings.empty:
        return pd.DataFrame(columns=COLUMNS)
    beds, points, known = plan.beds, plan.plant_points, plan.knowledge.plants
    plantings["bed"] = plantings["bed_id"].map(dict(zip(beds["bed_id"], beds["bed_number"], strict=True)))
    plantings["size"] = [
        _size(str(known["form"].get(plant, "forb")), float(height))
        for plant, height in zip(plantings["plant"], plantings["height_m"], strict=True)
    ]
    plantings["spread_m"] = plantings["plant"].map(known["spread_m"].groupby(level=0).first())
    keys = dict(zip(zip(points["yard_id"], points["plant"], strict=True), points["key_number"], strict=True))
    plantings["key_number"] = [
        keys.get(k) for k in zip(plantings["yard_id"], plantings["plant"], strict=True)
    ]
    same = [c for c in COLUMNS if c not in ("count", "beds", "group_size")]
    table = plantings.groupby(same, dropna=False, sort=False).agg(
        count=("count", "sum"), beds=("bed", _numbers), group_size=("group_size", "max")
    )
    order = {str(y): k for k, y in enumerate(plan.yards["yard_id"])}
    table = table.reset_index().astype({"key_number": "Int64"})
    table = table.assign(_yard=table["yard_id"].map(order), _size=table["size"].map(SIZES.index))
    table["_low"] = -table["height_m"]
    return table.sort_values(["_yard", "_size", "_low", "plant", "form", "year"])[COLUMNS].reset_index(
        drop=True
    )


def _size(form: str, height_m: float) -> str:
    growth = GROWTH_FORM.get(form, "herb")
    return growth if growth != "herb" else "tall" if height_m >= TALL_M else "low"


def _numbers(beds: pd.Series[float]) -> str:
    return "; ".join(str(int(b)) for b in sorted(set(beds.dropna())))
