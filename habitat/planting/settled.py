"""Plans that stay as they are: what they take from the rest, and how they come back into the tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TypeVar

import geopandas as gpd
import pandas as pd

from habitat.planting.types import Drawn
from habitat.remarks import Remark

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

    @property
    def cost(self) -> float:
        """What all of them cost [money]."""
        return float(self.drawn.plantings["cost"].sum())

    def counts(self, yard_id: str) -> dict[str, int]:
        """Return how many plants of each kind a yard still takes from growers."""
        if yard_id in self.planted:
            return {}
        rows = self.drawn.plantings[self.drawn.plantings["yard_id"] == yard_id]
        return {str(plant): int(n) for plant, n in rows.groupby("plant")["count"].sum().items()}


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
    it was planned.
    """

    order: tuple[str, ...]
    rounds: tuple[Round, ...]
    relaxed: dict[str, tuple[Remark, ...]] = field(default_factory=dict)
    fit: dict[str, float] = field(default_factory=dict)


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
    """Return the rows of two tables under the columns of the first, in its types."""
    if not len(two):
        return one
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
