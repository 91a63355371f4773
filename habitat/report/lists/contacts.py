"""Contacts, for the group alone: who lives where, which sheet, what it costs, when to pick up."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from habitat.layers.join.people import groups_of
from habitat.report.lists.joined import living_yards, planting_yards
from habitat.report.plan import Plan
from habitat.report.sheets.facts import addresses, street_order
from habitat.report.words.text import csv_cell, file_names, plain
from habitat.settings.report import Hours, read_hours

COLUMNS = ("yard_id", "address", "name", "email", "role", "status", "sheet", "cost", "pick_up")
STEP_MIN = 5
"""Slots begin at whole multiples of so many minutes."""


def write_contacts(plan: Plan, path: Path) -> Path:
    """Write contacts.csv: UTF-8 with a byte order mark, text quoted against formulas."""
    columns = [*COLUMNS, *(["group"] if groups_in(plan) else [])]
    table = contacts_table(plan)[columns].map(csv_cell)
    path.write_text(table.to_csv(index=False, lineterminator="\r\n"), encoding="utf-8-sig", newline="")
    return path


def contacts_table(plan: Plan) -> pd.DataFrame:
    """Return a row for each yard with a plan, in street order: COLUMNS, group, takes_part, plants and beds.

    ``name`` and ``email`` stand as the sign-up sheet gives them, "" where it gives none; ``pick_up`` is for
    those who take part, "" where the study gives no hours.
    """
    taking, lived = planting_yards(plan) | living_yards(plan), addresses(plan)
    planned = {*plan.yard_results["yard_id"], *plan.plantings["yard_id"], *taking}
    ids = [str(y) for y in plan.yards["yard_id"] if y in planned]
    order, sheets = street_order(plan, ids), file_names(ids, "yard-", ".pdf")
    said, slots, group = _said(plan), _slots(plan, [y for y in order if y in taking]), groups_in(plan)
    yards = plan.yards.set_index("yard_id")
    counts = plan.plantings.groupby("yard_id")[["count", "cost"]].sum()
    beds = plan.beds.groupby("yard_id").size()
    rows = [
        {
            "yard_id": yard,
            "address": plain(lived.get(yard, ""), 120),
            **{key: said[key].get(yard, "") for key in ("name", "email")},
            "role": str(yards["role"][yard]),
            "status": str(yards["status"][yard]) if "status" in yards else "",
            "sheet": f"sheets/{sheets[yard]}",
            "cost": round(float(counts["cost"].get(yard, 0.0)), 2),
            "pick_up": slots.get(yard, ""),
            "group": plain(group.get(yard, ""), 120),
            "takes_part": yard in taking,
            "plants": int(counts["count"].get(yard, 0)),
            "beds": int(beds.get(yard, 0)),
        }
        for yard in order
    ]
    return pd.DataFrame(rows, columns=[*COLUMNS, "group", "takes_part", "plants", "beds"])


def groups_in(plan: Plan) -> dict[str, str]:
    """Return yard -> group of the sign-up sheet, of the yards that name one."""
    return groups_of(plan.layers.frame("participants"), plan.study.groups)


def _slots(plan: Plan, yards: list[str]) -> dict[str, str]:
    """Return when each household picks up; groups with hours of their own by themselves."""
    group, settings, out = groups_in(plan), plan.study.groups, dict[str, str]()
    own = {name for name in settings if settings[name].pick_up}
    for name in sorted(own):
        mine = [y for y in yards if group.get(y) == name]
        out |= pick_up_slots(mine, settings[name].pick_up)
    return out | pick_up_slots([y for y in yards if group.get(y) not in own], plan.study.report.pick_up)


def _said(plan: Plan) -> dict[str, dict[str, str]]:
    """Return by column what the sign-up sheet says of each yard; rows of one yard one after the other."""
    people = plan.layers.frame("participants")
    out: dict[str, dict[str, str]] = {"name": {}, "email": {}}
    for key, found in out.items():
        if people is None or key not in people:
            continue
        for yard, text in zip(people["yard_id"].astype(str), people[key], strict=True):
            one = plain(text if isinstance(text, str) else "", 200)
            had = found.get(yard, "")
            if one and one not in had.split("; "):
                found[yard] = f"{had}; {one}" if had else one
    return out


def pick_up_slots(yards: Sequence[str], hours: Sequence[str]) -> dict[str, str]:
    """Return when each household comes, spread evenly over hours in the order given.

    Parameters
    ----------
    yards
        In street order, so that neighbours come one after the other.
    hours
        Such as "2026-05-09 9:00-12:00", as ``habitat.settings.report.read_hours`` takes them.

    Examples
    --------
    >>> pick_up_slots(["a", "b", "c", "d"], ["2026-05-09 9:00-10:00"])["d"]
    '2026-05-09 09:45'
    """
    spans = [read_hours(text) for text in hours]
    whole = sum(span.minutes for span in spans)
    return {} if not spans else {yard: _at(spans, whole * k // len(yards)) for k, yard in enumerate(yards)}


def _at(spans: Sequence[Hours], minute: int) -> str:
    """Return the time that lies so many minutes into some hours."""
    for span in spans:
        if minute < span.minutes:
            return f"{span.start + dt.timedelta(minutes=minute - minute % STEP_MIN):%Y-%m-%d %H:%M}"
        minute -= span.minutes
    raise AssertionError("minutes are counted over all spans")
