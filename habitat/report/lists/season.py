"""The season form: a row per planting, to write down what was planted, what lives and what was eaten."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
from openpyxl.styles import Font, PatternFill

from habitat.planting.settled import fingerprints, living_of, marks_of
from habitat.planting.types import Drawn
from habitat.report.lists.joined import living_yards, planting_yards
from habitat.report.plan import Plan
from habitat.report.rows import each_row
from habitat.report.sheets.facts import addresses, street_order
from habitat.report.typeset import Typesetter, head
from habitat.report.words.text import csv_cell, plain

MARK, PLANTED, WHEN, ALIVE_SUMMER = "run", "planted", "planted_on", "alive_june"
ALIVE_NEXT_SPRING, EATEN, REPLACED_BY, REMARK = "alive_next_spring", "eaten", "replaced_by", "remark"
TO_FILL = (PLANTED, WHEN, ALIVE_SUMMER, ALIVE_NEXT_SPRING, EATEN, REPLACED_BY, REMARK)
COLUMNS = (
    MARK, "yard_id", "address", "bed", "number", "planting_id", "plant", "common_name", "form", "count",
    *TO_FILL,
)  # fmt: skip
"""``run`` marks the planting and its run; ``count`` is what is to be planted, or what lives already."""

LIVING = "living"
"""``form`` of what was planted in an earlier year."""

FIXED = (1980, 1, 1, 0, 0, 0)


def write_season_form(plan: Plan, path: Path) -> list[Path]:
    """Write the form as CSV, XLSX and PDF; equal plans give equal bytes.

    Parameters
    ----------
    path
        Of the CSV; the others stand beside it.
    """
    table = season_table(plan)
    text = table.map(csv_cell).to_csv(index=False, lineterminator="\r\n")
    path.write_text(text, encoding="utf-8-sig", newline="")
    sheet, paper = path.with_suffix(".xlsx"), path.with_suffix(".pdf")
    sheet.write_bytes(_workbook(table))
    setter = Typesetter("lists.typ", plan.study.study.date)
    paper.write_bytes(setter.pdf(_paper(plan, table)))
    setter.forget()
    return [path, sheet, paper]


def season_table(plan: Plan) -> pd.DataFrame:
    """Return the form: a row for each planting of those who take part, living ones of earlier years first.

    Rows go yard by yard as one walks the streets, in a yard by bed and by number on its sheet.
    """
    marks = marks_of(fingerprints(Drawn(plan.beds, plan.plantings, plan.plant_points)), plan.existing_plants)
    lived, joined = addresses(plan), planting_yards(plan) | living_yards(plan)
    beds = dict(zip(plan.beds["bed_id"], plan.beds["bed_number"], strict=True))
    points = plan.plant_points.drop_duplicates("planting_id").set_index("planting_id")["key_number"]
    rows: list[dict[Any, Any]] = [*_living(plan), *pd.DataFrame(plan.plantings).to_dict("records")]
    wanted = [
        {
            MARK: marks[row["planting_id"]],
            "yard_id": row["yard_id"],
            "address": lived.get(row["yard_id"], ""),
            "bed": beds.get(row["bed_id"]),
            "number": points.get(row["planting_id"]),
            **{c: row[c] for c in ("planting_id", "plant", "common_name", "form", "count")},
        }
        for row in rows
        if row["yard_id"] in joined
    ]
    table = pd.DataFrame(wanted, columns=list(COLUMNS)).astype({"bed": "Int64", "number": "Int64"})
    place = {yard: k for k, yard in enumerate(street_order(plan, sorted(joined)))}
    table = table.assign(_yard=table["yard_id"].map(place), _old=table["form"] != LIVING)
    table = table.sort_values(["_yard", "_old", "bed", "number", "planting_id"], kind="stable")
    return table[list(COLUMNS)].reset_index(drop=True)


def _living(plan: Plan) -> list[dict[str, Any]]:
    """Return a row per planting of earlier years of which plants live."""
    mine = living_of(plan.existing_plants)
    names = plan.knowledge.plants["common_name"]
    sums = mine.groupby(["planting_id", "yard_id", "bed_id", "plant"], sort=True)["count"].sum().reset_index()
    return [
        {**row, "form": LIVING, "count": int(row["count"]), "common_name": names.get(row["plant"], "")}
        for row in sums.to_dict("records")
    ]


def _workbook(table: pd.DataFrame) -> bytes:
    """Return the form as a workbook (Office Open XML); text is text, whatever it begins with."""
    book = openpyxl.Workbook()
    sheet: Any = book.active
    sheet.title = "season"
    sheet.append(list(table.columns))
    for k, row in enumerate(table.astype(object).where(table.notna(), None).to_numpy().tolist(), start=2):
        for c, value in enumerate(row, start=1):
            cell = sheet.cell(k, c, value)
            if isinstance(value, str):
                cell.data_type = "s"
    fill = PatternFill("solid", fgColor="FFF4D6")
    for c, name in enumerate(table.columns, start=1):
        sheet.cell(1, c).font = Font(bold=True)
        sheet.column_dimensions[sheet.cell(1, c).column_letter].width = 24 if "name" in name else 14
        if name in TO_FILL:
            for k in range(2, len(table) + 2):
                sheet.cell(k, c).fill = fill
    sheet.freeze_panes = "A2"
    whole = io.BytesIO()
    book.save(whole)
    return _without_clock(whole.getvalue())


def _without_clock(data: bytes) -> bytes:
    """Return a workbook without the time at which it was written."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in sorted(old.namelist()):
            part = old.read(name)
            if name == "docProps/core.xml":
                part = re.sub(rb"\d{4}-\d\d-\d\dT[\d:.]+Z", b"1980-01-01T00:00:00Z", part)
            info = zipfile.ZipInfo(name, FIXED)
            info.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(info, part)
    return out.getvalue()


def _paper(plan: Plan, table: pd.DataFrame) -> dict[str, Any]:
    yards = []
    for yard, mine in table.groupby("yard_id", sort=False):
        lived = plain(str(mine["address"].iloc[0]), 40)
        rows = [
            {
                "bed": "" if pd.isna(row.bed) else str(row.bed),
                "number": "" if pd.isna(row.number) else str(row.number),
                "common": plain(row.common_name, 40),
                "id": plain(row.planting_id, 24),
                "form": plain(row.form, 12),
                "count": f"{int(row.count_)}",
            }
            for row in each_row(mine.rename(columns={"count": "count_"}))
        ]
        yards.append({"name": f"Yard {plain(str(yard), 30)}", "address": lived, "rows": rows})
    return {
        **head(plan, "Season form"),
        "kind": "season",
        "subtitle": "What was planted, what lives, what was eaten: leave blank what you do not know",
        "yards": yards,
        "notes": [
            "Chewed leaves are what the plants are for: note them under eaten, and spray nothing.",
            "Type it into season-form.csv or season-form.xlsx, and name that file under [layers.season].",
        ],
    }
