"""The corridor of a study: how much works as one, who carries it, where it breaks, whom to invite next."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from habitat.connectivity.case import Case, Terrain, case_of
from habitat.connectivity.distance.crossing import coarsest, ground_of, load_crossing_costs
from habitat.connectivity.invitations.table import ask
from habitat.connectivity.measures import tables
from habitat.connectivity.measures.breaks import breaks_of
from habitat.connectivity.measures.losses import SAMPLED_DRAWS, SAMPLED_SOURCES
from habitat.connectivity.measures.sightings import observed, walks_of
from habitat.connectivity.measures.tables import gains_of, joint_of, worth_of
from habitat.connectivity.patches import STATES
from habitat.connectivity.types import Corridor, CorridorRequest, Weighed
from habitat.connectivity.words import sentences
from habitat.grid import Bounds
from habitat.planting.anchors import read_anchors
from habitat.progress import Progress


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
    found = _Found()
    walks = walks_of(request)
    for done, case in enumerate(cases):
        _tell(progress, f"corridor of the {case.common_name}", done, len(cases))
        found.add(request, case)
        if walks is not None:
            seen = found.breaks[case.butterfly]["observed"] = observed(request, case, walks)
            found.notes += _seen_in_anchors(case, seen["breeding_confirmed"])
    _tell(progress, "whom to invite", len(cases), len(cases))
    asked = ask(request, cases)
    crs = request.yards.crs
    joint = joint_of(entries, {case.butterfly: case.weight for case in cases})
    headline = {"butterflies": entries, "joint_score": joint, "invitations": asked.summary}
    return Corridor(
        importance=pd.concat(found.parts, ignore_index=True) if found.parts else empty_importance(),
        links=tables.geo(found.links, tables.LINK_COLUMNS, crs),
        chain=tables.geo(found.chains, tables.CHAIN_COLUMNS, crs),
        invitations=asked.invitations,
        headline=headline,
        invitation_steps=asked.steps,
        breaks=found.breaks,
        sentences=sentences(headline, cases, found.breaks, request.yards["role"].value_counts().to_dict()),
        notes=(*notes, *(walks.notes if walks else ()), *found.notes, *_told(cases, entries), *asked.notes),
    )


def weigh_corridor(request: CorridorRequest, progress: Progress | None = None) -> Weighed:
    """Return what a round of planning is worth, and where one more square metre is worth most.

    Takes and raises what ``score_corridor`` does.
    """
    cases, _ = _cases(request, progress)
    gains: dict[tuple[str, str], float] = {}
    for case in cases:
        gains |= gains_of(request, case)
    worth = {
        s: {c.butterfly: c.state(s).connected().equivalent_area_m2 for c in cases}
        for s in ("members", "everyone")
    }
    return Weighed(worth["members"], worth["everyone"], {c.butterfly: c.weight for c in cases}, gains)


@dataclass
class _Found:
    """What the butterflies come to, one after the other."""

    links: list[pd.DataFrame] = field(default_factory=list)
    chains: list[pd.DataFrame] = field(default_factory=list)
    parts: list[pd.DataFrame] = field(default_factory=list)
    breaks: dict[str, dict[str, Any]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    def add(self, request: CorridorRequest, case: Case) -> None:
        """Work out one butterfly."""
        for state in STATES:
            graph = case.state(state)
            links = tables.links_of(case, state, graph)
            chain, joins = tables.chain_of(case, state, graph)
            self.links.append(links)
            self.chains.append(chain)
            if state == "members":
                part, sampled = tables.importance_of(case, graph, request.study.study.seed)
                self.parts.append(part)
                self.breaks[case.butterfly] = breaks_of(request, case, joins, links, part)
                if sampled:
                    self.notes.append(
                        f"{case.butterfly}: passing_m2 is an estimate from a sample of "
                        f"{tables.SAMPLED_SOURCES} places; passing_error_m2 is its standard error."
                    )
                lost = self.breaks[case.butterfly]["losses"]
                if lost.get("sampled"):
                    self.notes.append(
                        f"{case.butterfly}: what is left after losses is an estimate from a sample of "
                        f"{SAMPLED_SOURCES} places and {SAMPLED_DRAWS} random orders; its standard error is "
                        f"at most {lost['error']:.1%} of what is there now."
                    )


def _seen_in_anchors(case: Case, confirmed: list[str]) -> list[str]:
    """Tell in which anchors young were seen though nobody has named the butterfly there."""
    held = set(case.spread.place[case.spread.area_m2 > 0.0])
    names = [p.removeprefix("anchor: ") for p in confirmed if p.startswith("anchor: ") and p not in held]
    if not names:
        return []
    return [
        f"{case.butterfly}: eggs or young were seen in {', '.join(names)}, where it does not count as "
        "breeding. If it does breed there, name it in the column butterflies of the anchors."
    ]


def empty_importance() -> pd.DataFrame:
    """Return an importance table without rows."""
    columns = {"yard_id": object, "butterfly": object, **dict.fromkeys(tables.PARTS, float)}
    return pd.DataFrame({c: pd.Series(dtype=t) for c, t in columns.items()})


def _cases(request: CorridorRequest, progress: Progress | None) -> tuple[list[Case], list[str]]:
    settings = request.study.connectivity
    _, told = read_anchors(request.anchors, request.knowledge, settings.anchor_host_share)
    cases, notes = [], list(told)
    ground, costs = None, None
    if settings.distance == "by ground" and len(request.yards):
        _tell(progress, "what the ground is to cross", 0, 1)
        costs = load_crossing_costs(request.study)
        bounds = _bounds(request)
        cell = coarsest(bounds, settings.ground_cell_m)
        ground = ground_of(request.layers, bounds, cell, costs)
        notes += ground.notes
    for done, butterfly in enumerate(request.butterflies):
        _tell(progress, "distances between breeding places", done, len(request.butterflies))
        terrain = None
        if ground is not None and costs is not None:
            group = str(request.knowledge.butterflies.loc[butterfly, "habitat"])
            terrain = Terrain(ground.cost(costs, group), ground.grid)
        case, told = case_of(request, butterfly, terrain)
        cases.append(case)
        notes += told
    return cases, notes


def _bounds(request: CorridorRequest) -> Bounds:
    """Return what all yards, anchors and patches take up, and 50 m around [m]."""
    frames = [request.yards, request.breeding, request.nectar_stones]
    frames += [request.anchors] if request.anchors is not None else []
    boxes = np.array([f.total_bounds for f in frames if len(f)])
    west, south = np.nanmin(boxes[:, :2], axis=0) - 50.0
    east, north = np.nanmax(boxes[:, 2:], axis=0) + 50.0
    return float(west), float(south), float(east), float(north)


def _told(cases: list[Case], entries: dict[str, dict[str, Any]]) -> list[str]:
    """Return notes on butterflies without ground, without limit, and with neglected worth."""
    notes = []
    for case in cases:
        entry = entries[case.butterfly]
        if entry["everyone"]["equivalent_area_m2"] <= 0.0:
            notes.append(
                f"{case.butterfly}: no breeding ground even with everyone's plan; "
                "it is left out of the joint score."
            )
        worst = max(
            e["neglected_share"]
            for s in STATES
            for e in (entry[s], entry["low_reach"][s], entry["high_reach"][s])
        )
        if worst > 0.001:
            notes.append(
                f"{case.butterfly}: passages below {case.cut:g} are neglected; that lowers an equivalent "
                f"area by at most {worst:.2%}."
            )
    return notes


def _tell(progress: Progress | None, what: str, done: int, total: int) -> None:
    if progress is not None:
        progress(what, done, total)
