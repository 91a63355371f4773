"""What would hurt: the yards, and the street, whose loss would cost most, for a group to look after."""

from __future__ import annotations

import pandas as pd

from habitat.report.lists.walk import street_and_number
from habitat.report.page import html
from habitat.report.plan import Plan
from habitat.report.rows import each_row
from habitat.report.sheets.facts import addresses
from habitat.report.words.figures import area_words
from habitat.report.words.numbers import Units
from habitat.report.words.text import counted, plain
from habitat.terms import ANCHOR

TOP = 10
PARTS = ["held_m2", "arriving_m2", "passing_m2"]
NOTICED_M2 = 0.05
"""Area below which a loss is not told [m2]: judgement."""


def losses_by_yard(plan: Plan) -> pd.DataFrame:
    """Return what the linked breeding ground of all butterflies loses with each yard, most first.

    Returns
    -------
    DataFrame
        yard_id, loss_m2 (with the members' plans, summed over butterflies), passing_m2 (of it what only gets
        past through the yard), address, street ("" where nobody knows it). Anchors are left out.
    """
    table = plan.yard_butterflies
    if not len(table) or not set(PARTS) <= set(table.columns):
        return pd.DataFrame(columns=["yard_id", "loss_m2", "passing_m2", "address", "street"])
    rows = table[table["role"] != ANCHOR]
    sums = rows.groupby("yard_id")[PARTS].sum()
    out = pd.DataFrame({"loss_m2": sums.sum(axis=1), "passing_m2": sums["passing_m2"]}).reset_index()
    lived = addresses(plan)
    out["address"] = [plain(lived.get(str(y), ""), 90) for y in out["yard_id"]]
    out["street"] = [street_and_number(a)[0] if a[:1].isdigit() else "" for a in out["address"]]
    out = out[out["loss_m2"] >= NOTICED_M2]
    order = out.sort_values(["loss_m2", "yard_id"], ascending=[False, True], kind="stable")
    return order.reset_index(drop=True)


def what_would_hurt(plan: Plan) -> str:
    """Return the section of the page; "" for a public audience, and where nothing is lost."""
    losses = losses_by_yard(plan)
    if plan.study.report.audience == "public" or losses.empty:
        return ""
    units = Units(plan.study.report.units)
    rows = [
        (plain(f"{r.yard_id} {r.address}", 100), _area(r.loss_m2, units), _area(r.passing_m2, units))
        for r in each_row(losses.head(TOP))
    ]
    head = ("yard", "linked breeding ground that would be lost", "of it only what passes through")
    table = html.table(
        "Yards whose loss would cost most, with the members' plans", head, rows, numbers=(1, 2)
    )
    return (
        '<section aria-labelledby="hurt"><h2 id="hurt">What would hurt most?</h2>'
        "<p>If one of these yards were sold, dug up or sprayed, butterflies would lose most. Know who lives "
        "there, help with the work, and tell newcomers what grows there.</p>"
        f"{_street(losses, units)}{table}</section>"
    )


def _area(area_m2: float, units: Units) -> str:
    return area_words(area_m2, area_m2, area_m2, units=units)


def _street(losses: pd.DataFrame, units: Units) -> str:
    """Say which street carries most: the yards' losses one by one, added up."""
    known = losses[losses["street"] != ""]
    if known["street"].nunique() < 2:
        return ""
    sums = known.groupby("street")["loss_m2"].agg(["sum", "size"]).sort_values("sum", kind="stable")
    street, worst = str(sums.index[-1]), sums.iloc[-1]
    yards = counted(int(worst["size"]), "yard")
    return (
        f"<p>Of all streets {html.text(street)} carries most: its {yards}, one by one, come to "
        f"{_area(float(worst['sum']), units)}.</p>"
    )
