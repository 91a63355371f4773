"""Lists on paper: what the group buys, what each household picks up, and the monthly count form."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pandas as pd

from habitat.knowledge.year import broods, feeding_months, flight_months
from habitat.planting.supply import plants_a_packet
from habitat.report.lists.buying import TRAY, in_ground
from habitat.report.lists.joined import for_whom, planting_yards
from habitat.report.lists.shopping import SEED_NOTE, shopping_table
from habitat.report.plan import Plan
from habitat.report.rows import each_row, row_of
from habitat.report.sheets.facts import addresses, street_order
from habitat.report.typeset import Typesetter, head
from habitat.report.words.forms import noun
from habitat.report.words.months import month_words
from habitat.report.words.numbers import money
from habitat.report.words.text import counted, listed, plain

COUNT_COLUMNS = ("date", "yard_id", "butterfly", "stage", "count", "minutes")
"""Columns of the count form; they are those of ``layers.sightings``."""

STAGES = ("egg", "caterpillar", "chrysalis", "adult")


def write_lists(plan: Plan, folder: Path) -> None:
    """Write the lists to print, and the form to count on as a table too, into a folder."""
    folder.mkdir(exist_ok=True)
    write_printed_lists(plan, folder)
    write_count_form(plan, folder / "count-form.csv")


def write_printed_lists(plan: Plan, folder: Path) -> list[Path]:
    """Write shopping.pdf, pick-list.pdf and count-form.pdf into a folder; return the files."""
    setter = Typesetter("lists.typ", plan.study.study.date)
    table = shopping_table(plan)
    documents = (
        ("shopping.pdf", _shopping(plan, table)),
        ("pick-list.pdf", _picks(plan, table)),
        ("count-form.pdf", _count_form(plan)),
    )
    out = []
    for name, data in documents:
        out.append(folder / name)
        out[-1].write_bytes(setter.pdf(data))
    setter.forget()
    return out


def write_count_form(plan: Plan, path: Path) -> Path:
    """Write an empty count form (CSV) that, filled in, is read as ``layers.sightings``.

    A row per thing seen; a visit on which nothing was seen is a row with count 0. Stages are egg,
    caterpillar, chrysalis or adult. Dates are year-month-day.
    """
    del plan
    line = ",".join(COUNT_COLUMNS) + "\r\n"
    path.write_text(line, encoding="utf-8-sig", newline="")
    return path


def _shopping(plan: Plan, table: pd.DataFrame) -> dict[str, Any]:
    group = table[table["list"] == "whole group"]
    rows = [
        {
            "common": plain(row.common_name, 44),
            "scientific": plain(row.plant, 44),
            "form": _form(row),
            "count": f"{int(row.count_):,}",
            "buy": f"{int(row.to_buy):,}",
            "trays": _parcels(row),
            "cost": money(float(row.cost)),
            "growers": plain(row.note if "short:" in row.note else row.growers, 90) or "–",
            "instead": plain(row.substitutes, 150),
            "seed": plain(row.seed_collecting.replace(SEED_NOTE, ""), 150),
        }
        for row in each_row(group.rename(columns={"count": "count_"}))
    ]
    plants, cost = int(group["to_buy"].sum()), float(group["cost"].sum())
    mine = plan.plantings[plan.plantings["yard_id"].isin(planting_yards(plan))]
    mine = mine[~in_ground(mine)]
    planned = f"{int(mine['count'].sum()):,} of these are planned, at {money(float(mine['cost'].sum()))}"
    return {
        **head(plan, "Shopping list"),
        "kind": "shopping",
        "subtitle": f"For {for_whom(plan)}",
        "rows": rows,
        "total": f"{counted(plants, 'plant')} to buy, {money(cost, plan.study.planting.currency)}; "
        f"{planned}, the rest are spares and full trays.",
        "notes": [
            f"Trays of {TRAY} plugs, a usual size: ask the grower. Spares are in the numbers to buy. "
            "What each household gets is on the pick list.",
            "Straight species, nursery-grown in the region, never treated with systemic insecticide.",
            "A substitute feeds the same butterflies and fits where the plant was to stand.",
            "Gather seed with the landowner's leave, never of protected plants, a tenth of a stand.",
        ],
    }


def _parcels(row: Any) -> str:
    """Return how many trays, singles or packets are bought."""
    if row.packets:
        return counted(int(row.packets), "packet")
    if not row.trays:
        return f"{int(row.singles):,}"
    trays = counted(int(row.trays), "tray")
    return f"{trays} + {int(row.singles)}" if row.singles else trays


def _handed_out(plan: Plan, row: Any) -> str:
    """Return in what form a household gets its plants; packets of seed are shared, to a tenth."""
    told = noun(int(row.count_), row.form)
    if row.form == "seed":
        each = plants_a_packet(row_of(plan.knowledge.plants, row.plant)["spacing_m"])
        share = math.ceil(10 * row.count_ / each - 1e-9) / 10
        told = f"in seed, {share:g} packet{'' if share == 1 else 's'}"
    return told + (f", year {int(row.year)}" if int(row.year) > 1 else "")


def _form(row: Any) -> str:
    later = f", year {int(row.year)}" if int(row.year) > 1 else ""
    return plain(row.form, 12) + later


def _picks(plan: Plan, table: pd.DataFrame) -> dict[str, Any]:
    mine = table[table["list"] == "yard"]
    groups = {str(yard): rows for yard, rows in mine.groupby("yard_id", sort=False)} if len(mine) else {}
    yards, lived = [], addresses(plan)
    for yard_id in street_order(plan, [y for y in plan.yards["yard_id"] if y in groups]):
        rows = groups[yard_id]
        yards.append(
            {
                "name": plain(lived.get(yard_id), 36) or f"Yard {plain(yard_id, 30)}",
                "total": f"Yard {plain(yard_id, 30)}, {counted(int(rows['count'].sum()), 'plant')}",
                "rows": [
                    {
                        "count": f"{int(row.count_):,}",
                        "common": plain(row.common_name, 44),
                        "scientific": plain(row.plant, 44),
                        "form": _handed_out(plan, row),
                    }
                    for row in each_row(rows.rename(columns={"count": "count_"}))
                ],
            }
        )
    return {
        **head(plan, "Pick list"),
        "kind": "picks",
        "subtitle": f"For distribution day, in street order: {for_whom(plan)}",
        "notes": [
            "Keep roots moist and out of the sun. Before anybody digs, buried lines have to be marked "
            "(utility locating service; 811 in the United States)."
        ],
        "yards": yards,
    }


def _count_form(plan: Plan) -> dict[str, Any]:
    return {
        **head(plan, "Monthly count"),
        "kind": "count",
        "subtitle": "One copy a month and yard; a walk of ten to fifteen minutes on a warm, still day",
        "rows": list(_count_rows(plan)),
        "notes": [
            "Write 0 where you looked and saw nothing: that counts too.",
            "Look under leaves; leave what you find where it is. Chewed leaves mean success.",
            f"To hand counts on, type them into count-form.csv: {', '.join(COUNT_COLUMNS)}; "
            f"a row per thing seen; stage is {listed(STAGES, 'or')}.",
        ],
    }


def _count_rows(plan: Plan) -> Iterator[dict[str, str]]:
    """Yield the plan's butterflies, the hosts to look on, planted or standing, and the months."""
    names = plan.knowledge.butterflies["common_name"]
    grown = set(plan.plantings["plant"]) | set(plan.existing_plants["plant"].dropna())
    known = set(plan.yard_butterflies["butterfly"]) & set(names.index)
    for butterfly in sorted(known, key=lambda b: str(names[b])):
        row = row_of(plan.knowledge.butterflies, butterfly)
        hosts = [p for p in plan.knowledge.hosts_of(butterfly)["plant"] if p in grown]
        common = [plain(row_of(plan.knowledge.plants, p)["common_name"], 40) for p in hosts]
        months = set(flight_months(row)) | {m for b in broods(row) for m in feeding_months(b)}
        shown = [*common[:4], f"{len(common) - 4} more"] if len(common) > 5 else common
        yield {
            "name": plain(row["common_name"], 40),
            "plants": listed(shown) or "no host in the yards yet",
            "months": month_words(months, short=True),
        }
