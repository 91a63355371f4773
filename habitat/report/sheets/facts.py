"""What one yard's sheet tells of: its rows of every table, found once for all yards."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely import STRtree
from shapely.geometry.base import BaseGeometry

from habitat.report.plan import Plan
from habitat.report.rows import each_row, row_of
from habitat.terms import household_answer

T = TypeVar("T")

TABLES = (
    "existing_plants",
    "beds",
    "plantings",
    "plant_points",
    "yard_butterflies",
    "yard_results",
)
SITE_TABLES = ("closed_ground", "height_limits", "host_limits")
LAYERS = (
    *("buildings", "paving", "water", "trees", "fences", "wires", "buried", "septic"),
    *("downspouts", "streets"),
)
STREETS_M = 30.0
"""A street so near to a yard is beside it."""


@dataclass(frozen=True)
class YardFacts:
    """What a sheet is made of: the yard's rows of tables by name, its row of three tables of yards.

    ``around`` has for each layer the shapes that touch the yard, and the streets beside it; ``memory`` is
    shared by all yards.
    """

    plan: Plan
    yard_id: str
    yard: pd.Series[Any]
    given: pd.Series[Any]
    site: pd.Series[Any]
    rows: dict[str, list[Any]]
    around: dict[str, gpd.GeoDataFrame]
    memory: dict[Any, Any]

    def remembered(self, key: Any, find: Callable[[], Any]) -> Any:
        """Return what was found for a key in any yard of the plan before, else find it now."""
        if key not in self.memory:
            self.memory[key] = find()
        return self.memory[key]

    @functools.cached_property
    def _kept(self) -> dict[Any, Any]:
        return {}

    def kept(self, key: Any, find: Callable[[], T]) -> T:
        """Return what was found for a key in this yard before, else find it now."""
        if key not in self._kept:
            self._kept[key] = find()
        found: T = self._kept[key]
        return found

    @property
    def shape(self) -> BaseGeometry:
        """The yard's outline."""
        return self.yard["geometry"]

    @functools.cached_property
    def plants(self) -> list[str]:
        """Scientific names of what is planted, in the order of the keys."""
        return list(dict.fromkeys(row.plant for row in self.by_key))

    @functools.cached_property
    def by_key(self) -> list[Any]:
        """Rows of ``plantings`` in the order of the numbers on the sheet, then of their forms."""
        return sorted(self.rows["plantings"], key=lambda row: (self.keys[row.plant], row.form))

    @functools.cached_property
    def keys(self) -> dict[str, int]:
        """Plant -> number on the sheet: the table's own key numbers, then the order of the plantings."""
        found = {point.plant: int(point.key_number) for point in self.rows["plant_points"]}
        last = max(found.values(), default=0)
        for row in self.rows["plantings"]:
            if row.plant not in found:
                last += 1
                found[row.plant] = last
        return found

    @functools.cached_property
    def bed_numbers(self) -> dict[str, int]:
        """Bed id -> number of the bed on the sheet; beds without a place are numbered as they come."""
        if not self.rows["beds"]:
            ids = dict.fromkeys(row.bed_id for row in self.rows["plantings"] if row.bed_id)
            return {bed_id: number for number, bed_id in enumerate(ids, 1)}
        return {bed.bed_id: int(bed.bed_number) for bed in self.rows["beds"]}

    @property
    def poison_answer(self) -> str:
        """What the household answered on poisonous plants, one of ``terms.ANSWERS``; "" if nothing."""
        return household_answer(self.given.get("poisonous"))

    def flag(self, name: str) -> bool:
        """Return a yes/no that the participants table says of the yard; no if it says nothing."""
        value = self.given.get(name, False)
        return bool(value) if value is not None and not pd.isna(value) else False


def most_first(rows: Iterable[Any]) -> list[Any]:
    """Return rows of ``yard_butterflies``, those with most habitat first."""
    return sorted(rows, key=lambda row: (-row.habitat_m2, row.butterfly))


@dataclass
class FactFinder:
    """Finds the facts of any yard of a plan; tables are grouped and layers indexed once."""

    plan: Plan
    _rows: dict[str, dict[str, list[Any]]] = field(default_factory=dict)
    _trees: dict[str, tuple[gpd.GeoDataFrame, STRtree]] = field(default_factory=dict)
    _first: dict[str, pd.DataFrame] = field(default_factory=dict)
    _memory: dict[Any, Any] = field(default_factory=dict)
    _last: YardFacts | None = None

    def __post_init__(self) -> None:
        sources = {name: getattr(self.plan, name) for name in TABLES}
        sources |= {name: getattr(self.plan.site, name) for name in SITE_TABLES}
        for name, frame in sources.items():
            found = self._rows.setdefault(name, {})
            for row in each_row(frame):
                found.setdefault(row.yard_id, []).append(row)
        for name in LAYERS:
            layer = self.plan.layers.frame(name)
            if layer is not None and len(layer) and "geometry" in layer:
                self._trees[name] = (layer, STRtree(layer.geometry.to_numpy()))
        for name, frame in (
            ("yard", self.plan.yards),
            ("given", self.plan.layers.yards),
            ("site", self.plan.site.yards),
        ):
            self._first[name] = frame.drop_duplicates("yard_id").set_index("yard_id", drop=False)

    def yards_with_plans(self) -> list[str]:
        """Return the yards that were planned, in the order of the yards table."""
        able = self._rows["plantings"].keys() | self._rows["yard_results"].keys()
        return [y for y in self.plan.yards["yard_id"] if y in able]

    def of(self, yard_id: str) -> YardFacts:
        """Return the facts of a yard; those asked for last are at hand, with what was made of them."""
        if self._last is None or self._last.yard_id != yard_id:
            self._last = self._found(yard_id)
        return self._last

    def _found(self, yard_id: str) -> YardFacts:
        row = {
            name: row_of(frame, yard_id) if yard_id in frame.index else pd.Series(dtype=object)
            for name, frame in self._first.items()
        }
        return YardFacts(
            self.plan,
            yard_id,
            row["yard"],
            row["given"],
            row["site"],
            {name: found.get(yard_id, []) for name, found in self._rows.items()},
            self._around(row["yard"]["geometry"]),
            self._memory,
        )

    def _around(self, shape: BaseGeometry) -> dict[str, gpd.GeoDataFrame]:
        out = {}
        for name, (frame, tree) in self._trees.items():
            far = STREETS_M if name == "streets" else 0.0
            rows = np.sort(tree.query(shape, predicate="dwithin", distance=far))
            if len(rows):
                out[name] = frame.iloc[rows]
        return out


def street_order(plan: Plan, yard_ids: Sequence[str]) -> list[str]:
    """Return yards in the order of a walk: street by street, up one side and down the other.

    A yard belongs to the street that its address names, else to the one nearest to it; streets come in the
    order of their names, then of their rows. Without streets, the order of the yards table stays.
    """
    streets = plan.layers.frame("streets")
    ids = list(yard_ids)
    if streets is None or not len(streets) or not ids:
        return ids
    names = streets["name"].fillna("").astype(str) if "name" in streets else streets.index.astype(str)
    frame = gpd.GeoDataFrame({"name": list(names)}, geometry=list(streets.geometry))
    by_name = {
        str(name): shapely.line_merge(shapely.union_all(g.to_numpy()))
        for name, g in frame.groupby("name").geometry
    }
    lines = list(by_name.values())
    shapes = plan.yards.drop_duplicates("yard_id").set_index("yard_id").geometry.loc[ids]
    nearest = _nearest(shapes.to_numpy(), lines)
    named = _by_address(plan, list(by_name))
    keys = {}
    for yard_id, shape, close in zip(ids, shapes, nearest, strict=True):
        k = named.get(yard_id, close)
        along, side = _on_street(shape.centroid, lines[k])
        keys[yard_id] = (k, side, along if side else -along, yard_id)
    return sorted(ids, key=lambda y: keys[y])


def addresses(plan: Plan) -> dict[str, str]:
    """Return yard -> its address, of the yards that have one; none for a public audience."""
    yards = plan.layers.yards
    if "address" not in yards:
        return {}
    named = yards[yards["address"].astype("string").fillna("").str.strip() != ""]
    return dict(zip(named["yard_id"], named["address"].astype(str), strict=True))


def _by_address(plan: Plan, names: list[str]) -> dict[str, int]:
    """Return yard -> place among the names of streets of the longest one that its address holds."""
    held = sorted((n for n in names if n), key=lambda n: (-len(n), n))
    out = {}
    for yard_id, address in addresses(plan).items():
        words = address.casefold()
        street = next((n for n in held if n.casefold() in words), None)
        if street is not None:
            out[yard_id] = names.index(street)
    return out


def _nearest(shapes: Any, lines: Sequence[BaseGeometry]) -> list[int]:
    """Return the nearest line of each shape, the first of equals."""
    tree = STRtree(lines)
    at, line = tree.query_nearest(shapes, all_matches=True)
    best = np.full(len(shapes), len(lines))
    np.minimum.at(best, at, line)
    return [int(k) for k in best]


def _on_street(point: Any, line: BaseGeometry) -> tuple[float, bool]:
    """Return how far along a street a point lies [m], and on which side of it."""
    parts = list(shapely.get_parts(line))
    k = int(np.argmin([p.distance(point) for p in parts]))
    here = parts[k].boundary if parts[k].geom_type == "Polygon" else parts[k]
    along = here.project(point)
    a, b = here.interpolate(max(along - 0.5, 0.0)), here.interpolate(min(along + 0.5, here.length))
    side = (b.x - a.x) * (point.y - a.y) - (b.y - a.y) * (point.x - a.x) > 0
    return sum(p.length for p in parts[:k]) + along, side
