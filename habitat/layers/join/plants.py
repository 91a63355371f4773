"""Plants, trees and sightings get their yard: where they stand, else the one they name."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from habitat.layers.formats.raw import Draft, nothing
from habitat.layers.join.meet import APART_M, ELSEWHERE_M, Extent, distances_m
from habitat.layers.join.people import YardBook
from habitat.layers.join.points import yards_at
from habitat.layers.join.yards import boxes_of


def drop_far_rows(draft: Draft, yards: Extent) -> None:
    """Set aside rows that lie far from all yards: a slipped digit, a swapped pair, a lost sign.

    Plants are noted in the yards; other layers may be those of a whole state, so that only what lies on
    another part of the Earth is a slip.
    """
    if draft.shapes is None or draft.crs is None or shapely.is_missing(draft.shapes).all():
        return
    there = np.flatnonzero(~shapely.is_missing(draft.shapes))
    boxes = boxes_of(draft)
    gaps = distances_m(yards.box, boxes)
    limit = APART_M if draft.name == "plants" else ELSEWHERE_M
    far = ~np.isfinite(boxes).all(axis=1) | (gaps > limit)
    draft.set_aside(
        {
            draft.row_at(int(there[i])): f"it lies at longitude {boxes[i, 0]:.4f}, latitude "
            f"{boxes[i, 1]:.4f}, {gaps[i] / 1000:,.0f} km outside of the yards: a slip in its coordinates, "
            "their signs or their order"
            for i in np.flatnonzero(far)
        }
    )


def place_points(
    draft: Draft,
    yards: gpd.GeoDataFrame,
    houses: NDArray[np.object_] | None,
    details: Mapping[str, Any],
) -> None:
    """Give points their yard; a plant that only names its yard is put in the yard's middle, and told.

    The middle is that of the ground outside of houses, where there is any.
    """
    shapes = draft.shapes if draft.shapes is not None else np.full(len(draft.table), None, dtype=object)
    here = yards_at(shapes, yards)
    table = draft.table
    texts = [table[c] if c in table else nothing(table.index) for c in ("yard_id", "address")]
    book = YardBook(yards, details)
    middles: _Middles | None = None
    reasons: dict[int, str] = {}
    out: list[Any] = []
    for i, (row, given, address) in enumerate(zip(map(int, table.index), *texts, strict=True)):
        if here[i] is not None:
            if given is not None and given != here[i] and book.find(given, None)[0] != here[i]:
                draft.tell(f"it names yard {given} but stands in {here[i]}, which is used", row)
            out.append(here[i])
            continue
        named, told = book.find(given, address) if given is not None or address is not None else (None, "")
        if shapes[i] is not None:
            out.append(None)
        elif draft.name != "plants":
            out.append(named)
        else:
            out.append(named)
            if named is None:
                reasons[row] = (
                    f"it has no place, and {told.removeprefix('not matched: ')}" if told else NO_PLACE
                )
                continue
            middles = middles or _Middles(yards, houses)
            shapes[i] = middles.of(named)
            draft.tell(f"its place is not given: it is put in the middle of yard {named}", row)
            draft.repaired.add(row)
        if named is not None and told:
            draft.tell(told, row)
    draft.shapes = shapes
    table["yard_id"] = pd.Series(out, index=table.index, dtype=object)
    _tell_shared(draft, yards)
    draft.set_aside(reasons)
    if draft.name == "plants":
        _finish_plants(draft)


class _Middles:
    """Points well inside of yards and, where a yard has such ground, outside of houses."""

    def __init__(self, yards: gpd.GeoDataFrame, houses: NDArray[np.object_] | None) -> None:
        self.shape_of = dict(zip(yards["yard_id"], yards.geometry, strict=True))
        self.houses = shapely.STRtree([] if houses is None else houses)

    def of(self, yard_id: str) -> shapely.Point:
        yard = self.shape_of[yard_id]
        near = self.houses.geometries[self.houses.query(yard, predicate="intersects")]
        ground = yard.difference(shapely.union_all(near))
        return (yard if ground.is_empty else ground).representative_point()


NO_PLACE = "it has no place, and names neither a yard_id nor an address"


def _tell_shared(draft: Draft, yards: gpd.GeoDataFrame) -> None:
    """Tell of points that lie within two yards or more; each counts in the one whose id comes first."""
    shapes = draft.shapes
    if shapes is None or "overlap_m2" not in yards or not (yards["overlap_m2"] > 0).any():
        return
    there = np.flatnonzero(~shapely.is_missing(shapes))
    which, _ = shapely.STRtree(yards.geometry.to_numpy()).query(shapes[there], predicate="within")
    several = there[np.flatnonzero(np.bincount(which, minlength=len(there)) > 1)]
    if len(several):
        named = ", ".join(draft.label(draft.row_at(int(i))) for i in several[:10])
        more = f" and {len(several) - 10} more" if len(several) > 10 else ""
        draft.tell(
            f"{len(several)} row(s) lie in several yards that overlap: {named}{more}; each counts once, in "
            "the yard whose id comes first",
            harm=1,
        )


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
    _tell_twice(draft)
    unnamed = [draft.label(row) for row, plant in draft.items("plant") if plant is None]
    if unnamed:
        draft.tell(f"{len(unnamed)} plant record(s) have no name: {', '.join(unnamed[:10])}", harm=1)
    outside = [draft.label(row) for row, yard in draft.items("yard_id") if yard is None]
    if outside:
        draft.tell(
            f"{len(outside)} plant record(s) stand outside every yard: {', '.join(outside[:10])}", harm=1
        )


def _tell_twice(draft: Draft) -> None:
    """Tell of rows that say the same of the same place: plants that may have been noted twice."""
    if draft.shapes is None or not len(draft.table):
        return
    cells = draft.table.astype(str).assign(place=shapely.to_wkb(draft.shapes, hex=True))
    for rows in cells.groupby(list(cells.columns), sort=False).groups.values():
        if len(rows) > 1:
            listed = ", ".join(str(int(r) + 1) for r in rows[:8]) + (" ..." if len(rows) > 8 else "")
            draft.tell(
                f"{len(rows)} rows say the same of the same place (rows {listed}): all are kept and counted; "
                "delete those that were noted twice",
                int(rows[0]),
            )
