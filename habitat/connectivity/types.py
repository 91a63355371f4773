"""What the corridor takes and hands on."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from habitat.connectivity.distance.reach import Reach
from habitat.planting.anchors import Anchor
from habitat.remarks import Remark


@dataclass(frozen=True, slots=True)
class Neighbourhood:
    """The places that a corridor may lead over, all in one metric CRS.

    Parameters
    ----------
    yards
        yard_id (text), role (member, candidate or other), geometry: every yard, whether it breeds or not.
    breeding
        yard_id, butterfly, state (before or planned), habitat_m2 [m2], geometry and, where they are counted,
        broods a year that its plants feed: ground that breeds, as it is and as it is planned. Rows of one
        yard, butterfly and state count together.
    nectar_stones
        yard_id, geometry and, where they differ, butterfly and state: ground with nectar and nothing to breed
        on, which can be crossed. Without the two columns it holds for every butterfly and state.
    anchors
        Habitat that is there already, by place.
    costs
        yard_id -> cost of its plan [money], 0 where it is not named.
    plants
        yard_id -> number of plants of its plan, 0 where it is not named.
    not_now
        Candidates that are not to be invited now: they have been asked already.
    """

    yards: gpd.GeoDataFrame
    breeding: gpd.GeoDataFrame
    nectar_stones: gpd.GeoDataFrame
    anchors: tuple[Anchor, ...] = ()
    costs: dict[str, float] = field(default_factory=dict)
    plants: dict[str, int] = field(default_factory=dict)
    not_now: frozenset[str] = frozenset()

    @property
    def askable(self) -> list[str]:
        """Candidates that may be invited now, by id."""
        candidates = self.yards.loc[self.yards["role"] == "candidate", "yard_id"]
        return sorted(set(candidates) - self.not_now)

    @property
    def width_m(self) -> float:
        """Longest distance within the box around all yards and anchors [m]."""
        boxes = [self.yards.total_bounds]
        if self.anchors:
            boxes.append(shapely.total_bounds(np.array([a.geometry for a in self.anchors], object)))
        box = np.array(boxes)
        west, south = box[:, :2].min(axis=0)
        east, north = box[:, 2:].max(axis=0)
        return math.hypot(east - west, north - south)


@dataclass(frozen=True, slots=True)
class Movement:
    """How one butterfly moves, and what else of its life the corridor asks for.

    Parameters
    ----------
    butterfly, common_name
        Its scientific name, as in ``Neighbourhood.breeding``, and the name that people read.
    reaches
        Passage by distance under the names low, median and high: the range of what is known.
    drinks_nectar
        Whether ground with nectar alone is a stepping stone.
    group
        Group of the crossing costs: open, edge, woodland or wetland.
    flight_months
        Months (1-12) in which adults fly.
    weight
        In the joint score, 0 or more.
    brood_m2
        Leaf that feeds one brood [m2]; None if not known, so that no colonisations are told.
    """

    butterfly: str
    common_name: str
    reaches: dict[str, Reach]
    drinks_nectar: bool = True
    group: str = "open"
    flight_months: frozenset[int] = frozenset(range(1, 13))
    weight: float = 1.0
    brood_m2: float | None = None


@dataclass(frozen=True, slots=True)
class CouldBe:
    """What could be, whoever signs up: butterfly -> equivalent connected area [m2], over so many yards."""

    area_m2: dict[str, float]
    yards: int


@dataclass(frozen=True, slots=True)
class Weighed:
    """What one round of planning is worth to the corridor, at median reach.

    members_m2 : butterfly -> equivalent connected area with the members' plans; what candidates would plant
    counts for nothing, so that who is one chooses no round. weights : butterfly -> its weight.
    gains : (yard_id, butterfly) -> what one more m2 of habitat there adds to the butterfly's equivalent
    connected area, relative to the members' mean (1), for the planting weights.
    """

    members_m2: dict[str, float]
    weights: dict[str, float]
    gains: dict[tuple[str, str], float]

    def worth_beside(self, first: Weighed) -> float:
        """Return the members' area over that of the first round, mean over butterflies by weight.

        A butterfly that had nothing in the first round counts 1 once it has something, else 0.

        Examples
        --------
        >>> first = Weighed({"a": 10.0, "b": 0.0}, {"a": 3.0, "b": 1.0}, {})
        >>> Weighed({"a": 12.0, "b": 7.0}, first.weights, {}).worth_beside(first)
        1.15
        """
        total = sum(self.weights.values())
        parts = (
            weight
            * (
                self.members_m2[b] / first.members_m2[b]
                if first.members_m2[b] > 0.0
                else float(self.members_m2[b] > 0.0)
            )
            for b, weight in self.weights.items()
        )
        return sum(parts) / total if total > 0.0 else 0.0


@dataclass(frozen=True, slots=True)
class Corridor:
    """What the corridor is worth, who carries it, where it breaks, whom to ask next.

    importance : yard_id (anchors too), butterfly, held_m2, arriving_m2, passing_m2 (state members). links,
    chain, invitations : tables of report/TABLES.md. headline : the parts ``butterflies`` and ``joint_score``.
    invitation_steps : joint
    score after 0, 1, 2 ... invitations in rank order (columns invited, yard_id, joint_score, and one score
    column per butterfly), for the page's slider. blocks : a row per yard of each block of neighbours to ask
    in one go: block (1 adds most), yard_id, gain_m2 and gain_broods of the block, cost and plants of the
    yard. breaks : what "Where does it break?" says, per butterfly,
    plain values. sentences : for a meeting.
    """

    importance: pd.DataFrame
    links: gpd.GeoDataFrame
    chain: gpd.GeoDataFrame
    invitations: gpd.GeoDataFrame
    headline: dict[str, Any]
    invitation_steps: pd.DataFrame
    blocks: pd.DataFrame = field(default_factory=pd.DataFrame)
    breaks: dict[str, dict[str, Any]] = field(default_factory=dict)
    sentences: tuple[Remark, ...] = ()
    notes: tuple[Remark | str, ...] = ()
