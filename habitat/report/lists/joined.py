"""Whose plans are bought and planted: the members'; plans of yards that could join are there to look at."""

from __future__ import annotations

import pandas as pd

from habitat.planting.settled import living_of
from habitat.report.plan import Plan
from habitat.report.words.text import counted
from habitat.terms import MEMBER


def planting_yards(plan: Plan) -> frozenset[str]:
    """Return the yards whose plans are bought for: the members', or all planned ones if nobody takes part."""
    planned = _planned(plan)
    members = planned[planned["role"] == MEMBER]
    return frozenset(str(y) for y in (members if len(members) else planned)["yard_id"])


def _planned(plan: Plan) -> pd.DataFrame:
    return plan.yards[plan.yards["yard_id"].isin(plan.plantings["yard_id"])]


def living_yards(plan: Plan) -> frozenset[str]:
    """Return the yards that take part in which plants of earlier years live."""
    members = plan.yards.loc[plan.yards["role"] == MEMBER, "yard_id"]
    return frozenset(members) & frozenset(living_of(plan.existing_plants)["yard_id"])


def for_whom(plan: Plan) -> str:
    """Return for whom lists are: the yards that take part, or, if there is none, those that could join.

    Yards that could join are told of where some are planned, since their plants are on no list of the group.
    """
    planned = _planned(plan)
    members = int((planned["role"] == MEMBER).sum())
    others = len(planned) - members
    shown = " and may be shown" if plan.study.report.audience == "public" else ""
    if not members:
        return f"the {counted(others, 'yard')} that could join{shown}; nobody takes part yet"
    told = f"the {counted(members, 'yard')} that take{'s' if members == 1 else ''} part{shown}"
    return told + (f"; not for the {counted(others, 'yard')} that could join" if others else "")
