"""Tables of all yards from the plans of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import pandas as pd

from habitat.planting.habitat_area import account
from habitat.planting.types import Accounts, BedSite, Choice, Drawn, Planting, PlantingRequest

GAP_TOLD = 0.05
"""Habitat of the program and from the drawn points further apart than this share is told."""

RESULT_COLUMNS = (
    "yard_id",
    "worth",
    "bound",
    "gap",
    "cost",
    "habitat_program_m2",
    "habitat_drawn_m2",
    "relaxed",
)


@dataclass(frozen=True, slots=True)
class YardPlan:
    """One yard's choice, its drawing, and the bed sites that it was made for."""

    choice: Choice
    drawn: Drawn
    sites: list[BedSite]


def gather(request: PlantingRequest, plans: list[YardPlan], notes: tuple[str, ...]) -> Planting:
    """Return the tables of all yards, with habitat recounted from the drawn points."""
    crs = request.layers.yards.crs
    beds, plantings, points = (
        _joined([getattr(p.drawn, part) for p in plans], crs) for part in ("beds", "plantings", "points")
    )
    accounts = account(request, beds, plantings, points)
    results = pd.DataFrame([_result(p, accounts) for p in plans], columns=list(RESULT_COLUMNS))
    return Planting(
        beds=beds,
        plantings=plantings,
        plant_points=points,
        yard_results=results,
        yard_butterflies=accounts.yard_butterflies,
        breeding=accounts.breeding,
        nectar_stones=accounts.nectar_stones,
        notes=(*notes, *_notes(plans, results)),
        bed_sites={p.choice.yard_id: p.sites for p in plans},
    )


def _joined(frames: list[gpd.GeoDataFrame], crs: Any) -> gpd.GeoDataFrame:
    """Return frames one below the other; the first one's columns if all are empty."""
    full = [f for f in frames if len(f)] or frames[:1]
    if not full:
        return gpd.GeoDataFrame(geometry=[], crs=crs)
    return gpd.GeoDataFrame(pd.concat(full, ignore_index=True), geometry="geometry", crs=crs)


def _result(plan: YardPlan, accounts: Accounts) -> tuple[Any, ...]:
    choice, rows = plan.choice, accounts.yard_butterflies
    wished = rows["butterfly"].isin(list(choice.habitat_m2))
    drawn = rows.loc[wished & (rows["yard_id"] == choice.yard_id), "habitat_m2"].sum()
    gap = (choice.bound - choice.worth) / max(abs(choice.worth), 1e-9)
    mine = plan.drawn.plantings
    return (
        choice.yard_id,
        choice.worth,
        choice.bound,
        max(gap, 0.0),
        float(mine["cost"].sum()) if len(mine) else 0.0,
        sum(choice.habitat_m2.values()),
        float(drawn),
        "; ".join(choice.relaxed),
    )


def _notes(plans: list[YardPlan], results: pd.DataFrame) -> tuple[str, ...]:
    notes = []
    apart = (results["habitat_program_m2"] - results["habitat_drawn_m2"]).abs()
    far = apart > GAP_TOLD * results[["habitat_program_m2", "habitat_drawn_m2"]].max(axis=1)
    if far.any():
        notes.append(
            f"In {int(far.sum())} of {len(results)} yards the habitat of the program and from the drawn "
            f"plants are more than {GAP_TOLD:.0%} apart; the drawn figure counts."
        )
    short = sum(len(p.drawn.dropped) for p in plans)
    if short:
        notes.append(
            f"{short} plantings hold fewer plants than chosen, since the bed as drawn has less room."
        )
    return tuple(notes)
