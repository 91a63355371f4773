"""Where in a yard beds may be dug: open ground less what stands there already and what is kept."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from habitat.knowledge.tables import Knowledge
from habitat.planting.types import YardContext
from habitat.site.types import GROWTH_FORM

INSET_M = 0.02
"""Beds stay this far inside the open ground, so that rounding never puts one outside."""

TRUNK_ROOM_M = 1.0
"""No digging closer than this to the trunk of a standing tree; more on old trees (common practice)."""

UNKNOWN_ROOM_M = 0.5
"""Room kept around a standing plant whose name or size is not known: judgement."""

KEEP_ROOM_M = 0.3
"""Path kept between a bed that stays as it is and a new one: judgement."""


def usable_ground(
    open_ground: pd.DataFrame, context: YardContext, knowledge: Knowledge
) -> dict[str, BaseGeometry]:
    """Return the ground for new plants by growth form: herb, shrub, tree.

    Parameters
    ----------
    open_ground
        Rows of ``Site.open_ground`` for one yard.
    context
        Standing plants and what is kept.

    Returns
    -------
    dict
        Growth form -> polygon or multipolygon, may be empty, ``INSET_M`` inside the open ground.
    """
    taken = shapely.union_all([*_standing(context, knowledge), *_kept(context)])
    out: dict[str, BaseGeometry] = {"herb": Polygon(), "shrub": Polygon(), "tree": Polygon()}
    for form, geometry in zip(open_ground["growth_form"], open_ground["geometry"], strict=True):
        if geometry is not None and not geometry.is_empty:
            out[form] = polygonal(geometry.buffer(-INSET_M, join_style="mitre").difference(taken))
    return out


def polygonal(geometry: BaseGeometry) -> BaseGeometry:
    """Return only the polygons of a geometry, as one polygon or multipolygon."""
    parts = [p for p in shapely.get_parts(geometry) if p.geom_type == "Polygon" and p.area > 0]
    return parts[0] if len(parts) == 1 else shapely.multipolygons(parts) if parts else Polygon()


def standing_radius_m(existing: pd.DataFrame, knowledge: Knowledge) -> NDArray[np.float64]:
    """Return the room [m] that standing plants take from new beds: a tree its trunk, others the crown."""
    forms = [
        GROWTH_FORM[str(knowledge.plants.loc[p, "form"])] if isinstance(p, str) else ""
        for p in existing["plant"]
    ]
    crown = np.sqrt(existing["crown_m2"].to_numpy(float) / math.pi)
    crown = np.where(np.isnan(crown), UNKNOWN_ROOM_M, crown)
    return np.array([TRUNK_ROOM_M if f == "tree" else r for f, r in zip(forms, crown, strict=True)], float)


def _standing(context: YardContext, knowledge: Knowledge) -> list[BaseGeometry]:
    if not len(context.existing):
        return []
    radius = standing_radius_m(context.existing, knowledge)
    return list(shapely.buffer(context.existing.geometry.to_numpy(), radius, quad_segs=4))


def _kept(context: YardContext) -> list[BaseGeometry]:
    if context.keep is None or not len(context.keep):
        return []
    return list(shapely.buffer(context.keep.geometry.to_numpy(), KEEP_ROOM_M, quad_segs=4))


def crown_obstacles(context: YardContext) -> BaseGeometry:
    """Return the walls that crowns must stay off: the closed ground of buildings less its setback."""
    closed = context.closed_ground
    if not len(closed):
        return Polygon()
    built = closed[closed["reason"].astype(str).str.contains("build|house|wall", case=False)]
    setback = np.nan_to_num(built["setback_m"].to_numpy(float))
    return shapely.union_all(shapely.buffer(built.geometry.to_numpy(), -setback, join_style="mitre"))
