"""Parcels that are not the yards people have: several joined into one, or one split, by a small table."""

from __future__ import annotations

import re
from collections.abc import Container, Mapping
from typing import Any

import numpy as np
import pandas as pd
import shapely
import shapely.ops
from pyproj import CRS
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from habitat.layers.crs import WGS84, mover
from habitat.layers.formats.raw import Draft

JOIN, SPLIT = "join", "split"
TOUCH_M = 1.0
"""Parcels nearer than this touch: outlines drawn one by one leave slivers between them (judgement)."""

BEYOND_M = 5.0
"""A line is drawn on so far at both ends, since nobody taps a boundary to the centimetre (judgement)."""

LEAST_M2 = 1.0
"""A part smaller than this comes of the line's ends, and is no yard (judgement)."""


LISTED = 8
"""So many names are told where one is none of them."""


class _RowError(Exception):
    """Why a row cannot be followed."""


def change_parcels(yards: Draft, changes: Draft, crs: CRS, outlines: Mapping[str, BaseGeometry]) -> None:
    """Join and split yards row by row, in place; rows that cannot be followed are set aside with the reason.

    Parameters
    ----------
    yards
        On the metric CRS, with settled ids. Details gain ``joined_ids`` (old id -> yard), their addresses,
        and, of ids that a split ended, ``ambiguous_ids``.
    changes
        change (join, split), yard_ids and new_ids (with ; between), and of a split lon_1, lat_1, lon_2, lat_2
        [degrees], two points where the line crosses the outline, or by, the name of a lot that was drawn.
    crs
        The metric CRS.
    outlines
        Lots that were drawn, by name.
    """
    parcels = _Parcels(yards)
    aside: dict[int, str] = {}
    for row, record in changes.table.to_dict("index").items():
        place = int(str(row))
        try:
            told = _follow(parcels, {str(k): v for k, v in record.items()}, crs, outlines)
            changes.tell(told, place, harm=0)
        except _RowError as error:
            aside[place] = str(error)
    changes.set_aside(aside)
    parcels.hand_back()


class _Parcels:
    """Yards while they are changed: by id, so that a change costs what its own yards do.

    of : id -> place; ids, shapes and origins (places in the draft's table) by place, None where a yard is
    gone. became : id that is gone -> ids in its place.
    """

    def __init__(self, yards: Draft) -> None:
        assert yards.shapes is not None
        self.yards = yards
        self.ids: list[str | None] = list(yards.table["yard_id"])
        self.shapes = list(yards.shapes)
        self.origins = list(range(len(self.ids)))
        self.of = {str(name): k for k, name in enumerate(self.ids)}
        self.became: dict[str, list[str]] = {}
        self.addresses: dict[str, str] = {}

    def put(self, place: int, name: str, shape: BaseGeometry) -> None:
        """Give a place another name and outline."""
        self.of.pop(str(self.ids[place]), None)
        self.ids[place], self.shapes[place], self.of[name] = name, shape, place
        self.became.pop(name, None)

    def add(self, name: str, shape: BaseGeometry, origin: int) -> None:
        """Add a yard that was part of another."""
        self.ids.append(None)
        self.shapes.append(shape)
        self.origins.append(self.origins[origin])
        self.put(len(self.ids) - 1, name, shape)

    def end(self, place: int) -> None:
        """Take a yard away, and keep its address."""
        name, addresses = str(self.ids[place]), self.yards.table.get("address")
        if addresses is not None and place < len(addresses) and isinstance(addresses.iloc[place], str):
            self.addresses[name] = addresses.iloc[place]
        del self.of[name]
        self.ids[place] = None

    def now(self, name: str) -> list[str]:
        """Return the yards in whose place or in which an id is now."""
        if name in self.of:
            return [name]
        return list(dict.fromkeys(one for part in self.became.get(name, ()) for one in self.now(part)))

    def hand_back(self) -> None:
        """Make the draft what the yards are now, and tell what became of ids that are gone."""
        yards, first, before = self.yards, len(self.yards.table), self.yards.shapes
        assert before is not None
        live = [k for k, name in enumerate(self.ids) if name is not None]
        start = 1 + max(yards.rows_in, *map(int, yards.table.index), *(r for r, *_ in yards.aside), 0)
        rows = np.append(yards.table.index.to_numpy(), start + np.arange(len(self.ids) - first))
        changed = {k for k in live if k < first and self.shapes[k] is not before[k]}
        yards.repaired |= {int(rows[k]) for k in changed}
        table = yards.table.iloc[[self.origins[k] for k in live]].set_axis(rows[live])
        table["yard_id"] = pd.Series([self.ids[k] for k in live], index=table.index, dtype=object)
        if "address" in table:
            told = table["address"].astype(object)
            table["address"] = told.where(np.array(live) < first, None)
        yards.table = table
        shapes = np.empty(len(live), dtype=object)
        shapes[:] = [self.shapes[k] for k in live]
        yards.shapes = shapes
        yards.rows_in += len(self.ids) - first
        found = {name: self.now(name) for name in self.became}
        joined = {name: ids[0] for name, ids in found.items() if len(ids) == 1}
        yards.details.setdefault("joined_ids", {}).update(joined)
        several = {name: ids for name, ids in found.items() if len(ids) > 1}
        yards.details.setdefault("ambiguous_ids", {}).update(several)
        kept = {name: text for name, text in self.addresses.items() if name in joined}
        yards.details.setdefault("joined_addresses", {}).update(kept)


def _follow(parcels: _Parcels, record: dict[str, Any], crs: CRS, outlines: Mapping[str, BaseGeometry]) -> str:
    word = str(record.get("change") or "").strip().casefold()
    ids, new = (_listed(record.get(name)) for name in ("yard_ids", "new_ids"))
    if lacking := [name for name in ids if name not in parcels.of]:
        raise _RowError(f"there is no yard {lacking[0]!r}")
    if clash := [name for name in new if name in parcels.of and name not in ids]:
        raise _RowError(f"the new id {clash[0]!r} is another yard's")
    if len(set(new)) < len(new):
        raise _RowError(f"the new id {new[0]!r} is there twice")
    if word == JOIN:
        return _join(parcels, list(dict.fromkeys(ids)), new)
    if word == SPLIT:
        return _split(parcels, ids, new, _knife(record, crs, outlines))
    raise _RowError(f"change is {word!r}: write join or split")


def _listed(value: Any) -> list[str]:
    return (
        [part.strip() for part in re.split(r"[;|\n]", value) if part.strip()]
        if isinstance(value, str)
        else []
    )


def _join(parcels: _Parcels, ids: list[str], new: list[str]) -> str:
    if len(ids) < 2:
        raise _RowError("to join takes two yard_ids or more, with ; between")
    if len(new) > 1:
        raise _RowError("what is joined has one new id")
    at = [parcels.of[name] for name in ids]
    shapes = [parcels.shapes[k] for k in at]
    near = shapely.union_all(shapely.buffer(shapes, TOUCH_M / 2))
    if near.geom_type != "Polygon":
        raise _RowError(f"{', '.join(ids)} do not touch, so they are no one yard")
    closed = near.buffer(-TOUCH_M / 2, join_style="mitre")
    whole = shapely.union_all([*shapes, closed.intersection(shapely.convex_hull(shapely.union_all(shapes)))])
    name = (new or ids)[0]
    for place in at[1:]:
        parcels.end(place)
    parcels.put(at[0], name, whole)
    parcels.became |= {n: [name] for n in ids if n != name}
    return f"{', '.join(ids)} are one yard now, {name}"


def _knife(record: dict[str, Any], crs: CRS, outlines: Mapping[str, BaseGeometry]) -> BaseGeometry:
    """Return the line or the outline that splits a yard."""
    by = record.get("by")
    if isinstance(by, str) and by.strip():
        if by.strip() not in outlines:
            known = ", ".join(sorted(outlines)[:LISTED]) or "none"
            raise _RowError(f"by names {by.strip()!r}, which no lot of more_yards is called ({known})")
        return outlines[by.strip()]
    ends = [record.get(name) for name in ("lon_1", "lat_1", "lon_2", "lat_2")]
    if any(not isinstance(v, float) or not np.isfinite(v) for v in ends):
        raise _RowError(
            "to split takes lon_1, lat_1, lon_2 and lat_2, or by, the name of a lot that was drawn"
        )
    x, y = mover(WGS84, crs).transform([ends[0], ends[2]], [ends[1], ends[3]])
    long = float(np.hypot(x[1] - x[0], y[1] - y[0]))
    if not long > 0:
        raise _RowError("the two points are one and the same")
    dx, dy = (x[1] - x[0]) / long * BEYOND_M, (y[1] - y[0]) / long * BEYOND_M
    return LineString([(x[0] - dx, y[0] - dy), (x[1] + dx, y[1] + dy)])


def _split(parcels: _Parcels, ids: list[str], new: list[str], knife: BaseGeometry) -> str:
    if len(ids) != 1:
        raise _RowError("to split takes one id in yard_ids")
    if len(new) not in (0, 2):
        raise _RowError("what is split has two new_ids, the larger part's first, or none")
    place = parcels.of[ids[0]]
    larger, smaller = _parts(parcels.shapes[place], knife)
    names = new or [ids[0], _free(f"{ids[0]}-b", parcels.of)]
    parcels.put(place, names[0], larger)
    parcels.add(names[1], smaller, place)
    if ids[0] not in names:
        parcels.became[ids[0]] = names
    sizes = [f"{name} ({part.area:,.0f} m2)" for name, part in zip(names, (larger, smaller), strict=True)]
    return f"{ids[0]} is two yards now: {' and '.join(sizes)}"


def _parts(shape: BaseGeometry, knife: BaseGeometry) -> tuple[BaseGeometry, BaseGeometry]:
    """Return the larger and the smaller part of a yard."""
    if knife.geom_type == "LineString":
        cut = list(shapely.ops.split(shape, knife).geoms)
    else:
        cut = [shape.intersection(knife), shape.difference(knife)]
    parts = sorted((p for p in cut if p.area >= LEAST_M2), key=lambda p: -p.area)
    if len(parts) != 2:
        raise _RowError(
            "its line does not cross the yard"
            if len(parts) < 2
            else f"its line cuts the yard into {len(parts)} parts, not two"
        )
    return parts[0], parts[1]


def _free(name: str, taken: Container[str]) -> str:
    while name in taken:
        name += "'"
    return name
