"""What a coordinator does next, in five lines."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path

from habitat.commands.terminal import shown_path
from habitat.report.lists.calendar import entries
from habitat.report.lists.joined import planting_yards
from habitat.report.package.summary import ask_next
from habitat.report.plan import Plan
from habitat.report.words.months import date_words
from habitat.report.words.numbers import money
from habitat.report.words.text import counted
from habitat.terms import KEPT

DAY_OF_CALL = "locate-"
"""Start of the keys of calendar entries on asking for buried lines to be marked."""


def next_steps(plan: Plan, folder: Path) -> list[str]:
    """Return five lines: look, hand out, order, call before digging, ask whom.

    Parameters
    ----------
    plan
        The plan of the run.
    folder
        Where its results are.
    """
    place = Path(os.path.normpath(folder))
    counts, buy = plan.headline["counts"], plan.headline["cost_to_buy"]
    group = plan.study.report.audience == "group"
    accept = f"; then habitat accept {shown_path(place)} --yard YARD, or --members" if group else ""
    paid = money(buy, plan.study.planting.currency)
    asked = counted(len(plan.asked), "yard")
    nobody = f"nobody new; {asked} asked already: lists/walk-list.csv." if plan.asked else ""
    ask = ask_next(plan) or nobody or "nobody; no yard that could join would add anything now."
    plants = counts["plants_of_members"] or counts["plants"]
    return [
        f"1. Look at {place / 'page.html'} and at a few of the sheets before any leaves the house.",
        f"2. {_hand_out(plan, place)}{accept}.",
        f"3. Order {plants:,} plants, with spares and full trays for {paid}: {place / 'shopping.csv'}.",
        f"4. {_call(plan)}",
        f"5. Ask next: {ask} All figures: {place / 'summary.txt'}.",
    ]


def _hand_out(plan: Plan, place: Path) -> str:
    """Return whose sheets to hand out: of those who take part, all but those that have accepted theirs."""
    taking = planting_yards(plan)
    status = (
        dict(zip(plan.yards["yard_id"], plan.yards["status"], strict=True)) if "status" in plan.yards else {}
    )
    drafts = [yard for yard in taking if status.get(yard) not in KEPT]
    kept = (
        f" ({counted(len(taking) - len(drafts), 'yard')} accepted already)"
        if len(drafts) < len(taking)
        else ""
    )
    many = counted(len(drafts), "yard") if drafts else "nobody"
    return f"Hand out the sheets of {many}{kept}, all in {place / 'sheets' / 'all-yards.pdf'}"


def _call(plan: Plan) -> str:
    """Return when to have buried lines marked: always told, whatever else is short."""
    days: list[dt.date] = [e.start for e in entries(plan) if e.key.startswith(DAY_OF_CALL)]
    when = f" by {date_words(min(days))}" if days else ""
    return f"Have buried lines marked{when} (811 in the United States); nobody digs before all are."
