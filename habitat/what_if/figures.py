"""What changed plans come to: habitat of the yards that feel it, the corridor, and money."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

import geopandas as gpd
import pandas as pd
import shapely

from habitat.connectivity.case import case_of
from habitat.connectivity.distance.reach import REACHES
from habitat.connectivity.measures.absolute import together_of
from habitat.connectivity.measures.tables import figures_of
from habitat.connectivity.types import Movement, Neighbourhood
from habitat.pipeline.assemble import counts_and_costs
from habitat.pipeline.corridor import CorridorTask, corridor_task
from habitat.pipeline.planting import Groundwork, corridor_butterflies, recount_round
from habitat.planting.settled import Settled
from habitat.planting.tables import gather
from habitat.planting.types import Accounts, Drawn, Planting
from habitat.terms import ANCHOR, MEMBER

STATES = ("today", "members")
"""States whose figures are told here; the list of invitations is worked out by ``redraw``."""

Frame = TypeVar("Frame", bound=pd.DataFrame)


@dataclass(frozen=True, slots=True)
class Found:
    """What plans come to.

    planting : as a round of planning. headline : ``together``, ``butterflies``, counts and costs, each as in
    the headline of a run. known : figures by what they were worked out from, so that none is found twice.
    """

    planting: Planting
    headline: dict[str, Any]
    known: dict[tuple[str, str], dict[str, Any]] = field(default_factory=dict)


def find(request: Groundwork, accounts: Accounts, known: dict[tuple[str, str], dict[str, Any]]) -> Found:
    """Return what plans come to whose habitat is counted.

    Parameters
    ----------
    request
        The yards and all plans, settled.
    accounts
        Their habitat.
    known
        Figures that were worked out before.
    """
    settled = request.settled
    assert settled is not None
    planting = gather((), settled.drawn, accounts, request.wishes, (), settled)
    task = corridor_task(
        request.study, request.layers, request.knowledge, planting, corridor_butterflies(request)
    )
    town, worked = _of_members(task.town), dict(known)
    keys = _marks(town, task.movements)
    entries = {m.butterfly: _entry(task, town, m, keys, worked) for m in task.movements}
    headline = {
        "together": together_of(entries, STATES),
        "butterflies": entries,
        **counts_and_costs(request, planting),
    }
    return Found(planting, headline, worked)


def _entry(
    task: CorridorTask,
    town: Neighbourhood,
    movement: Movement,
    marks: Mapping[tuple[str, str], tuple[str, str]],
    known: dict[tuple[str, str], dict[str, Any]],
) -> dict[str, Any]:
    """Return a butterfly's figures in all states; those that are not known are worked out and put there."""
    keys = {state: marks[state, movement.butterfly] for state in STATES}
    new = [state for state in STATES if keys[state] not in known]
    if new:
        terrain = None if task.terrain is None else task.terrain[movement.group]
        case, _ = case_of(town, movement, task.study.connectivity.cut, terrain)
        known |= {keys[state]: figures_of(case, town.yards, (state,)) for state in new}
    found = [known[keys[state]] for state in STATES]
    out = {state: one[state] for state, one in zip(STATES, found, strict=True)}
    ends = [f"{reach}_reach" for reach in REACHES if reach != "median"]
    return out | {end: {s: one[end][s] for s, one in zip(STATES, found, strict=True)} for end in ends}


def _of_members(town: Neighbourhood) -> Neighbourhood:
    """Return the neighbourhood without what only candidates would plant, which moves no figure told here."""
    members = set(town.yards.loc[town.yards["role"] == MEMBER, "yard_id"])

    def kept(table: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
        return table[(table["state"] == "before") | table["yard_id"].isin(members)]

    return replace(town, breeding=kept(town.breeding), nectar_stones=kept(town.nectar_stones))


def _marks(town: Neighbourhood, movements: Sequence[Movement]) -> dict[tuple[str, str], tuple[str, str]]:
    """Return by state and butterfly a mark of all that its figures are worked out from, with the state."""
    members = {*town.yards.loc[town.yards["role"] == MEMBER, "yard_id"]}
    out = {
        (state, m.butterfly): hashlib.sha256(f"{m.butterfly} {m.reaches}".encode())
        for m in movements
        for state in STATES
    }
    for table in (town.breeding, town.nectar_stones):
        worth = table.reindex(columns=["habitat_m2", "broods"]).to_numpy(float)
        shapes = shapely.to_wkb(table.geometry.to_numpy())
        names = (table[column] for column in ("butterfly", "state", "yard_id"))
        for butterfly, state, yard, more, shape in zip(*names, worth, shapes, strict=True):
            told = f"{yard} {state} ".encode() + more.tobytes() + shape
            if (STATES[-1], butterfly) in out:
                out[STATES[-1], butterfly].update(told + bytes([yard in members]))
                if state == "before":
                    out[STATES[0], butterfly].update(told)
    return {key: (key[0], mark.hexdigest()) for key, mark in out.items()}


def recounted(
    request: Groundwork, before: Accounts, changed: Collection[str], drawn_before: Drawn
) -> Accounts:
    """Return habitat counted anew for the yards that a change can touch; all others keep theirs.

    Parameters
    ----------
    request
        The yards and all plans as they are now, settled.
    before, drawn_before
        Habitat and plans before the change.
    changed
        Yards whose plans or roles changed.
    """
    settled = request.settled
    assert settled is not None
    near = _near(request, changed, (drawn_before, settled.drawn))
    now = recount_round(request, settled.drawn, near)
    order = [*request.layers.yards["yard_id"]]

    def together(name: str) -> Any:
        old, new = getattr(before, name), getattr(now, name)
        gone = old["yard_id"].isin(near)
        if "role" in old:  # anchors stand in both
            gone |= old["role"] == ANCHOR
        return _sorted(pd.concat([old[~gone], new], ignore_index=True), order)

    return Accounts(together("yard_butterflies"), together("breeding"), together("nectar_stones"))


def _near(request: Groundwork, changed: Collection[str], drawings: Iterable[Drawn]) -> set[str]:
    """Return the yards whose bloom may have changed: those within foraging distance of what changed."""
    yards = request.layers.yards
    shapes = [*yards.geometry[yards["yard_id"].isin(changed)]]
    for drawn in drawings:
        shapes += [*drawn.points.geometry[drawn.points["yard_id"].isin(changed)]]
    reach = request.study.planting.nectar_reach_m
    near = shapely.dwithin(yards.geometry.to_numpy(), shapely.union_all(shapes), reach + 0.01)
    return {*yards["yard_id"][near], *changed}


def _sorted(table: Frame, order: list[str]) -> Frame:
    """Return rows in the order of ``recount``: by butterfly, state and yard, anchors last."""
    yards = {yard: k for k, yard in enumerate(order)}
    butterflies = {name: k for k, name in enumerate(dict.fromkeys(table["butterfly"]))}
    keys = pd.DataFrame(
        {
            "anchor": ~table["yard_id"].isin(yards),
            "butterfly": table["butterfly"].map(butterflies),
            "state": table.get("state", ""),
            "yard": table["yard_id"].map(yards).fillna(-1),
        }
    )
    return table.loc[keys.sort_values([*keys], kind="stable").index].reset_index(drop=True)


def settle(request: Groundwork, drawn: Drawn, results: pd.DataFrame) -> Groundwork:
    """Return what planting takes where all plans are settled."""
    planted = frozenset() if request.settled is None else request.settled.planted
    return replace(request, settled=Settled(drawn, results, planted), yard_ids=tuple(results["yard_id"]))
