"""What the corridor takes and hands on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

if TYPE_CHECKING:
    from habitat.knowledge.tables import Knowledge
    from habitat.layers.types import Layers
    from habitat.study.model import Study


@dataclass(frozen=True, slots=True)
class CorridorRequest:
    """Everything that scoring a corridor takes.

    yards : yard_id, role, geometry (all yards). anchors : name, host_share, butterflies, geometry, or None.
    breeding and nectar_stones : as in ``habitat.planting.types.Planting``. costs : yard_id -> cost of its
    plan. butterflies : in order; weights default to 1. layers : for distance "by ground" and sightings.
    habitat_draws : (yard_id, butterfly) -> factors on its habitat, one per draw of the maps' stated errors
    (missing: exact).
    """

    study: Study
    knowledge: Knowledge
    layers: Layers
    yards: gpd.GeoDataFrame
    anchors: gpd.GeoDataFrame | None
    breeding: gpd.GeoDataFrame
    nectar_stones: gpd.GeoDataFrame
    costs: dict[str, float]
    butterflies: tuple[str, ...]
    habitat_draws: dict[tuple[str, str], NDArray[np.float64]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Weighed:
    """What one round of planning is worth to the corridor, at median reach.

    members_m2, everyone_m2 : butterfly -> equivalent connected area with the members' plans, with everyone's.
    weights : butterfly -> its weight in the joint score. gains : (yard_id, butterfly) -> what one more m2 of
    habitat there adds to the butterfly's equivalent connected area, relative to its mean (1 = average), for
    the planting weights.
    """

    members_m2: dict[str, float]
    everyone_m2: dict[str, float]
    weights: dict[str, float]
    gains: dict[tuple[str, str], float]

    def joint_score(self, first: Weighed) -> float:
        """Return the joint score over the first round's areas with everyone planted.

        With the first round's denominators a later round cannot win by lowering its own.
        """
        used = [b for b, whole in first.everyone_m2.items() if whole > 0.0]
        total = sum(self.weights[b] for b in used)
        worth = sum(self.weights[b] * self.members_m2[b] / first.everyone_m2[b] for b in used)
        return worth / total if total > 0.0 else 0.0


@dataclass(frozen=True, slots=True)
class Corridor:
    """What the corridor is worth, who carries it, where it breaks, whom to ask next.

    importance : yard_id (anchors too), butterfly, held_m2, arriving_m2, passing_m2 (state members). links,
    chain, invitations : tables of DEVELOPERS.md. headline : the parts ``butterflies`` and ``joint_score``.
    invitation_steps : joint
    score after 0, 1, 2 ... invitations in rank order (columns invited, yard_id, joint_score, and one score
    column per butterfly), for the page's slider. breaks : what "Where does it break?" says, per butterfly,
    plain values. sentences : for a meeting.
    """

    importance: pd.DataFrame
    links: gpd.GeoDataFrame
    chain: gpd.GeoDataFrame
    invitations: gpd.GeoDataFrame
    headline: dict[str, Any]
    invitation_steps: pd.DataFrame
    breaks: dict[str, dict[str, Any]] = field(default_factory=dict)
    sentences: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
