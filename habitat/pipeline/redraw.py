"""Results drawn anew from tables that people edited; nothing is solved."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd

from habitat.errors import LayerError, MissingFileError
from habitat.pipeline.plant_facts import PlantFacts
from habitat.pipeline.planting import Groundwork, facts_of
from habitat.planting.choice.facts import Facts
from habitat.planting.choice.problem import bar_plants
from habitat.planting.settled import BY_HAND, Settled, living_of
from habitat.planting.types import Drawn
from habitat.planting.yard_jobs import yard_wishes
from habitat.remarks import Remark, Subject, remark
from habitat.report.written import LIST, sha256_of
from habitat.revision.changes import fit_of_plantings
from habitat.revision.checks import breaches, odd_rows
from habitat.revision.earlier import Earlier, kept_plans
from habitat.revision.edits import WHY, Edits
from habitat.revision.listed import read_list
from habitat.terms import DRAFT, PLANNED, REFUSED

LISTED = "lists/plantings.csv"


def study_of(folder: Path, earlier_study: str) -> Path:
    """Return the study file that results name, seen from them.

    Raises
    ------
    MissingFileError
        If it is not there any more.
    """
    path = (folder / earlier_study).resolve()
    if not earlier_study or not path.is_file():
        raise MissingFileError(
            f"the study of these results is not at {earlier_study or 'any place that they name'}",
            str(folder),
            "Name it with --study",
        )
    return path


def redrawn(
    request: Groundwork, earlier: Earlier, listed: Path | None = None
) -> tuple[Groundwork, tuple[Remark, ...]]:
    """Return what planting takes when all is settled as people edited it, and what there is to tell of it.

    Parameters
    ----------
    request
        The stages before planting.
    earlier
        The edited results.
    listed
        An edited list of plantings; None for the one in the results, if somebody edited it.

    Raises
    ------
    LayerError
        If nothing is left to draw, or a table lacks a column.
    """
    yards = request.layers.yards
    tables, odd = odd_rows(earlier.tables, yards)
    earlier = replace(earlier, tables=tables)
    able = list(yards.loc[yards["role"].isin(PLANNED), "yard_id"])
    ids = [yard for yard in able if yard in earlier.planned]
    was, file = kept_plans(earlier, ids), listed or edited_list(earlier.folder)
    facts = PlantFacts(request)
    living = living_of(earlier.tables["existing_plants"])
    beds = frozenset(living["bed_id"])
    edits = Edits(earlier.carried.drawn, facts.plant, facts.row, facts.yard_at, beds)
    table, told = (None, ()) if file is None else read_list(file)
    found = edits.read(_whole(was.drawn, earlier), table, "" if file is None else file.name)
    drawn = Drawn(*(_of_yards(t, ids) for t in (found.beds, found.plantings, found.points)))
    if not len(drawn.plantings):
        raise LayerError("no planting is left to draw", str(earlier.folder), "Put plan.gpkg back as it was")
    drawn, breached = judged(request, drawn)
    notes = (
        remark("redrawn", changed=_changed(drawn), yards=len(ids)),
        *earlier.decisions.notes,
        *odd,
        *told,
        *edits.notes,
        *_left_out(earlier, found, ids, set(yards["yard_id"])),
        *breached,
    )
    earlier = replace(earlier, as_came=earlier.as_came | _as_came(earlier.folder, file))
    settled = Settled(drawn, was.results, was.planted)
    existing = pd.concat([request.existing, living], ignore_index=True) if len(living) else request.existing
    ready = replace(
        request, yard_ids=tuple(ids), earlier=earlier, settled=settled, existing=existing, redraw=True
    )
    return ready, notes


def judged(request: Groundwork, drawn: Drawn, facts: Facts | None = None) -> tuple[Drawn, tuple[Remark, ...]]:
    """Return edited plans with the fit of what people put there, and what in them breaches a rule.

    Parameters
    ----------
    request
        The stages before planting.
    drawn
        The plans of some yards, as ``Edits.read`` returns them.
    facts
        As ``facts_of`` gives them, if somebody has them.
    """
    fit = fit_of_plantings(drawn.points, request.site, request.needs)
    drawn = replace(drawn, plantings=_with_fit(drawn.plantings, fit))
    told = breaches(
        drawn,
        request.layers.yards,
        request.site,
        fit=fit,
        least_fit=request.needs.class_limits[2],
        barred=_barred(request, drawn, facts),
    )
    return drawn, tuple(told)


def _left_out(earlier: Earlier, found: Drawn, ids: list[str], known: set[str]) -> list[Remark]:
    """Tell of beds drawn in yards that are not planned, and of plans whose yards take no part any more."""
    notes, beds = [], [*earlier.tables["beds"]["yard_id"].dropna(), *found.beds["yard_id"]]
    for yard in sorted(set(beds) - {*ids, "", *earlier.having(*REFUSED)}):
        about = Subject(yards=(yard,))
        if yard in earlier.planned:
            notes.append(remark("kept_yard_left", about, status=earlier.decisions.status().get(yard, DRAFT)))
        else:
            many = beds.count(yard)
            notes.append(remark("hand_yard_left_out", about, beds=many, known=yard in known))
    return notes


def _as_came(folder: Path, listed: Path | None) -> dict[str, bytes]:
    """Return edited tables by name, as they came."""
    files = [folder / "plan.gpkg"] if _written(folder, "plan.gpkg") != sha256_of(folder / "plan.gpkg") else []
    return {file.name: file.read_bytes() for file in (*files, *([listed] if listed else []))}


def _whole(drawn: Drawn, earlier: Earlier) -> Drawn:
    """Return kept tables with rows that have no yard yet: those that somebody added in a GIS."""
    tables = {"beds": drawn.beds, "plantings": drawn.plantings, "plant_points": drawn.points}
    out = []
    for name, mine in tables.items():
        table = earlier.tables[name]
        added = table[table["yard_id"].isna() | (table["yard_id"] == "")]
        out.append(pd.concat([mine, added], ignore_index=True) if len(added) else mine)
    return Drawn(*out)


def _of_yards(table: Any, ids: list[str]) -> Any:
    return table[table["yard_id"].isin(ids)].reset_index(drop=True)


def _changed(drawn: Drawn) -> int:
    return int(drawn.plantings[BY_HAND].astype(bool).sum())


def _with_fit(plantings: Any, fit: dict[str, float]) -> Any:
    """Return plantings with the fit of those whose plant somebody put there."""
    mine = plantings["why"] == WHY
    return plantings.assign(fit=plantings["fit"].where(~mine, plantings["planting_id"].map(fit)))


def edited_list(folder: Path) -> Path | None:
    """Return the list of plantings in results if it is not as the run wrote it, or saved as a workbook.

    Raises
    ------
    LayerError
        If somebody edited the list and saved a workbook too.
    """
    path = folder / LISTED
    sheet, written = path.with_suffix(".xlsx"), _written(folder, LISTED)
    edited = path.is_file() and written is not None and sha256_of(path) != written
    if edited and sheet.is_file():
        what = f"there is a {sheet.name} beside an edited {path.name}"
        raise LayerError(what, str(path.parent), "Keep the one that holds")
    return path if edited else sheet if sheet.is_file() else None


def _written(folder: Path, name: str) -> str | None:
    """Return the SHA-256 that a file of results had when the run wrote it, None if nobody can tell."""
    try:
        found = json.loads((folder / LIST).read_text(encoding="utf-8"))["sha256"].get(name)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None
    return found if isinstance(found, str) else None


def _barred(request: Groundwork, drawn: Drawn, facts: Facts | None) -> dict[tuple[str, str], Remark]:
    """Return why a household's own wishes and hazards keep plants out of its yard."""
    mine = drawn.plantings[drawn.plantings[BY_HAND].astype(bool)]
    if not len(mine):
        return {}
    facts = facts or facts_of(request.study, request.knowledge, request.needs, request.wishes)
    settings, out = request.study.planting, dict[tuple[str, str], Remark]()
    rows = request.layers.yards.set_index("yard_id", drop=False)
    for yard, plants in mine.groupby("yard_id")["plant"]:
        wishes = yard_wishes(rows.loc[yard], settings, weights={}, stock={})
        why = dict(zip(facts.plants, bar_plants(facts, wishes, settings), strict=True))
        out |= {(str(yard), str(p)): told for p in plants if (told := why.get(p)) is not None}
    return out
