"""Say what became of plans: change ``decisions.csv`` of results that are there."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from habitat.errors import LayerError, MissingFileError, ParameterError
from habitat.layers.formats.results import read_results
from habitat.layers.join.people import find_yard
from habitat.remarks import Remark
from habitat.report.lists.decisions import table_bytes
from habitat.report.whole import put_aside, write_whole
from habitat.report.written import naming_edits
from habitat.revision.decisions import (
    ASK_FROM,
    FILE,
    SHEET,
    YEAR,
    Decisions,
    addresses_of,
    decisions_file,
    no_decisions,
    read_decisions,
)
from habitat.terms import ASK_AGAIN, MEMBER, PLANNED, STATUSES


def decide(
    folder: Path,
    *,
    yards: Sequence[str] = (),
    members: bool = False,
    status: str,
    date: str,
    note: str = "",
    when: str = "",
) -> tuple[list[str], tuple[Remark, ...]]:
    """Write a status for some yards into the decisions of results.

    Parameters
    ----------
    folder
        Results of a run for a group.
    yards
        Ids or addresses.
    members
        Whether all yards that take part and have a plan are meant too.
    status
        One of STATUSES.
    date
        That stands beside it.
    note
        That stands beside it; "" leaves what stands there.
    when
        With ASK_AGAIN, a year or date from which the household may be asked; "" is the year after.

    Returns
    -------
    tuple
        Ids of the yards, and what is wrong with rows that were there already.

    Raises
    ------
    ParameterError
        If the status is none, no yard is named, or ``when`` is no year.
    NotFoundError
        If there is no such yard; nothing is written then.
    """
    if status not in STATUSES:
        raise ParameterError("--status", status, "one of " + ", ".join(STATUSES))
    if when and (status != ASK_AGAIN or not YEAR.search(when)):
        raise ParameterError(
            "--when", when, f"a year or a date such as 2027-04-01, with --status '{ASK_AGAIN}'"
        )
    if not yards and not members:
        raise ParameterError("--yard", "nothing", "a yard by id or address, or --members for all of them")
    with naming_edits(folder):
        return _decided(folder, yards, members, {"status": status, "date": date, "note": note}, when)


def _decided(
    folder: Path, yards: Sequence[str], members: bool, said: dict[str, str], when: str
) -> tuple[list[str], tuple[Remark, ...]]:
    known = known_yards(folder)
    planned = known[known["role"].isin(PLANNED)]
    chosen = [find_yard(known, said) for said in yards]
    if members:
        chosen += planned.loc[planned["role"] == MEMBER, "yard_id"].tolist()
    chosen = list(dict.fromkeys(chosen))
    had = _decisions_of(folder, known)
    table = had.with_drafts(known, [*planned["yard_id"]], said["date"])
    if when or ASK_FROM in table:
        table[ASK_FROM] = table.get(ASK_FROM, "")
        table.loc[table["yard_id"].isin(chosen), ASK_FROM] = ""
    cells = {key: text for key, text in said.items() if text or key != "note"}
    _write(with_cells(table, known, chosen, cells | ({ASK_FROM: when} if when else {})), folder)
    return chosen, had.notes


def _decisions_of(folder: Path, known: pd.DataFrame) -> Decisions:
    try:
        return read_decisions(decisions_file(folder), known)
    except MissingFileError:
        return no_decisions()


def with_cells(
    table: pd.DataFrame, known: pd.DataFrame, chosen: list[str], cells: dict[str, str]
) -> pd.DataFrame:
    """Return the table with new cells for some yards; their first rows count, new ones stand behind."""
    address, first = addresses_of(known), ~table["yard_id"].duplicated()
    mine = table["yard_id"].isin(chosen) & first
    table.loc[mine, list(cells)] = list(cells.values())
    new = [y for y in chosen if y not in set(table.loc[mine, "yard_id"])]
    rows = [cells | {"yard_id": y, "address": address.get(y, "")} for y in new]
    return pd.concat([table, pd.DataFrame(rows, columns=list(table.columns))], ignore_index=True).fillna("")


def _write(table: pd.DataFrame, folder: Path) -> None:
    mend = "Close the file where it is open, and try again"
    write_whole(folder, {FILE: table_bytes(table)}, "the decisions", mend)
    if (folder / SHEET).is_file():
        put_aside(folder / SHEET)


def known_yards(folder: Path) -> pd.DataFrame:
    """Return yard_id, role and address of all yards of results.

    Raises
    ------
    MissingFileError, LayerError
        If the folder holds no results for a group.
    """
    about = read_run(folder)
    if about.get("audience") == "public":
        raise LayerError(
            "these results are for the public: their yards have numbers of their own",
            str(folder),
            "Name results that were made with --audience group",
        )
    table = read_results(folder / "plan.gpkg", "yards", shapes=False)
    missing = [c for c in ("yard_id", "role") if c not in table]
    if missing:
        what = f"the layer yards of plan.gpkg has no column {' and no '.join(missing)}"
        raise LayerError(what, str(folder), "Put it back, or run the study again")
    address = table.get("address")
    return pd.DataFrame({"yard_id": table["yard_id"].astype(str), "role": table["role"], "address": address})


def read_run(folder: Path) -> dict[str, Any]:
    """Return what run.json says of results.

    Raises
    ------
    MissingFileError
        If a file is missing that every run writes.
    LayerError
        If it cannot be read.
    """
    for name in ("run.json", "plan.gpkg"):
        if not (folder / name).is_file():
            raise MissingFileError(
                f"there are no results of a run here ({name} is missing)",
                str(folder),
                "Name a folder that 'habitat run' wrote",
            )
    try:
        found = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise LayerError(f"run.json cannot be read ({error})", str(folder), "Run the study again") from error
    if not isinstance(found, dict):
        raise LayerError("run.json does not hold an object", str(folder), "Run the study again")
    return found
