"""Totals for a public audience: less the shown, they would tell what few hidden yards add."""

from __future__ import annotations

import copy
from typing import Any

import pandas as pd

from habitat.remarks import Remark
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


TOTALS = frozenset(
    (
        "corridor_broods", "corridor_areas", "corridor_colonised", "corridor_area_if_anchors_hold",
        "butterfly_area", "butterfly_town_is_one_garden", "share_of_what_could_be", "invitations_best",
        "planned_together",
    )
)  # fmt: skip
"""Sentences that tell figures of all yards, which the headline withholds."""


def without_totals(sentences: tuple[Remark | str, ...]) -> tuple[Remark | str, ...]:
    """Return sentences that tell no figure of all yards."""
    return tuple(s for s in sentences if not (isinstance(s, Remark) and s.kind in TOTALS))


def few_hidden(plan: Plan, names: Names) -> set[str]:
    """Return the butterflies to whose habitat some, but fewer than HIDDEN_MIN, hidden yards add."""
    table, shown = plan.yard_butterflies, set(names.shown)
    if not len(table):
        return set()
    members, stands, planned = _members(plan), table["habitat_before_m2"] > 0, table["habitat_m2"] > 0
    return {
        str(butterfly)
        for butterfly, mine in table.groupby("butterfly")
        if _few(mine[stands[mine.index]], shown) or _few(mine[(stands | planned)[mine.index]], shown, members)
    }


def without_parts(table: pd.DataFrame, few: set[str]) -> pd.DataFrame:
    """Return ``yard_butterflies`` without what losses would cost these butterflies."""
    mine = [c for c in PARTS if c in table]
    return table.assign(**{c: table[c].where(~table["butterfly"].isin(few)) for c in mine}) if mine else table


def rounded_steps(steps: pd.DataFrame) -> pd.DataFrame:
    """Return steps of invitations with scores and areas rounded as the headline's are.

    From one step to the next a single yard is added, so that they are told so wherever one of it is hidden.
    """
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
    shown, members = set(names.shown), _members(plan)
    withheld: list[str] = []
    if _few(plan.plantings, shown, members):
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
    if few or _few(plan.invitations, shown):
        withheld.append("what all invitations together reach is not told")
        for entry in (
            *head["butterflies"].values(),
            *(head[k] for k in ("together", "share", "joint_score")),
        ):
            for ends in (entry, *(v for v in entry.values() if isinstance(v, dict))):
                ends.pop("invited", None)
    if withheld:
        head |= {key: rounded(head[key]) for key in ("rounds", "invitations") if key in head}
        head["life_cycles_closed"] = {}
        head["joint_score"] = rounded(head["joint_score"])
        head["share"] = {k: head["share"][k] for k in ("without_plan", "yards")} | {"given": False}
        head["together"] = together_of(
            head["butterflies"], tuple(s for s in ALL_STATES if s in head["together"])
        )
    return head, withheld


def _members(plan: Plan) -> frozenset[str]:
    return frozenset(plan.yards.loc[plan.yards["role"] == MEMBER, "yard_id"])


def _few(frame: pd.DataFrame, shown: set[str], members: frozenset[str] = frozenset()) -> bool:
    """Return whether some, and fewer than HIDDEN_MIN, yards of a table are hidden.

    Where totals are told of all and of ``members``, neither these nor the others may be few.
    """
    if not len(frame):
        return False
    hidden = set(frame["yard_id"]) - shown
    return any(0 < len(part) < HIDDEN_MIN for part in (hidden & members, hidden - members))


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
    if isinstance(values, list):
        return [rounded(value) for value in values]
    if not isinstance(values, float) or pd.isna(values):
        return values
    return round(values, SCORE_DIGITS) if abs(values) <= 1 else _figures(values, 2)


def _figures(value: float, figures: int) -> float:
    return float(f"{value:.{figures}g}")
