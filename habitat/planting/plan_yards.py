"""Plans for all yards: bed sites, choice, drawing, and habitat recounted from what was drawn."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from typing import Any, TypeVar

import geopandas as gpd
import pandas as pd

from habitat.planting.choose import choose
from habitat.planting.facts import read_facts
from habitat.planting.habitat_area import account
from habitat.planting.types import Accounts, Choice, Drawn, Planting, PlantingRequest
from habitat.planting.yard_jobs import (
    PreparedYard,
    Shared,
    YardJob,
    draw_yard,
    prepare_yard,
    problem_of,
    yard_jobs,
)

Progress = Callable[[str, int, int], None]
In = TypeVar("In")
Out = TypeVar("Out")

GAP_TOLD = 0.05
"""Habitat of the program and from the drawn points further apart than this share is told."""


@dataclass(frozen=True, slots=True)
class YardPlan:
    """One yard's choice and its drawing."""

    choice: Choice
    drawn: Drawn


def plan_yards(request: PlantingRequest, progress: Progress | None = None) -> Planting:
    """Plan all yards of a request.

    Parameters
    ----------
    request
        Study, layers, site, knowledge, needs, what stands, wishes and weights.
    progress
        Called with ("planting", yards done, yards in all).

    Returns
    -------
    Planting
        Equal for equal input and any number of workers.
    """
    shared = Shared(
        request.study,
        request.knowledge,
        request.needs,
        read_facts(request.knowledge, request.study, request.needs, request.wishes),
        request.site.placeable,
    )
    plans = []
    for done, plan in enumerate(_spread(_plan_one, yard_jobs(request), shared, request.workers), 1):
        plans.append(plan)
        if progress is not None:
            progress("planting", done, len(request.yard_ids))
    return _assemble(request, plans)


def _plan_one(job: YardJob, shared: Shared) -> YardPlan:
    prepared = prepare_yard(job, shared)
    return _finish(prepared, shared)


def _finish(prepared: PreparedYard, shared: Shared) -> YardPlan:
    settings = shared.study.planting
    choice = choose(
        problem_of(prepared, shared),
        effort=settings.effort,
        seed=shared.study.study.seed,
        gap=settings.gap,
        node_limit=settings.node_limit,
    )
    return YardPlan(choice, draw_yard(prepared, choice, shared))


_SHARED: list[Any] = []


def _remember(shared: Any) -> None:
    _SHARED[:] = [shared]


def _with_shared(work: tuple[Callable[[Any, Any], Any], Any]) -> Any:
    function, job = work
    return function(job, _SHARED[0])


def _spread(
    function: Callable[[In, Any], Out], jobs: Iterable[In], shared: Any, workers: int
) -> Iterator[Out]:
    """Yield what a function makes of each job, in the order of the jobs, by one process or several."""
    if workers <= 1:
        for job in jobs:
            yield function(job, shared)
        return
    context = get_context("spawn")
    with ProcessPoolExecutor(workers, context, _remember, (shared,)) as pool:
        yield from pool.map(_with_shared, ((function, job) for job in jobs), chunksize=4)


def _assemble(request: PlantingRequest, plans: list[YardPlan]) -> Planting:
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
        notes=_notes(plans, results),
    )


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


def _joined(frames: list[gpd.GeoDataFrame], crs: Any) -> gpd.GeoDataFrame:
    """Return frames one below the other; the first one's columns if all are empty."""
    full = [f for f in frames if len(f)] or frames[:1]
    if not full:
        return gpd.GeoDataFrame(geometry=[], crs=crs)
    return gpd.GeoDataFrame(pd.concat(full, ignore_index=True), geometry="geometry", crs=crs)


def _result(plan: YardPlan, accounts: Accounts) -> tuple[Any, ...]:
    choice = plan.choice
    rows = accounts.yard_butterflies
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
