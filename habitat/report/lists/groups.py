"""A folder for each of several groups in a town: its own shopping, pick-up, contacts and sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pandas as pd

from habitat.planting.years.survival import spare_shares
from habitat.report.lists.buying import cost_to_buy
from habitat.report.lists.contacts import contacts_table, groups_in, write_contacts
from habitat.report.lists.joined import planting_yards
from habitat.report.lists.printed import write_printed_lists
from habitat.report.lists.shopping import write_shopping
from habitat.report.plan import Plan
from habitat.report.sheets.files import merge_sheets
from habitat.report.words.text import csv_cell, file_names, plain

COLUMNS = ("group", "folder", "contact", "budget", "households", "plants", "cost", "cost_to_buy")
UNNAMED = "no group"


def write_groups(plan: Plan, folder: Path, _: Sequence[Path] = ()) -> list[Path]:
    """Write ``groups.csv`` and a folder for each group; sheets must lie in ``sheets/`` beside it.

    Households that take part and are in no group are a group of their own there, ``no group``.
    """
    folder.mkdir(parents=True, exist_ok=True)
    of, table = groups_in(plan), contacts_table(plan)
    mine = {yard: of.get(yard, UNNAMED) for yard in table["yard_id"]}
    names = list(dict.fromkeys(mine[yard] for yard in table.loc[table["takes_part"], "yard_id"]))
    folders, rows, out = file_names(names), [], []
    for name in names:
        own = of_group(plan, name, {yard for yard, group in mine.items() if group == name})
        place = folder / folders[name]
        place.mkdir(exist_ok=True)
        write_shopping(own, place / "shopping.csv")
        out += [place / "shopping.csv", *write_printed_lists(own, place)]
        out.append(write_contacts(own, place / "contacts.csv"))
        sheets = [folder.parent / sheet for sheet in contacts_table(own)["sheet"]]
        merge_sheets([s for s in sheets if s.is_file()], place / "sheets.pdf", name, plan.study.study.date)
        rows.append(_row(own, name, folders[name]))
    whole = pd.DataFrame(rows, columns=list(COLUMNS)).map(csv_cell)
    text = whole.to_csv(index=False, lineterminator="\r\n")
    (folder / "groups.csv").write_text(text, encoding="utf-8-sig", newline="")
    return [folder / "groups.csv", *out]


def of_group(plan: Plan, name: str, yards: set[str]) -> Plan:
    """Return the part of a plan that is a group's own, with its contact and pick-up hours."""
    said = plan.study.groups.get(name)
    study = plan.study
    if said is not None:
        study = study.changed(
            study={"contact": said.contact or study.study.contact},
            report={"pick_up": said.pick_up or study.report.pick_up},
        )
    tables = ("existing_plants", "beds", "plantings", "plant_points", "yard_results")
    kept = {t: getattr(plan, t)[getattr(plan, t)["yard_id"].isin(yards)] for t in tables}
    return replace(plan, study=study, **{t: frame.reset_index(drop=True) for t, frame in kept.items()})


def _row(own: Plan, name: str, folder: str) -> dict[str, object]:
    taking, said = planting_yards(own), own.study.groups.get(name)
    rows = own.plantings[own.plantings["yard_id"].isin(taking)]
    shares = {} if own.carried is None else spare_shares(own.carried.survival)
    return {
        "group": plain(name, 120),
        "folder": folder,
        "contact": plain(own.study.study.contact, 200),
        "budget": "" if said is None or said.budget is None else said.budget,
        "households": len(taking),
        "plants": int(rows["count"].sum()),
        "cost": round(float(rows["cost"].sum()), 2),
        "cost_to_buy": round(cost_to_buy(rows, taking, shares), 2),
    }
