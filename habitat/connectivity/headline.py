"""How much works as one: habitat, equivalent connected area and score by butterfly, state and reach."""

from __future__ import annotations

from typing import Any

from habitat.connectivity.case import REACHES, Case
from habitat.connectivity.connected import connect
from habitat.connectivity.patches import STATES


def worth_of(case: Case) -> dict[str, Any]:
    """Return one butterfly's figures.

    ``{today, members, everyone}`` at median reach, each with habitat_m2, equivalent_area_m2, score, patches,
    stepping_stones and neglected_share (upper bound of what the cut left out); the same three under
    ``low_reach`` and ``high_reach``. The score is over the equivalent area with everyone planted, at the
    same reach; it is 0 where that is 0 (no breeding ground at all), and such a butterfly is left out of the
    joint score. Where nobody has said whether an anchor holds the butterfly, ``if_anchors_hold`` has the
    equivalent areas and scores at median reach were it to breed in all of these.
    """
    out: dict[str, Any] = {}
    for reach in REACHES:
        states = {s: _figures(case, s, reach) for s in STATES}
        top = states["everyone"]["equivalent_area_m2"]
        for entry in states.values():
            entry["score"] = entry["equivalent_area_m2"] / top if top > 0.0 else 0.0
        if reach == "median":
            out.update(states)
        else:
            out[f"{reach}_reach"] = states
    if case.spread.unsure_m2.any():
        out["if_anchors_hold"] = _if_anchors_hold(case)
    return out


def _if_anchors_hold(case: Case) -> dict[str, dict[str, float]]:
    area = {}
    for name in STATES:
        state = case.state(name)
        whole = state.area_m2 + case.spread.unsure_m2[state.nodes]
        area[name] = connect(state.graph, whole, case.cut).equivalent_area_m2
    top = area["everyone"]
    return {s: {"equivalent_area_m2": a, "score": a / top if top > 0.0 else 0.0} for s, a in area.items()}


def _figures(case: Case, state: str, reach: str) -> dict[str, Any]:
    graph = case.state(state, reach)
    got = graph.connected()
    return {
        "habitat_m2": float(graph.area_m2.sum()),
        "equivalent_area_m2": got.equivalent_area_m2,
        "score": 0.0,
        "patches": int((graph.area_m2 > 0.0).sum()),
        "stepping_stones": int((graph.area_m2 <= 0.0).sum()),
        "neglected_share": got.neglected_share,
    }


def joint_of(entries: dict[str, dict[str, Any]], weights: dict[str, float]) -> dict[str, Any]:
    """Return the weighted mean score over butterflies by state, and the same at low and high reach.

    ``if_anchors_hold`` is the same at median reach were all butterflies to breed in the anchors of which
    nobody has said; only if there are such.
    """

    def mean(pick: Any) -> dict[str, float]:
        used = [
            (weights[n], pick(e))
            for n, e in entries.items()
            if pick(e)["everyone"]["equivalent_area_m2"] > 0.0
        ]
        total = sum(w for w, _ in used)
        return {s: sum(w * p[s]["score"] for w, p in used) / total if total > 0.0 else 0.0 for s in STATES}

    out: dict[str, Any] = {
        **mean(lambda e: e),
        "low_reach": mean(lambda e: e["low_reach"]),
        "high_reach": mean(lambda e: e["high_reach"]),
    }
    if any("if_anchors_hold" in e for e in entries.values()):
        out["if_anchors_hold"] = mean(lambda e: e.get("if_anchors_hold", e))
    return out
