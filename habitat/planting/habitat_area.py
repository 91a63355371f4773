"""Habitat of yards for butterflies, counted from what stands and what is drawn.

For each yard and butterfly, ``leaf_m2`` is the ground that crowns of its host plants cover in the plan year,
inside the yard, overlaps once, x fit x preference; ``habitat_m2 = min(leaf_m2, enough_m2) x nectar x winter``, and
0 below one brood's need. Standing plants count with their crowns as they are now and the fit at their place; one that
the study does not plan with is alive where it stands, so its fit counts as 1 (judgement).
"""

from __future__ import annotations

import calendar
import math
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from habitat.knowledge import Knowledge, resolve_butterflies
from habitat.planting.cover import crown_polygons, weighted_cover_m2
from habitat.planting.grown import planned_table, standing_fit, standing_table
from habitat.planting.levels import (
    brood_need,
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
"""A standing nectar plant marks this much ground where a yard is only a stepping stone."""

WINTER_WORDS = {
    "leaf_litter": "leaf litter left under the plants",
    "on_stem": "stems left standing over winter",
    "bark": "a tree with bark to winter in",
}


def account(
    request: PlantingRequest,
    beds: gpd.GeoDataFrame,
    plantings: gpd.GeoDataFrame,
    points: gpd.GeoDataFrame,
) -> Accounts:
    """Return the habitat of every yard for the wishes and the corridor's butterflies; see ``recount``."""
    study, knowledge = request.study, request.knowledge
    named = resolve_butterflies(study.connectivity.butterflies, knowledge)
    butterflies = dict.fromkeys([*request.wishes, *(m.accepted for m in named if m.accepted)])
    existing = request.existing.assign(fit=standing_fit(request.existing, request.site, request.needs))
    drawn = Drawn(beds, plantings, points)
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
        ``Layers.yards``: yard_id, role, sprayed, geometry. Members and candidates get a row per butterfly, other
        yards where they breed already.
    existing
        The plan's ``existing_plants``; a column ``fit`` [0-1] counts as 1 where it is missing.
    drawn
        Beds, plantings and points of all yards together; plantings without geometry count by area alone.
    butterflies
        Whom to count for.
    anchors
        name, host_share, geometry: each counts its area x host_share.

    Returns
    -------
    Accounts
        ``yard_butterflies`` (leaf_m2, nectar and winter as planned), ``breeding`` and ``nectar_stones`` (with
        columns butterfly and state).
    """
    book = _Book.open(study, knowledge, yards, existing, drawn)
    entries = [e for b in butterflies for e in book.entries(b)]
    rows = _yard_rows(entries, book) + _anchor_rows(anchors, butterflies, book)
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

    yard_id: str
    butterfly: str
    state: str
    leaf_m2: float
    fed: float
    nectar: float
    winter: bool
    habitat_m2: float
    ground: BaseGeometry
    missing: str


@dataclass(frozen=True, slots=True)
class _Book:
    """All plants of a state in one table, and the nectar map of each state.

    plants : state -> frame with yard_id, plant, x, y, radius_m, fit, count, cover_m2 (NaN where drawn), bed_id.
    """

    study: Study
    knowledge: Knowledge
    yards: pd.DataFrame
    plants: dict[str, pd.DataFrame]
    nectar: dict[str, NectarMap]
    grown: dict[str, dict[str, list[str]]]
    beds: dict[str, Polygon]

    @classmethod
    def open(
        cls,
        study: Study,
        knowledge: Knowledge,
        yards: gpd.GeoDataFrame,
        existing: gpd.GeoDataFrame,
        drawn: Drawn,
    ) -> _Book:
        indexed = yards.set_index("yard_id", drop=False)
        standing = standing_table(existing, knowledge)
        planned = pd.concat([standing, planned_table(study, knowledge, drawn, indexed)], ignore_index=True)
        plants = {"before": standing, "planned": planned}
        roles = indexed["role"] if "role" in indexed else pd.Series("member", index=indexed.index)
        nectar, grown = {}, {}
        for state, frame in plants.items():
            frame = frame.assign(shared=frame["standing"] | (frame["yard_id"].map(roles) == "member"))
            points = gpd.GeoDataFrame(frame, geometry=gpd.points_from_xy(frame["x"], frame["y"]))
            nectar[state] = nectar_map(points, points["shared"], knowledge)
            grown[state] = {str(y): sorted(set(p)) for y, p in frame.groupby("yard_id")["plant"]}
        beds = dict(zip(drawn.beds["bed_id"], drawn.beds.geometry, strict=True)) if len(drawn.beds) else {}
        return cls(study, knowledge, indexed, plants, nectar, grown, beds)

    def role(self, yard_id: str) -> str:
        return str(self.yards.loc[yard_id].get("role", "member"))

    def entries(self, butterfly: str) -> list[_Entry]:
        """Return the entries of a butterfly: both states of every yard that has hosts or a plan."""
        hosts = self.knowledge.hosts_of(butterfly).set_index("plant")["preference"]
        needs = {p: brood_need(p, self.knowledge) for p in hosts.index}
        out = []
        for state in STATES:
            frame = self.plants[state]
            frame = frame[frame["plant"].isin(hosts.index)]
            preference = frame["plant"].map(hosts).astype(float)
            frame = frame.assign(
                weight=frame["fit"] * preference,
                fed=frame["count"] * preference / frame["plant"].map(needs).astype(float),
            )
            groups = dict(iter(frame.groupby("yard_id", sort=False)))
            for yard_id in self.yards.index:
                own = groups.get(yard_id)
                if own is not None or self.role(yard_id) != "other":
                    out.append(self._entry(str(yard_id), butterfly, state, own))
        return out

    def _entry(self, yard_id: str, butterfly: str, state: str, own: pd.DataFrame | None) -> _Entry:
        yard = self.yards.loc[yard_id]
        leaf, ground, fed = 0.0, Polygon(), 0.0
        if own is not None:
            leaf, ground = _leaf(own, yard["geometry"], self.beds)
            fed = float(own["fed"].sum())
        nectar, dry = self._nectar(yard_id, butterfly, state, ground)
        cared = state == "planned" and self.role(yard_id) != "other"
        sprayed = bool(yard.get("sprayed", False))
        place = winter_place(butterfly, self.knowledge)
        grown = self.grown[state].get(yard_id, [])
        winter = not sprayed and winter_kept(place, grown, self.knowledge, cared_for=cared)
        enough = self.study.planting.enough_m2
        area = 0.0 if sprayed else habitat_m2(leaf, fed, nectar, winter, enough)
        missing = _missing(sprayed=sprayed, fed=fed, dry=dry, winter=winter, place=place)
        return _Entry(yard_id, butterfly, state, leaf, fed, nectar, winter, area, ground, missing)

    def _nectar(
        self, yard_id: str, butterfly: str, state: str, ground: BaseGeometry
    ) -> tuple[float, tuple[int, ...]]:
        """Return the share of flight months with bloom within reach, and the months without."""
        if not takes_nectar(butterfly, self.knowledge):
            return 1.0, ()
        months = flight_months(butterfly, self.knowledge, self.study.study.season)
        wanted = sum(1 << m for m in months)
        around = self.yards.loc[yard_id, "geometry"] if ground.is_empty else ground
        have = self.nectar[state].within(around, yard_id, self.study.planting.nectar_reach_m) & wanted
        dry = tuple(m for m in sorted(months) if not have >> m & 1)
        return (1.0 - len(dry) / len(months) if months else 1.0), dry


def _leaf(own: pd.DataFrame, yard: BaseGeometry, beds: dict[str, Polygon]) -> tuple[float, BaseGeometry]:
    """Return the leaf area [m2] of a yard's hosts, and the ground that breeds: crowns and beds."""
    drawn = own["cover_m2"].isna().to_numpy()
    xy, radius = own[["x", "y"]].to_numpy(float), own["radius_m"].to_numpy(float)
    weight = own["weight"].to_numpy(float)
    inside = _all_inside(xy[drawn], radius[drawn], yard)
    leaf = weighted_cover_m2(xy[drawn], radius[drawn], weight[drawn], None if inside else yard)
    loose = own[~drawn]
    cover = float((loose["cover_m2"] * loose["weight"]).sum())
    named = own["bed_id"].to_numpy(str)
    bare = drawn & ~np.isin(named, [b for b in np.unique(named) if b in beds])
    bare |= drawn & (radius > 0.6)
    shapes = [beds[b] for b in np.unique(named) if b in beds]
    shapes += list(crown_polygons(xy[bare], radius[bare]))
    if cover > 0:
        shapes.append(shapely.Point(xy[~drawn][0]).buffer(math.sqrt(cover / math.pi), quad_segs=8))
    return leaf + cover, shapely.union_all(shapes).intersection(yard)


def _all_inside(xy: NDArray[np.float64], radius: NDArray[np.float64], yard: BaseGeometry) -> bool:
    points = shapely.points(xy)
    shapely.prepare(yard)
    if not shapely.contains(yard, points).all():
        return False
    return bool((shapely.distance(points, yard.boundary) >= radius - 1e-6).all())


def _missing(*, sprayed: bool, fed: float, dry: tuple[int, ...], winter: bool, place: str) -> str:
    words = []
    if sprayed:
        words.append("the yard is sprayed")
    if fed <= 0:
        words.append("no host plant")
    elif fed < 1.0 - 1e-9:
        words.append(f"host plants for only {fed:.0%} of one brood")
    if dry:
        words.append("no nectar in " + ", ".join(calendar.month_name[m] for m in dry))
    if not winter and not sprayed:
        words.append("no " + WINTER_WORDS.get(place, "winter place"))
    return "; ".join(words)


def _yard_rows(entries: list[_Entry], book: _Book) -> list[tuple[object, ...]]:
    before = {(e.yard_id, e.butterfly): e.habitat_m2 for e in entries if e.state == "before"}
    rows: list[tuple[object, ...]] = []
    for e in entries:
        old = before.get((e.yard_id, e.butterfly), 0.0)
        role = book.role(e.yard_id)
        if e.state != "planned" or (role == "other" and old <= 0):
            continue
        name = book.knowledge.butterflies.loc[e.butterfly, "common_name"]
        rows.append(
            (
                e.yard_id,
                role,
                e.butterfly,
                name,
                e.leaf_m2,
                e.nectar,
                int(e.winter),
                old,
                e.habitat_m2,
                e.missing,
            )
        )
    return rows


def _anchor_rows(
    anchors: gpd.GeoDataFrame | None, butterflies: tuple[str, ...], book: _Book
) -> list[tuple[object, ...]]:
    if anchors is None:
        return []
    default = book.study.connectivity.anchor_host_share
    share = (
        pd.to_numeric(anchors["host_share"], errors="coerce").fillna(default)
        if "host_share" in anchors
        else default
    )
    area = np.asarray(anchors.geometry.area * share, float)
    rows: list[tuple[object, ...]] = []
    for b in butterflies:
        name = book.knowledge.butterflies.loc[b, "common_name"]
        for anchor, m2 in zip(anchors["name"], area, strict=True):
            rows.append((f"anchor: {anchor}", "anchor", b, name, m2, 1.0, 1, m2, m2, ""))
    return rows


def _breeding(entries: list[_Entry], yards: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    kept = [e for e in entries if e.habitat_m2 > 0]
    data = {
        "yard_id": [e.yard_id for e in kept],
        "butterfly": [e.butterfly for e in kept],
        "state": [e.state for e in kept],
        "habitat_m2": np.array([e.habitat_m2 for e in kept], float),
    }
    return gpd.GeoDataFrame(data, geometry=[e.ground for e in kept], crs=yards.crs)


def _stones(entries: list[_Entry], book: _Book, yards: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return yards with bloom in a flight month but no habitat: they may be crossed, not bred in."""
    rows, cache = [], {}
    for e in entries:
        if e.habitat_m2 > 0 or not takes_nectar(e.butterfly, book.knowledge):
            continue
        months = sum(1 << m for m in flight_months(e.butterfly, book.knowledge, book.study.study.season))
        key = (e.yard_id, e.state)
        if key not in cache:
            cache[key] = _nectar_ground(book.nectar[e.state], e.yard_id)
        bloom, ground = cache[key]
        if bloom & months:
            rows.append((e.yard_id, e.butterfly, e.state, ground))
    frame = pd.DataFrame(rows, columns=["yard_id", "butterfly", "state", "geometry"])
    return gpd.GeoDataFrame(frame, geometry="geometry", crs=yards.crs)


def _nectar_ground(nectar: NectarMap, yard_id: str) -> tuple[int, BaseGeometry]:
    own = nectar.yards == yard_id
    if not own.any():
        return 0, Polygon()
    return nectar.of_yard(yard_id), shapely.union_all(nectar.places[own]).buffer(STONE_RADIUS_M, quad_segs=2)
