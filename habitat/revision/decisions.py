"""``decisions.csv``: what became of each yard's plan, read back however a spreadsheet left it."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd

from habitat.errors import LayerError, MissingFileError
from habitat.layers.cells.values import flag
from habitat.layers.formats.csv_table import read_csv
from habitat.layers.formats.spreadsheet import read_sheet
from habitat.layers.join.people import YardBook
from habitat.remarks import Remark, Subject, remark
from habitat.report.lists.decisions import COLUMNS
from habitat.terms import ACCEPTED, ASK_AGAIN, ASKED, DRAFT, PLANTED, STATUSES

FILE, SHEET = "decisions.csv", "decisions.xlsx"

ASK_FROM = "ask_from"
"""Column that a table may have beside the usual ones: from when a household may be asked again."""

TAKES_PART = "takes_part"
"""Column that a table may have beside the usual ones: "yes" for who joined and is on no sign-up sheet yet."""

YEAR = re.compile(r"(?<!\d)(?:19|20)\d\d(?!\d)")


@dataclass(frozen=True, slots=True)
class Decisions:
    """What people decided, yard by yard.

    Parameters
    ----------
    table
        A row per yard: COLUMNS and whatever columns people added, all text, "" where blank. A status is one
        of STATUSES, or a word as it came that is none of them.
    apart
        Rows that fit no yard, or that another row of the same yard outweighs, as they came.
    notes
        What is wrong with rows of the file, each with its number counted from 1.
    """

    table: pd.DataFrame
    apart: pd.DataFrame
    notes: tuple[Remark, ...] = ()

    def status(self) -> dict[str, str]:
        """Return one of STATUSES by yard; a word that is none of them counts as accepted.

        A plan that somebody may have in hand is rather kept than changed.
        """
        rows = zip(self.table["yard_id"], self.table["status"], strict=True)
        return {yard: word if word in STATUSES else ACCEPTED for yard, word in rows}

    @property
    def joining(self) -> frozenset[str]:
        """Yards that take part whatever the sign-up sheet says."""
        if TAKES_PART not in self.table:
            return frozenset()
        yes = [flag(word, if_other=False)[0] for word in self.table[TAKES_PART]]
        return frozenset(self.table.loc[yes, "yard_id"].astype(str))

    def planted(self, yards: Collection[str]) -> Decisions:
        """Return decisions in which some yards are planted."""
        mine = self.table["yard_id"].isin(list(yards))
        table = self.table.assign(status=self.table["status"].where(~mine, PLANTED))
        new = [y for y in yards if y not in set(self.table["yard_id"])]
        rows = pd.DataFrame([{"yard_id": y, "status": PLANTED} for y in new], columns=list(table.columns))
        return replace(self, table=pd.concat([table, rows], ignore_index=True).fillna(""))

    def joined(self, yards: Collection[str]) -> Decisions:
        """Return decisions in which some yards that were asked are drafts, since they take part now."""
        mine = self.table["yard_id"].isin(list(yards)) & self.table["status"].isin((ASKED, ASK_AGAIN))
        about = Subject(yards=tuple(self.table.loc[mine, "yard_id"]))
        notes = (remark("asked_and_joined", about),) if mine.any() else ()
        table = self.table.assign(status=self.table["status"].where(~mine, DRAFT))
        return replace(self, table=table, notes=(*self.notes, *notes))

    def waiting(self, year: int, before: int) -> dict[str, tuple[str, str]]:
        """Return whom nobody asks in a year, since they were asked or are to be asked later.

        Parameters
        ----------
        year
            Of the run.
        before
            Year in which a row without a date was written, as near as anybody can tell.

        Returns
        -------
        dict
            By yard its status, ASKED or ASK_AGAIN, and what to tell of it.
        """
        out = {}
        for row in self.table.to_dict("records"):
            status, date, note = (str(row[c]) for c in ("status", "date", "note"))
            back = _year(str(row.get(ASK_FROM, ""))) if status == ASK_AGAIN else None
            back = back or (_year(date) or before) + 1
            if status in (ASKED, ASK_AGAIN) and back > year:
                told = f"asked on {date}" if date else "asked"
                told = told if status == ASKED else f"ask again in {back}"
                out[str(row["yard_id"])] = status, f"{told}: {note}" if note else told
        return out

    def with_drafts(self, yards: pd.DataFrame, yard_ids: Sequence[str], date: str) -> pd.DataFrame:
        """Return the table to write: a row for each of some yards, drafts where nobody decided.

        Parameters
        ----------
        yards
            yard_id, address: all yards.
        yard_ids
            Those with a plan.
        date
            Of new drafts.

        Returns
        -------
        pandas.DataFrame
            Those yards in their order, others of which something is decided, and rows kept as they came.
        """
        known, rows = self.table.set_index("yard_id", drop=False), []
        address = addresses_of(yards)
        for yard in yard_ids:
            fresh = {"yard_id": yard, "address": address.get(yard, ""), "status": DRAFT, "date": date}
            rows.append(known.loc[yard].to_dict() if yard in known.index else fresh)
        rest = self.table[~self.table["yard_id"].isin(set(yard_ids)) & (self.table["status"] != DRAFT)]
        told = pd.DataFrame(rows, columns=list(self.table.columns))
        return pd.concat([told, rest, self.apart], ignore_index=True).fillna("")


def addresses_of(yards: pd.DataFrame) -> dict[str, str]:
    """Return yard -> its address, "" where none is known."""
    texts = yards["address"] if "address" in yards else [""] * len(yards)
    pairs = zip(yards["yard_id"], texts, strict=True)
    return {str(yard): text if isinstance(text, str) else "" for yard, text in pairs}


def no_decisions() -> Decisions:
    """Return the decisions of a group that has taken none."""
    empty = pd.DataFrame(columns=list(COLUMNS), dtype=object)
    return Decisions(empty, empty)


def decisions_file(folder: Path) -> Path:
    """Return the file of decisions in results: the table, or the workbook that somebody saved it as.

    Raises
    ------
    MissingFileError
        If there is none.
    LayerError
        If there are both, since nobody can tell which holds the last word.
    """
    table, sheet = folder / FILE, folder / SHEET
    if table.is_file() and sheet.is_file():
        raise LayerError(f"there is a {SHEET} beside {FILE}", str(folder), "Keep the one that holds")
    if not table.is_file() and not sheet.is_file():
        raise MissingFileError(
            f"{FILE} is missing, so nobody can tell which plans are accepted",
            str(folder),
            "Put it back; 'habitat accept FOLDER --yard YARD' writes a new one",
        )
    return table if table.is_file() else sheet


def read_decisions(path: Path, yards: gpd.GeoDataFrame | pd.DataFrame) -> Decisions:
    """Read a file of decisions.

    Parameters
    ----------
    path
        A text table or a workbook, in whatever form a spreadsheet saved it.
    yards
        yard_id, address: those that rows may speak of.

    Raises
    ------
    LayerError
        If no column says which yard or which status, or the file is no table.
    """
    if path.suffix.lower() == ".xlsx":
        table, ragged, told = read_sheet(path, None)
    else:
        table, ragged, _, _, told = read_csv(path, None)
    table = table.rename(columns=lambda c: "_".join(str(c).casefold().split()))
    _check_columns(table, path)
    told = [*told, *(f"row {number + 1}: {what}" for number, what in ragged.items())]
    notes = [remark("decisions_read", file=path.name, what=text) for text in told]
    table = table.map(_unquoted)
    keep, apart, more = _one_row_each(table, YardBook(yards, {}), path.name)
    extra = [c for c in table.columns if c not in COLUMNS]
    rows = pd.DataFrame(keep, columns=[*COLUMNS, *extra]).fillna("")
    return Decisions(rows, table.loc[apart].reindex(columns=[*COLUMNS, *extra]).fillna(""), (*notes, *more))


def _check_columns(table: pd.DataFrame, path: Path) -> None:
    for wanted, what in (("status", "what became of each plan"), ("yard_id", "which yard a row speaks of")):
        instead = ["address"] if wanted == "yard_id" else []
        if not {wanted, *instead} & set(table.columns):
            raise LayerError(
                f"the column {wanted} is missing, so nobody can tell {what}",
                path.name,
                f"Put the column back; the file has: {', '.join(map(str, table.columns))}",
            )


def _unquoted(value: Any) -> str:
    """Return the text of a cell, without the apostrophe that keeps a spreadsheet from computing it."""
    text = value if isinstance(value, str) else ""
    return text[1:] if text[:1] == "'" and text[1:2] in ("=", "+", "-", "@") else text


def _one_row_each(
    table: pd.DataFrame, book: YardBook, file: str
) -> tuple[list[dict[str, str]], list[int], list[Remark]]:
    """Return a row per yard, the numbers of rows that stand apart, and what is wrong with rows."""
    found: dict[str, list[tuple[int, dict[str, str]]]] = {}
    apart, notes = [], []
    for number, record in zip(table.index, table.to_dict("records"), strict=True):
        row = {str(k): str(v) for k, v in record.items()}
        if not any(row.values()):
            continue
        yard, told = book.find(row.get("yard_id") or None, row.get("address") or None)
        if told:
            notes.append(remark("decisions_row", file=file, row=int(number) + 1, what=told))
        if yard is None:
            apart.append(int(number))
            continue
        word, told = _status(row["status"])
        for what in filter(None, (told, _undated(word, row), _unclear(row))):
            about = Subject(yards=(yard,))
            notes.append(remark("decisions_row", about, file=file, row=int(number) + 1, what=what))
        found.setdefault(yard, []).append((int(number), row | {"yard_id": yard, "status": word}))
    keep = []
    for yard, rows in found.items():
        chosen = next((r for r in reversed(rows) if r[1]["status"] != DRAFT), rows[-1])
        keep.append(chosen[1])
        if len(rows) > 1:
            numbers = tuple(number + 1 for number, _ in rows)
            about = Subject(yards=(yard,))
            notes.append(
                remark("decisions_twice", about, file=file, rows=numbers, status=chosen[1]["status"])
            )
            apart += [number for number, row in rows if row is not chosen[1] and row != chosen[1]]
    return keep, apart, notes


def _year(text: str) -> int | None:
    found = YEAR.search(text)
    return int(found[0]) if found else None


def status_word(text: str) -> str:
    """Return a word for a status in the one form that is compared.

    Examples
    --------
    >>> status_word(" Said-No. "), status_word("ask_again")
    ('said no', 'ask again')
    """
    return " ".join(re.split(r"[\s_-]+", text.casefold().strip(" .!")))


def _status(text: str) -> tuple[str, str]:
    """Return a status as we write it, and what is wrong with it; a blank one is a draft."""
    word = status_word(text)
    if word in STATUSES:
        return word, ""
    if not word:
        return DRAFT, "it has no status: it counts as a draft"
    near = difflib.get_close_matches(word, STATUSES, n=1, cutoff=0.6)
    hint = f"; did you mean {near[0]!r}?" if near else ""
    known = ", ".join(STATUSES)
    return text, f"the status {text!r} is none of {known}{hint}; until it is mended the plan stays as it is"


def _unclear(row: dict[str, str]) -> str:
    """Return what is wrong with a word for whether a yard takes part: only a plain yes lets it join."""
    word = row.get(TAKES_PART, "")
    if flag(word, if_other=False)[1]:
        return ""
    return f"{TAKES_PART} is {word!r}, neither yes nor no: it is as the sign-up sheet says"


def _undated(status: str, row: dict[str, str]) -> str:
    """Return what is wrong with the dates of a row on asking: without a year nobody knows when to ask."""
    if status not in (ASKED, ASK_AGAIN):
        return ""
    when = row.get(ASK_FROM, "") if status == ASK_AGAIN else ""
    if when and _year(when) is None:
        return f"{ASK_FROM} is {when!r}, in which no year stands: it counts as the year after"
    if when or _year(row.get("date", "")):
        return ""
    said = repr(row["date"]) if row.get("date") else "blank"
    return f"it is {status!r}, but no year stands in its date ({said}): it counts as the year of that run"
