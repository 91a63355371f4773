"""Single edits of a yard's beds and plantings, as somebody would make them in a GIS."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import geopandas as gpd
import shapely
from shapely import affinity

from habitat.errors import NotFoundError, ParameterError
from habitat.planting.types import Drawn

FARTHEST_M = 1000.0
"""Nothing is moved farther at once: a slip of the hand (judgement)."""

LEAST_BED_M2 = 0.05
"""A smaller bed holds no plant (judgement)."""

BEYOND = 10**300
"""Whole numbers in JSON have no end, others do."""

MOST_CORNERS = 500
MOST_PLANTS = 10_000
"""A larger count is a slip (judgement)."""

Edit = Mapping[str, Any]


def edited(drawn: Drawn, edit: Edit, plant: Callable[[str], str | None]) -> tuple[Drawn, str]:
    """Return a yard's tables with one edit made, and what it was in words.

    Parameters
    ----------
    drawn
        Beds, plantings and points of the yard, as they stand in plan.gpkg.
    edit
        ``do``: a key of EDITS; ``bed`` or ``planting``: an id; and what that edit takes.
    plant
        Scientific name by any writing of it, None if unknown.

    Raises
    ------
    NotFoundError
        If there is no such bed or planting (any more).
    ParameterError
        If a value makes no sense.
    """
    do = EDITS.get(str(edit.get("do")))
    if do is None:
        raise ParameterError("do", str(edit.get("do")), "one of " + ", ".join(EDITS))
    return do(drawn, edit, plant)


def _move(drawn: Drawn, edit: Edit, _: Any) -> tuple[Drawn, str]:
    row = _row(drawn.beds, "bed_id", edit.get("bed"), "bed")
    east, north = (number_of(edit, key, -FARTHEST_M, FARTHEST_M) for key in ("east_m", "north_m"))
    moved = affinity.translate(drawn.beds.geometry[row], east, north)
    return _with_shape(drawn, row, moved), f"bed {_number(drawn, row)} moved"


def _reshape(drawn: Drawn, edit: Edit, _: Any) -> tuple[Drawn, str]:
    row, ring = _row(drawn.beds, "bed_id", edit.get("bed"), "bed"), edit.get("ring")
    wanted = f"at least 3 corners, each east and north in metres, round at least {LEAST_BED_M2} m²"
    try:
        corners = [(float(x), float(y)) for x, y in ring or ()][:MOST_CORNERS]
        shape = shapely.make_valid(shapely.Polygon(corners))
    except (TypeError, ValueError, OverflowError, shapely.errors.ShapelyError) as error:
        raise ParameterError("ring", "what was drawn", wanted) from error
    if not all(map(math.isfinite, sum(corners, ()))) or shape.area < LEAST_BED_M2:
        raise ParameterError("ring", "what was drawn", wanted)
    return _with_shape(drawn, row, shape), f"bed {_number(drawn, row)} reshaped"


def _strike_bed(drawn: Drawn, edit: Edit, _: Any) -> tuple[Drawn, str]:
    row = _row(drawn.beds, "bed_id", edit.get("bed"), "bed")
    told = f"bed {_number(drawn, row)} struck"
    bed = drawn.beds["bed_id"][row]
    return Drawn(*(_without(t, "bed_id", bed) for t in (drawn.beds, drawn.plantings, drawn.points))), told


def _swap(drawn: Drawn, edit: Edit, plant: Callable[[str], str | None]) -> tuple[Drawn, str]:
    row = _row(drawn.plantings, "planting_id", edit.get("planting"), "planting")
    named = str(edit.get("plant", ""))
    known = plant(named)
    if known is None:
        raise ParameterError("plant", named, "a plant of the tables ('habitat plants' lists them)")
    told = f"{_name(drawn, row)} swapped for {known}"
    return _with_cell(drawn, row, "plant", known), told


def _count(drawn: Drawn, edit: Edit, plant: Any) -> tuple[Drawn, str]:
    row = _row(drawn.plantings, "planting_id", edit.get("planting"), "planting")
    count = number_of(edit, "count", 0, MOST_PLANTS)
    if not count.is_integer():
        raise ParameterError("count", str(count), "a whole number")
    if count == 0:
        return _strike(drawn, edit, plant)
    was, name = int(drawn.plantings["count"][row]), _name(drawn, row)
    return _with_cell(drawn, row, "count", int(count)), f"{name}: {int(count)} for {was}"


def _strike(drawn: Drawn, edit: Edit, _: Any) -> tuple[Drawn, str]:
    row = _row(drawn.plantings, "planting_id", edit.get("planting"), "planting")
    key, told = drawn.plantings["planting_id"][row], f"{_name(drawn, row)} struck"
    plantings, points = (_without(t, "planting_id", key) for t in (drawn.plantings, drawn.points))
    return replace(drawn, plantings=plantings, points=points), told


EDITS: dict[str, Callable[[Drawn, Edit, Any], tuple[Drawn, str]]] = {
    "move": _move,
    "reshape": _reshape,
    "strike-bed": _strike_bed,
    "swap": _swap,
    "count": _count,
    "strike": _strike,
}
"""What may be done in a yard."""


def number_of(edit: Edit, key: str, least: float, most: float) -> float:
    """Return a number of an edit within its bounds.

    Raises
    ------
    ParameterError
        If it is none, or beyond them.
    """
    said, value = edit.get(key), math.nan
    if isinstance(said, int | float) and not isinstance(said, bool) and abs(said) < BEYOND:
        value = float(said)
    if not least <= value <= most:
        raise ParameterError(key, str(said)[:40], f"a number from {least:g} to {most:g}")
    return value


def _row(table: gpd.GeoDataFrame, column: str, key: Any, what: str) -> Any:
    rows = table.index[table[column].astype(str) == str(key)]
    if not len(rows):
        raise NotFoundError(
            f"there is no {what} {str(key)[:60]!r} in this yard (any more)", "", "Choose again"
        )
    return rows[0]


def _number(drawn: Drawn, row: Any) -> int:
    return int(drawn.beds["bed_number"][row])


def _name(drawn: Drawn, row: Any) -> str:
    return str(drawn.plantings["common_name"][row])


def _with_shape(drawn: Drawn, row: Any, shape: Any) -> Drawn:
    shapes = [shape if k == row else s for k, s in drawn.beds.geometry.items()]
    return replace(
        drawn, beds=drawn.beds.set_geometry(gpd.GeoSeries(shapes, drawn.beds.index, drawn.beds.crs))
    )


def _with_cell(drawn: Drawn, row: Any, column: str, value: Any) -> Drawn:
    cells = [value if k == row else v for k, v in drawn.plantings[column].items()]
    return replace(drawn, plantings=drawn.plantings.assign(**{column: cells}))


def _without(table: gpd.GeoDataFrame, column: str, key: Any) -> gpd.GeoDataFrame:
    return table[table[column] != key].reset_index(drop=True)
