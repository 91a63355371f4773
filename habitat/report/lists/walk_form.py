"""Before a plan is final: a page for each household to walk its yard with, and the form it is typed into."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd

from habitat.layers.cells.walk_words import OBSTACLE_OF, PLACES, SUN
from habitat.report.lists.joined import planting_yards
from habitat.report.plan import Plan
from habitat.report.sheets.data import title_of
from habitat.report.sheets.facts import FactFinder, YardFacts, addresses, street_order
from habitat.report.sheets.known import unseen_of
from habitat.report.sheets.walked import DRAFT, OF, told_words, walked_yards
from habitat.report.sheets.yard import ground_drawing
from habitat.report.typeset import MARGIN_MM, PAGE_MM, Typesetter, head
from habitat.report.words.numbers import Units
from habitat.report.words.text import csv_cell, plain

COLUMNS = ("yard_id", "address", *PLACES, *SUN)
"""Of the form; all but the first two are filled in, and are those of ``layers.walk``."""

MOST_PAGES = 250
"""More pages than this go into further files, so that memory does not grow."""

BESIDE_MM = (150.0, 160.0, 170.0, 185.0, 200.0)
"""Height of a page that the drawing leaves to the rest; the first that is enough is taken [mm]."""

ASKED = {
    "trees": "draw a ring as wide as each crown",
    "drive": "draw its edges",
    "walks": "with patio, steps, porch",
    "wires": "draw where they run",
    "fences": "with hedges and walls",
    "water": "pond, ditch, stream",
    "septic": "tank, field and lids",
    "wet": "where water stands after rain",
    "play": "what is to stay lawn",
}
"""What is to be drawn."""

DRAWN = (
    "Write M for meters, F for faucets, D for downspouts, T for the tank, where they are.",
    "Cross out what is not there any more.",
    "Write K into everything that must stay as it is.",
)


def write_walk_form(plan: Plan, path: Path) -> list[Path]:
    """Write the form (CSV) for all drafts, and a page for each of them whose yard nobody walked yet.

    What was told before stands in it, of yards whose plan is settled too, so that nothing of it is lost.
    """
    drafts, told = draft_yards(plan), told_words(plan)
    rows = street_order(plan, sorted({*drafts, *told} & {*plan.yards["yard_id"]}))
    lived, walked = addresses(plan), walked_yards(plan)
    records = [{"yard_id": y, "address": lived.get(y, ""), **told.get(y, {})} for y in rows]
    table = pd.DataFrame(records, columns=list(COLUMNS)).fillna("")
    text = table.map(csv_cell).to_csv(index=False, lineterminator="\r\n")
    path.write_text(text, encoding="utf-8-sig", newline="")
    return [path, *write_walk_sheets(plan, path.parent, [y for y in drafts if y not in walked])]


def draft_yards(plan: Plan) -> list[str]:
    """Return the yards that are planted for and whose plan is a draft, in the order of a walk."""
    status = dict(zip(plan.yards["yard_id"], plan.yards.get("status", ""), strict=False))
    drafts = [y for y in planting_yards(plan) if (status.get(y) or DRAFT) == DRAFT]
    return street_order(plan, sorted(drafts))


def write_walk_sheets(plan: Plan, folder: Path, yard_ids: list[str]) -> list[Path]:
    """Write ``walk-sheets.pdf``, a page a yard; further files where there are very many."""
    finder, setter = FactFinder(plan), Typesetter("walk.typ", plan.study.study.date)
    out = []
    for start in range(0, len(yard_ids), MOST_PAGES):
        some = [finder.of(y) for y in yard_ids[start : start + MOST_PAGES]]
        part = start // MOST_PAGES + 1
        out.append(folder / ("walk-sheets.pdf" if part == 1 else f"walk-sheets-{part}.pdf"))
        out[-1].write_bytes(_pages(setter, head(plan, "Walk your yard"), some))
    setter.forget()
    return out


def _pages(setter: Typesetter, top: dict[str, Any], yards: list[YardFacts]) -> bytes:
    """Return a page for each yard, its drawing as large as leaves each on one page."""
    for beside_mm in BESIDE_MM:
        pdf = setter.pdf({**top, "sheets": [sheet_of(facts, beside_mm) for facts in yards], "drawn": DRAWN})
        if setter.ask("<pages>") == len(yards):
            break
    return pdf


def sheet_of(facts: YardFacts, beside_mm: float) -> dict[str, Any]:
    """Return what one page shows: the ground as it is known, and what to tick or draw.

    ``beside_mm`` of the page's height is left to words and boxes.
    """
    units = Units(facts.plan.study.report.units)
    wide, high = PAGE_MM[facts.plan.study.report.paper]
    unseen = set(unseen_of(facts))
    title = title_of(facts)
    return {
        "title": title,
        "subtitle": "" if title.startswith("Yard ") else f"Yard {plain(facts.yard_id, 28)}",
        "yard": ground_drawing(facts, (wide - 2 * MARGIN_MM - 14.0, high - beside_mm), units),
        "grid_m": 3.048 if units.us else 2.0,
        "grid": "10 ft" if units.us else "2 m",
        "asked": [
            {
                "what": OF[c].removeprefix("a "),
                "how": how,
                "known": c in OBSTACLE_OF and OBSTACLE_OF[c] not in unseen,
            }
            for c, how in ASKED.items()
        ],
    }
