"""Patches: the ground that breeds, one patch per place and butterfly, as it is and as it is planned."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from habitat.connectivity.types import Movement, Neighbourhood
from habitat.remarks import Remark, Subject, remark

STATES = ("today", "members", "everyone")
"""Whose plans count: nobody's, the members', the members' and candidates'."""


@dataclass(frozen=True, slots=True)
class Spread:
    """The patches of one butterfly over all states, nodes in the order of their places.

    place : (nodes,) yard id or "anchor: NAME". role : (nodes,) member, candidate, other or anchor. area_m2 :
    (nodes,) habitat, 0 for a stepping stone. unsure_m2 : (nodes,) habitat that would come on top if the
    anchors hold the butterfly of which nobody has said. broods : (nodes,) a year that its plants feed, NaN if
    not counted (anchors). geometry : (nodes,) breeding ground (nectar for a stone). before and planned :
    place -> node; the same node where the plan changes nothing. end : (nodes,) whether it is an anchor in
    which somebody says that the butterfly breeds, or likely does.
    """

    place: NDArray[np.object_]
    role: NDArray[np.object_]
    area_m2: NDArray[np.float64]
    unsure_m2: NDArray[np.float64]
    broods: NDArray[np.float64]
    geometry: NDArray[np.object_]
    before: dict[str, int]
    planned: dict[str, int]
    end: NDArray[np.bool_]

    def nodes(self, state: str) -> NDArray[np.int64]:
        """Return the nodes of a state, ascending."""
        planning = {"today": (), "members": ("member",), "everyone": ("member", "candidate")}[state]
        out = []
        for place in dict.fromkeys(self.place.tolist()):
            node = (
                self.planned.get(place, -1) if self._role(place) in planning else self.before.get(place, -1)
            )
            if node >= 0:
                out.append(node)
        return np.array(sorted(out), np.int64)

    def nodes_joined(self, yards: Iterable[str]) -> NDArray[np.int64]:
        """Return the nodes of the members' state once some candidates have joined, ascending."""
        nodes = set(self.nodes("members").tolist())
        for yard in yards:
            new = self.planned.get(yard, -1)
            if new >= 0:
                nodes.discard(self.before.get(yard, -1))
                nodes.add(new)
        return np.array(sorted(nodes), np.int64)

    def _role(self, place: str) -> str:
        node = self.planned.get(place, self.before.get(place, -1))
        return str(self.role[node])


def spread_of(town: Neighbourhood, movement: Movement) -> tuple[Spread, tuple[Remark, ...]]:
    """Return the patches of a butterfly, and what there is to tell about them.

    A yard that joins keeps what bred there: where the planned ground does not cover the ground before, the
    patch is both together. Nectar of a yard that breeds is no part of its patch: links end where she lays
    eggs. Anchors count area x host_share where the butterfly is named as breeding there;
    one of which nobody has said is a node of area 0, one that does not name it is left out.
    """
    butterfly = movement.butterfly
    breeding = town.breeding[town.breeding["butterfly"] == butterfly]
    stones = _stones(town.nectar_stones, butterfly) if movement.drinks_nectar else town.nectar_stones.iloc[:0]
    sources = {s: _by_yard(breeding, stones, s) for s in ("before", "planned")}
    rows, before, planned, kept = _yard_rows(town.yards, sources)
    for anchor in town.anchors:
        holds, m2 = anchor.holds(butterfly), anchor.host_m2
        if holds is not False:
            before[anchor.place] = planned[anchor.place] = len(rows)
            worth = (m2, 0.0) if holds else (0.0, m2)
            rows.append((anchor.place, "anchor", *worth, np.nan, anchor.geometry))
    notes = (remark("standing_ground_kept", Subject(butterflies=(butterfly,)), yards=kept),) if kept else ()
    columns = list(zip(*rows, strict=True)) if rows else [(), (), (), (), (), ()]
    text = [np.array(c, dtype=object) for c in columns[:2]]
    area, unsure, broods = (np.array(c, float) for c in columns[2:5])
    shapes = np.empty(len(rows), object)
    shapes[:] = list(columns[5])
    ends = {a.place for a in town.anchors if a.is_end(butterfly)}
    end = np.array([p in ends for p in text[0]], np.bool_)
    return Spread(text[0], text[1], area, unsure, broods, shapes, before, planned, end), notes


_Row = tuple[str, str, float, float, float, Any]
_Ground = tuple[float, float, Any]
"""Habitat [m2], broods a year, shape."""


def _yard_rows(
    yards: gpd.GeoDataFrame, sources: dict[str, dict[str, _Ground]]
) -> tuple[list[_Row], dict[str, int], dict[str, int], int]:
    """Return the nodes of yards, which stand and which are planned, and in how many both count."""
    rows: list[_Row] = []
    before: dict[str, int] = {}
    planned: dict[str, int] = {}
    kept = 0
    roles = zip(yards["yard_id"].tolist(), yards["role"].tolist(), strict=True)
    for place, role in sorted(roles):
        old, new = sources["before"].get(place), sources["planned"].get(place)
        if old is not None:
            before[place] = len(rows)
            rows.append((place, role, old[0], 0.0, *old[1:]))
        if new is not None and old is not None and (old[0] > 0.0 or new[0] <= 0.0):
            joined = _covering(new, old)
            kept += joined is not new
            new = joined
            if _as_before(new, old):
                planned[place] = before[place]
                continue
        if new is not None:
            planned[place] = len(rows)
            rows.append((place, role, new[0], 0.0, *new[1:]))
    return rows, before, planned, kept


def _stones(stones: gpd.GeoDataFrame, butterfly: str) -> gpd.GeoDataFrame:
    return stones[stones["butterfly"] == butterfly] if "butterfly" in stones else stones


def _by_yard(breeding: gpd.GeoDataFrame, stones: gpd.GeoDataFrame, state: str) -> dict[str, _Ground]:
    """Return place -> (habitat [m2], broods, ground) of a state, stepping stones with 0."""
    out: dict[str, _Ground] = {}
    mine = stones[stones["state"] == state] if "state" in stones else stones
    for yard, shape in _shapes(mine).items():
        out[yard] = (0.0, 0.0, shape)
    rows = breeding[(breeding["state"] == state) & (breeding["habitat_m2"] > 0)]
    counted = rows["broods"].astype(float).tolist() if "broods" in rows else [np.nan] * len(rows)
    known: dict[str, tuple[float, float]] = {}
    for yard, m2, fed in zip(rows["yard_id"].tolist(), rows["habitat_m2"].tolist(), counted, strict=True):
        had = known.get(yard, (0.0, 0.0))
        known[yard] = (had[0] + m2, had[1] + fed)
    for yard, shape in _shapes(rows).items():
        out[yard] = (*known[yard], shape)
    return out


def _shapes(frame: gpd.GeoDataFrame) -> dict[str, Any]:
    """Return yard_id -> its ground, several rows joined, empty ones left out."""
    parts: dict[str, list[Any]] = {}
    for yard, shape in zip(frame["yard_id"].tolist(), frame.geometry.to_numpy(), strict=True):
        if shape is not None and not shape.is_empty:
            parts.setdefault(str(yard), []).append(shape)
    return {yard: shapely.union_all(some) if len(some) > 1 else some[0] for yard, some in parts.items()}


def _as_before(new: _Ground, old: _Ground) -> bool:
    fed = new[1] == old[1] or (np.isnan(new[1]) and np.isnan(old[1]))
    return bool(new[0] == old[0] and fed and shapely.equals_exact(new[2], old[2]))


def _covering(new: _Ground, old: _Ground) -> _Ground:
    if shapely.equals_exact(new[2], old[2]) or shapely.difference(old[2], new[2]).area <= 1e-3:
        return new
    return *new[:2], shapely.union(new[2], old[2])
