"""Results drawn anew from tables that people edited; nothing is solved."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
from shapely.geometry.base import BaseGeometry

from habitat.errors import LayerError, MissingFileError
from habitat.knowledge import resolve_plants
from habitat.pipeline.planting import Groundwork, facts_of, offers_of
from habitat.planting.choice.problem import bar_plants
from habitat.planting.communities.habits import read_habits
from habitat.planting.communities.rules import rules_of
from habitat.planting.drawing.draw import read_kinds
from habitat.planting.settled import BY_HAND, Settled
from habitat.planting.supply import Offer, choose_offer, price_list
from habitat.planting.types import Drawn
from habitat.planting.yard_jobs import yard_wishes
from habitat.remarks import Remark, Subject, remark
from habitat.report.written import LIST, sha256_of
from habitat.revision.changes import fit_of_plantings
from habitat.revision.checks import breaches
from habitat.revision.earlier import Earlier, kept_plans
from habitat.revision.edits import WHY, Edits
from habitat.revision.listed import read_list
from habitat.site.types import GROWTH_FORM
from habitat.terms import DECLINED, DRAFT, PLANNED

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
    able = list(yards.loc[yards["role"].isin(PLANNED), "yard_id"])
    ids = [yard for yard in able if yard in earlier.planned]
    was, file = kept_plans(earlier, ids), listed or edited_list(earlier.folder)
    facts = _Facts.of(request)
    edits = Edits(earlier.carried.drawn, facts.plant, facts.row, facts.yard_at)
    table, told = (None, ()) if file is None else read_list(file)
    found = edits.read(_whole(was.drawn, earlier), table, "" if file is None else file.name)
    drawn = Drawn(*(_of_yards(t, ids) for t in (found.beds, found.plantings, found.points)))
    if not len(drawn.plantings):
        raise LayerError("no planting is left to draw", str(earlier.folder), "Put plan.gpkg back as it was")
    fit = fit_of_plantings(drawn.points, request.site, request.needs)
    drawn = replace(drawn, plantings=_with_fit(drawn.plantings, fit))
    notes = (
        remark("redrawn", changed=_changed(drawn), yards=len(ids)),
        *earlier.decisions.notes,
        *told,
        *edits.notes,
        *_left_out(earlier, found, ids, set(yards["yard_id"])),
        *breaches(
            drawn,
            yards,
            request.site,
            fit=fit,
            least_fit=request.needs.class_limits[2],
            barred=_barred(request, drawn),
        ),
    )
    earlier = replace(earlier, as_came=earlier.as_came | _as_came(earlier.folder, file))
    settled = Settled(drawn, was.results, was.planted)
    ready = replace(request, yard_ids=tuple(ids), earlier=earlier, settled=settled, redraw=True)
    return ready, notes


def _left_out(earlier: Earlier, found: Drawn, ids: list[str], known: set[str]) -> list[Remark]:
    """Tell of beds drawn in yards that are not planned, and of plans whose yards take no part any more."""
    notes, beds = [], [*earlier.tables["beds"]["yard_id"].dropna(), *found.beds["yard_id"]]
    for yard in sorted(set(beds) - {*ids, "", *earlier.having(DECLINED)}):
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


def _barred(request: Groundwork, drawn: Drawn) -> dict[tuple[str, str], Remark]:
    """Return why a household's own wishes and hazards keep plants out of its yard."""
    mine = drawn.plantings[drawn.plantings[BY_HAND].astype(bool)]
    facts = facts_of(request.study, request.knowledge, request.needs, request.wishes)
    settings, out = request.study.planting, dict[tuple[str, str], Remark]()
    rows = request.layers.yards.set_index("yard_id", drop=False)
    for yard, plants in mine.groupby("yard_id")["plant"]:
        wishes = yard_wishes(rows.loc[yard], settings, weights={}, stock={})
        why = dict(zip(facts.plants, bar_plants(facts, wishes, settings), strict=True))
        out |= {(str(yard), str(p)): told for p in plants if (told := why.get(p)) is not None}
    return out


class _Facts:
    """What a row of plantings says of a plant, whose yard a place is in, and which plant a name means."""

    def __init__(self, request: Groundwork) -> None:
        table = request.knowledge.plants
        names = tuple(table.index)
        self.knowledge, self.yards, self.forms = request.knowledge, request.layers.yards, table["form"]
        habits = read_habits(table, rules_of(request.study.planting))
        self.kinds = read_kinds(names, request.knowledge, habits.spacing_m)
        self.prices = price_list(request.study.planting, str(request.study.path))
        self.offers = offers_of(request.study, request.layers, request.knowledge)[0]
        hosts = request.knowledge.host_plants
        mine = hosts[hosts["butterfly"].isin(request.wishes)]
        self.eaters = {str(p): sorted(set(b)) for p, b in mine.groupby("plant")["butterfly"]}

    @classmethod
    def of(cls, request: Groundwork) -> _Facts:
        """Return the facts of a study."""
        return cls(request)

    def plant(self, name: str) -> str | None:
        """Return the scientific name of a plant by any writing of it."""
        return resolve_plants([name], self.knowledge)[0].accepted if name else None

    def yard_at(self, shape: BaseGeometry) -> str | None:
        """Return the yard at a place."""
        inside = self.yards[self.yards.intersects(shape.centroid)]
        return str(inside["yard_id"].iloc[0]) if len(inside) else None

    def row(self, plant: str, form: str, count: int) -> dict[str, Any]:
        """Return what a row of plantings says of a plant; the crown [m] is for its points."""
        kind, eaters = self.kinds[plant], self.eaters.get(plant, [])
        offer = self._offer(plant, form)
        purpose = {(True, True): "host and nectar", (True, False): "host", (False, True): "nectar"}
        return {
            "plant": plant,
            "common_name": kind.common_name,
            "purpose": purpose.get((bool(eaters), bool(kind.bloom_months)), "shelter"),
            "form": offer.form,
            "spacing_m": kind.spacing_m,
            "height_m": kind.height_m,
            "limiting_need": "",
            "butterflies": "; ".join(eaters),
            "bloom_months": kind.bloom_months,
            "cost": round(offer.price * count, 2),
            "layer": "structure" if kind.growth != "herb" else "season",
            "group_size": count,
            "crown_m": kind.spread_m,
        }

    def _offer(self, plant: str, form: str) -> Offer:
        growth = GROWTH_FORM[str(self.forms[plant])]
        if (growth, form) in self.prices:
            return Offer(form, self.prices[growth, form])
        usual = choose_offer(growth, str(self.knowledge.plants.loc[plant, "propagation"]), self.prices)
        return self.offers.get(plant, usual)
