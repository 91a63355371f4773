"""A run that follows an earlier one: whose plans stay, and by which weights drafts are planned."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import pandas as pd

from habitat.connectivity.types import Weighed
from habitat.layers.types import Layers
from habitat.pipeline.after_season import grow_on
from habitat.pipeline.planting import Groundwork, nectar_around
from habitat.planting.settled import Carried, Round, living_of
from habitat.planting.types import Planting
from habitat.remarks import Remark, Subject, remark
from habitat.revision.changes import changes_under, refuse_unknown
from habitat.revision.earlier import Earlier, kept_plans, matches_file
from habitat.study.model import Study
from habitat.terms import ASKED, KEPT, PLANNED


def earlier_folder(study: Study, after: str | Path | None) -> Path | None:
    """Return the results that a run follows, None if it follows none; what is asked for goes first."""
    if after is not None:
        return Path(after)
    return None if study.study.after is None else study.resolve(study.study.after)


def with_matches(study: Study, after: Path | None) -> Study:
    """Return a study that reads the matches of an earlier run, if it names none of its own."""
    file = None if after is None or "matches" in study.layers else matches_file(after)
    return study if file is None else study.changed(layers={"matches": {"path": str(file.absolute())}})


def follow(request: Groundwork, earlier: Earlier) -> tuple[Groundwork, tuple[Remark, ...]]:
    """Return what planting takes with the plans that are kept, and what there is to tell of them.

    Raises
    ------
    StudyError, LayerError
        If a kept plan holds a plant that no table has, or does not hold together.
    """
    yards = request.layers.yards
    able = yards.loc[yards["role"].isin(PLANNED), "yard_id"]
    ids = [yard for yard in able if yard in earlier.kept]
    settled = kept_plans(earlier, ids)
    refuse_unknown(settled, request.knowledge, str(earlier.folder))
    chosen = tuple(y for y in able if y in {*request.yard_ids, *ids})
    drafts = len(chosen) - len(ids)
    stood = request.existing
    grown = grow_on(request, earlier, settled)
    settled = grown.settled
    notes = (
        remark("plans_kept", kept=len(ids), drafts=drafts, earlier=earlier.folder.name),
        *earlier.decisions.notes,
        *_without(earlier, set(able)),
        *changes_under(
            settled,
            request.site,
            request.needs,
            _of_layers(earlier.tables["existing_plants"]),
            stood,
            earlier.carried.fit,
        ),
        *grown.notes,
    )
    existing = pd.concat([stood, grown.living], ignore_index=True) if len(grown.living) else stood
    earlier = replace(earlier, carried=replace(earlier.carried, survival=grown.survival))
    ready = replace(request, yard_ids=chosen, earlier=earlier, settled=settled, existing=existing)
    return ready, notes


def _of_layers(existing: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return what stood by the study's own layers, without what plans have planted."""
    return existing[~existing.index.isin(living_of(existing).index)]


def _without(earlier: Earlier, able: set[str]) -> list[Remark]:
    """Return of which yards something is decided that cannot be kept."""
    notes = []
    for yard, status in earlier.decisions.status().items():
        about = Subject(yards=(yard,))
        if status not in KEPT:
            continue
        if yard not in earlier.planned:
            notes.append(remark("decided_without_plan", about, status=status))
        elif yard not in able:
            notes.append(remark("kept_yard_left", about, status=status))
    return notes


def waiting(study: Study, earlier: Earlier | None) -> tuple[dict[str, tuple[str, str]], tuple[Remark, ...]]:
    """Return whom nobody asks in the year of the study, as ``Decisions.waiting`` gives it, and notes."""
    if earlier is None or study.study.date is None:
        return {}, ()
    year = study.study.date.year
    found = earlier.decisions.waiting(year, earlier.year or year)
    asked = tuple(yard for yard, (status, _) in found.items() if status == ASKED)
    later = tuple(yard for yard in found if yard not in asked)
    told = [remark("asked_this_season", Subject(yards=asked))] if asked else []
    told += [remark("asked_later", Subject(yards=later))] if later else []
    return found, tuple(told)


def unread_season(layers: Layers, earlier: Earlier | None) -> list[Remark]:
    """Return that a season form is of no use where no earlier run is named."""
    form = layers.frame("season")
    if earlier is not None or form is None or not len(form):
        return []
    return [remark("season_unread", rows=len(form))]


def rounds_of(request: Groundwork) -> int:
    """Return how many rounds of planting and corridor there are."""
    earlier = request.earlier
    if request.redraw:
        return 1
    return request.study.connectivity.rounds if earlier is None else len(earlier.carried.rounds)


def next_round(request: Groundwork, planting: Planting, weighed: Weighed, number: int) -> Round:
    """Return what the next round is given.

    Yards of an earlier run get what they got there, so that who joins later changes no plan of theirs.

    Parameters
    ----------
    planting, weighed
        What the round before chose, and what that is worth to the corridor.
    number
        Of the round before, 1 first.
    """
    mine = set(request.yard_ids)
    weights = {key: w for key, w in weighed.gains.items() if key[0] in mine}
    nectar = {yard: months for yard, months in nectar_around(request, planting).items() if yard in mine}
    if request.earlier is None:
        return Round(weights, nectar)
    was, known = request.earlier.carried.rounds[number], set(request.earlier.carried.order)
    return Round(
        {k: w for k, w in weights.items() if k[0] not in known} | was.weights,
        {y: m for y, m in nectar.items() if y not in known} | was.neighbour_nectar,
    )


def carried_on(request: Groundwork, order: tuple[str, ...], rounds: tuple[Round, ...]) -> Carried:
    """Return what a later run takes over; what was only drawn anew hands on what was settled before."""
    if request.redraw and request.earlier is not None:
        return request.earlier.carried
    return Carried(
        order, rounds, survival=() if request.earlier is None else request.earlier.carried.survival
    )
