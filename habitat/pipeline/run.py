"""The whole job: read, survey, score, plant, chain, report; with the rounds between planting and corridor."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

import geopandas as gpd
import pandas as pd

from habitat.connectivity.types import Corridor, Weighed
from habitat.errors import NotFoundError, ParameterError, StudyError
from habitat.executor import Executor
from habitat.knowledge import Knowledge, resolve_butterflies, resolve_plants
from habitat.knowledge.life_cycle import VISITS
from habitat.knowledge.names import NameMatch
from habitat.knowledge.place import knowledge_of_place, outside_region
from habitat.knowledge.wishes import choose_wishes, guests
from habitat.layers.join.people import find_yard
from habitat.layers.types import Layers
from habitat.pipeline.checkpoints import Checkpoints
from habitat.pipeline.corridor import corridor_task, planning_gain
from habitat.pipeline.native import EVERY_ONE, native_notes, not_native
from habitat.pipeline.planting import Groundwork, draws_of, existing_of, nectar_around, plan_round
from habitat.pipeline.reading import read_layers
from habitat.pipeline.survey import survey
from habitat.planting.types import Planting
from habitat.progress import Progress
from habitat.remarks import Remark
from habitat.report.package.provenance import describe_run, peak_memory_mb, reset_peak_memory
from habitat.report.plan import Plan
from habitat.report.words.en import english
from habitat.revision.decisions import addresses_of, no_decisions
from habitat.study.fitting import errors_not_carried, errors_of, needs_of
from habitat.study.model import Study
from habitat.terms import ANCHOR, CANDIDATE, MEMBER, PLANNED

STAGES = ("layers", "site", "suitability", "planting", "connectivity")
T = TypeVar("T")


@dataclass
class _Clock:
    """Seconds and peak memory by stage, and the progress that a caller wants to see."""

    progress: Progress | None
    timings: dict[str, dict[str, float]] = field(default_factory=dict)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        reset_peak_memory()
        start = time.perf_counter()
        yield
        entry = self.timings.setdefault(name, {"seconds": 0.0, "peak_mb": 0.0})
        entry["seconds"] = round(entry["seconds"] + time.perf_counter() - start, 3)
        entry["peak_mb"] = round(max(entry["peak_mb"], peak_memory_mb()), 1)


def run(
    study: Study,
    *,
    yard_ids: tuple[str, ...] = (),
    workers: int = 1,
    progress: Progress | None = None,
    checkpoints: Checkpoints | None = None,
) -> Plan:
    """Do the whole job for a study and return the plan; nothing is written.

    Parameters
    ----------
    study
        As ``read_study`` returns it. ``study.date`` must be given.
    yard_ids
        Plan only these yards (members or candidates); empty plans all of them.
    workers
        Processes for planning yards; any number gives the same plan.
    progress
        Called with (stage in words, done, total).
    checkpoints
        Where finished stages are kept, so that a run that died can go on.

    Raises
    ------
    HabitatError
        If something the user can mend stands in the way.

    Examples
    --------
    >>> import habitat
    >>> study = habitat.read_study("sample_geodata/study.toml")  # doctest: +SKIP
    >>> plan = habitat.run(study)  # doctest: +SKIP
    >>> plan.plantings.groupby("plant")["count"].sum()  # doctest: +SKIP
    """
    if study.study.date is None:
        raise StudyError(
            "study.date is missing", str(study.path), "Add a line such as date = 2026-03-01 under [study]"
        )
    clock = _Clock(progress)
    keep = checkpoints or Checkpoints(None, "")
    with Executor(workers if workers > 1 else 0) as executor:
        request, notes = _prepare(study, yard_ids, executor, clock, keep)
        planting, corridor, rounds = _rounds(request, executor, clock, keep)
    return _assemble(request, planting, corridor, rounds, clock, notes)


def run_until(
    study: Study,
    until: str,
    *,
    yard_ids: tuple[str, ...] = (),
    workers: int = 1,
    progress: Progress | None = None,
) -> list[str]:
    """Do the stages up to one and say what they found; nothing is written.

    Parameters
    ----------
    until
        One of STAGES.
    """
    layers = read_layers(study, progress)
    lines = [
        f"{len(layers.yards)} yards; CRS {layers.crs.to_string()}; "
        f"grid of {layers.grid.shape[0]} x {layers.grid.shape[1]} cells of {layers.grid.cell_m:g} m."
    ]
    if until == "layers":
        return lines
    with Executor(workers if workers > 1 else 0) as executor:
        return lines + _stop_after(study, until, yard_ids, executor, progress)


def _stop_after(
    study: Study, until: str, yard_ids: tuple[str, ...], executor: Executor, progress: Progress | None
) -> list[str]:
    request, notes = _prepare(study, yard_ids, executor, _Clock(progress), Checkpoints(None, ""))
    yards, say = request.site.yards, english()
    lines = [
        f"Assessed: {', '.join(request.site.assessed) or 'nothing'}; "
        f"mean known share {yards['known_share'].mean():.0%}."
    ]
    if until in ("site", "suitability"):
        return [*lines, *map(say, notes)]
    planting = plan_round(request, progress, executor)
    lines.append(f"{len(planting.plantings)} plantings in {len(planting.beds)} beds.")
    if until == "connectivity":
        lines += map(say, _corridor(request, planting, progress).sentences)
    return [*lines, *map(say, planting.notes)]


def _prepare(
    study: Study, yard_ids: tuple[str, ...], executor: Executor, clock: _Clock, keep: Checkpoints
) -> tuple[Groundwork, tuple[Remark | str, ...]]:
    """Do the stages before planting, and return what planting takes with the notes so far."""
    with clock.stage("layers"):
        layers = keep.stage("layers", lambda: read_layers(study, clock.progress))
        knowledge = knowledge_of_place(study.knowledge, layers.yards, study.folder, states=study.study.states)
        chosen = _yards_to_plan(layers, yard_ids)
        _check_names(study, knowledge)
    executor.start()
    with clock.stage("site"):
        site = keep.stage("site", lambda: survey(study, layers, clock.progress))
    with clock.stage("suitability"):
        needs = needs_of(study, knowledge, site.assessed, site.by_tests).subset(
            _plants_allowed(study, knowledge)
        )
        existing, notes = existing_of(layers, knowledge)
    wishes, wish_notes = _wishes(study, layers, knowledge)
    request = Groundwork(study, layers, site, knowledge, needs, existing, wishes, chosen)
    return request, (
        *outside_region(knowledge, layers.yards),
        *native_notes(study, knowledge, layers.yards),
        *knowledge.set_aside,
        *notes,
        *errors_not_carried(study),
        *wish_notes,
    )


def _check_names(study: Study, knowledge: Knowledge) -> None:
    """Refuse names and errors that only later stages ask for, before any of them has worked."""
    errors_of(study)
    _resolved(study.suitability.rasters, knowledge, "suitability.rasters", study)
    let_in = [name for name in study.planting.allow_not_native if name != EVERY_ONE]
    _resolved(let_in, knowledge, "planting.allow_not_native", study)
    for key in ("butterflies", "weights", "median_m", "mean_m", "five_percent_m", "hop_max_m"):
        named = resolve_butterflies(list(getattr(study.connectivity, key)), knowledge)
        _refuse(named, f"connectivity.{key}", "butterfly tables", study)


def _refuse(matches: Sequence[NameMatch], key: str, tables: str, study: Study) -> None:
    """Raise a StudyError for the first name that came to nothing."""
    for match in matches:
        if match.accepted is None:
            hint = f" (did you mean {' or '.join(match.suggestions)}?)" if match.suggestions else ""
            what = f"{key} names {match.given!r}, which is not in the {tables}{hint}"
            raise StudyError(what, str(study.path), "Mend the name or leave it out")


def _plants_allowed(study: Study, knowledge: Knowledge) -> list[str]:
    """Return the plants that may be planned, in the order of the table."""
    wanted = _resolved(study.planting.plants, knowledge, "planting.plants", study)
    barred = set(_resolved(study.planting.exclude, knowledge, "planting.exclude", study))
    foreign = not_native(study, knowledge)
    allowed = [p for p in knowledge.plants.index if (not wanted or p in wanted) and p not in barred | foreign]
    if not allowed:
        what = "planting.plants, planting.exclude and what is native here leave no plant to choose from"
        raise StudyError(what, str(study.path), "Name more plants, or leave fewer out")
    return allowed


def _resolved(names: list[str], knowledge: Knowledge, key: str, study: Study) -> list[str]:
    matches = resolve_plants(names, knowledge)
    _refuse(matches, key, "plant tables", study)
    return [match.accepted for match in matches if match.accepted is not None]


def _wishes(study: Study, layers: Layers, knowledge: Knowledge) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the butterflies to plan for, and why if the study does not name them."""
    seen = layers.frame("sightings")
    recorded = (
        [] if seen is None or "butterfly" not in seen else seen["butterfly"].dropna().astype(str).tolist()
    )
    wishes = choose_wishes(knowledge, named=study.planting.wishes, recorded=sorted(set(recorded)))
    if study.planting.wishes:
        named = [match for match in wishes.unresolved if match.given in study.planting.wishes]
        _refuse(named, "planting.wishes", "butterfly tables", study)
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


def _yards_to_plan(layers: Layers, yard_ids: tuple[str, ...]) -> tuple[str, ...]:
    yards = layers.yards
    able = yards.loc[yards["role"].isin(PLANNED), "yard_id"]
    if not yard_ids:
        return tuple(able)
    named = {find_yard(yards, said) for said in yard_ids}
    for yard_id in sorted(named - set(able)):
        raise NotFoundError(
            f"yard {yard_id!r} is neither a member nor a candidate",
            "",
            "Set its role in the participants table",
        )
    return tuple(y for y in able if y in named)


def _rounds(
    request: Groundwork, executor: Executor, clock: _Clock, keep: Checkpoints
) -> tuple[Planting, Corridor, list[dict[str, float]]]:
    """Alternate planting and corridor, and keep the round with the best joint score (see ``Weighed``)."""
    best: tuple[float, Planting] | None = None
    first: Weighed | None = None
    told: list[dict[str, float]] = []
    for number in range(1, request.study.connectivity.rounds + 1):
        with clock.stage("planting"):
            planting = keep.stage(f"planting-{number}", _bind(plan_round, request, clock.progress, executor))
        with clock.stage("connectivity"):
            weighed = keep.stage(f"weighed-{number}", _bind(_weighed, request, planting, clock.progress))
        first = first or weighed
        worth = weighed.joint_score(first)
        told.append({"round": number, "joint_score": worth})
        if best is None or worth > best[0]:
            best = (worth, planting)
        if number < request.study.connectivity.rounds:
            request = replace(
                request,
                bed_sites=planting.bed_sites,
                weights=weighed.gains,
                neighbour_nectar=nectar_around(request, planting),
            )
    if best is None:
        raise ParameterError("connectivity.rounds", request.study.connectivity.rounds, "at least 1")
    with clock.stage("connectivity"):
        corridor = keep.stage("connectivity", _bind(_corridor, request, best[1], clock.progress))
    return best[1], corridor, told


def _bind(function: Callable[..., T], *arguments: Any) -> Callable[[], T]:
    return lambda: function(*arguments)


def _corridor_butterflies(request: Groundwork) -> tuple[str, ...]:
    """Return the butterflies whose corridor is wanted: those that the study names for it, or the wishes."""
    named = resolve_butterflies(request.study.connectivity.butterflies, request.knowledge)
    return tuple(m.accepted for m in named if m.accepted) or request.wishes


def _weighed(request: Groundwork, planting: Planting, progress: Progress | None) -> Weighed:
    """Return what a round of planning is worth to the corridor."""
    butterflies = _corridor_butterflies(request)
    return corridor_task(
        request.study, request.layers, request.knowledge, planting, butterflies, progress
    ).weigh(progress)


def _corridor(request: Groundwork, planting: Planting, progress: Progress | None) -> Corridor:
    """Return the corridor, its invitations tried with the errors that the maps state."""
    butterflies = _corridor_butterflies(request)
    draws = draws_of(request, planting, butterflies)
    return corridor_task(
        request.study, request.layers, request.knowledge, planting, butterflies, progress
    ).score(progress, draws)


def _assemble(
    request: Groundwork,
    planting: Planting,
    corridor: Corridor,
    rounds: list[dict[str, float]],
    clock: _Clock,
    notes: tuple[Remark | str, ...],
) -> Plan:
    layers, site, study = request.layers, request.site, request.study
    decisions = _decisions(request)
    yards = _with_status(_yard_table(request, planting), decisions, layers.yards)
    keys = ["yard_id", "butterfly"]
    part = corridor.importance
    butterflies = planting.yard_butterflies.drop(columns=[c for c in PARTS if c in planting.yard_butterflies])
    butterflies = butterflies.merge(part, on=keys, how="outer")
    headline = {
        **corridor.headline,
        "rounds": rounds,
        "counts": _counts(request, planting),
        "life_cycles_closed": _closed_by_year(planting.yard_butterflies, study.planting.year),
        "cost": float(planting.plantings["cost"].sum()) if len(planting.plantings) else 0.0,
        "cost_of_members": _of_members(request, planting, "cost"),
    }
    told: list[Remark | str] = [*(n.what for n in layers.notes), *site.notes]
    return Plan(
        study=study,
        layers=layers,
        site=site,
        knowledge=request.knowledge,
        yards=yards,
        existing_plants=request.existing,
        beds=planting.beds,
        plantings=planting.plantings,
        plant_points=planting.plant_points,
        yard_butterflies=_filled(butterflies, yards, request.knowledge),
        links=corridor.links,
        chain=corridor.chain,
        invitations=corridor.invitations,
        set_aside=_set_aside(layers),
        open_ground=site.open_ground,
        headline=headline,
        invitation_steps=corridor.invitation_steps,
        yard_results=planting.yard_results,
        breeding=planting.breeding,
        breaks=corridor.breaks,
        sentences=(*corridor.sentences, *planning_gain(rounds)),
        run_info=describe_run(study, layers),
        notes=(
            *told,
            *notes,
            *planting.notes,
            *_guest_notes(request, planting),
            *corridor.notes,
        ),
        timings=clock.timings,
        decisions=decisions,
    )


def _decisions(request: Groundwork) -> pd.DataFrame:
    """Return what is decided of each plan: drafts, until somebody decides."""
    date = request.study.study.date
    day = "" if date is None else date.isoformat()
    return no_decisions().with_drafts(request.layers.yards, request.yard_ids, day)


def _with_status(
    table: gpd.GeoDataFrame, decisions: pd.DataFrame, yards: gpd.GeoDataFrame
) -> gpd.GeoDataFrame:
    """Return the yards with the status of their plans, "" without one, and their addresses."""
    status = decisions.drop_duplicates("yard_id").set_index("yard_id")["status"]
    address = addresses_of(yards)
    return table.assign(
        status=table["yard_id"].map(status).fillna(""), address=table["yard_id"].map(address).fillna("")
    )


def _guest_notes(request: Groundwork, planting: Planting) -> tuple[str, ...]:
    """Tell which butterflies the plan's plants feed that nobody wished for."""
    others = guests(request.knowledge, request.wishes, planting.plantings["plant"].astype(str))
    if not others:
        return ()
    told = f"Not planned for, but fed by the same plants, if it lives near you: {', '.join(others)}."
    return (f"{told} Name those that you have seen under planting.wishes.",)


PARTS = ("held_m2", "arriving_m2", "passing_m2")


def _filled(frame: pd.DataFrame, yards: pd.DataFrame, knowledge: Knowledge) -> pd.DataFrame:
    """Sort by butterfly and yard; a place without a patch carries nothing, so its parts are 0 m2.

    Rows that only the corridor knows are stepping stones: nectar, and nothing that a female lays on.
    """
    for column in (*PARTS, "leaf_m2", "habitat_before_m2", "habitat_m2"):
        if column in frame:
            frame[column] = frame[column].astype(float).fillna(0.0)
    stone = frame["missing"].isna()
    roles = yards.set_index("yard_id")["role"]
    frame["role"] = frame["role"].where(~stone, frame["yard_id"].map(roles))
    frame["common_name"] = frame["butterfly"].map(knowledge.butterflies["common_name"])
    frame["missing"] = frame["missing"].where(~stone, "no host plant")
    frame["verdict"] = frame["verdict"].where(~stone, VISITS)
    for column in ("carried_by", "doubtful_hosts"):
        frame[column] = frame[column].where(~stone, "")
    return frame.sort_values(["butterfly", "yard_id"], kind="stable").reset_index(drop=True)


def _yard_table(request: Groundwork, planting: Planting) -> gpd.GeoDataFrame:
    knowledge, season = (
        request.knowledge,
        range(request.study.study.season[0], request.study.study.season[1] + 1),
    )
    yards = request.layers.yards.reset_index(drop=True)
    site = request.site.yards.drop(columns=["geometry", "area_m2"], errors="ignore")
    table = yards[["yard_id", "role", "publish", "area_m2", "geometry"]].merge(site, on="yard_id", how="left")
    grown = pd.concat(
        [
            request.existing.loc[request.existing["plant"].notna(), ["yard_id", "plant"]],
            planting.plantings[["yard_id", "plant"]],
        ]
    ).drop_duplicates()
    hosts = set(knowledge.host_plants.loc[knowledge.host_plants["butterfly"].isin(request.wishes), "plant"])
    host_count = grown[grown["plant"].isin(hosts)].groupby("yard_id").size()
    table["hosts"] = table["yard_id"].map(host_count).fillna(0).astype(int)
    months = grown.groupby("yard_id")["plant"].agg(lambda names: len(_bloom(names, knowledge, season)))
    table["nectar_months"] = table["yard_id"].map(months).fillna(0).astype(int)
    closed = planting.yard_butterflies[planting.yard_butterflies["missing"] == ""].groupby("yard_id").size()
    table["life_cycles_closed"] = table["yard_id"].map(closed).fillna(0).astype(int)
    cost = planting.plantings.groupby("yard_id")["cost"].sum()
    table["cost"] = table["yard_id"].map(cost).fillna(0.0)
    return gpd.GeoDataFrame(table, geometry="geometry", crs=yards.crs)


def _bloom(names: pd.Series[str], knowledge: Knowledge, season: range) -> set[int]:
    rows = knowledge.plants.loc[names.unique()]
    rows = rows[rows["nectar_value"] > 0]
    out: set[int] = set()
    for first, last in zip(rows["bloom_start_month"], rows["bloom_end_month"], strict=True):
        out |= set(range(int(first), int(last) + 1))
    return out & set(season)


def _of_members(request: Groundwork, planting: Planting, column: str) -> float:
    """Return the sum of a column of the plantings over members' yards: plans of candidates may never be."""
    yards = request.layers.yards
    members = set(yards.loc[yards["role"] == MEMBER, "yard_id"])
    rows = planting.plantings
    return float(rows.loc[rows["yard_id"].isin(members), column].sum()) if len(rows) else 0.0


def _counts(request: Groundwork, planting: Planting) -> dict[str, int]:
    roles = request.layers.yards["role"].value_counts()
    return {
        "yards": len(request.layers.yards),
        "members": int(roles.get(MEMBER, 0)),
        "candidates": int(roles.get(CANDIDATE, 0)),
        "yards_planned": len(request.yard_ids),
        "yards_with_plants": int(planting.plantings["yard_id"].nunique()) if len(planting.plantings) else 0,
        "beds": len(planting.beds),
        "plants": int(planting.plantings["count"].sum()) if len(planting.plantings) else 0,
        "plants_of_members": int(_of_members(request, planting, "count")),
        "plant_kinds": int(planting.plantings["plant"].nunique()) if len(planting.plantings) else 0,
        "existing_plants": int(request.existing["count"].sum()) if len(request.existing) else 0,
    }


def _closed_by_year(butterflies: pd.DataFrame, year: int) -> dict[str, int]:
    """Return how many life cycles close in yards today, and by each plan year up to the plan's own."""
    found = butterflies.loc[butterflies["role"] != ANCHOR, "closes_in_year"].dropna()
    return {"today" if y == 0 else f"year_{y}": int((found <= y).sum()) for y in range(year + 1)}


def _set_aside(layers: Layers) -> gpd.GeoDataFrame:
    frames = [
        layer.set_aside.assign(layer=name)[["layer", "row", "reason", "attributes", "geometry"]]
        for name, layer in layers.vectors.items()
        if len(layer.set_aside)
    ]
    if not frames:
        columns = {c: pd.Series(dtype=object) for c in ("layer", "row", "reason", "attributes", "geometry")}
        return gpd.GeoDataFrame(columns, geometry="geometry", crs=layers.crs)
    return gpd.GeoDataFrame(pd.concat(frames, ignore_index=True), geometry="geometry", crs=layers.crs)
