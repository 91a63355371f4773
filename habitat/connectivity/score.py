"""The corridor of a study: how much works as one, who carries it, where it breaks, whom to invite next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from habitat.arrays import Floats
from habitat.connectivity.case import Case, Terrain, case_of
from habitat.connectivity.invitations.table import invitations_of
from habitat.connectivity.kept import Kept
from habitat.connectivity.measures import tables
from habitat.connectivity.measures.absolute import ALL_STATES, together_of
from habitat.connectivity.measures.breaks import breaks_of
from habitat.connectivity.measures.losses import SAMPLED_DRAWS, SAMPLED_SOURCES
from habitat.connectivity.measures.sightings import Walks, observed
from habitat.connectivity.measures.tables import gains_of, joint_of, with_invited, worth_of
from habitat.connectivity.patches import STATES
from habitat.connectivity.summary import summary
from habitat.connectivity.types import Corridor, CouldBe, Movement, Neighbourhood, Weighed
from habitat.progress import Progress
from habitat.remarks import Remark, Subject, remark
from habitat.settings.connectivity import ConnectivitySettings

LEAST_NEGLECTED = 0.001
"""Share of an equivalent area that is worth a word if the cut may have left it out: judgement."""


def score_corridor(
    town: Neighbourhood,
    movements: Sequence[Movement],
    settings: ConnectivitySettings,
    *,
    seed: int = 0,
    terrain: Mapping[str, Terrain] | None = None,
    walks: Walks | None = None,
    habitat_draws: dict[tuple[str, str], Floats] | None = None,
    could_be: CouldBe | None = None,
    progress: Progress | None = None,
) -> Corridor:
    """Score the corridor of a neighbourhood.

    Parameters
    ----------
    town
        Yards, breeding ground, stepping stones, anchors and costs; all distances in a metric CRS.
    movements
        How each butterfly moves; the tables keep their order.
    settings
        ``cut``, ``invite``, ``invite_budget`` and ``rank_draws``.
    seed
        Of random orders of losses, samples and draws; equal seeds give equal results.
    terrain
        Group of butterflies -> what the ground costs to cross; None takes straight distances.
    walks
        Sightings by place, to hold against what is predicted.
    habitat_draws
        (yard_id, butterfly) -> factors on its habitat, one per draw of the maps' stated errors (missing:
        exact), to try how firm the list of invitations is.
    could_be
        What could be, whoever signs up; without it no share of it is given.
    progress
        Called with (stage in words, done, total).

    Raises
    ------
    ParameterError
        If a patch is empty, a cost of crossing is not more than 0, or the cost of a plan is negative.

    Examples
    --------
    >>> import geopandas as gpd, shapely
    >>> from habitat.connectivity.distance.reach import Reach
    >>> squares = [shapely.box(x, 0, x + 10, 10) for x in (0, 60)]
    >>> yards = gpd.GeoDataFrame({"yard_id": ["a", "b"], "role": "member"}, geometry=squares, crs=32617)
    >>> breeding = yards.assign(butterfly="monarch", state="before", habitat_m2=100.0)
    >>> town = Neighbourhood(yards, breeding, yards.iloc[:0])
    >>> reaches = {name: Reach(50.0) for name in ("low", "median", "high")}
    >>> got = score_corridor(town, [Movement("monarch", "monarch", reaches)], ConnectivitySettings())
    >>> round(got.headline["butterflies"]["monarch"]["today"]["equivalent_area_m2"], 1)  # 100 sqrt(3)
    173.2
    """
    cases, notes = _cases(town, movements, settings, terrain, progress)
    entries, found = dict[str, dict[str, Any]](), _Found()
    for done, (case, movement) in enumerate(zip(cases, movements, strict=True)):
        _tell(progress, f"corridor of the {case.common_name}", done, len(cases))
        entries[case.butterfly] = worth_of(case, town.yards)
        found.add(town, case, seed)
        if walks is not None:
            seen = observed(town.yards, case, movement.flight_months, walks)
            found.breaks[case.butterfly]["observed"] = seen
    _tell(progress, "whom to invite", len(cases), len(cases))
    invited = invitations_of(town, cases, settings, seed, habitat_draws)
    crs = town.yards.crs
    asked = tuple(invited.table["yard_id"]) if len(invited.table) else ()
    for case in cases:
        with_invited(case, entries[case.butterfly], asked, town.yards)
    joint = joint_of(entries, {case.butterfly: case.weight for case in cases})
    headline = {
        "together": together_of(entries, ALL_STATES),
        "share": share_of(town, entries, could_be),
        "butterflies": entries,
        "joint_score": joint,
        "invitations": invited.summary,
    }
    return Corridor(
        importance=pd.concat(found.parts, ignore_index=True) if found.parts else empty_importance(),
        links=tables.geo(found.links, tables.LINK_COLUMNS, crs),
        chain=tables.geo(found.chains, tables.CHAIN_COLUMNS, crs),
        invitations=invited.table,
        headline=headline,
        invitation_steps=invited.steps,
        blocks=invited.blocks,
        breaks=found.breaks,
        sentences=summary(headline, cases, found.breaks, town.yards["role"].value_counts().to_dict()),
        notes=(
            *notes, *(walks.notes if walks else ()), *found.notes, *_warnings(cases, entries), *invited.notes
        ),
    )  # fmt: skip


def share_of(
    town: Neighbourhood, entries: dict[str, dict[str, Any]], could_be: CouldBe | None
) -> dict[str, Any]:
    """Return which share of what could be is reached in each state, or that none is given.

    A share that may be compared has a denominator that moves with nobody's sign-up.
    """
    without = int((town.yards["role"] == "other").sum())
    told = {"given": False, "without_plan": without, "yards": len(town.yards)}
    whole = 0.0 if could_be is None else sum(could_be.area_m2.values())
    if could_be is None or whole <= 0.0:
        return told
    shares = {
        s: sum(entries[b][s]["equivalent_area_m2"] for b in could_be.area_m2) / whole
        for s in ("today", "members", "invited")
    }
    return told | shares | {"given": True, "counted": could_be.yards, "could_be_m2": could_be.area_m2}


def weigh_corridor(
    town: Neighbourhood,
    movements: Sequence[Movement],
    settings: ConnectivitySettings,
    *,
    terrain: Mapping[str, Terrain] | None = None,
    progress: Progress | None = None,
) -> Weighed:
    """Return what a round of planning is worth, and where one more square metre is worth most.

    Takes and raises what ``score_corridor`` does; of the settings, ``cut``.
    """
    cases, _ = _cases(town, movements, settings, terrain, progress)
    gains: dict[tuple[str, str], float] = {}
    for case in cases:
        gains |= gains_of(town.yards, case)
    worth = {c.butterfly: c.state("members").connected().equivalent_area_m2 for c in cases}
    return Weighed(worth, {c.butterfly: c.weight for c in cases}, gains)


@dataclass
class _Found:
    """What the butterflies come to, one after the other."""

    links: list[pd.DataFrame] = field(default_factory=list)
    chains: list[pd.DataFrame] = field(default_factory=list)
    parts: list[pd.DataFrame] = field(default_factory=list)
    breaks: dict[str, dict[str, Any]] = field(default_factory=dict)
    notes: list[Remark] = field(default_factory=list)

    def add(self, town: Neighbourhood, case: Case, seed: int) -> None:
        """Work out one butterfly."""
        for state in STATES:
            graph = case.state(state)
            links = tables.links_of(case, state, graph)
            chain, joins = tables.chain_of(case, state, graph)
            self.links.append(links)
            self.chains.append(chain)
            if state == "members":
                part, sampled = tables.importance_of(case, graph, seed)
                self.parts.append(part)
                self.breaks[case.butterfly] = breaks_of(case, town.yards, joins, links, part, seed)
                self.notes += _samples(case.butterfly, sampled, self.breaks[case.butterfly]["losses"])


def _samples(butterfly: str, passing: bool, lost: dict[str, Any]) -> list[Remark]:
    """Return which figures of a butterfly are estimates from samples."""
    about, notes = Subject(butterflies=(butterfly,)), list[Remark]()
    if passing:
        notes.append(remark("passing_is_sampled", about, places=tables.SAMPLED_SOURCES))
    if lost.get("sampled"):
        places, orders, error = SAMPLED_SOURCES, SAMPLED_DRAWS, float(lost["error"])
        notes.append(remark("losses_are_sampled", about, places=places, orders=orders, error=error))
    return notes


def empty_importance() -> pd.DataFrame:
    """Return an importance table without rows."""
    columns = {"yard_id": object, "butterfly": object, **dict.fromkeys(tables.PARTS, float)}
    return pd.DataFrame({c: pd.Series(dtype=t) for c, t in columns.items()})


def _cases(
    town: Neighbourhood,
    movements: Sequence[Movement],
    settings: ConnectivitySettings,
    terrain: Mapping[str, Terrain] | None,
    progress: Progress | None,
) -> tuple[list[Case], list[Remark]]:
    cases, notes, kept = list[Case](), list[Remark](), Kept()
    for done, movement in enumerate(movements):
        _tell(progress, "distances between breeding places", done, len(movements))
        ground = None if terrain is None else terrain[movement.group]
        case, remarks = case_of(town, movement, settings.cut, ground, kept)
        cases.append(case)
        notes += remarks
    return cases, notes


def _warnings(cases: list[Case], entries: dict[str, dict[str, Any]]) -> list[Remark]:
    """Return which butterflies have no ground, and whose worth the cut lowers."""
    notes = []
    for case in cases:
        entry, about = entries[case.butterfly], Subject(butterflies=(case.butterfly,))
        if entry["everyone"]["equivalent_area_m2"] <= 0.0:
            notes.append(remark("no_ground_with_all_plans", about))
        worst = max(
            e["neglected_share"]
            for s in STATES
            for e in (entry[s], entry["low_reach"][s], entry["high_reach"][s])
        )
        if worst > LEAST_NEGLECTED:
            found = remark("small_passages_neglected", about, cut=float(case.cut), share_at_most=float(worst))
            notes.append(found)
    return notes


def _tell(progress: Progress | None, what: str, done: int, total: int) -> None:
    if progress is not None:
        progress(what, done, total)
