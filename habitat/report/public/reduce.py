"""What a public audience may see: a plan reduced before anything is written.

Left out are names, addresses, notes, parcel numbers, hashes of inputs, paths, filters, rows set aside, what a
household said of itself (also where it is the reason that a plant is not there), and every yard without leave
to be shown; its place is merged into its block. Since every writer gets the reduced plan only, none of them
can leak what is not in it.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import geopandas as gpd
import pandas as pd

from habitat.report.package.tables import TABLES
from habitat.report.plan import Plan
from habitat.report.public.ground import public_layers, public_site, public_study, renamed
from habitat.report.public.names import Names
from habitat.report.public.remarks import Reducer
from habitat.report.public.totals import (
    few_hidden,
    public_headline,
    rounded,
    rounded_gains,
    rounded_steps,
    without_parts,
    without_totals,
)


def for_audience(plan: Plan) -> Plan:
    """Return the plan that may be written for the study's audience: all of it for a group."""
    return public_plan(plan) if plan.study.report.audience == "public" else plan


def public_plan(plan: Plan) -> Plan:
    """Return a plan that can be shown to everybody.

    Yards get numbers that hold for this plan only, from north to south; so do anchors. Figures
    of the whole (scores, counts, cost) stay, tables keep only what lies in yards that may be shown.
    """
    plan = _described(plan)
    names = Names.of(plan.layers.yards, plan.layers.frame("anchors"))
    less = Reducer.of(names)
    study = public_study(plan.study)
    layers = public_layers(plan.layers, names)
    shown = layers.yards[layers.yards["role"] != "block"]
    headline, withheld = public_headline(plan, names)
    few, said = few_hidden(plan, names), plan.sentences
    return replace(
        plan,
        headline=headline,
        study=study,
        layers=layers,
        site=public_site(plan.site, shown, layers.frame("anchors"), less),
        yards=_yards(plan, layers.yards, names),
        open_ground=renamed(plan.open_ground, names),
        breeding=renamed(plan.breeding, names),
        nectar_stops=renamed(plan.nectar_stops, names),
        bed_sites=renamed(plan.bed_sites, names),
        **_plants(plan, less),
        **_corridor(plan, less, rounding=bool(withheld), few=bool(few)),
        set_aside=plan.set_aside.iloc[0:0],
        yard_results=less.table("yard_results", renamed(plan.yard_results, names)),
        yard_butterflies=_by(
            less.table("yard_butterflies", without_parts(renamed(plan.yard_butterflies, names), few)),
            "butterfly",
        ),
        breaks={
            butterfly: rounded(_breaks(found, less)) if butterfly in few else _breaks(found, less)
            for butterfly, found in plan.breaks.items()
        },
        sentences=tuple(told for s in (without_totals(said) if withheld else said) if (told := less.told(s))),
        run_info=_run_info(plan, study) | {"withheld": withheld},
        notes=(),
        decisions=None,
        as_edited={},
        blocks=None,
        asked={},
        edits=(),
        carried=None,
    )


def _described(plan: Plan) -> Plan:
    """Return the plan without columns of text that nobody described: what stands in them is not known."""
    kept: dict[str, Any] = {}
    stored = {f.name for f in fields(Plan)}  # the others are made of these
    for table in TABLES:
        frame = getattr(plan, table.source)
        if frame is None or table.source not in stored:
            continue
        known = {"geometry", *(c[0] for c in table.columns)}
        numbers = {c for c in frame.columns if pd.api.types.is_numeric_dtype(frame[c])}
        sources = {c for c in frame.columns if str(c).endswith("_source")}  # blanked below
        kept[table.source] = frame[[c for c in frame.columns if c in known | numbers | sources]]
    return replace(plan, **kept)


def _yards(plan: Plan, layer: gpd.GeoDataFrame, names: Names) -> gpd.GeoDataFrame:
    """Return the table of yards: blocks with their outline only, then those that may be shown."""
    table = renamed(plan.yards, names).drop(columns=["status", "address"], errors="ignore")
    table = table.assign(**{c: "" for c in table if c.endswith("_source")})
    blocks = layer.loc[layer["role"] == "block", ["yard_id", "role", "publish", "area_m2", "geometry"]]
    both = pd.concat([blocks, table], ignore_index=True) if len(blocks) else table
    return gpd.GeoDataFrame(both[table.columns], geometry="geometry", crs=plan.yards.crs)


def _plants(plan: Plan, less: Reducer) -> dict[str, Any]:
    """Return beds, plantings and points with ids made anew, since the old ones hold yard ids."""
    names = less.names
    beds = renamed(plan.beds, names)
    bed_ids = dict(zip(beds["bed_id"], _bed_ids(beds), strict=True)) if len(beds) else {}
    plantings = renamed(plan.plantings, names)
    planting_ids = {old: f"p{n:05d}" for n, old in enumerate(plantings.get("planting_id", ()), 1)}
    points = renamed(plan.plant_points, names)
    existing = renamed(plan.existing_plants, names).drop(columns=["planting_id", "bed_id"], errors="ignore")
    return {
        "beds": beds.assign(bed_id=beds["bed_id"].map(bed_ids)),
        "plantings": less.table(
            "plantings",
            plantings.assign(
                planting_id=plantings["planting_id"].map(planting_ids),
                bed_id=plantings["bed_id"].map(bed_ids),
            ),
        ),
        "plant_points": points.assign(
            point_id=[f"h{n:06d}" for n in range(1, len(points) + 1)],
            planting_id=points["planting_id"].map(planting_ids),
            bed_id=points["bed_id"].map(bed_ids),
        ),
        "existing_plants": existing.assign(row=range(len(existing)), name_given=""),
    }


def _bed_ids(beds: gpd.GeoDataFrame) -> list[str]:
    return [f"{y}-bed-{n}" for y, n in zip(beds["yard_id"], beds["bed_number"].astype(int), strict=True)]


def _corridor(plan: Plan, less: Reducer, *, rounding: bool, few: bool) -> dict[str, Any]:
    """Return links, chain and invitations of what is shown.

    Scores and areas are rounded where few hidden yards add to a total, gains where ``few`` add to habitat.
    """
    names, steps = less.names, plan.invitation_steps
    if rounding or ("yard_id" in steps and not names.hidden.isdisjoint(steps["yard_id"])):
        steps = rounded_steps(steps)
    if "yard_id" in steps:
        steps = steps.assign(yard_id=[names.new(y) or "" for y in steps["yard_id"]])
    invitations = renamed(plan.invitations, names)
    invitations = rounded_gains(invitations) if few else invitations
    if "rank" in invitations:
        invitations = invitations.sort_values("rank", kind="stable").reset_index(drop=True)
    return {
        "links": _ends(plan.links, names),
        "chain": _ends(plan.chain, names),
        "invitations": less.table("invitations", invitations),
        "invitation_steps": steps,
    }


def _ends(frame: gpd.GeoDataFrame, names: Names) -> gpd.GeoDataFrame:
    """Keep the ways whose both ends may be shown, in their old order."""
    if not len(frame):
        return frame
    one, two = frame["from_yard"].map(names.new), frame["to_yard"].map(names.new)
    both = one.notna() & two.notna()
    return frame[both].assign(from_yard=one[both], to_yard=two[both]).reset_index(drop=True)


WHOLE = (
    "unlimited",
    "words",
    "groups",
    "largest_group_share",
    "chains_sharing_no_yard",
    "redundancy",
    "losses",
    "capacity",
)
BETWEEN = (
    "from", "to", "passage", "passage_low_reach", "passage_high_reach", "steps", "chains_sharing_no_yard",
    "redundancy",
)  # fmt: skip


def _breaks(found: dict[str, Any], less: Reducer) -> dict[str, Any]:
    """Keep what is said of the whole and of pairs of anchors; places and yards on the way are left out."""
    out: dict[str, Any] = {k: less.nested(found[k]) for k in WHOLE if k in found}
    pairs = [{k: less.nested(p[k]) for k in BETWEEN if k in p} for p in found.get("pairs") or []]
    return out | {"pairs": pairs} if pairs else out


def _by(frame: pd.DataFrame, column: str) -> pd.DataFrame:
    return frame.sort_values(column, kind="stable").reset_index(drop=True)


def _run_info(plan: Plan, study: Any) -> dict[str, Any]:
    """Keep versions, coordinate system and the settings that are no paths; not hashes, rows or layers."""
    settings = study.model_dump(mode="json", exclude={"layers", "rasters", "knowledge"})
    kept: dict[str, Any] = {k: plan.run_info[k] for k in ("versions", "crs") if k in plan.run_info}
    return {**kept, "settings": settings}
