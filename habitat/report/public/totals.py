"""Totals for a public audience: less the shown, they would tell what few hidden yards add."""

from __future__ import annotations

import copy
from typing import Any

import pandas as pd

from habitat.report.lists.buying import cost_to_buy
from habitat.report.lists.joined import planting_yards
from habitat.report.plan import Plan
from habitat.report.public.ground import HIDDEN_MIN
from habitat.report.public.names import Names
from habitat.terms import CANDIDATE, MEMBER

SCORE_DIGITS = 2
"""Scores to which few hidden yards add are told to so many decimals."""


PARTS = ["held_m2", "arriving_m2", "passing_m2"]
"""What a yard's loss would cost: with its habitat, each tells the equivalent area of all yards."""

GAINS = ["gain_pct", "gain_m2", "gain_m2_low_reach", "gain_m2_high_reach"]
"""What an invitation adds, which depends on the habitat of all yards."""


def few_hidden(plan: Plan, names: Names) -> set[str]:
    """Return the butterflies to whose habitat some, but fewer than HIDDEN_MIN, hidden yards add."""
    table, shown = plan.yard_butterflies, set(names.shown)
    if not len(table):
        return set()
    rows = table[(table["habitat_m2"] > 0) | (table["habitat_before_m2"] > 0)]
    return {str(butterfly) for butterfly, mine in rows.groupby("butterfly") if _few(mine, shown)}


def without_parts(table: pd.DataFrame, few: set[str]) -> pd.DataFrame:
    """Return ``yard_butterflies`` without what losses would cost these butterflies."""
    mine = [c for c in PARTS if c in table]
    return table.assign(**{c: table[c].where(~table["butterfly"].isin(few)) for c in mine}) if mine else table


def rounded_steps(steps: pd.DataFrame) -> pd.DataFrame:
    """Return steps of invitations with scores and areas rounded as the headline's are."""
    real = [c for c in steps if pd.api.types.is_float_dtype(steps[c])]
    return steps.assign(**{str(c): [rounded(float(v)) for v in steps[c]] for c in real})


def rounded_gains(invitations: pd.DataFrame) -> pd.DataFrame:
    """Return invitations with gains to one figure."""
    return invitations.assign(
        **{c: [_figures(v, 1) for v in invitations[c]] for c in GAINS if c in invitations}
    )


def public_headline(plan: Plan, names: Names) -> tuple[dict[str, Any], list[str]]:
    """Return the headline that may be shown, and what of it is held back, in words.

    A total to which at least one and fewer than HIDDEN_MIN hidden yards add is that of the shown yards;
    scores and areas that no sum gives are rounded; what is neither is left out.
    """
    from habitat.connectivity.measures.absolute import ALL_STATES, together_of  # noqa: PLC0415  (slow to import)

    head = copy.deepcopy(plan.headline)
    head.pop("by_status", None)
    shown = set(names.shown)
    withheld: list[str] = []
    if _few(plan.plantings, shown):
        _planted(head, plan, shown)
        withheld.append("plants, beds and cost are those of the yards shown")
    if _few(plan.existing_plants, shown):
        mine = plan.existing_plants[plan.existing_plants["yard_id"].isin(shown)]
        head["counts"]["existing_plants"] = float(mine["count"].sum())
        withheld.append("plants that stand already are those of the yards shown")
    table, few = plan.yard_butterflies, few_hidden(plan, names)
    for butterfly, entry in head["butterflies"].items():
        if butterfly in few:
            _habitat(entry, table[(table["butterfly"] == butterfly) & table["yard_id"].isin(shown)])
            withheld.append(
                f"{butterfly}: habitat is that of the yards shown, areas are rounded; broods, and what the "
                "loss of a yard would cost, are not told"
            )
    if few and len(plan.invitations):
        withheld.append("what invitations add is told to one figure")
    if withheld:
        head["life_cycles_closed"] = {}
        head["joint_score"] = rounded(head["joint_score"])
        head["share"] = {k: head["share"][k] for k in ("without_plan", "yards")} | {"given": False}
        head["together"] = together_of(
            head["butterflies"], tuple(s for s in ALL_STATES if s in head["together"])
        )
    return head, withheld


def _few(frame: pd.DataFrame, shown: set[str]) -> bool:
    """Return whether some, and fewer than HIDDEN_MIN, yards of a table are hidden."""
    if not len(frame):
        return False
    return 0 < len(set(frame["yard_id"]) - shown) < HIDDEN_MIN


def _planted(head: dict[str, Any], plan: Plan, shown: set[str]) -> None:
    """Set counts and cost to those of the yards shown."""
    rows = plan.plantings[plan.plantings["yard_id"].isin(shown)]
    members = plan.yards.loc[plan.yards["role"] == MEMBER, "yard_id"]
    mine = rows[rows["yard_id"].isin(members)]
    head["counts"] |= {
        "yards_with_plants": int(rows["yard_id"].nunique()),
        "beds": int(plan.beds["yard_id"].isin(shown).sum()) if len(plan.beds) else 0,
        "plants": int(rows["count"].sum()),
        "plants_of_members": int(mine["count"].sum()),
        "plant_kinds": int(rows["plant"].nunique()),
    }
    head["cost"], head["cost_of_members"] = float(rows["cost"].sum()), float(mine["cost"].sum())
    head["cost_to_buy"] = cost_to_buy(rows, set(planting_yards(plan)))


def _habitat(entry: dict[str, Any], rows: pd.DataFrame) -> None:
    """Set habitat to that of the rows and round what follows from all yards, at every reach."""
    planted = {"today": (), "members": (MEMBER, "anchor"), "everyone": (MEMBER, CANDIDATE, "other", "anchor")}
    for ends in (entry, *(entry[r] for r in ("low_reach", "high_reach") if r in entry)):
        ends.pop("invited", None)  # which of the hidden are invited would follow from it
    for ends in (entry, *(entry[r] for r in ("low_reach", "high_reach", "if_anchors_hold") if r in entry)):
        for state, roles in planted.items():
            if isinstance(ends.get(state), dict):
                counts = rows["role"].isin(roles)
                area = rows["habitat_m2"].where(counts, rows["habitat_before_m2"]).sum()
                ends[state] = rounded(ends[state]) | {"habitat_m2": float(area)}
                if "broods" in ends[state]:
                    ends[state]["broods"] = None


def rounded(values: Any) -> Any:
    """Return scores (0 to 1) rounded, and areas to two figures, in whatever they are nested."""
    if isinstance(values, dict):
        return {key: rounded(value) for key, value in values.items()}
    if not isinstance(values, float) or pd.isna(values):
        return values
    return round(values, SCORE_DIGITS) if abs(values) <= 1 else _figures(values, 2)


def _figures(value: float, figures: int) -> float:
    return float(f"{value:.{figures}g}")
