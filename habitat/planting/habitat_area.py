"""Habitat of yards for butterflies, counted from what stands and what is drawn.

For each yard and butterfly, ``leaf_m2`` is the ground that crowns of its host plants cover in the plan year,
inside the yard, overlaps once, x fit x preference; ``habitat_m2 = min(leaf_m2, enough_m2) x nectar x
winter``, and 0 below one brood's need. Standing plants count with their crowns as they are now and the fit at
their place; one that the study does not plan with is alive where it stands, so its fit counts as 1
(judgement).
"""

from __future__ import annotations

import calendar
import math
from dataclasses import dataclass, field

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from habitat.knowledge import Knowledge, brood_need, resolve_butterflies
from habitat.planting.anchors import NOT_NAMED, UNKNOWN, read_anchors
from habitat.planting.cover import crown_polygons, weighted_cover_m2
from habitat.planting.grown import Crowns, crowns, planned_table, standing_fit, standing_table
from habitat.planting.levels import (
    flight_months,
    habitat_m2,
    takes_nectar,
    winter_kept,
    winter_place,
)
from habitat.planting.nectar_reach import NectarMap, nectar_map
from habitat.planting.types import Accounts, Drawn, PlantingRequest
from habitat.study import Study

STATES = ("before", "planned")
"""What stands today; with the plan of the yard itself and of the members around it."""

STONE_RADIUS_M = 0.5
"""A nectar plant marks this much ground where a yard is only a stepping stone."""

LARGE_CROWN_M = 0.6
"""Crowns with a greater radius reach out of their bed and count as breeding ground themselves."""

EMPTY: BaseGeometry = Polygon()

WINTER_WORDS = {
    "leaf_litter": "leaf litter left under the plants",
    "on_stem": "stems left standing over winter",
    "bark": "a tree with bark to winter in",
}


def account(request: PlantingRequest, drawn: Drawn) -> Accounts:
    """Return the habitat of every yard for the wishes and the corridor's butterflies; see ``recount``."""
    study, knowledge = request.study, request.knowledge
    named = resolve_butterflies(study.connectivity.butterflies, knowledge)
    butterflies = dict.fromkeys([*request.wishes, *(m.accepted for m in named if m.accepted)])
    existing = request.existing.assign(fit=standing_fit(request.existing, request.site, request.needs))
    anchors = request.layers.frame("anchors")
    return recount(
        study, knowledge, request.layers.yards, existing, drawn, tuple(butterflies), anchors=anchors
    )


def recount(
    study: Study,
    knowledge: Knowledge,
    yards: gpd.GeoDataFrame,
    existing: gpd.GeoDataFrame,
    drawn: Drawn,
    butterflies: tuple[str, ...],
    *,
    anchors: gpd.GeoDataFrame | None = None,
) -> Accounts:
    """Return the habitat of every yard for every butterfly, before and as planned.

    Parameters
    ----------
    study, knowledge
        ``planting.year, enough_m2, nectar_reach_m`` and the tables.
    yards
        ``Layers.yards``: yard_id, role, sprayed, geometry. Members and candidates get a row per butterfly,
        other yards where they breed already.
    existing
        The plan's ``existing_plants``; a column ``fit`` [0-1] counts as 1 where it is missing.
    drawn
        Beds, plantings and points of all yards together; plantings without geometry count by area alone.
    butterflies
        Whom to count for.
    anchors
        name, host_share, butterflies, geometry: each counts its area x host_share for the butterflies that
        are named as breeding there, nothing for others (see ``habitat.planting.anchors``).

    Returns
    -------
    Accounts
        ``yard_butterflies`` (leaf_m2, nectar and winter as planned), ``breeding`` and ``nectar_stones`` (with
        columns butterfly and state).
    """
    book = _Book.open(study, knowledge, yards, existing, drawn)
    entries = [e for b in butterflies for e in book.entries(b)]
    rows = _yard_rows(entries) + _anchor_rows(anchors, butterflies, book)
    return Accounts(
        pd.DataFrame(rows, columns=YARD_BUTTERFLY_COLUMNS),
        _breeding(entries, yards),
        _stones(entries, book, yards),
    )


YARD_BUTTERFLY_COLUMNS = [
    "yard_id", "role", "butterfly", "common_name", "leaf_m2", "nectar", "winter", "habitat_before_m2",
    "habitat_m2", "missing",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Entry:
    """One yard, butterfly and state."""

    yard: _Yard
    butterfly: _Butterfly
    state: str
    leaf_m2: float
    fed: float
    nectar: float
    winter: bool
    habitat_m2: float
    ground: BaseGeometry
    missing: str


@dataclass(frozen=True, slots=True)
class _Yard:
    """What of a yard counts here."""

    yard_id: str
    role: str
    sprayed: bool
    geometry: BaseGeometry


@dataclass(frozen=True, slots=True)
class _Butterfly:
    """What of a butterfly counts here: months as a mask with bit m for month m; 0 if it takes no nectar."""

    name: str
    common_name: str
    months: int
    winter: str
    preference: dict[str, float]
    need: dict[str, int]

    @classmethod
    def read(cls, name: str, knowledge: Knowledge, season: tuple[int, int]) -> _Butterfly:
        hosts = knowledge.hosts_of(name)
        months = flight_months(name, knowledge, season) if takes_nectar(name, knowledge) else ()
        return cls(
            name,
            str(knowledge.butterflies.loc[name, "common_name"]),
            sum(1 << m for m in months),
            winter_place(name, knowledge),
            dict(zip(hosts["plant"], hosts["preference"], strict=True)),
            {p: brood_need(knowledge, p).plants for p in hosts["plant"]},
        )


@dataclass(frozen=True, slots=True)
class _Book:
    """All plants of a state in one table, and the nectar map of each state.

    plants : state -> what grows. grown : state -> yard_id -> kinds. around :
    (state, yard_id) -> months with bloom within reach of the whole yard, filled as asked.
    """

    study: Study
    knowledge: Knowledge
    yards: list[_Yard]
    plants: dict[str, Crowns]
    nectar: dict[str, NectarMap]
    grown: dict[str, dict[str, list[str]]]
    beds: dict[str, BaseGeometry]
    around: dict[tuple[str, str], int] = field(default_factory=dict)

    @classmethod
    def open(
        cls,
        study: Study,
        knowledge: Knowledge,
        yards: gpd.GeoDataFrame,
        existing: gpd.GeoDataFrame,
        drawn: Drawn,
    ) -> _Book:
        known = _yards(yards)
        standing = standing_table(existing, knowledge)
        planned = planned_table(study, knowledge, drawn, {y.yard_id: y.geometry for y in known})
        tables = {"before": standing, "planned": pd.concat([standing, planned], ignore_index=True)}
        members = {y.yard_id for y in known if y.role == "member"}
        nectar, grown = {}, {}
        for state, frame in tables.items():
            shared = frame["standing"] | frame["yard_id"].isin(members)
            nectar[state] = nectar_map(frame, shared, knowledge)
            grown[state] = {str(y): sorted(set(p)) for y, p in frame.groupby("yard_id")["plant"]}
        beds = dict(zip(drawn.beds["bed_id"], drawn.beds.geometry, strict=True)) if len(drawn.beds) else {}
        plants = {state: crowns(frame) for state, frame in tables.items()}
        return cls(study, knowledge, known, plants, nectar, grown, beds)

    def entries(self, name: str) -> list[_Entry]:
        """Return the entries of a butterfly: both states of every yard that has hosts or a plan."""
        butterfly = _Butterfly.read(name, self.knowledge, self.study.study.season)
        out = []
        for state, plants in self.plants.items():
            preference = np.array([butterfly.preference.get(p, 0.0) for p in plants.kinds], float)
            need = np.array([butterfly.need.get(p, 1) for p in plants.kinds], float)
            for yard in self.yards:
                rows = plants.rows.get(yard.yard_id, slice(0, 0))
                hosts = rows.start + np.flatnonzero(preference[plants.plant[rows]] > 0)
                if len(hosts) or yard.role != "other":
                    kind = plants.plant[hosts]
                    fed = float((plants.count[hosts] * preference[kind] / need[kind]).sum())
                    out.append(self._entry(yard, butterfly, state, (hosts, preference[kind], fed)))
        return out

    def _entry(
        self,
        yard: _Yard,
        butterfly: _Butterfly,
        state: str,
        hosts: tuple[NDArray[np.int64], NDArray[np.float64], float],
    ) -> _Entry:
        rows, preference, fed = hosts
        leaf, ground = 0.0, EMPTY
        if len(rows):
            weight = self.plants[state].fit[rows] * preference
            leaf, ground = _leaf(self.plants[state], rows, weight, yard.geometry, self.beds)
        nectar, dry = self._nectar(yard, butterfly, state, ground)
        cared = state == "planned" and yard.role != "other"
        grown = self.grown[state].get(yard.yard_id, [])
        winter = not yard.sprayed and winter_kept(butterfly.winter, grown, self.knowledge, cared_for=cared)
        area = 0.0
        if not yard.sprayed:
            area = habitat_m2(leaf, fed, nectar, winter, self.study.planting.enough_m2)
        missing = _missing(yard, fed, dry, winter=winter, place=butterfly.winter)
        return _Entry(yard, butterfly, state, leaf, fed, nectar, winter, area, ground, missing)

    def _nectar(
        self, yard: _Yard, butterfly: _Butterfly, state: str, ground: BaseGeometry
    ) -> tuple[float, list[int]]:
        """Return the share of flight months with bloom within reach, and the months without."""
        months = _months(butterfly.months)
        if not months:
            return 1.0, []
        reach = self.study.planting.nectar_reach_m
        key = (state, yard.yard_id)
        if key not in self.around:
            self.around[key] = self.nectar[state].within(yard.geometry, yard.yard_id, reach)
        have = self.around[key]
        # From the breeding ground no more is in reach than from the whole yard, so only then it is asked.
        if have & butterfly.months and not ground.is_empty:
            have = self.nectar[state].within(ground, yard.yard_id, reach)
        dry = _months(butterfly.months & ~have)
        return 1.0 - len(dry) / len(months), dry


def _months(mask: int) -> list[int]:
    return [m for m in range(1, 13) if mask >> m & 1]


def _yards(yards: gpd.GeoDataFrame) -> list[_Yard]:
    n = len(yards)
    role = yards["role"].astype(str) if "role" in yards else ["member"] * n
    sprayed = yards["sprayed"].fillna(False).astype(bool) if "sprayed" in yards else [False] * n
    rows = zip(yards["yard_id"].astype(str), role, sprayed, yards.geometry, strict=True)
    return [_Yard(i, r, bool(s), g) for i, r, s, g in rows]


def _leaf(
    plants: Crowns,
    rows: NDArray[np.int64],
    weight: NDArray[np.float64],
    yard: BaseGeometry,
    beds: dict[str, BaseGeometry],
) -> tuple[float, BaseGeometry]:
    """Return the leaf area [m2] of a yard's hosts, and the ground that breeds: crowns and beds."""
    xy, radius, cover, bed = (
        plants.xy[rows],
        plants.radius_m[rows],
        plants.cover_m2[rows],
        plants.bed_id[rows],
    )
    drawn = np.isnan(cover)
    inside = _all_inside(xy[drawn], radius[drawn], yard)
    leaf = weighted_cover_m2(xy[drawn], radius[drawn], weight[drawn], None if inside else yard)
    loose = float((cover[~drawn] * weight[~drawn]).sum())
    names = sorted(set(bed) & beds.keys())
    bare = drawn & (~np.isin(bed, names) | (radius > LARGE_CROWN_M))
    shapes = [beds[name] for name in names]
    shapes += list(crown_polygons(xy[bare], radius[bare]))
    if loose > 0:
        shapes.append(shapely.Point(xy[~drawn][0]).buffer(math.sqrt(loose / math.pi), quad_segs=8))
    ground = shapely.union_all(shapes) if len(shapes) > 1 else shapes[0] if shapes else EMPTY
    return leaf + loose, ground if inside and not loose else ground.intersection(yard)


def _all_inside(xy: NDArray[np.float64], radius: NDArray[np.float64], yard: BaseGeometry) -> bool:
    points = shapely.points(xy)
    shapely.prepare(yard)
    if not shapely.contains(yard, points).all():
        return False
    return bool((shapely.distance(points, yard.boundary) >= radius - 1e-6).all())


def _missing(yard: _Yard, fed: float, dry: list[int], *, winter: bool, place: str) -> str:
    words = []
    if yard.sprayed:
        words.append("the yard is sprayed")
    if fed <= 0:
        words.append("no host plant")
    elif fed < 1.0 - 1e-9:
        words.append(f"host plants for only {fed:.0%} of one brood")
    if dry:
        words.append("no nectar in " + ", ".join(calendar.month_name[m] for m in dry))
    if not winter and not yard.sprayed:
        words.append("no " + WINTER_WORDS.get(place, "winter place"))
    return "; ".join(words)


def _yard_rows(entries: list[_Entry]) -> list[tuple[object, ...]]:
    before = {(e.yard.yard_id, e.butterfly.name): e.habitat_m2 for e in entries if e.state == "before"}
    rows: list[tuple[object, ...]] = []
    for e in entries:
        yard, insect = e.yard, e.butterfly
        old = before.get((yard.yard_id, insect.name), 0.0)
        if e.state != "planned" or (yard.role == "other" and old <= 0):
            continue
        head = (yard.yard_id, yard.role, insect.name, insect.common_name)
        rows.append((*head, e.leaf_m2, e.nectar, int(e.winter), old, e.habitat_m2, e.missing))
    return rows


def _anchor_rows(
    anchors: gpd.GeoDataFrame | None, butterflies: tuple[str, ...], book: _Book
) -> list[tuple[object, ...]]:
    known, _ = read_anchors(anchors, book.knowledge, book.study.connectivity.anchor_host_share)
    rows: list[tuple[object, ...]] = []
    for b in butterflies:
        name = book.knowledge.butterflies.loc[b, "common_name"]
        for anchor in known:
            holds, m2 = anchor.holds(b), anchor.host_m2
            head = (anchor.place, "anchor", b, name)
            if holds:
                rows.append((*head, m2, 1.0, 1, m2, m2, ""))
            else:
                missing = UNKNOWN if holds is None else NOT_NAMED
                rows.append((*head, 0.0, np.nan, np.nan, 0.0, 0.0, missing))
    return rows


def _breeding(entries: list[_Entry], yards: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    kept = [e for e in entries if e.habitat_m2 > 0]
    data = {
        "yard_id": [e.yard.yard_id for e in kept],
        "butterfly": [e.butterfly.name for e in kept],
        "state": [e.state for e in kept],
        "habitat_m2": np.array([e.habitat_m2 for e in kept], float),
    }
    return gpd.GeoDataFrame(data, geometry=[e.ground for e in kept], crs=yards.crs)


def _stones(entries: list[_Entry], book: _Book, yards: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return yards with bloom in a flight month but no habitat: they may be crossed, not bred in."""
    rows: list[tuple[object, ...]] = []
    cache: dict[tuple[str, str], tuple[int, BaseGeometry]] = {}
    for e in entries:
        if e.habitat_m2 > 0 or not e.butterfly.months:
            continue
        key = (e.yard.yard_id, e.state)
        if key not in cache:
            cache[key] = _nectar_ground(book.nectar[e.state], e.yard.yard_id)
        bloom, ground = cache[key]
        if bloom & e.butterfly.months:
            rows.append((e.yard.yard_id, e.butterfly.name, e.state, ground))
    columns = ["yard_id", "butterfly", "state", "geometry"]
    return gpd.GeoDataFrame(pd.DataFrame(rows, columns=columns), geometry="geometry", crs=yards.crs)


def _nectar_ground(nectar: NectarMap, yard_id: str) -> tuple[int, BaseGeometry]:
    own = nectar.yards == yard_id
    if not own.any():
        return 0, EMPTY
    bloom = int(np.bitwise_or.reduce(nectar.months[own]))
    xy = shapely.get_coordinates(nectar.places[own])
    _, first = np.unique(np.floor(xy), axis=0, return_index=True)  # one plant a square metre marks the ground
    marks = shapely.buffer(shapely.points(xy[np.sort(first)]), STONE_RADIUS_M, quad_segs=2)
    return bloom, shapely.union_all(marks)
