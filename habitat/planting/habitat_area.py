"""Habitat of yards for butterflies, counted from what stands and what is drawn, overlaps once."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from habitat.knowledge import HostStand, Knowledge, close_life_cycle
from habitat.knowledge.broods import STANDING, brood_need
from habitat.knowledge.food import hosts_by_time, worth_by_task
from habitat.knowledge.life_cycle import BREEDS, NO_HOST, NOT_YET, VISITS, LifeCycle
from habitat.knowledge.year import nectar_time, takes_nectar, winter_place
from habitat.planting.anchors import Anchor
from habitat.planting.choice.facts import habitat_m2, season_flight, winter_kept
from habitat.planting.crown_cover import crown_polygons, weighted_cover_m2
from habitat.planting.nectar import NectarMap, felt_by, nectar_map
from habitat.planting.standing import Crowns, crowns, planned_table, standing_table
from habitat.planting.types import Accounts, Drawn
from habitat.settings.planting import PlantingSettings

STATES = ("before", "planned")
"""What stands today; with the plan of the yard itself and of the members around it."""

STONE_RADIUS_M = 0.5
"""A nectar plant marks this much ground where a yard is only a stepping stone."""

LARGE_CROWN_M = 0.6
"""Crowns with a greater radius reach out of their bed and count as breeding ground themselves."""

EMPTY: BaseGeometry = Polygon()

SPRAYED = "the yard is sprayed"
NOT_THRIVING = "host plants only where they are not known to thrive"
"""What is missing where hosts stand, none of them at a place known to suit it at all (fit 0)."""


def recount(
    yards: gpd.GeoDataFrame,
    existing: gpd.GeoDataFrame,
    drawn: Drawn,
    butterflies: Sequence[str],
    *,
    knowledge: Knowledge,
    settings: PlantingSettings,
    season: tuple[int, int],
    anchors: Sequence[Anchor] = (),
    only: Collection[str] | None = None,
) -> Accounts:
    """Return the habitat of every yard for every butterfly, before and as planned.

    Parameters
    ----------
    yards
        yard_id, role, geometry; sprayed and tree_stands (a tree of any kind) where they are known. Members
        and candidates get a row per butterfly, other yards for whom a host or nectar in its flight stands.
    existing
        The plan's ``existing_plants``; a column ``fit`` [0-1] counts as 1 where it is missing.
    drawn
        Beds, plantings and points of all yards together; plantings without geometry count by area alone.
    butterflies
        Whom to count for, each once.
    knowledge
        The tables of plants, butterflies and hosts.
    settings
        ``year``, ``enough_m2`` and ``nectar_reach_m`` count.
    season
        First and last month [1-12] in which bloom and flight count.
    anchors
        As ``read_anchors`` returns them: each counts its ``host_m2`` for the butterflies that are named as
        breeding there, nothing for others.
    only
        Count for these yards alone, beside the plants of all; None counts for every one.

    Returns
    -------
    Accounts
        ``yard_butterflies`` (leaf_m2, nectar and winter as planned; closes_in_year is the plan year from
        which the life cycle closes, 0 if it does today, missing if it does not; verdict is one of
        ``VERDICTS``; broods is how many the plants feed a year, from then on or in the plan year; carried_by
        what caterpillars eat when; doubtful_hosts what closes nothing, since she may not lay on it),
        ``breeding`` and ``nectar_stones`` (with columns butterfly and state).
    """
    wanted = (*butterflies,) if only is None or only else ()
    book = _Book.open(knowledge, settings, season, yards, existing, drawn, only) if wanted else None
    entries = [] if book is None else [e for b in wanted for e in book.entries(b, only)]
    rows = _yard_rows(entries) + _anchor_rows(anchors, butterflies, knowledge)
    return Accounts(
        pd.DataFrame(rows, columns=YARD_BUTTERFLY_COLUMNS).astype(
            {"closes_in_year": "Int64", "broods": "Int64"}
        ),
        _breeding(entries, yards),
        _stones(entries, book, yards),
    )


YARD_BUTTERFLY_COLUMNS = [
    "yard_id", "role", "butterfly", "common_name", "leaf_m2", "nectar", "winter", "habitat_before_m2",
    "habitat_m2", "missing", "closes_in_year", "verdict", "broods", "carried_by", "doubtful_hosts",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Entry:
    """One yard, butterfly and state."""

    yard: _Yard
    butterfly: _Butterfly
    state: str
    leaf_m2: float
    nectar: float
    winter: bool
    habitat_m2: float
    ground: BaseGeometry
    missing: str
    closes_in_year: int | None
    verdict: str
    broods: int
    carried_by: str
    doubtful: str


@dataclass(frozen=True, slots=True)
class _Yard:
    """What of a yard counts here."""

    yard_id: str
    role: str
    sprayed: bool
    tree_stands: bool
    geometry: BaseGeometry


@dataclass(frozen=True, slots=True)
class _Butterfly:
    """What of a butterfly counts here.

    months : bit m for month m, 0 if it takes no nectar, shifted by drinks_at
    (``year.nectar_time``). hosts : what caterpillars eat at some time.
    meals : worth of leaf in each set of hosts of which it needs enough.
    """

    name: str
    common_name: str
    months: int
    drinks_at: int
    winter: str
    hosts: frozenset[str]
    meals: tuple[dict[str, float], ...]
    doubtful: frozenset[str]

    @classmethod
    def read(cls, name: str, knowledge: Knowledge, season: tuple[int, int]) -> _Butterfly:
        row: Any = knowledge.butterflies.loc[name]
        months = season_flight(name, knowledge, season) if takes_nectar(row) else ()
        return cls(
            name,
            str(row["common_name"]),
            sum(1 << m for m in months) << nectar_time(row),
            nectar_time(row),
            winter_place(row),
            frozenset(hosts_by_time(knowledge, name)),
            worth_by_task(knowledge, name),
            knowledge.doubtful_of(name),
        )


@dataclass(frozen=True, slots=True)
class _Book:
    """All plants of a state in one table, and the nectar map of each state.

    plants : state -> what grows. grown : state -> yard_id -> kinds. around : (state, yard_id) -> months with
    bloom within reach of the whole yard; cycles : what was found closed or open; stones : months and ground
    of a yard's own nectar; all filled as asked.
    states : plan year -> state, for the years in which anything is planted: "planned" from the last of them
    on.
    """

    knowledge: Knowledge
    settings: PlantingSettings
    season: tuple[int, int]
    yards: list[_Yard]
    plants: dict[str, Crowns]
    nectar: dict[str, NectarMap]
    grown: dict[str, dict[str, list[str]]]
    beds: dict[str, BaseGeometry]
    states: dict[int, str]
    around: dict[tuple[str, str], int] = field(default_factory=dict)
    cycles: dict[tuple[object, ...], LifeCycle] = field(default_factory=dict)
    stones: dict[tuple[str, str], tuple[int, BaseGeometry]] = field(default_factory=dict)

    @classmethod
    def open(
        cls,
        knowledge: Knowledge,
        settings: PlantingSettings,
        season: tuple[int, int],
        yards: gpd.GeoDataFrame,
        existing: gpd.GeoDataFrame,
        drawn: Drawn,
        only: Collection[str] | None = None,
    ) -> _Book:
        known = _yards(yards)
        standing = standing_table(existing, knowledge)
        planned = planned_table(drawn, {y.yard_id: y.geometry for y in known}, knowledge, settings.year)
        later = standing_table(existing, knowledge, years_on=settings.year)
        tables = {"before": standing, "planned": pd.concat([later, planned], ignore_index=True)}
        years = sorted({1, *planned["year"]})
        states = {year: f"planned by year {year}" for year in years[:-1]} | {years[-1]: "planned"}
        for year in years[:-1]:
            tables[states[year]] = tables["planned"].query(f"standing or year <= {year}")
        if only is not None:
            shapes = [yard.geometry for yard in known if yard.yard_id in only]
            shapes += [*drawn.beds.geometry[drawn.beds["yard_id"].isin(list(only))]]
            reach_m = settings.nectar_reach_m
            tables = {state: frame[felt_by(frame, only, shapes, reach_m)] for state, frame in tables.items()}
        plants = {state: crowns(tables[state]) for state in STATES}
        members = {y.yard_id for y in known if y.role == "member"}
        nectar, grown = {}, {}
        for state, frame in tables.items():
            shared = frame["standing"] | frame["yard_id"].isin(members)
            nectar[state] = nectar_map(frame, shared, knowledge)
            grown[state] = {str(y): sorted(set(p)) for y, p in frame.groupby("yard_id")["plant"]}
        beds = dict(zip(drawn.beds["bed_id"], drawn.beds.geometry, strict=True)) if len(drawn.beds) else {}
        return cls(knowledge, settings, season, known, plants, nectar, grown, beds, states)

    def entries(self, name: str, only: Collection[str] | None = None) -> list[_Entry]:
        """Return the entries of a butterfly: both states of every yard that has hosts or a plan."""
        yards = self.yards if only is None else [yard for yard in self.yards if yard.yard_id in only]
        butterfly = _Butterfly.read(name, self.knowledge, self.season)
        out = []
        for state, plants in self.plants.items():
            eaten = np.array([p in butterfly.hosts for p in plants.kinds], bool)
            for yard in yards:
                rows = plants.rows.get(yard.yard_id, slice(0, 0))
                hosts = rows.start + np.flatnonzero(eaten[plants.plant[rows]])
                if len(hosts) or yard.role != "other" or self._feeds(state, yard, butterfly):
                    out.append(self._entry(yard, butterfly, state, hosts))
        return out

    def _feeds(self, state: str, yard: _Yard, butterfly: _Butterfly) -> bool:
        """Return whether a plant of the yard's own blooms in a month in which the butterfly flies."""
        return bool(self.own_bloom(state, yard.yard_id)[0] & butterfly.months)

    def own_bloom(self, state: str, yard_id: str) -> tuple[int, BaseGeometry]:
        """Return the months with bloom in a yard itself, as a mask, and the ground of what blooms."""
        key = (state, yard_id)
        if key not in self.stones:
            grows = yard_id in self.grown[state]
            self.stones[key] = _nectar_ground(self.nectar[state], yard_id) if grows else (0, EMPTY)
        return self.stones[key]

    def _entry(self, yard: _Yard, butterfly: _Butterfly, state: str, hosts: NDArray[np.int64]) -> _Entry:
        plants, settings = self.plants[state], self.settings
        leaf, ground = 0.0, EMPTY
        if len(hosts):
            eaten = [[one.get(plants.kinds[k], 0.0) for k in plants.plant[hosts]] for one in butterfly.meals]
            weights = plants.fit[hosts] * np.array(eaten)
            leaf, ground = _leaf(plants, hosts, weights, yard.geometry, self.beds)
        doubted = sorted(butterfly.doubtful & set(self.grown[state].get(yard.yard_id, ())))
        thriving = hosts[plants.fit[hosts] > 0]
        stands = plants.stands(thriving) + [HostStand(plant=plant, count=1) for plant in doubted]
        cycle = self._cycle(yard, butterfly, state, ground, stands, settings.year)
        winter = cycle.winter_kept and not yard.sprayed
        lacks = [NOT_THRIVING if len(hosts) and said == NO_HOST else said for said in cycle.missing]
        missing = [SPRAYED] * yard.sprayed + lacks
        area = 0.0
        if not yard.sprayed:
            area = habitat_m2(leaf, cycle.leaf_share, cycle.nectar_share, winter, settings.enough_m2)
        closes, then = self._closes(yard, butterfly, state, ground, stands)
        closed = then is not None and not yard.sprayed
        return _Entry(
            yard=yard,
            butterfly=butterfly,
            state=state,
            leaf_m2=leaf,
            nectar=cycle.nectar_share,
            winter=winter,
            habitat_m2=area,
            ground=ground,
            missing="; ".join(missing),
            closes_in_year=closes if closed else None,
            verdict=BREEDS if closed else _visits(cycle) if yard.sprayed else cycle.verdict,
            broods=max(cycle.broods_fed, then.broods_fed) if then is not None and closed else 0,
            carried_by="" if yard.sprayed else (then or cycle).carried,
            doubtful="; ".join(() if yard.sprayed else cycle.doubtful),
        )

    def _cycle(
        self,
        yard: _Yard,
        butterfly: _Butterfly,
        state: str,
        ground: BaseGeometry,
        stands: list[HostStand],
        year: int,
    ) -> LifeCycle:
        """Return how a life cycle stands in a plan year."""
        cared = state != "before" and yard.role != "other"
        grown = self.grown[state].get(yard.yard_id, [])
        trees = yard.tree_stands
        kept = winter_kept(butterfly.winter, grown, self.knowledge, cared_for=cared, tree_stands=trees)
        bloom = self._bloom(yard, butterfly, state, ground)
        key = (butterfly.name, tuple(stands), bloom & butterfly.months, kept, year)
        if key not in self.cycles:  # many yards hold no host at all
            self.cycles[key] = close_life_cycle(
                self.knowledge,
                butterfly.name,
                stands,
                nectar_months=[m for m in range(1, 13) if bloom >> m + butterfly.drinks_at & 1],
                winter_places=[butterfly.winter] if kept else [],
                year=year,
                season=self.season,
            )
        return self.cycles[key]

    def _closes(
        self, yard: _Yard, butterfly: _Butterfly, state: str, ground: BaseGeometry, stands: list[HostStand]
    ) -> tuple[int | None, LifeCycle | None]:
        """Return the plan year from which the life cycle closes and how it then stands.

        The year is 0 for what stands; both are None for never.
        """
        if state == "before":
            today = self._cycle(yard, butterfly, state, ground, stands, 1)
            return (0, today) if today.closed else (None, None)
        ready = {
            s.planted_year + brood_need(self.knowledge, s.plant).first_year[s.form] - 1
            for s in stands
            if s.form != STANDING
        }
        for year in sorted({*self.states, *ready}):
            by_then = self.states[max(y for y in self.states if y <= year)]
            cycle = self._cycle(yard, butterfly, by_then, ground, stands, year)
            if cycle.closed:
                return year, cycle
        return None, None

    def _bloom(self, yard: _Yard, butterfly: _Butterfly, state: str, ground: BaseGeometry) -> int:
        """Return the months with bloom within reach, as a mask; only those of the flight are sure."""
        if not butterfly.months:
            return 0
        reach = self.settings.nectar_reach_m
        key = (state, yard.yard_id)
        if key not in self.around:
            self.around[key] = self.nectar[state].within(yard.geometry, yard.yard_id, reach)
        have = self.around[key]
        # From the breeding ground no more is in reach than from the whole yard, so only then it is asked.
        if have & butterfly.months and not ground.is_empty:
            have = self.nectar[state].within(ground, yard.yard_id, reach)
        return have


def _visits(cycle: LifeCycle) -> str:
    """Return what a sprayed yard is to a butterfly."""
    return VISITS if cycle.drinks and cycle.nectar_share > 0 else NOT_YET


def _yards(yards: gpd.GeoDataFrame) -> list[_Yard]:
    n = len(yards)
    role = yards["role"].astype(str) if "role" in yards else ["member"] * n
    sprayed, trees = (
        yards[name].fillna(False).astype(bool) if name in yards else [False] * n
        for name in ("sprayed", "tree_stands")
    )
    rows = zip(yards["yard_id"].astype(str), role, sprayed, trees, yards.geometry, strict=True)
    return [_Yard(i, r, bool(s), bool(t), g) for i, r, s, t, g in rows]


def _leaf(
    plants: Crowns,
    rows: NDArray[np.int64],
    weights: NDArray[np.float64],
    yard: BaseGeometry,
    beds: dict[str, BaseGeometry],
) -> tuple[float, BaseGeometry]:
    """Return the leaf area [m2] of a yard's hosts, and the ground that breeds: crowns and beds.

    Leaf is that of the leanest meal; ``weights`` (M, n) are fit x worth.
    """
    xy, radius, cover, bed = (
        plants.xy[rows],
        plants.radius_m[rows],
        plants.cover_m2[rows],
        plants.bed_id[rows],
    )
    drawn = np.isnan(cover)
    inside = _all_inside(xy[drawn], radius[drawn], yard)
    clip = None if inside else yard
    laid = [weighted_cover_m2(xy[drawn], radius[drawn], weight[drawn], clip) for weight in weights]
    apart = [float((cover[~drawn] * weight[~drawn]).sum()) for weight in weights]
    leaf, loose = min(map(sum, zip(laid, apart, strict=True))), max(apart)
    names = sorted(set(bed) & beds.keys())
    bare = drawn & (~np.isin(bed, names) | (radius > LARGE_CROWN_M))
    shapes = [beds[name] for name in names]
    shapes += list(crown_polygons(xy[bare], radius[bare]))
    if loose > 0:
        shapes.append(shapely.Point(xy[~drawn][0]).buffer(math.sqrt(loose / math.pi), quad_segs=8))
    ground = shapely.union_all(shapes) if len(shapes) > 1 else shapes[0] if shapes else EMPTY
    return leaf, ground if inside and not loose else ground.intersection(yard)


def _all_inside(xy: NDArray[np.float64], radius: NDArray[np.float64], yard: BaseGeometry) -> bool:
    points = shapely.points(xy)
    shapely.prepare(yard)
    if not shapely.contains(yard, points).all():
        return False
    return bool((shapely.distance(points, yard.boundary) >= radius - 1e-6).all())


def _yard_rows(entries: list[_Entry]) -> list[tuple[object, ...]]:
    before = {(e.yard.yard_id, e.butterfly.name): e for e in entries if e.state == "before"}
    rows: list[tuple[object, ...]] = []
    for e in entries:
        yard, insect = e.yard, e.butterfly
        today = before.get((yard.yard_id, insect.name))
        old = today.habitat_m2 if today else 0.0
        if e.state != "planned":
            continue
        head = (yard.yard_id, yard.role, insect.name, insect.common_name)
        closes = 0 if today and today.closes_in_year == 0 else e.closes_in_year
        told = (e.verdict, e.broods, e.carried_by, e.doubtful)
        rows.append((*head, e.leaf_m2, e.nectar, int(e.winter), old, e.habitat_m2, e.missing, closes, *told))
    return rows


def _anchor_rows(
    anchors: Sequence[Anchor], butterflies: Sequence[str], knowledge: Knowledge
) -> list[tuple[object, ...]]:
    rows: list[tuple[object, ...]] = []
    for b in butterflies:
        name = knowledge.butterflies.loc[b, "common_name"]
        for anchor in anchors:
            holds, m2 = anchor.holds(b), anchor.host_m2
            head = (anchor.place, "anchor", b, name)
            if holds:
                rows.append((*head, m2, 1.0, 1, m2, m2, "", 0, BREEDS, None, "", ""))
            else:
                rows.append(
                    (*head, 0.0, np.nan, np.nan, 0.0, 0.0, anchor.missing(b), None, NOT_YET, None, "", "")
                )
    return rows


def _breeding(entries: list[_Entry], yards: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    kept = [e for e in entries if e.habitat_m2 > 0]
    data = {
        "yard_id": [e.yard.yard_id for e in kept],
        "butterfly": [e.butterfly.name for e in kept],
        "state": [e.state for e in kept],
        "habitat_m2": np.array([e.habitat_m2 for e in kept], float),
        "broods": np.array([e.broods for e in kept], np.int64),
    }
    return gpd.GeoDataFrame(data, geometry=[e.ground for e in kept], crs=yards.crs)


def _stones(entries: list[_Entry], book: _Book | None, yards: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return yards with bloom in a flight month but no habitat: they may be crossed, not bred in."""
    rows: list[tuple[object, ...]] = []
    for e in entries:
        if book is None or e.habitat_m2 > 0 or not e.butterfly.months:
            continue
        bloom, ground = book.own_bloom(e.state, e.yard.yard_id)
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
