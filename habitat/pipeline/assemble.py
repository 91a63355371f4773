"""A plan put together from what the stages found."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import geopandas as gpd
import pandas as pd

from habitat.connectivity.types import Corridor
from habitat.knowledge import Knowledge
from habitat.knowledge.life_cycle import NO_HOST, VISITS
from habitat.knowledge.wishes import guests
from habitat.layers.types import Layers
from habitat.pipeline.candidates import estimate_error
from habitat.pipeline.corridor import planning_gain
from habitat.pipeline.milestones import milestones
from habitat.pipeline.planting import Groundwork
from habitat.planting.settled import Carried
from habitat.planting.standing import standing_fit
from habitat.planting.tables import bed_site_table, nectar_stop_table
from habitat.planting.types import Planting
from habitat.planting.years.survival import spare_shares
from habitat.remarks import Remark
from habitat.report.lists.buying import cost_to_buy
from habitat.report.package.provenance import describe_run
from habitat.report.plan import Plan
from habitat.revision.changes import fit_of_plantings
from habitat.revision.decisions import addresses_of, no_decisions
from habitat.terms import ANCHOR, CANDIDATE, MEMBER

HANDMADE = (
    "redrawn", "list_row", "decisions_read", "decisions_row", "decisions_twice", "planting_struck",
    "kept_yard_left", "hand_bed_outside", "hand_bed_not_open", "hand_outside_bed", "hand_too_close",
    "hand_unfit", "hand_barred", "hand_plant_unknown", "hand_count_unknown", "hand_point_left_out",
    "hand_bed_nowhere", "hand_bed_empty", "hand_yard_left_out",
)  # fmt: skip
"""Remarks on what people decided and edited."""


def assemble(
    request: Groundwork,
    planting: Planting,
    corridor: Corridor,
    rounds: list[dict[str, float]],
    carried: Carried,
    notes: tuple[Remark | str, ...],
    timings: dict[str, dict[str, float]],
) -> Plan:
    """Return the plan of a run.

    Parameters
    ----------
    request, planting, corridor
        What the stages took and found.
    rounds
        What each round was worth to the corridor.
    carried
        What a later run takes over.
    notes
        What there is to tell from the stages before planting.
    timings
        Seconds and peak memory by stage.
    """
    layers, site, study = request.layers, request.site, request.study
    decisions = _decisions(request)
    yards = _with_status(_yard_table(request, planting), decisions, layers.yards)
    butterflies = planting.yard_butterflies.drop(columns=[c for c in PARTS if c in planting.yard_butterflies])
    butterflies = butterflies.merge(corridor.importance, on=["yard_id", "butterfly"], how="outer")
    headline = _headline(request, planting, yards, corridor, rounds)
    history = milestones(request, decisions, headline)
    return Plan(
        study=study,
        layers=layers,
        site=site,
        knowledge=request.knowledge,
        yards=yards,
        existing_plants=request.existing.assign(fit=standing_fit(request.existing, site, request.needs)),
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
        nectar_stops=nectar_stop_table(planting.nectar_stones),
        bed_sites=bed_site_table(planting.bed_sites, yards.crs),
        blocks=corridor.blocks,
        breaks=corridor.breaks,
        sentences=(*corridor.sentences, *planning_gain(rounds)),
        run_info=describe_run(study, layers) | _follows(request),
        notes=_notes(request, planting, corridor, notes),
        timings=timings,
        decisions=decisions,
        edits=tuple(n for n in notes if isinstance(n, Remark) and n.kind in HANDMADE)
        if request.redraw
        else (),
        carried=replace(carried, fit=_fit(request, planting), history=history),
        asked={yard: told for yard, (_, told) in request.asked.items()},
        as_edited={} if request.earlier is None else request.earlier.as_came,
    )


def _notes(
    request: Groundwork, planting: Planting, corridor: Corridor, notes: tuple[Remark | str, ...]
) -> tuple[Remark | str, ...]:
    """Return what all stages have to tell, in their order."""
    return (
        *(n.what for n in request.layers.notes),
        *request.site.notes,
        *notes,
        *planting.notes,
        *_guest_notes(request, planting),
        *corridor.notes,
        *estimate_error(request.estimated, _habitat_planned(planting)),
    )


def _headline(
    request: Groundwork,
    planting: Planting,
    yards: pd.DataFrame,
    corridor: Corridor,
    rounds: list[dict[str, float]],
) -> dict[str, Any]:
    """Return the figures of the whole."""
    year = request.study.planting.year
    return {
        **corridor.headline,
        "rounds": rounds,
        "life_cycles_closed": _closed_by_year(planting.yard_butterflies, year),
        **counts_and_costs(request, planting),
        "by_status": _by_status(yards, planting),
    }


def counts_and_costs(request: Groundwork, planting: Planting) -> dict[str, Any]:
    """Return how much is planted and what it costs [money]: counts, cost, cost_of_members, cost_to_buy."""
    return {
        "counts": _counts(request, planting),
        "cost": float(planting.plantings["cost"].sum()) if len(planting.plantings) else 0.0,
        "cost_of_members": _of_members(request, planting, "cost"),
        "cost_to_buy": _to_buy(request, planting),
    }


def _habitat_planned(planting: Planting) -> dict[str, float]:
    """Return the habitat with their plans in yards that may be asked [m2]."""
    rows = planting.yard_butterflies[planting.yard_butterflies["role"] == CANDIDATE]
    return {str(y): float(m2) for y, m2 in rows.groupby("yard_id")["habitat_m2"].sum().items()}


def _decisions(request: Groundwork) -> pd.DataFrame:
    """Return what is decided of each plan: drafts, until somebody decides."""
    date = request.study.study.date
    day = "" if date is None else date.isoformat()
    had = no_decisions() if request.earlier is None else request.earlier.decisions
    return had.with_drafts(request.layers.yards, request.yard_ids, day)


def _fit(request: Groundwork, planting: Planting) -> dict[str, float]:
    """Return the fit of each planting when it was planned; of plans that are kept, from the earlier run."""
    fit = fit_of_plantings(planting.plant_points, request.site, request.needs)
    if request.earlier is None or request.settled is None:
        return fit
    kept, had = set(request.settled.drawn.plantings["planting_id"]), request.earlier.carried.fit
    return fit | {planting_id: value for planting_id, value in had.items() if planting_id in kept}


def _follows(request: Groundwork) -> dict[str, Any]:
    """Return what run.json says of the run before."""
    if request.earlier is None:
        return {}
    return {"redrawn_from" if request.redraw else "after": request.earlier.named()}


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
    frame["missing"] = frame["missing"].where(~stone, NO_HOST)
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


def _to_buy(request: Groundwork, planting: Planting) -> float:
    """Return the cost of the group's shopping list: of members' plants, of all where nobody takes part."""
    planned = request.layers.yards[request.layers.yards["yard_id"].isin(planting.plantings["yard_id"])]
    members = planned[planned["role"] == MEMBER]
    lots = () if request.earlier is None else request.earlier.carried.survival
    yards = set((members if len(members) else planned)["yard_id"])
    return cost_to_buy(planting.plantings, yards, spare_shares(lots))


def _by_status(yards: pd.DataFrame, planting: Planting) -> dict[str, dict[str, float]]:
    """Return yards, plants and cost by the status of their plans; together they are those of the plan."""
    status = dict(zip(yards["yard_id"], yards["status"], strict=True))
    rows, planned = planting.plantings, set(planting.yard_results["yard_id"])
    of_rows = rows["yard_id"].map(status)
    return {
        word: {
            "yards": sum(status[yard] == word for yard in planned),
            "plants": int(rows.loc[of_rows == word, "count"].sum()),
            "cost": float(rows.loc[of_rows == word, "cost"].sum()),
        }
        for word in dict.fromkeys(status[yard] for yard in planting.yard_results["yard_id"])
    }


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
