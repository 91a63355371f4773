"""What plants of earlier years ask for in years 2 to 5: a survey, thinning, dividing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pandas as pd

from habitat.planting.settled import living_of
from habitat.report.lists.types import Entry
from habitat.report.plan import Plan
from habitat.report.rows import each_row
from habitat.report.words.text import counted, plain
from habitat.site.types import GROWTH_FORM

LAST_YEAR = 5
"""Up to its so many-th year in the ground a plant is told of."""

THIN_FROM = 2
"""Seedlings of what spreads are thinned from this year on (common practice: once they can be told apart)."""

DIVIDE_FROM = 4
"""Clumps of perennials are divided every three to five years (common practice); from this year on."""


def later_years(plan: Plan, yards: frozenset[str]) -> Iterator[Entry]:
    """Yield what the living plants of some yards ask for, from the study's date to their fifth year."""
    date = plan.study.study.date or dt.date(2000, 1, 1)
    table = living_of(plan.existing_plants)
    table = table[table["yard_id"].isin(yards)]
    if table.empty:
        return
    plants = plan.knowledge.plants
    table = pd.DataFrame(table.drop(columns="geometry")).assign(
        name=table["plant"].map(plants["common_name"]),
        herb=[GROWTH_FORM[str(plants["form"][p])] == "herb" for p in table["plant"]],
        long=[str(plants["life_span"][p]) == "perennial" for p in table["plant"]],
        spreads=[bool(plants["aggressive_spread"][p]) for p in table["plant"]],
    )
    for year in range(date.year, int(table["planted_in"].max()) + LAST_YEAR):
        aged = table.assign(age=year - table["planted_in"].astype(int) + 1)
        for entry in _year(aged[aged["age"].between(THIN_FROM, LAST_YEAR)], year):
            if entry.end >= date:
                yield entry


def _year(mine: pd.DataFrame, year: int) -> Iterator[Entry]:
    if mine.empty:
        return
    for month, when in ((4, "in spring"), (6, "in June")):
        day = dt.date(year, month, 15)
        many = counted(int(mine["count"].sum()), "plant")
        words = f"Count what lives of {many}, and what was eaten, on the season form; blank means not known."
        yield Entry(f"survey-{year}-{month}", f"Count what lives {when} {year}", words, day, day)
    thin = mine[mine["spreads"] & mine["herb"]]
    if len(thin):
        words = "Seedlings of what spreads, before they set seed:\n" + "\n".join(_kinds(thin))
        day = dt.date(year, 5, 1)
        yield Entry(f"thin-{year}", f"Thin what spreads ({year})", words, day, dt.date(year, 5, 31))
    divide = mine[(mine["age"] >= DIVIDE_FROM) & mine["herb"] & mine["long"] & ~mine["spreads"]]
    if len(divide):
        words = (
            "Clumps that grow thin in the middle or crowd others: lift, part and set again, in spring before "
            "they are a hand high; not those with a taproot. A plant that does well stays.\n"
            + "\n".join(_kinds(divide))
        )
        yield Entry(
            f"divide-{year}", f"Divide clumps ({year})", words, dt.date(year, 4, 1), dt.date(year, 4, 30)
        )


def _kinds(mine: pd.DataFrame) -> list[str]:
    kinds = mine.groupby("name")["count"].sum().reset_index().rename(columns={"count": "number"})
    return [f"{int(r.number):,} {plain(r.name_)}" for r in each_row(kinds.rename(columns={"name": "name_"}))]
