"""Tables of all yards from the plans of each."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from habitat.planting.drawing.draw import Drawing
from habitat.planting.settled import Settled
from habitat.planting.types import Accounts, BedSite, Choice, Drawn, Planting
from habitat.remarks import Remark, Subject, remark

GAP_NOTED = 0.05
"""Habitat of the program and from the drawn points further apart than this share is noted, and so is a plan
that may be further than this from the best."""

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
    drawing: Drawing
    sites: list[BedSite]


def gather(
    plans: Sequence[YardPlan],
    drawn: Drawn,
    accounts: Accounts,
    wishes: Collection[str],
    notes: tuple[Remark, ...] = (),
    settled: Settled | None = None,
) -> Planting:
    """Return the tables of all yards.

    Parameters
    ----------
    plans
        Each yard's choice and drawing.
    drawn, accounts
        The drawings of all of them as tables, and the habitat recounted from these.
    wishes
        Butterflies whose habitat is held against what the programs predict.
    notes
        What there is to tell already; what comes of the comparison is put after it.
    settled
        Plans that stay as they are; their results are put behind the others.
    """
    wished = accounts.yard_butterflies["butterfly"].isin(wishes)
    habitat = accounts.yard_butterflies[wished].groupby("yard_id")["habitat_m2"].sum().to_dict()
    cost = drawn.plantings.groupby("yard_id")["cost"].sum().to_dict()
    rows = [_result(p.choice, cost, habitat) for p in plans]
    results = pd.DataFrame(rows, columns=list(RESULT_COLUMNS))
    whole = results
    if settled is not None and len(settled.results):
        kept = settled.results.reindex(columns=list(RESULT_COLUMNS))
        kept["cost"] = [float(cost.get(i, 0.0)) for i in kept["yard_id"]]
        kept["habitat_drawn_m2"] = [float(habitat.get(i, 0.0)) for i in kept["yard_id"]]
        whole = pd.concat([results, kept], ignore_index=True) if len(results) else kept
    return Planting(
        beds=drawn.beds,
        plantings=drawn.plantings,
        plant_points=drawn.points,
        yard_results=whole,
        yard_butterflies=accounts.yard_butterflies,
        breeding=accounts.breeding,
        nectar_stones=accounts.nectar_stones,
        notes=(*notes, *_notes(plans, results)),
        bed_sites={p.choice.yard_id: p.sites for p in plans},
    )


def bed_site_table(sites: Mapping[str, Sequence[BedSite]], crs: Any) -> gpd.GeoDataFrame:
    """Return the places that were found for beds, trees and shrubs, a row each.

    Columns: yard_id, site_id, growth_form, area_m2 [m2], sun_h_mean [h], height_max_m [m] (NaN: any height),
    geometry.
    """
    rows = [
        (yard_id, s.site_id, s.growth_form, s.area_m2, s.sun_h_mean, s.height_max_m, s.polygon)
        for yard_id, mine in sites.items()
        for s in mine
    ]
    columns = ["yard_id", "site_id", "growth_form", "area_m2", "sun_h_mean", "height_max_m", "geometry"]
    table = pd.DataFrame(rows, columns=columns)
    table["height_max_m"] = table["height_max_m"].astype(float).replace(np.inf, np.nan)
    return gpd.GeoDataFrame(table, geometry="geometry", crs=crs)


def nectar_stop_table(stones: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return ground with nectar where a butterfly cannot breed: a row per yard and state, with all of these.

    Columns: yard_id, state, butterflies (text, "; " between), geometry. ``stones`` : yard_id, butterfly,
    state, geometry; the ground of a yard and state is the same for every butterfly.
    """
    groups = stones.groupby(["yard_id", "state"], sort=True)
    rows = [(*key, "; ".join(sorted(g["butterfly"])), g.geometry.iloc[0]) for key, g in groups]
    table = pd.DataFrame(rows, columns=["yard_id", "state", "butterflies", "geometry"])
    return gpd.GeoDataFrame(table, geometry="geometry", crs=stones.crs)


def _result(choice: Choice, cost: dict[Any, float], habitat: dict[Any, float]) -> tuple[Any, ...]:
    gap = (choice.bound - choice.worth) / max(abs(choice.worth), 1e-9)
    return (
        choice.yard_id,
        choice.worth,
        choice.bound,
        max(gap, 0.0),
        float(cost.get(choice.yard_id, 0.0)),
        sum(choice.habitat_m2.values()),
        float(habitat.get(choice.yard_id, 0.0)),
        tuple(choice.relaxed),
    )


def _notes(plans: Sequence[YardPlan], results: pd.DataFrame) -> tuple[Remark, ...]:
    notes = []
    open_ = results[results["gap"] > GAP_NOTED].sort_values("gap", ascending=False, kind="stable")
    if len(open_):
        about = Subject(yards=tuple(open_["yard_id"].astype(str)))
        most = float(open_["gap"].iloc[0])
        notes.append(remark("best_not_proven", about, of=len(results), share=GAP_NOTED, most=most))
    apart = (results["habitat_program_m2"] - results["habitat_drawn_m2"]).abs()
    far = apart > GAP_NOTED * results[["habitat_program_m2", "habitat_drawn_m2"]].max(axis=1)
    if far.any():
        notes.append(remark("habitat_apart", count=int(far.sum()), of=len(results), share=GAP_NOTED))
    short = sum(len(p.drawing.dropped) for p in plans)
    if short:
        notes.append(remark("plantings_short", count=short))
    return tuple(notes)
