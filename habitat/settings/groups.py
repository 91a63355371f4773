"""Several groups in one town: whom to call, what each has to spend, when it hands out plants."""

from __future__ import annotations

from pydantic import field_validator

from habitat.settings.base import Section, setting
from habitat.settings.planting import Money
from habitat.settings.report import checked_hours


class GroupSettings(Section):
    """``[groups.NAME]``: one of several groups in a town, each with lists of its own; the corridor is one."""

    contact: str = setting(
        "", "Whom its households call or write to; left out: study.contact.", example="Ben, 555-0171"
    )
    budget: Money | None = setting(
        None,
        "Money of this group, shared by its yards alone; planting.total_budget is then for the others.",
        unit="money",
        example=800,
    )
    pick_up: list[str] = setting(
        [],
        "When this group hands out plants; left out: report.pick_up.",
        example=["2026-05-10 9:00-11:00"],
    )

    _hours = field_validator("pick_up")(checked_hours)
