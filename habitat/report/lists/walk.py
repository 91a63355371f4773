"""The walk list: whom to ask, street by street with house numbers in order."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd

from habitat.report.plan import Plan
from habitat.report.rows import each_row
from habitat.report.sheets.facts import addresses, street_order
from habitat.report.words.en import voice
from habitat.report.words.figures import gain_words
from habitat.report.words.numbers import Units, kept_words
from habitat.report.words.text import csv_cell, plain

COLUMNS = [
    "stop", "street", "house_number", "address", "yard_id", "rank", "special", "adds", "how_firm", "cost",
    "answer",
]  # fmt: skip
NUMBER = re.compile(r"^\s*#?(\d+)\s*([a-zA-Z]?)\s+(.*\S)\s*$")
"""A house number, its letter, and the street."""


def write_walk_list(plan: Plan, path: Path) -> Path:
    """Write walk-list.csv: UTF-8 with a byte order mark, text quoted against formulas."""
    table = walk_table(plan).astype(object).map(csv_cell, na_action="ignore")
    path.write_text(table.to_csv(index=False, lineterminator="\r\n"), encoding="utf-8-sig", newline="")
    return path


def walk_table(plan: Plan) -> pd.DataFrame:
    """Return a row per door to ask, columns COLUMNS, in the order of a walk.

    Streets come in the order of their names, on each the house numbers in order; yards without an address
    come last, in the order of the streets that they lie on. ``answer`` is blank, to write on. Doors that have
    been asked this year stand among them without stop and rank, and ``answer`` says so.
    """
    say, units, lived = voice(plan.study.report), Units(plan.study.report.units), addresses(plan)
    draws = plan.study.connectivity.rank_draws
    rows: list[dict[str, Any]] = [
        _door(yard, lived) | {"answer": plain(told, 300)} for yard, told in plan.asked.items()
    ]
    for row in each_row(plan.invitations):
        rows.append(
            _door(str(row.yard_id), lived)
            | {
                "rank": int(row.rank),
                "special": say(row.reason),
                "adds": gain_words(row, units),
                "how_firm": kept_words(row, draws),
                "cost": round(float(row.cost), 2),
                "answer": "",
            }
        )
    rows.sort(key=_in_order(plan, [str(r["yard_id"]) for r in rows]))
    stops = itertools.count(1)
    told = [row | ({"stop": next(stops)} if "rank" in row else {}) for row in rows]
    table = pd.DataFrame(told, columns=COLUMNS)
    whole = {"stop": "Int64", "rank": "Int64"}
    return table.astype(whole) if plan.asked else table


def _door(yard: str, lived: dict[str, str]) -> dict[str, Any]:
    """Return where a yard's door is."""
    address = plain(lived.get(yard, ""), 120)
    street, number = street_and_number(address)
    return {"street": street, "house_number": number, "address": address, "yard_id": yard}


def _in_order(plan: Plan, yard_ids: list[str]) -> Callable[[dict[str, Any]], tuple[Any, ...]]:
    """Return the key by which rows are sorted."""
    place = {yard: k for k, yard in enumerate(street_order(plan, yard_ids))}

    def key(row: dict[str, Any]) -> tuple[Any, ...]:
        number = re.match(r"\d+", str(row["house_number"]))
        known = bool(row["street"])
        return (
            not known,
            str(row["street"]).casefold(),
            int(number.group()) if number else -1,
            str(row["house_number"]),
            place[str(row["yard_id"])],
        )

    return key


def street_and_number(address: str) -> tuple[str, str]:
    """Return the street of an address, and the number as it stands there; "" where it has none.

    Examples
    --------
    >>> street_and_number("12b Kiln Street"), street_and_number("The Mill"), street_and_number("")
    (('Kiln Street', '12b'), ('The Mill', ''), ('', ''))
    """
    found = NUMBER.match(address)
    return (found[3], found[1] + found[2]) if found else (address, "")
