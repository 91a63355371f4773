"""Plants, trees and sightings get their yard: where they stand, else the one they name."""

from __future__ import annotations

import re
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from habitat.layers.meet import APART_M, Extent, distance_m
from habitat.layers.points import yards_at
from habitat.layers.raw import Draft, nothing
from habitat.layers.yards import places_of


def drop_far_plants(draft: Draft | None, yards: Extent) -> None:
    """Set aside plants that lie far from all yards: a slipped digit, a swapped pair, a lost sign."""
    if draft is None or draft.shapes is None or draft.crs is None or shapely.is_missing(draft.shapes).all():
        return
    there = np.flatnonzero(~shapely.is_missing(draft.shapes))
    reasons = {}
    for i, place in zip(there, places_of(draft), strict=True):
        gap = distance_m(yards.box, np.array([*place, *place])) if np.isfinite(place).all() else np.inf
        if gap > APART_M:
            reasons[int(draft.table.index[int(i)])] = (
                f"it lies at longitude {place[0]:.4f}, latitude {place[1]:.4f}, {gap / 1000:,.0f} km "
                "outside of the yards: a slip in its coordinates, their signs or their order"
            )
    draft.set_aside(reasons)


def place_points(draft: Draft, yards: gpd.GeoDataFrame) -> None:
    """Give points their yard; a plant that only names its yard is put in the yard's middle, and told."""
    shapes = draft.shapes if draft.shapes is not None else np.full(len(draft.table), None, dtype=object)
    here = yards_at(shapes, yards)
    named = draft.table["yard_id"] if "yard_id" in draft.table else nothing(draft.table.index)
    ids = set(yards["yard_id"])
    reasons: dict[int, str] = {}
    out: list[Any] = []
    for i, (row, given) in enumerate(zip(map(int, draft.table.index), named, strict=True)):
        if here[i] is None and shapes[i] is None and draft.name == "plants":
            if given in ids:
                shapes[i] = yards.geometry[yards["yard_id"] == given].iloc[0].representative_point()
                here[i] = given
                draft.tell(f"its place is not given: it is put in the middle of yard {given}", row)
                draft.repaired.add(row)
            else:
                reasons[row] = f"it has no place, and no yard has the id {given!r}"
        elif given is not None and here[i] is not None and given != here[i]:
            draft.tell(f"it names yard {given} but stands in {here[i]}, which is used", row)
        out.append(here[i] if here[i] is not None or shapes[i] is not None or given not in ids else given)
    draft.shapes = shapes
    draft.table["yard_id"] = pd.Series(out, index=draft.table.index, dtype=object)
    draft.set_aside(reasons)
    if draft.name == "plants":
        _finish_plants(draft)


COUNTED = re.compile(
    r"(?:(?P<before>\d{1,4})\s*[x×]\s+)?(?P<name>\D.*?)(?:\s*[x×]\s*(?P<after>\d{1,4})|\s*\((?P<in>\d{1,4})\))?",
    re.I,
)
"""A plant's name with its count before or behind: '3 x bee balm', 'bee balm x3', 'bee balm (3)'."""


def _counts_in_names(draft: Draft) -> None:
    """Take counts that people write into a plant's name out of it; a count of its own column wins."""
    table = draft.table
    for row, said in list(draft.items("plant")):
        found = COUNTED.fullmatch(said.strip()) if isinstance(said, str) else None
        count = next((found[g] for g in ("before", "after", "in") if found[g]), None) if found else None
        if found is None or count is None:
            continue
        given = table["count"].get(row, np.nan) if "count" in table else np.nan
        if pd.isna(given):
            if "count" not in table:
                table["count"] = np.nan
            table.loc[row, "count"] = float(count)
            told = f"{said!r} is read as {count} of {found['name']!r}"
        else:
            told = (
                f"{said!r} is read as {found['name']!r}; of its two counts the column's, {given:g}, is used"
            )
        draft.tell(told, row)
        table.loc[row, "plant"] = found["name"]


def _finish_plants(draft: Draft) -> None:
    _counts_in_names(draft)
    table = draft.table
    if "count" not in table:
        table["count"] = 1.0
        draft.tell("no column count: each row is one plant", harm=0)
    blank = table["count"].isna()
    if blank.any():
        draft.tell(f"{int(blank.sum())} row(s) give no count: taken as 1", harm=1)
        table["count"] = table["count"].fillna(1.0)
    unnamed = [draft.label(row) for row, plant in draft.items("plant") if plant is None]
    if unnamed:
        draft.tell(f"{len(unnamed)} plant record(s) have no name: {', '.join(unnamed[:10])}", harm=1)
    outside = [draft.label(row) for row, yard in draft.items("yard_id") if yard is None]
    if outside:
        draft.tell(
            f"{len(outside)} plant record(s) stand outside every yard: {', '.join(outside[:10])}", harm=1
        )
