"""Plans that stay as they are: what they take from the rest, and how they come back into the tables."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from habitat.planting.types import Drawn, Milestone
from habitat.planting.years.survival import Lot
from habitat.remarks import Remark

BY_HAND = "by_hand"
"""Column of beds, plantings and points that tells whether somebody changed them by hand."""

PLANTED_IN = "planted_in"
"""Column of plantings: the year in which those were planted that are in the ground, so not bought again."""

MARKS = (BY_HAND, PLANTED_IN)
"""Columns that tables have only where a row says something by them."""

Frame = TypeVar("Frame", bound=pd.DataFrame)


@dataclass(frozen=True, slots=True)
class Settled:
    """Plans of an earlier run that nobody may change.

    Parameters
    ----------
    drawn
        Their rows of ``beds``, ``plantings`` and ``plant_points``.
    results
        Their rows of ``yard_results``: one for each yard that is settled, also where nothing is planted.
    planted
        Those whose plants are in the ground: growers are asked for them no more.
    """

    drawn: Drawn
    results: pd.DataFrame
    planted: frozenset[str] = frozenset()

    @property
    def yard_ids(self) -> frozenset[str]:
        """Ids of the yards."""
        return frozenset(self.results["yard_id"].astype(str))

    def cost_of(self, yard_ids: Collection[str]) -> float:
        """Return what those of some yards cost [money]."""
        rows = self.drawn.plantings
        return float(rows.loc[rows["yard_id"].isin(list(yard_ids)), "cost"].sum())

    def taken(self) -> dict[str, tuple[dict[str, int], frozenset[str]]]:
        """Return by yard how many plants of each kind it still takes from growers, and its kinds."""
        counts: dict[str, dict[str, int]] = {yard: {} for yard in self.yard_ids}
        for (yard, plant), n in self.drawn.plantings.groupby(["yard_id", "plant"])["count"].sum().items():
            counts.setdefault(str(yard), {})[str(plant)] = int(n)
        return {y: ({} if y in self.planted else mine, frozenset(mine)) for y, mine in counts.items()}


@dataclass(frozen=True, slots=True)
class Round:
    """What a round of planting was given: weights by (yard, butterfly), months with bloom around by yard."""

    weights: dict[tuple[str, str], float] = field(default_factory=dict)
    neighbour_nectar: dict[str, frozenset[int]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Carried:
    """What a later run takes over.

    order : yards as they chose. rounds : the rounds up to the one that was kept. relaxed : by yard, what was
    wished for and could not be had. fit : by planting, the mean fit [0-1] of its points in today's light when
    it was planned. drawn : ``fingerprints`` of what was written. study : the study file, from the results.
    survival : what became of plants in the seasons so far. history : milestones of the chain of runs.
    """

    order: tuple[str, ...]
    rounds: tuple[Round, ...]
    relaxed: dict[str, tuple[Remark, ...]] = field(default_factory=dict)
    fit: dict[str, float] = field(default_factory=dict)
    drawn: dict[str, str] = field(default_factory=dict)
    study: str = ""
    survival: tuple[Lot, ...] = ()
    history: tuple[Milestone, ...] = ()


def fingerprints(drawn: Drawn) -> dict[str, str]:
    """Return by id what tells whether somebody edited a bed, a planting, or the places of its plants.

    Keys are ``bed ID``, ``planting ID`` and ``points ID`` (of a planting). Of a bed it tells the middle [m]
    and the area [m2] too, so that plants can follow one that is moved.
    """
    out = {}
    for bed_id, shape in zip(drawn.beds["bed_id"], drawn.beds.geometry, strict=True):
        if shape is not None and not shape.is_empty:
            told = f"{shape.centroid.x:.4f}|{shape.centroid.y:.4f}|{shape.area:.4f}"
            rounded = shapely.transform(shape, lambda xy: xy.round(4))
            out[f"bed {bed_id}"] = f"{_digest(shapely.to_wkb(shapely.normalize(rounded)))}|{told}"
    rows = drawn.plantings
    for planting_id, plant, form, count in zip(
        rows["planting_id"], rows["plant"], rows["form"], rows["count"], strict=True
    ):
        out[f"planting {planting_id}"] = f"{plant}|{form}|{count:.0f}"
    for planting_id, points in drawn.points.groupby("planting_id"):
        spots = shapely.get_coordinates(points.geometry.to_numpy()).round(4) + 0.0
        spots = np.ascontiguousarray(spots[np.lexsort(spots.T)])
        plants = "|".join(sorted(set(map(str, points["plant"]))))
        out[f"points {planting_id}"] = _digest(plants.encode() + spots.tobytes())
    return out


def marks_of(drawn: Mapping[str, str], existing: gpd.GeoDataFrame) -> dict[str, str]:
    """Return by planting a short mark of what was drawn, by which rows of forms tell of which run they are.

    Parameters
    ----------
    drawn
        ``fingerprints`` of a run.
    existing
        Its table ``existing_plants``; rows with a planting_id are what lives of earlier years.
    """
    keys = (key.removeprefix("planting ") for key in drawn if key.startswith("planting "))
    told = {k: f"{k}|{drawn[f'planting {k}']}|{drawn.get(f'points {k}', '')}" for k in keys}
    for key, rows in living_of(existing).groupby("planting_id"):
        spots = sorted((round(p.x, 4), round(p.y, 4)) for p in rows.geometry)
        told[str(key)] = f"{key}|{rows['plant'].iloc[0]}|{spots}"
    # a letter first, since a spreadsheet makes numbers of 00123456 and 12345e78
    return {key: f"m{_digest(text.encode())[:8]}" for key, text in told.items()}


def living_of(existing: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return the rows of ``existing_plants`` that were planted by a plan in an earlier year."""
    if "planting_id" not in existing:
        return existing.iloc[:0].assign(planting_id="", bed_id="", form="", planted_in=0)
    return existing[existing["planting_id"].notna() & (existing["planting_id"] != "")]


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:16]


def with_settled(drawn: Drawn, settled: Settled | None, yard_ids: Sequence[str]) -> Drawn:
    """Return drawings together with those that are settled, yards in the order given."""
    if settled is None:
        return drawn
    more = settled.drawn
    return Drawn(
        in_order(_both(drawn.beds, more.beds), yard_ids),
        in_order(_both(drawn.plantings, more.plantings), yard_ids),
        in_order(_both(drawn.points, more.points), yard_ids),
        drawn.dropped,
    )


def _both(one: gpd.GeoDataFrame, two: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return the rows of two tables under the columns of the first, in its types; marks of handwork too."""
    if not len(two):
        return one
    if BY_HAND in two and two[BY_HAND].fillna(False).astype(bool).any():
        one = one.assign(**{BY_HAND: False})
        two = two.assign(**{BY_HAND: two[BY_HAND].fillna(False).astype(bool)})
    if PLANTED_IN in two and two[PLANTED_IN].notna().any():
        one = one.assign(**{PLANTED_IN: np.nan})
    two = two.reindex(columns=one.columns)
    if not len(one):
        return gpd.GeoDataFrame(two.reset_index(drop=True), geometry="geometry", crs=one.crs)
    two = two.astype({c: kind for c, kind in one.dtypes.items() if c != "geometry"})
    return gpd.GeoDataFrame(pd.concat([one, two], ignore_index=True), geometry="geometry", crs=one.crs)


def in_order(table: Frame, yard_ids: Sequence[str]) -> Frame:
    """Return rows sorted by yard, those of a yard as they stood."""
    place = {yard: k for k, yard in enumerate(yard_ids)}
    rows = table["yard_id"].map(place).to_numpy().argsort(kind="stable")
    return table.iloc[rows].reset_index(drop=True)


def turns(yard_ids: Sequence[str], roles: pd.Series, before: Sequence[str]) -> tuple[str, ...]:
    """Return the order in which yards choose: as in the run before, then those who came since, members first.

    Parameters
    ----------
    yard_ids
        All yards with a plan.
    roles
        Role by yard.
    before
        The order of the run before; empty if there was none.

    Examples
    --------
    >>> roles = pd.Series({"a": "candidate", "b": "member", "c": "member"})
    >>> turns(["a", "b", "c"], roles, ()), turns(["a", "b", "c"], roles, ["c", "a", "gone"])
    (('b', 'c', 'a'), ('c', 'a', 'b'))
    """
    able = set(yard_ids)
    known = [yard for yard in before if yard in able]
    new = [yard for yard in yard_ids if yard not in set(known)]
    return (*known, *sorted(new, key=lambda yard: roles[yard] != "member"))
