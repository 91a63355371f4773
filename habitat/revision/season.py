"""The season form, read back however it was filled in: what was planted, what lives, what was eaten."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

import pandas as pd

from habitat.errors import LayerError
from habitat.remarks import Remark, Subject, remark
from habitat.report.lists.season import (
    ALIVE_NEXT_SPRING,
    ALIVE_SUMMER,
    EATEN,
    MARK,
    PLANTED,
    REPLACED_BY,
    WHEN,
)
from habitat.revision.listed import text_of

ALL = frozenset({"all", "yes", "y", "x", "✓", "✔", "true", "ok", "alle"})
NONE = frozenset({"none", "no", "n", "false", "-", "–", "dead", "gone"})


@dataclass(frozen=True, slots=True)
class Told:
    """What a form tells of a planting; None is not told.

    planted, alive : how many. year : in which it was planted. eaten : whether something ate of it.
    replaced_by : what a household put in place of what died, as written.
    """

    planted: int | None = None
    alive: int | None = None
    year: int | None = None
    eaten: bool | None = None
    replaced_by: str = ""


@dataclass(frozen=True, slots=True)
class Season:
    """What forms tell, by planting, and what is wrong with rows of them."""

    told: dict[str, Told]
    notes: tuple[Remark, ...] = ()


def read_season(
    table: pd.DataFrame | None,
    marks: Mapping[str, str],
    counts: Mapping[str, int],
    yards: Mapping[str, str],
    file: str = "season form",
) -> Season:
    """Read rows of a season form.

    Parameters
    ----------
    table
        planting_id and columns of the form as text, indexed by row from 0; None without a form.
    marks
        By planting, as ``marks_of`` gives them for the run that the form must be of.
    counts
        By planting of that run, how many plants it had, planned or living.
    yards
        By planting, its yard.
    file
        Name of the file, for messages.

    Raises
    ------
    LayerError
        If all rows are of another run.
    """
    if table is None or not len(table):
        return Season({})
    records = zip(table.index, table.to_dict("records"), strict=True)
    rows = [(int(n) + 1, {str(c): text_of(v) for c, v in row.items()}) for n, row in records]
    bear = [(n, row) for n, row in rows if row.get(MARK)]
    other = {n for n, row in bear if row[MARK] != marks.get(row.get("planting_id", ""))}
    if other and len(other) == len(bear):
        what = "the season form is of another run: no row of it bears the mark of a planting of these results"
        raise LayerError(what, file, "Name the run that it was printed by with --after, or its form")
    found: dict[str, list[tuple[int, Told]]] = {}
    notes: list[Remark] = []
    if not bear:
        what = (
            f"no row bears a mark in the column {MARK}: it is taken to be of this run, which nobody can tell"
        )
        notes.append(_row(file, 1, "", what))
    for number, row in rows:
        key = row.get("planting_id", "")
        if not any(row.get(c) for c in (PLANTED, WHEN, ALIVE_SUMMER, ALIVE_NEXT_SPRING, EATEN, REPLACED_BY)):
            continue  # nothing is told
        wrong = (
            "it is of another run, or drawn anew since"
            if number in other
            else ""
            if key in counts
            else f"there is no planting {key!r}"
        )
        if wrong:
            notes.append(_row(file, number, "", f"{wrong}; the row is left out"))
            continue
        told, remarks = _read(row, counts[key])
        notes += [_row(file, number, yards[key], what) for what in remarks]
        found.setdefault(key, []).append((number, told))
    for key, several in found.items():
        if len(several) > 1:
            listed = " and ".join(str(n) for n, _ in several)
            what = f"rows {listed} are all of planting {key}; what a later one tells counts"
            notes.append(_row(file, several[-1][0], yards[key], what))
    return Season({key: _merged([t for _, t in several]) for key, several in found.items()}, tuple(notes))


def _row(file: str, row: int, yard: str, what: str) -> Remark:
    about = Subject(yards=(yard,)) if yard else Subject()
    return remark("season_row", about, file=file, row=row, what=what)


def _read(row: Mapping[str, str], count: int) -> tuple[Told, list[str]]:
    """Return what a row tells, and what is wrong with its cells; a cell that nobody can read is not told."""
    notes: list[str] = []
    planted = _how_many(row.get(PLANTED, ""), count, PLANTED, notes)
    most = count if planted is None else planted
    summer = _how_many(row.get(ALIVE_SUMMER, ""), most, ALIVE_SUMMER, notes)
    spring = _how_many(row.get(ALIVE_NEXT_SPRING, ""), most, ALIVE_NEXT_SPRING, notes)
    alive = summer if spring is None else spring
    if alive is not None and alive > most:
        notes.append(f"{alive} are alive of {most} planted: {most} count")
        alive = most
    if summer is not None and spring is not None and spring > summer:
        notes.append("more are alive in spring than in June: the spring counts")
    eaten = _how_many(row.get(EATEN, ""), max(most, 1), EATEN, notes)
    year = re.search(r"\b(19|20)\d\d\b", row.get(WHEN, ""))
    return Told(
        planted, alive, None if year is None else int(year[0]), None if eaten is None else eaten > 0,
        row.get(REPLACED_BY, ""),
    ), notes  # fmt: skip


def _how_many(text: str, whole: int, column: str, notes: list[str]) -> int | None:
    word = text.casefold().strip(" .!")
    if not word:
        return whole if text.strip() else None
    if word in ALL or word in NONE:
        return whole if word in ALL else 0
    if text.strip() in NONE:
        return 0
    number = re.fullmatch(r"(\d{1,5})(?:[.,]0+)?", word)
    if number is None:
        notes.append(f"{column} is {text!r}, which is no number: it counts as not told")
        return None
    return int(number[1])


def _merged(several: list[Told]) -> Told:
    """Return what several rows of a planting tell together; a later one goes first."""
    out = several[0]
    for one in several[1:]:
        facts = {name: getattr(one, name) for name in Told.__slots__}
        out = replace(out, **{name: fact for name, fact in facts.items() if fact not in (None, "")})
    return out
