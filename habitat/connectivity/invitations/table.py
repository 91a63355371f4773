"""The invitation tables: whom to ask, in which order, what it brings, how firm that is, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.arrays import Floats
from habitat.connectivity.case import Case
from habitat.connectivity.distance.reach import REACHES, Reach
from habitat.connectivity.graph.passages import Graph
from habitat.connectivity.invitations.blocks import adjoining, best_blocks
from habitat.connectivity.invitations.gains import ChoiceGraph, Stake, joint_weights
from habitat.connectivity.invitations.reasons import Door, Reasons
from habitat.connectivity.invitations.search import (
    MOST,
    Aim,
    Chosen,
    alone_in,
    areas_along,
    choose,
    estimate,
    greedy_order,
)
from habitat.connectivity.measures.connected_area import connect
from habitat.connectivity.types import Neighbourhood
from habitat.remarks import Remark, remark
from habitat.settings.connectivity import ConnectivitySettings

COLUMNS = [
    "rank", "yard_id", "gain_pct", "gain_m2", "gain_broods", "cost", "plants", "reason", "rank_low_reach",
    "rank_high_reach", "main_butterfly",
]  # fmt: skip


MOST_BYTES = 6e8
"""Memory for best passages between all pairs and from all candidates, all butterflies together; beyond it
gains are estimates. A search holds it twice, so that a whole run stays below 2 GB."""
FIRM_BYTES = 1e8
"""The same beyond which nobody waits for draws that try how firm the list is: minutes of one core."""
HABITAT_SPREAD = 0.3
"""How far habitat may turn out other than planned (standard deviation of its logarithm): judgement."""


@dataclass(frozen=True, slots=True)
class Invitations:
    """Whom to invite in order, the joint score on the way, and what there is to tell."""

    table: gpd.GeoDataFrame
    steps: pd.DataFrame
    summary: dict[str, Any]
    notes: tuple[Remark, ...]
    blocks: pd.DataFrame = field(default_factory=pd.DataFrame)


def choice_graphs(
    cases: list[Case],
    candidates: list[str],
    reach: str | list[Reach] = "median",
    habitat: list[Floats] | None = None,
) -> list[ChoiceGraph]:
    """Return what choosing needs, one per butterfly, candidates in the order given.

    Parameters
    ----------
    reach
        A named reach, or one for each butterfly.
    habitat
        By butterfly the (nodes,) factors on habitat, to try how firm a list is; None leaves it as planned.
    """
    out = []
    for k, case in enumerate(cases):
        area = case.spread.area_m2 if habitat is None else case.spread.area_m2 * habitat[k]
        graph = case.graph(reach if isinstance(reach, str) else reach[k])
        out.append(_choice_graph(case, candidates, graph, area))
    return out


def _choice_graph(case: Case, candidates: list[str], graph: Graph, area: Floats) -> ChoiceGraph:
    """Return what choosing needs of one butterfly, by its passages and the area (nodes,) of its ground."""
    base, here = case.spread.nodes("members"), np.zeros(len(area))
    here[base] = area[base]
    node, extra = _coming(case, candidates, area)
    everyone = case.cut_out(graph, "everyone")
    whole = connect(everyone.graph, area[everyone.nodes], case.cut).equivalent_area_m2
    return ChoiceGraph(graph, base, here, node, extra, whole, case.weight, case.cut)


def _coming(case: Case, candidates: list[str], area: Floats) -> tuple[NDArray[np.int64], Floats]:
    """Return the node that comes with each candidate (-1 for none) and the area beyond what stands there."""
    node, extra = np.full(len(candidates), -1, np.int64), np.zeros(len(candidates))
    for c, yard in enumerate(candidates):
        new, old = case.spread.planned.get(yard, -1), case.spread.before.get(yard, -1)
        if new >= 0 and new != old:
            node[c] = new
            extra[c] = area[new] - (area[old] if old >= 0 else 0.0)
    return node, extra


def invitations_of(
    town: Neighbourhood,
    cases: list[Case],
    settings: ConnectivitySettings,
    seed: int = 0,
    habitat_draws: dict[tuple[str, str], Floats] | None = None,
) -> Invitations:
    """Return whom to invite, in which order, and how firm that order is.

    Parameters
    ----------
    town
        Yards (candidates are those whose role says so and that may be asked now) and what their plans cost.
    cases
        The corridor problem of each butterfly.
    settings
        ``invite``, ``invite_budget``, ``rank_by``, ``spread`` and ``rank_draws``.
    seed
        Of the draws that try how firm the list is.
    habitat_draws
        (yard_id, butterfly) -> factors on its habitat, one per draw of the maps' stated errors (missing:
        exact).
    """
    candidates = town.askable
    costs = np.array([float(town.costs.get(c, 0.0)) for c in candidates])
    aim, there = _aim(town, candidates, settings), [len(case.spread.nodes("members")) for case in cases]
    held = sum(8.0 * n * (n + len(candidates)) for n in there)
    if held > MOST_BYTES:
        # one butterfly after the other, so that only one graph is held at a time
        parts = [alone_in(choice_graphs([case], candidates)[0]) for case in cases]
        chosen = estimate(parts, settings.invite, costs, settings.invite_budget, aim)
        return _invitations(town, cases, chosen, parts, {}, settings)
    graphs = choice_graphs(cases, candidates)
    chosen = choose(graphs, settings.invite, costs, settings.invite_budget, aim)
    others = {r: choice_graphs(cases, candidates, r) for r in ("low", "high")}
    ranks = {r: _ranks(s, len(candidates), aim) for r, s in others.items()}
    found = _invitations(town, cases, chosen, graphs, ranks, settings)
    for reach, reached in others.items():
        areas = areas_along(reached, chosen.order)
        found.steps[f"joint_score_{reach}_reach"] = areas @ joint_weights(reached)
        found.steps[f"connected_m2_{reach}_reach"] = areas.sum(axis=1)
        found.table[f"gain_m2_{reach}_reach"] = np.diff(areas.sum(axis=1))
    found = replace(found, blocks=_blocks(town, cases, candidates, graphs, aim))
    if len(found.table) and settings.rank_draws and held > FIRM_BYTES:
        return replace(found, notes=(*found.notes, remark("firmness_not_tried")))
    if len(found.table) and settings.rank_draws:
        number = len(chosen.order)
        kept = kept_shares(cases, candidates, number, settings.rank_draws, seed, habitat_draws or {}, aim)
        found.table["kept_share"] = [float(kept[c]) for c in chosen.order]
    return found


BLOCK_COLUMNS = ["block", "yard_id", "gain_m2", "gain_broods", "cost", "plants"]


def _blocks(
    town: Neighbourhood, cases: list[Case], candidates: list[str], graphs: list[ChoiceGraph], aim: Aim
) -> pd.DataFrame:
    """Return the rows of ``Corridor.blocks``."""
    shapes = town.yards.set_index("yard_id").geometry
    near = adjoining(shapes[candidates].to_numpy()) if candidates else []
    rows = []
    for number, block in enumerate(best_blocks(graphs, near, spread=aim.spread), 1):
        yards = [candidates[k] for k in block.candidates]
        gain, broods = float(block.gains_m2.sum()), sum(_broods(cases, y) for y in yards)
        rows += [
            (number, y, gain, broods, float(town.costs.get(y, 0.0)), int(town.plants.get(y, 0)))
            for y in yards
        ]
    return pd.DataFrame(rows, columns=BLOCK_COLUMNS)


def _aim(town: Neighbourhood, candidates: list[str], settings: ConnectivitySettings) -> Aim:
    """Return what invitations are to bring most of, as the group chose."""
    by = {"door": None, "money": town.costs, "plant": town.plants}[settings.rank_by]
    return Aim(None if by is None else np.array([float(by.get(c, 0.0)) for c in candidates]), settings.spread)


def _invitations(
    town: Neighbourhood,
    cases: list[Case],
    chosen: Chosen,
    stakes: Sequence[Stake],
    ranks: dict[str, dict[int, int]],
    settings: ConnectivitySettings,
) -> Invitations:
    candidates = town.askable
    table = _table(town, cases, chosen, stakes, candidates, ranks)
    steps = _steps(chosen, stakes, cases, candidates)
    told = _summary(chosen) | {"rank_by": settings.rank_by, "spread": settings.spread}
    return Invitations(table, steps, told, _notes(chosen, candidates, town) + _ranked(candidates, settings))


def kept_shares(
    cases: list[Case],
    candidates: list[str],
    number: int,
    draws: int,
    seed: int,
    soil: dict[tuple[str, str], Floats],
    aim: Aim = MOST,
) -> Floats:
    """Return (candidates,) the share of draws in which each is among the first ``number`` of the greedy list.

    Each draw takes another reach for every butterfly, between its low and high (triangular on the logarithm,
    most often the median), and another habitat for every yard: a factor whose logarithm has a standard
    deviation of ``HABITAT_SPREAD``, for how plants do, times that of the drawn soil (``soil`` as
    ``habitat_draws`` of ``invitations_of``). Money is left aside: it asks how firm the order of worth is.
    """
    rng = np.random.default_rng(seed)
    places = sorted({str(p) for case in cases for p in case.spread.place} | set(candidates))
    hits = np.zeros(len(candidates))
    for d in range(draws):
        luck = dict(zip(places, np.exp(rng.normal(0.0, HABITAT_SPREAD, len(places))), strict=True))
        factor = [_factors(case, luck, soil, d) for case in cases]
        drawn = [_drawn_reach(case, float(rng.random())) for case in cases]
        hits[greedy_order(choice_graphs(cases, candidates, drawn, factor), number, aim)] += 1.0
    return hits / draws


def _factors(case: Case, luck: dict[str, float], soil: dict[tuple[str, str], Floats], draw: int) -> Floats:
    """Return (nodes,) factors on a butterfly's habitat in one draw."""
    out = np.array([luck[p] for p in case.spread.place], float)
    for k, place in enumerate(case.spread.place):
        drawn = soil.get((place, case.butterfly))
        if drawn is not None:
            out[k] *= drawn[draw % len(drawn)]
    return out


def _drawn_reach(case: Case, chance: float) -> Reach:
    """Return the reach at a quantile (0-1) of the triangle from low over median to high, on the logarithm."""
    low, mode, high = (np.log(case.reaches[r].median_m) for r in REACHES)
    own = case.reaches["median"]
    if high <= low:
        return own
    rise = (mode - low) / (high - low)
    if chance < rise:
        x = low + np.sqrt(chance * (high - low) * (mode - low))
    else:
        x = high - np.sqrt((1.0 - chance) * (high - low) * (high - mode))
    return Reach(float(np.exp(x)), own.hop_max_m, own.kernel)


def _ranks(graphs: list[ChoiceGraph], number: int, aim: Aim) -> dict[int, int]:
    """Return the rank of every candidate by plain greedy."""
    return {c: k + 1 for k, c in enumerate(greedy_order(graphs, number, aim))}


def _steps(chosen: Chosen, stakes: Sequence[Stake], cases: list[Case], candidates: list[str]) -> pd.DataFrame:
    frame = pd.DataFrame(
        {
            "invited": np.arange(len(chosen.scores)),
            "yard_id": ["", *(candidates[c] for c in chosen.order)],
            "connected_m2": chosen.areas_m2.sum(axis=1),
            "joint_score": chosen.scores,
        }
    )
    for k, (case, stake) in enumerate(zip(cases, stakes, strict=True)):
        frame[case.butterfly] = chosen.areas_m2[:, k] / stake.whole_m2 if stake.whole_m2 > 0.0 else 0.0
    return frame


def _table(
    town: Neighbourhood,
    cases: list[Case],
    chosen: Chosen,
    stakes: Sequence[Stake],
    candidates: list[str],
    ranks: dict[str, dict[int, int]],
) -> gpd.GeoDataFrame:
    shapes = town.yards.set_index("yard_id").geometry
    weights, ids = joint_weights(stakes), tuple(candidates[c] for c in chosen.order)
    gains = weights * np.diff(chosen.areas_m2, axis=0)
    doors = [Door(yard, ids[:k], gain) for k, (yard, gain) in enumerate(zip(ids, gains, strict=True))]
    told = Reasons(cases, candidates).why(doors)
    rows: list[dict[str, Any]] = []
    for k, c in enumerate(chosen.order):
        gain_m2 = chosen.areas_m2[k + 1] - chosen.areas_m2[k]
        main = int(np.argmax(gains[k]))
        rows.append(
            {
                "rank": k + 1,
                "yard_id": candidates[c],
                "gain_pct": 100.0 * float(chosen.scores[k + 1] - chosen.scores[k]),
                "gain_m2": float(gain_m2.sum()),
                "gain_broods": _broods(cases, candidates[c]),
                "cost": float(town.costs.get(candidates[c], 0.0)),
                "plants": int(town.plants.get(candidates[c], 0)),
                "reason": told[k],
                "rank_low_reach": ranks.get("low", {}).get(c),
                "rank_high_reach": ranks.get("high", {}).get(c),
                "main_butterfly": cases[main].butterfly,
                "geometry": shapes[candidates[c]],
            }
        )
    if not rows:
        empty = {c: pd.Series(dtype=object) for c in COLUMNS}
        return gpd.GeoDataFrame(empty, geometry=gpd.GeoSeries([], crs=town.yards.crs))
    return gpd.GeoDataFrame(pd.DataFrame(rows), geometry="geometry", crs=town.yards.crs)


def _broods(cases: list[Case], yard: str) -> float:
    """Return how many broods a year a yard's plan feeds beyond today's, NaN if not counted."""
    more = 0.0
    for case in cases:
        new, old = case.spread.planned.get(yard, -1), case.spread.before.get(yard, -1)
        more += 0.0 if new < 0 else float(case.spread.broods[new])
        more -= 0.0 if old < 0 or new < 0 else float(case.spread.broods[old])
    return more


def _summary(chosen: Chosen) -> dict[str, Any]:
    return {
        "asked": len(chosen.order),
        "joint_score": float(chosen.scores[-1]),
        "bound": float(min(chosen.bound, 1.0)),
        "proven": chosen.proven,
        "estimated": chosen.estimated,
    }


def _notes(chosen: Chosen, candidates: list[str], town: Neighbourhood) -> tuple[Remark, ...]:
    if not candidates:
        return () if town.not_now else (remark("no_candidates"),)
    if chosen.estimated:
        return (remark("invitations_estimated"),)
    return () if chosen.exchanged else (remark("invitations_by_greedy_search"),)


def _ranked(candidates: list[str], settings: ConnectivitySettings) -> tuple[Remark, ...]:
    """Return what the list goes by, where the group chose something else than the most in all."""
    if not candidates or (settings.rank_by == "door" and not settings.spread):
        return ()
    return (remark("invitations_ranked_by", rank_by=settings.rank_by, spread=settings.spread),)
