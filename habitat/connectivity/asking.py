"""The invitation tables: whom to ask, in which order, what it brings, how firm that is, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from habitat.connectivity.case import Case
from habitat.connectivity.growing import Stage
from habitat.connectivity.invitations import Chosen, choose, greedy_order, joint_weights
from habitat.connectivity.reasons import Reasons
from habitat.connectivity.types import CorridorRequest

COLUMNS = [
    "rank", "yard_id", "gain_pct", "gain_m2", "cost", "reason", "rank_low_reach", "rank_high_reach",
    "main_butterfly",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Asked:
    """Invitations, the joint score on the way, and what there is to tell."""

    invitations: gpd.GeoDataFrame
    steps: pd.DataFrame
    summary: dict[str, Any]
    notes: tuple[str, ...]


def stages_of(cases: list[Case], candidates: list[str], reach: str = "median") -> list[Stage]:
    """Return what choosing needs, one per butterfly, candidates in the order given."""
    out = []
    for case in cases:
        base, n = case.spread.nodes("members"), len(case.spread.place)
        area = np.zeros(n)
        area[base] = case.spread.area_m2[base]
        node, extra = np.full(len(candidates), -1, np.int64), np.zeros(len(candidates))
        for c, yard in enumerate(candidates):
            new, old = case.spread.planned.get(yard, -1), case.spread.before.get(yard, -1)
            if new >= 0 and new != old:
                node[c] = new
                extra[c] = case.spread.area_m2[new] - (case.spread.area_m2[old] if old >= 0 else 0.0)
        whole = case.state("everyone", reach).connected().equivalent_area_m2
        graph = case.graph(reach)
        out.append(Stage(graph, base, area, node, extra, whole, case.weight, case.cut))
    return out


def ask(request: CorridorRequest, cases: list[Case]) -> Asked:
    """Return whom to invite."""
    settings, yards = request.study.connectivity, request.yards
    candidates = sorted(yards.loc[yards["role"] == "candidate", "yard_id"])
    costs = np.array([float(request.costs.get(c, 0.0)) for c in candidates])
    stages = stages_of(cases, candidates)
    chosen = choose(stages, settings.invite, costs, settings.invite_budget)
    ranks = {r: _ranks(stages_of(cases, candidates, r), len(candidates)) for r in ("low", "high")}
    steps = _steps(chosen, stages, cases, candidates)
    table = _table(request, cases, chosen, stages, candidates, costs, ranks)
    return Asked(table, steps, _summary(chosen), _notes(chosen, candidates))


def _ranks(stages: list[Stage], number: int) -> dict[int, int]:
    """Return the rank of every candidate by plain greedy."""
    return {c: k + 1 for k, c in enumerate(greedy_order(stages, number))}


def _steps(chosen: Chosen, stages: list[Stage], cases: list[Case], candidates: list[str]) -> pd.DataFrame:
    frame = pd.DataFrame(
        {
            "invited": np.arange(len(chosen.scores)),
            "yard_id": ["", *(candidates[c] for c in chosen.order)],
            "joint_score": chosen.scores,
        }
    )
    for k, (case, stage) in enumerate(zip(cases, stages, strict=True)):
        frame[case.butterfly] = chosen.areas_m2[:, k] / stage.whole_m2 if stage.whole_m2 > 0.0 else 0.0
    return frame


def _table(
    request: CorridorRequest,
    cases: list[Case],
    chosen: Chosen,
    stages: list[Stage],
    candidates: list[str],
    costs: np.ndarray[Any, Any],
    ranks: dict[str, dict[int, int]],
) -> gpd.GeoDataFrame:
    shapes = request.yards.set_index("yard_id").geometry
    weights, reasons = joint_weights(stages), Reasons(cases)
    rows: list[dict[str, Any]] = []
    for k, c in enumerate(chosen.order):
        gain_m2 = chosen.areas_m2[k + 1] - chosen.areas_m2[k]
        main = int(np.argmax(weights * gain_m2))
        rows.append(
            {
                "rank": k + 1,
                "yard_id": candidates[c],
                "gain_pct": 100.0 * float(chosen.scores[k + 1] - chosen.scores[k]),
                "gain_m2": float(gain_m2.sum()),
                "cost": float(costs[c]),
                "reason": reasons.why(candidates[c], [candidates[o] for o in chosen.order[:k]], main),
                "rank_low_reach": ranks["low"].get(c),
                "rank_high_reach": ranks["high"].get(c),
                "main_butterfly": cases[main].butterfly,
                "geometry": shapes[candidates[c]],
            }
        )
    if not rows:
        empty = {c: pd.Series(dtype=object) for c in COLUMNS}
        return gpd.GeoDataFrame(empty, geometry=gpd.GeoSeries([], crs=request.yards.crs))
    return gpd.GeoDataFrame(pd.DataFrame(rows), geometry="geometry", crs=request.yards.crs)


def _summary(chosen: Chosen) -> dict[str, Any]:
    return {
        "joint_score": float(chosen.scores[-1]),
        "bound": float(min(chosen.bound, 1.0)),
        "proven": chosen.proven,
    }


def _notes(chosen: Chosen, candidates: list[str]) -> tuple[str, ...]:
    if not candidates:
        return (
            "No yard is a candidate, so nobody is listed to invite: set role = candidate in participants.",
        )
    if not chosen.exchanged:
        return (
            "Too many candidates to try exchanges: the invitations are those of the greedy search alone.",
        )
    return ()
