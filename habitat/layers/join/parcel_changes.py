"""Parcels that are not the yards people have: several joined into one, or one split, by a small table."""

from __future__ import annotations

import re
from collections.abc import Mapping
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
    aside: dict[int, str] = {}
    for row, record in changes.table.to_dict("index").items():
        place = int(str(row))
        try:
            told = _follow(yards, {str(k): v for k, v in record.items()}, crs, outlines)
            changes.tell(told, place, harm=0)
        except _RowError as error:
            aside[place] = str(error)
    changes.set_aside(aside)


def _follow(yards: Draft, record: dict[str, Any], crs: CRS, outlines: Mapping[str, BaseGeometry]) -> str:
    word = str(record.get("change") or "").strip().casefold()
    ids, new = (_listed(record.get(name)) for name in ("yard_ids", "new_ids"))
    known = set(yards.table["yard_id"])
    if lacking := [name for name in ids if name not in known]:
        raise _RowError(f"there is no yard {lacking[0]!r}")
    if clash := [name for name in new if name in known - set(ids)]:
        raise _RowError(f"the new id {clash[0]!r} is another yard's")
    if word == JOIN:
        return _join(yards, ids, new)
    if word == SPLIT:
        return _split(yards, ids, new, _knife(record, crs, outlines))
    raise _RowError(f"change is {word!r}: write join or split")


def _listed(value: Any) -> list[str]:
    return (
        [part.strip() for part in re.split(r"[;|\n]", value) if part.strip()]
        if isinstance(value, str)
        else []
    )


def _places(yards: Draft, ids: list[str]) -> list[int]:
    names = yards.table["yard_id"].to_numpy()
    return [int(np.flatnonzero(names == name)[0]) for name in ids]


def _join(yards: Draft, ids: list[str], new: list[str]) -> str:
    if len(dict.fromkeys(ids)) < 2:
        raise _RowError("to join takes two yard_ids or more, with ; between")
    if len(new) > 1:
        raise _RowError("what is joined has one new id")
    assert yards.shapes is not None
    at = _places(yards, ids)
    shapes = yards.shapes[at]
    near = shapely.union_all(shapely.buffer(shapes, TOUCH_M / 2))
    if near.geom_type != "Polygon":
        raise _RowError(f"{', '.join(ids)} do not touch, so they are no one yard")
    closed = near.buffer(-TOUCH_M / 2, join_style="mitre")
    whole = shapely.union_all([*shapes, closed.intersection(shapely.convex_hull(shapely.union_all(shapes)))])
    name = (new or ids)[0]
    yards.shapes[at[0]] = whole
    _rename(yards, at[0], name)
    keep = np.ones(len(yards.table), bool)
    keep[at[1:]] = False
    addresses = yards.table.get("address")
    old = yards.details.setdefault("joined_addresses", {})
    old |= {n: addresses.iloc[k] for n, k in zip(ids[1:], at[1:], strict=True) if addresses is not None
            and isinstance(addresses.iloc[k], str)}  # fmt: skip
    yards.details.setdefault("joined_ids", {}).update({n: name for n in ids if n != name})
    yards.repaired |= {yards.row_at(k) for k in at}
    yards.table, yards.shapes = yards.table.loc[keep], yards.shapes[keep]
    return f"{', '.join(ids)} are one yard now, {name}"


def _knife(record: dict[str, Any], crs: CRS, outlines: Mapping[str, BaseGeometry]) -> BaseGeometry:
    """Return the line or the outline that splits a yard."""
    by = record.get("by")
    if isinstance(by, str) and by.strip():
        if by.strip() not in outlines:
            known = ", ".join(sorted(outlines)) or "none"
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


def _split(yards: Draft, ids: list[str], new: list[str], knife: BaseGeometry) -> str:
    if len(ids) != 1:
        raise _RowError("to split takes one id in yard_ids")
    if len(new) not in (0, 2):
        raise _RowError("what is split has two new_ids, the larger part's first, or none")
    assert yards.shapes is not None
    place = _places(yards, ids)[0]
    shape = yards.shapes[place]
    larger, smaller = _parts(shape, knife)
    names = new or [ids[0], _free(f"{ids[0]}-b", set(yards.table["yard_id"]))]
    yards.shapes[place] = larger
    _rename(yards, place, names[0])
    if ids[0] not in names:
        yards.details.setdefault("ambiguous_ids", {})[ids[0]] = names
    row = 1 + max(yards.rows_in, *map(int, yards.table.index), *(r for r, *_ in yards.aside))
    piece = yards.table.iloc[[place]].assign(yard_id=names[1]).set_axis([row])
    if "address" in piece:
        piece["address"] = pd.Series([None], index=[row], dtype=object)
    yards.table = pd.concat([yards.table, piece])
    yards.shapes = np.append(yards.shapes, smaller)
    yards.rows_in += 1
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


def _rename(yards: Draft, place: int, name: str) -> None:
    yards.table.loc[yards.row_at(place), "yard_id"] = name


def _free(name: str, taken: set[str]) -> str:
    while name in taken:
        name += "'"
    return name
