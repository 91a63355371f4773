"""What a run would refuse, found before its first second of work: names, region, states, who takes part."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

import pandas as pd

from habitat.errors import HabitatError, NotFoundError, StudyError, together
from habitat.knowledge import Knowledge, resolve_butterflies, resolve_plants
from habitat.knowledge.names import NameMatch
from habitat.knowledge.place import knowledge_of_place
from habitat.knowledge.wishes import choose_wishes
from habitat.layers.join.people import find_yard, groups_of
from habitat.layers.types import Layers
from habitat.pipeline.native import EVERY_ONE, not_native
from habitat.pipeline.season import in_season
from habitat.planting.communities.rules import rules_of
from habitat.remarks import Remark, remark
from habitat.report.lists.letters import check_templates
from habitat.study.fitting import errors_of
from habitat.study.model import Study
from habitat.terms import PLANNED

MOST_UNASKED = 300
"""Without a sign-up sheet, more yards than this are planned only when asked for; how long is told first."""

SECONDS_A_YARD = 1.3
"""Processor time that two rounds of planting take for a yard, on the machine that the benchmarks name; for an
estimate only."""

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Ready:
    """What later stages go by: tables of the place, the study in its season, and what it names, resolved.

    chosen : yards to plan. allowed : plants that may be planned, in the order of the table. wishes :
    butterflies to plan for. notes : what there is to tell of the season and of wishes.
    """

    knowledge: Knowledge
    study: Study
    chosen: tuple[str, ...]
    allowed: list[str]
    wishes: tuple[str, ...]
    season_notes: tuple[Remark | str, ...]
    wish_notes: tuple[str, ...]


def make_ready(study: Study, layers: Layers, yard_ids: tuple[str, ...] = ()) -> Ready:
    """Resolve what a study names, or refuse it with every reason at once.

    Parameters
    ----------
    study, layers
        As ``read_study`` and ``read_layers`` give them.
    yard_ids
        Yards to plan; empty for all that take part.

    Raises
    ------
    HabitatError
        If a run would refuse the study; several reasons come together, in one SeveralError.
    """
    faults: list[HabitatError] = []

    def tried(do: Callable[[], T]) -> T | None:
        try:
            return do()
        except HabitatError as error:
            faults.append(error)
            return None

    tried(lambda: refuse_unread(study))
    chosen = tried(lambda: _chosen(study, layers, yard_ids))
    knowledge = tried(
        lambda: knowledge_of_place(study.knowledge, layers.yards, study.folder, states=study.study.states)
    )
    if knowledge is None:
        raise together(faults)
    known, (study, season_notes) = knowledge, in_season(study, knowledge)
    tried(lambda: errors_of(study))
    for key, names in _plants_named(study).items():
        tried(partial(_plants, names, known, key, study))
    for key, names in _butterflies_named(study).items():
        tried(partial(_butterflies, names, known, key, study))
    allowed = None if faults else tried(lambda: _plants_allowed(study, known))
    wishes = tried(lambda: _wishes(study, layers, known))
    if faults or chosen is None or allowed is None or wishes is None:
        raise together(faults)
    notes: tuple[Remark | str, ...] = (*season_notes, *_unheard(study, layers))
    return Ready(known, study, chosen, allowed, wishes[0], notes, wishes[1])


def refuse_unread(study: Study) -> None:
    """Refuse what no layer has to be read for: no date, letters, numbers of beds; every reason at once.

    Raises
    ------
    HabitatError
        If a run would refuse the study for any of them.
    """
    faults: list[HabitatError] = []
    for ask in (_dated, check_templates, lambda one: rules_of(one.planting)):
        try:
            ask(study)
        except HabitatError as error:
            faults.append(error)
    if faults:
        raise together(faults)


def _unheard(study: Study, layers: Layers) -> list[Remark]:
    """Return which groups the study speaks of that no row of the sign-up sheet names."""
    named = set(groups_of(layers.frame("participants"), study.groups).values())
    return [remark("group_unheard", group=name) for name in study.groups if name not in named]


def _dated(study: Study) -> None:
    if study.study.date is None:
        what, mend = "study.date is missing", "Add a line such as date = 2026-03-01 under [study]"
        raise StudyError(what, str(study.path), mend)


def _chosen(study: Study, layers: Layers, yard_ids: tuple[str, ...]) -> tuple[str, ...]:
    """Return the yards to plan as far as they are known; those that are found by rule come later."""
    if not by_rule(study, layers, yard_ids):
        return yards_to_plan(study, layers, yard_ids)
    named, yards = {find_yard(layers.yards, said) for said in yard_ids}, layers.yards
    able = yards.loc[yards["role"].isin(PLANNED), "yard_id"]
    return tuple(y for y in able if not named or y in named)


def by_rule(study: Study, layers: Layers, yard_ids: tuple[str, ...]) -> bool:
    """Return whether who else may be asked is found by rule, once it is known what each place offers.

    That takes a sign-up sheet, and is not done where only yards are planned that are on it.
    """
    people = layers.frame("participants")
    if study.connectivity.candidates == "sheet" or people is None or not len(people):
        return False
    able = set(layers.yards.loc[layers.yards["role"].isin(PLANNED), "yard_id"])
    return not yard_ids or not {find_yard(layers.yards, said) for said in yard_ids} <= able


def yards_to_plan(study: Study, layers: Layers, yard_ids: tuple[str, ...]) -> tuple[str, ...]:
    """Return the yards that get a plan: those named, or all members and candidates.

    Raises
    ------
    NotFoundError
        If a yard named is neither.
    StudyError
        If nobody takes part, or so many would without a sign-up sheet that a run took hours.
    """
    yards = layers.yards
    able = yards.loc[yards["role"].isin(PLANNED), "yard_id"]
    if yard_ids:
        named = {find_yard(yards, said) for said in yard_ids}
        for yard_id in sorted(named - set(able)):
            raise NotFoundError(
                f"yard {yard_id!r} is neither a member nor a candidate",
                "",
                "Set its role in the participants table",
            )
        return tuple(y for y in able if y in named)
    if not len(able):
        raise StudyError(
            "nobody takes part: no yard is a member or a candidate",
            "layers.participants",
            "Fill in the sign-up sheet, or say --everyone to plan every yard",
        )
    if "participants" not in layers.vectors and len(able) > MOST_UNASKED and not study.planting.everyone:
        raise StudyError(
            f"there is no sign-up sheet, so all of them count: {time_words(len(able))}",
            "layers.participants",
            "Name the sign-up sheet, or say --everyone to plan every yard",
        )
    return tuple(able)


def time_words(plans: int, processors: int = 2) -> str:
    """Return how many yards are planned, and about how long that takes on so many processors.

    Examples
    --------
    >>> time_words(1200)
    '1,200 yards to plan, which takes about 13 minutes on 2 processor(s)'
    """
    hours = plans * SECONDS_A_YARD / max(processors, 1) / 3600
    about = f"{hours:.1f} hours" if hours >= 1 else f"{60 * hours:.0f} minutes"
    return f"{plans:,} yards to plan, which takes about {about} on {processors} processor(s)"


def _plants_named(study: Study) -> dict[str, list[str]]:
    return {
        "suitability.rasters": study.suitability.rasters,
        "planting.allow_not_native": [n for n in study.planting.allow_not_native if n != EVERY_ONE],
        "planting.plants": study.planting.plants,
        "planting.exclude": study.planting.exclude,
        "planting.caps": list(study.planting.caps),
        "planting.favoured": study.planting.favoured,
    }


def _butterflies_named(study: Study) -> dict[str, list[str]]:
    keys = ("butterflies", "weights", "median_m", "mean_m", "five_percent_m", "hop_max_m")
    named = {f"connectivity.{key}": list(getattr(study.connectivity, key)) for key in keys}
    return {"planting.wishes": list(study.planting.wishes)} | named


def _butterflies(names: list[str], knowledge: Knowledge, key: str, study: Study) -> None:
    _refuse(resolve_butterflies(names, knowledge), key, "butterfly tables", study, knowledge.butterflies)


def _refuse(matches: Sequence[NameMatch], key: str, tables: str, study: Study, table: pd.DataFrame) -> None:
    """Raise a StudyError for the names that came to nothing, with the nearest as people call them."""
    faults: list[HabitatError] = []
    for match in matches:
        if match.accepted is None:
            near = [str(table["common_name"].get(name) or name) for name in match.suggestions]
            hint = f" (did you mean {' or '.join(near)}?)" if near else ""
            what = f"{key} names {match.given!r}, which is not in the {tables}{hint}"
            faults.append(StudyError(what, str(study.path), "Mend the name or leave it out"))
    if faults:
        raise together(faults)


def _plants(names: list[str], knowledge: Knowledge, key: str, study: Study) -> list[str]:
    matches = resolve_plants(names, knowledge)
    _refuse(matches, key, "plant tables", study, knowledge.plants)
    return [match.accepted for match in matches if match.accepted is not None]


def _plants_allowed(study: Study, knowledge: Knowledge) -> list[str]:
    """Return the plants that may be planned, in the order of the table."""
    wanted = _plants(study.planting.plants, knowledge, "planting.plants", study)
    barred = set(_plants(study.planting.exclude, knowledge, "planting.exclude", study))
    foreign = not_native(study, knowledge)
    allowed = [p for p in knowledge.plants.index if (not wanted or p in wanted) and p not in barred | foreign]
    if not allowed:
        what = "planting.plants, planting.exclude and what is native here leave no plant to choose from"
        raise StudyError(what, str(study.path), "Name more plants, or leave fewer out")
    return allowed


def _wishes(study: Study, layers: Layers, knowledge: Knowledge) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the butterflies to plan for, and why if the study does not name them."""
    seen = layers.frame("sightings")
    recorded = (
        [] if seen is None or "butterfly" not in seen else seen["butterfly"].dropna().astype(str).tolist()
    )
    wishes = choose_wishes(knowledge, named=study.planting.wishes, recorded=sorted(set(recorded)))
    if study.planting.wishes:
        return wishes.wished, ()
    if wishes.wished:
        return wishes.wished, (
            "No wishes in the study: planned for the butterflies that the sightings record.",
        )
    widespread = tuple(b for b in knowledge.region.widespread if b in knowledge.butterflies.index)
    return widespread, (
        "No wishes and no sightings in the study: planned for widespread butterflies of the region, "
        "if they live near you. Name yours under planting.wishes.",
    )
