"""Which plants a study leaves out since they are not native to its state, and what is told of it."""

from __future__ import annotations

import geopandas as gpd

from habitat.knowledge import Knowledge, resolve_plants
from habitat.knowledge.place import border_note, native_here, state_doubt, state_names
from habitat.study.model import Study

EVERY_ONE = "all"


def not_native(study: Study, knowledge: Knowledge) -> set[str]:
    """Return the plants that are left out: not recorded native in the state, and not let in by the study."""
    named = study.planting.allow_not_native
    if EVERY_ONE in named:
        return set()
    let_in = {match.accepted for match in resolve_plants(named, knowledge)}
    return {p for p in knowledge.plants.index if native_here(knowledge, p) is False} - let_in


def native_notes(study: Study, knowledge: Knowledge, yards: gpd.GeoDataFrame) -> tuple[str, ...]:
    """Return what is told of plants that are left out or doubted for the state, and of borders near by."""
    common = knowledge.plants["common_name"]
    out = sorted(common[p] for p in not_native(study, knowledge))
    told = list(border_note(knowledge, yards, study.study.states))
    if out:
        told.append(
            f"{len(out)} plants of the tables are left out, since they are not recorded native in "
            f"{state_names(knowledge.states)}: {', '.join(out)}. planting.allow_not_native lets them in."
        )
    doubted = [f"{common[p]} ({doubt})" for p in common.index if (doubt := state_doubt(knowledge, p))]
    if doubted:
        told.append(f"Recorded native here, but in doubt: {'; '.join(doubted)}.")
    return tuple(told)
