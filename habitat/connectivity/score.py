"""The corridor of a study: how much works as one, who carries it, where it breaks, whom to invite next."""

from __future__ import annotations

from typing import Any

import pandas as pd

from habitat.connectivity import tables
from habitat.connectivity.asking import ask
from habitat.connectivity.case import Case, case_of
from habitat.connectivity.gains import gains_of
from habitat.connectivity.headline import joint_of, worth_of
from habitat.connectivity.patches import STATES
from habitat.connectivity.types import Corridor, CorridorRequest, Progress


def score_corridor(request: CorridorRequest, progress: Progress | None = None) -> Corridor:
    """Score the corridor of a neighbourhood.

    Parameters
    ----------
    request
        Patches, yards, anchors and settings; all distances in a metric CRS.
    progress
        Called with (stage in words, done, total).

    Raises
    ------
    HabitatError
        If a butterfly has no movement distance, or a setting names an unknown one.
    """
    cases, notes = _cases(request, progress)
    entries = {case.butterfly: worth_of(case) for case in cases}
    weights = {case.butterfly: case.weight for case in cases}
    links: list[pd.DataFrame] = []
    chains: list[pd.DataFrame] = []
    parts: list[pd.DataFrame] = []
    breaks: dict[str, dict[str, Any]] = {}
    gains: dict[tuple[str, str], float] = {}
    for done, case in enumerate(cases):
        _tell(progress, f"corridor of the {case.common_name}", done, len(cases))
        for state in STATES:
            graph = case.state(state)
            links.append(tables.links_of(case, state, graph))
            chain, joins = tables.chain_of(case, state, graph)
            chains.append(chain)
            if state == "members":
                part, _ = tables.importance_of(case, graph, request.study.study.seed)
                parts.append(part)
                breaks[case.butterfly] = {"anchors_joined": [j["chain"] is not None for j in joins]}
        gains |= gains_of(request, case)
    _tell(progress, "whom to invite", len(cases), len(cases))
    asked = ask(request, cases)
    crs = request.yards.crs
    return Corridor(
        importance=pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(),
        links=tables.geo(links, tables.LINK_COLUMNS, crs),
        chain=tables.geo(chains, tables.CHAIN_COLUMNS, crs),
        invitations=asked.invitations,
        headline={"butterflies": entries, "joint_score": joint_of(entries, weights)},
        gains=gains,
        invitation_steps=asked.steps,
        breaks=breaks,
        sentences=(),
        notes=(*notes, *asked.notes),
    )


def _cases(request: CorridorRequest, progress: Progress | None) -> tuple[list[Case], list[str]]:
    cases, notes = [], list[str]()
    for done, butterfly in enumerate(request.butterflies):
        _tell(progress, "distances between breeding places", done, len(request.butterflies))
        case, told = case_of(request, butterfly)
        cases.append(case)
        notes += told
    return cases, notes


def _tell(progress: Progress | None, what: str, done: int, total: int) -> None:
    if progress is not None:
        progress(what, done, total)
