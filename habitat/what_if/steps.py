"""One step after the other: an edit, a neighbour who joins or leaves, another reach; each a new state."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

import pandas as pd

from habitat.errors import LayerError, NotFoundError, ParameterError
from habitat.knowledge import resolve_butterflies
from habitat.layers.types import Layers
from habitat.pipeline.planting import Groundwork, corridor_butterflies, nectar_around, plan_round
from habitat.pipeline.redraw import judged
from habitat.planting.settled import BY_HAND, fingerprints, in_order, living_of
from habitat.planting.types import Accounts, Drawn
from habitat.remarks import Remark
from habitat.revision.edits import Edits
from habitat.study.model import Study
from habitat.terms import MEMBER, OTHER, PLANTED
from habitat.what_if.base import Base
from habitat.what_if.edits import Edit, edited, number_of
from habitat.what_if.figures import Found, find, recounted, settle

Frame = TypeVar("Frame", bound=pd.DataFrame)

LEAST_REACH_M, MOST_REACH_M = 1.0, 100_000.0
"""Bounds of a median reach: beyond them it is a slip (judgement)."""


@dataclass(frozen=True, slots=True)
class Away:
    """The plan of a yard that was dropped, to be had back: as in plan.gpkg, as read, and its result."""

    raw: Drawn
    read: Drawn
    result: pd.DataFrame


@dataclass(frozen=True, slots=True)
class State:
    """What stands after a step.

    request : yards with their roles, the study with its reaches, all plans settled. raw : beds, plantings and
    points as "save" writes them. accounts, found : what that comes to. notes : by yard, what breaches a rule.
    new : by yard that was planned here, the fingerprints of its plan. told : the step in words.
    """

    request: Groundwork
    raw: Drawn
    accounts: Accounts
    found: Found
    notes: dict[str, tuple[Remark, ...]] = field(default_factory=dict)
    new: dict[str, dict[str, str]] = field(default_factory=dict)
    away: dict[str, Away] = field(default_factory=dict)
    reach_m: dict[str, float] = field(default_factory=dict)
    told: str = ""

    @property
    def drawn(self) -> Drawn:
        """All plans, edits read."""
        assert self.request.settled is not None
        return self.request.settled.drawn

    @property
    def results(self) -> pd.DataFrame:
        """A row for each yard with a plan."""
        assert self.request.settled is not None
        return self.request.settled.results

    def role(self, yard: str) -> str:
        """Return the role of a yard.

        Raises
        ------
        NotFoundError
            If there is no such yard.
        """
        yards = self.request.layers.yards
        found = yards.loc[yards["yard_id"] == yard, "role"]
        if not len(found):
            raise NotFoundError(f"there is no yard {yard[:60]!r}", "", "Choose one of the list")
        return str(found.iloc[0])


def first_state(base: Base) -> State:
    """Return the state in which results are when they are opened."""
    planting = plan_round(base.request)
    accounts = Accounts(planting.yard_butterflies, planting.breeding, planting.nectar_stones)
    return State(base.request, base.raw, accounts, find(base.request, accounts, {}))


def stepped(base: Base, state: State, edit: Edit, ahead: Away | None = None) -> State:
    """Return the state after a step.

    Parameters
    ----------
    base
        The results.
    state
        The state before.
    edit
        ``do``: "join", "drop" (of a ``yard``), "reach" (of a ``butterfly``, ``median_m``; none for the
        study's own), or one of ``habitat.what_if.edits.EDITS`` with the ``yard`` it is in.
    ahead
        What ``plan_to_join`` gave for this state and yard, where somebody asked before.

    Raises
    ------
    HabitatError
        If it cannot be done; the state stays.
    """
    do, yard = edit.get("do"), str(edit.get("yard", ""))
    if do == "reach":
        return _with_reach(base, state, edit)
    role = state.role(yard)
    if do == "join":
        return _joined(base, state, yard, role, ahead)
    if do == "drop":
        return _dropped(base, state, yard, role)
    if yard not in set(state.results["yard_id"]):
        raise NotFoundError(f"yard {yard} has no plan", "", "Let it join, then it gets one")
    raw, told = edited(_of(state.raw, yard), edit, base.facts.plant)
    return _with_plan(base, state, yard, raw, f"{told} in yard {yard}")


def _with_plan(base: Base, state: State, yard: str, raw: Drawn, told: str) -> State:
    """Return the state in which a yard's tables are others: read, judged and counted as ``redraw`` does."""
    was = state.new.get(yard, base.was.get(yard, {}))
    living = frozenset(living_of(base.earlier.tables["existing_plants"])["bed_id"])
    reading = Edits(was, base.facts.plant, base.facts.row, base.facts.yard_at, living)
    read, breached = judged(state.request, reading.read(raw, None, ""), base.bars)
    order = [*state.request.layers.yards["yard_id"]]
    drawn = _with(state.drawn, yard, read, order)
    if not len(drawn.plantings):
        raise LayerError("no planting is left to draw", "", "Undo, or strike something else")
    struck = tuple(n for n in reading.notes if n.kind != "planting_struck")  # that was asked for
    request = settle(state.request, drawn, state.results)
    notes = state.notes | {yard: (*struck, *breached)}
    after = replace(state, raw=_with(state.raw, yard, raw, order), notes=notes)
    return _counted(after, request, state, yard, told)


def _counted(after: State, request: Groundwork, before: State, yard: str, told: str) -> State:
    accounts = recounted(request, before.accounts, {yard}, before.drawn)
    found = find(request, accounts, before.found.known)
    return replace(after, request=request, accounts=accounts, found=found, told=told)


def _joined(base: Base, state: State, yard: str, role: str, ahead: Away | None) -> State:
    """Let a yard take part: with the plan that it has, or with the planner's own beside what stands."""
    if role == MEMBER:
        raise ParameterError("yard", yard, "one that does not take part yet")
    request = replace(state.request, layers=with_role(state.request.layers, yard, MEMBER))
    raw, drawn, results, new, away = state.raw, state.drawn, state.results, state.new, state.away
    if yard not in set(results["yard_id"]):
        back = away.get(yard) or ahead or _planned(request, state, yard)
        order = [*request.layers.yards["yard_id"]]
        raw, drawn = _with(raw, yard, back.raw, order), _with(drawn, yard, back.read, order)
        results = in_order(pd.concat([results, back.result], ignore_index=True), order)
        if yard not in away and yard not in base.was:
            new = new | {yard: fingerprints(back.raw)}
        away = {key: plan for key, plan in away.items() if key != yard}
    after = replace(state, raw=raw, new=new, away=away)
    return _counted(after, settle(request, drawn, results), state, yard, f"yard {yard} joined")


def plan_to_join(state: State, yard: str) -> Away:
    """Return the plan that a yard without one would get if it joined now."""
    return _planned(replace(state.request, layers=with_role(state.request.layers, yard, MEMBER)), state, yard)


def _planned(request: Groundwork, state: State, yard: str) -> Away:
    """Return the plan that the planner makes for a yard while all others stay as they are."""
    ids = {*state.results["yard_id"], yard}
    ready = replace(
        request,
        yard_ids=tuple(y for y in request.layers.yards["yard_id"] if y in ids),
        neighbour_nectar=nectar_around(request, state.found.planting, (yard,)),
        weights=_weights(request, yard),
    )
    planting = plan_round(ready, only=())  # habitat is counted when it stands beside the others
    plan = Drawn(*(_rows(t, yard) for t in (planting.beds, planting.plantings, planting.plant_points)))
    return Away(plan, plan, _rows(planting.yard_results, yard))


def _weights(request: Groundwork, yard: str) -> dict[tuple[str, str], float]:
    """Return what habitat in a yard was worth to the corridor in the last round of the run."""
    rounds = () if request.earlier is None else request.earlier.carried.rounds
    return {key: w for key, w in (rounds[-1].weights if rounds else {}).items() if key[0] == yard}


def _dropped(base: Base, state: State, yard: str, role: str) -> State:
    """Let a yard leave; its plan is kept aside until it joins again."""
    if role != MEMBER:
        raise ParameterError("yard", yard, "one that takes part")
    if base.earlier.decisions.status().get(yard) == PLANTED:
        raise ParameterError("yard", yard, "one that is not planted yet: what grows there stays")
    request = replace(state.request, layers=with_role(state.request.layers, yard, OTHER))
    aside = Away(_of(state.raw, yard), _of(state.drawn, yard), _rows(state.results, yard))
    raw, drawn = (
        Drawn(*(t[t["yard_id"] != yard].reset_index(drop=True) for t in (d.beds, d.plantings, d.points)))
        for d in (state.raw, state.drawn)
    )
    if not len(drawn.plantings):
        raise LayerError("no planting is left to draw", "", "Let somebody else join first")
    results = state.results[state.results["yard_id"] != yard].reset_index(drop=True)
    away = state.away | {yard: aside} if len(aside.result) else state.away
    after = replace(state, raw=raw, away=away)
    return _counted(after, settle(request, drawn, results), state, yard, f"yard {yard} dropped")


def _with_reach(base: Base, state: State, edit: Edit) -> State:
    """Let a butterfly move another distance; only the corridor feels it."""
    name, reaches = str(edit.get("butterfly", "")), dict(state.reach_m)
    if name not in corridor_butterflies(state.request):
        raise NotFoundError(f"{name[:60]!r} is no butterfly of this corridor", "", "Choose one of the list")
    if edit.get("median_m") is None:
        reaches.pop(name, None)
    else:
        reaches[name] = number_of(edit, "median_m", LEAST_REACH_M, MOST_REACH_M)
    request = replace(state.request, study=with_reaches(base, reaches))
    common = str(base.request.knowledge.butterflies["common_name"][name])
    told = f"{common} goes {reaches[name]:g} m" if name in reaches else f"{common} goes as in the study"
    found = find(request, state.accounts, state.found.known)
    return replace(state, request=request, found=found, reach_m=reaches, told=told)


def with_reaches(base: Base, reaches: Mapping[str, float]) -> Study:
    """Return the study with the median reach [m] of some butterflies in place of what it says of them."""
    study, settings = base.request.study, base.request.study.connectivity
    if not reaches:
        return study
    keys: dict[str, dict[str, float]] = {}
    for key in ("median_m", "mean_m", "five_percent_m"):
        given = getattr(settings, key)
        matches = resolve_butterflies(list(given), base.request.knowledge)
        keys[key] = {m.given: given[m.given] for m in matches if m.accepted not in reaches}
    keys["median_m"] |= dict(reaches)
    return study.changed(connectivity=keys)


def with_role(layers: Layers, yard: str, role: str) -> Layers:
    """Return layers in which a yard has another role."""
    yards = layers.yards
    frame = yards.assign(role=yards["role"].where(yards["yard_id"] != yard, role))
    return replace(layers, vectors=layers.vectors | {"yards": replace(layers.vectors["yards"], frame=frame)})


def _rows(table: Frame, yard: str) -> Frame:
    return table[table["yard_id"] == yard].reset_index(drop=True)


def _of(drawn: Drawn, yard: str) -> Drawn:
    return Drawn(_rows(drawn.beds, yard), _rows(drawn.plantings, yard), _rows(drawn.points, yard))


def _with(drawn: Drawn, yard: str, mine: Drawn, order: list[str]) -> Drawn:
    """Return plans in which those of a yard are others, yards in their order."""
    pairs = ((drawn.beds, mine.beds), (drawn.plantings, mine.plantings), (drawn.points, mine.points))
    return Drawn(*(_exchanged(table, yard, rows, order) for table, rows in pairs))


def _exchanged(table: Any, yard: str, rows: Any, order: list[str]) -> Any:
    rest = table[table["yard_id"] != yard]
    if not len(rows):
        return rest.reset_index(drop=True)
    rows = rows.reindex(columns=table.columns)
    if BY_HAND in table:
        rows = rows.assign(**{BY_HAND: rows[BY_HAND].fillna(False).astype(bool)})
    return in_order(pd.concat([rest, rows], ignore_index=True) if len(rest) else rows, order)
