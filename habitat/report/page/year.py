"""The page's calendar: which stage of each butterfly is there in which month, and what is in bloom."""

from __future__ import annotations

from typing import Any

from habitat.knowledge.year import WINTER_PLACES, bloom_months, stages, winter_place
from habitat.report.page.data import butterflies_of, common_name
from habitat.report.page.html import attribute, text
from habitat.report.plan import Plan
from habitat.report.words.months import SHORT_MONTHS
from habitat.terms import MONTHS

STAGE_WORDS = {"egg": "eggs", "larva": "caterpillars", "pupa": "chrysalises", "adult": "butterflies"}


def year_tables(plan: Plan) -> str:
    """Return the calendar as two tables that read well in words."""
    return _butterflies(plan) + _bloom(plan)


def _butterflies(plan: Plan) -> str:
    rows = []
    for name in butterflies_of(plan):
        if name not in plan.knowledge.butterflies.index:
            continue
        row: Any = plan.knowledge.butterflies.loc[name]
        there = stages(row)
        cells = "".join(
            _month([STAGE_WORDS[s] for s in there.columns if there.loc[m, s]]) for m in range(1, 13)
        )
        winter = WINTER_PLACES.get(winter_place(row), "")
        rows.append(
            f'<tr><th scope="row">{text(common_name(plan, name))}</th>{cells}<td>{text(winter)}</td></tr>'
        )
    return _table("When eggs, caterpillars, chrysalises and butterflies are there", rows, "in winter")


def _bloom(plan: Plan) -> str:
    planned = set(plan.plantings["plant"]) if len(plan.plantings) else set()
    plants = plan.knowledge.plants
    plants = plants[plants.index.isin(planned) & (plants["nectar_value"] > 0)]
    plants = plants.sort_index().sort_values(["bloom_start_month", "bloom_end_month"], kind="stable")
    rows = []
    for _, plant in plants.iterrows():
        months = bloom_months(plant)
        cells = "".join(_month(["bloom"] if m in months else []) for m in range(1, 13))
        names = f"{text(plant['common_name'])} <i>{text(plant['scientific_name'])}</i>"
        rows.append(f'<tr><th scope="row">{names}</th>{cells}</tr>')
    return _table("What the plans have in bloom", rows, "")


def _month(there: list[str]) -> str:
    if not there:
        return "<td></td>"
    marks = "".join(f'<span class="stage {_first(word)}">{word}</span>' for word in there)
    return f'<td class="there">{marks}</td>'


def _first(word: str) -> str:
    return word.split(maxsplit=1)[0]


def _table(caption: str, rows: list[str], last: str) -> str:
    if not rows:
        return ""
    heads = "".join(
        f'<th scope="col"><abbr title="{long}">{short}</abbr></th>'
        for short, long in zip(SHORT_MONTHS, MONTHS, strict=True)
    )
    more = f'<th scope="col">{text(last)}</th>' if last else ""
    return (
        f'<div class="scroll" tabindex="0" role="region" aria-label="{attribute(caption)}">'
        '<table class="year">'
        f'<caption>{text(caption)}</caption><thead><tr><th scope="col">name</th>{heads}{more}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></div>"
    )
