"""Nectar over fences: months with bloom within reach of a piece of ground, and what neighbours offer."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely import STRtree
from shapely.geometry.base import BaseGeometry

from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import NECTAR_TIMES, nectar_masks


@dataclass(frozen=True, slots=True)
class NectarMap:
    """Nectar plants of a state, gathered by yard and months: masks (n,) with bit m for month m."""

    tree: STRtree
    places: NDArray[np.object_]
    months: NDArray[np.int64]
    yards: NDArray[np.object_]
    shared: NDArray[np.bool_]

    def within(self, ground: BaseGeometry, yard_id: str, reach_m: float) -> int:
        """Return the months with bloom within reach [m] of a ground, own and shared by neighbours."""
        near = self.tree.query(ground, predicate="dwithin", distance=reach_m)
        counts = self.shared[near] | (self.yards[near] == yard_id)
        return int(np.bitwise_or.reduce(self.months[near[counts]], initial=0))


def month_masks(plants: pd.Series, knowledge: Knowledge) -> pd.Series:
    """Return when plants offer nectar as bit masks (``year.nectar_mask``), 0 without nectar."""
    rows = knowledge.plants.loc[list(plants.dropna().unique())]
    kinds = dict(zip(rows.index, nectar_masks(rows), strict=True))
    return plants.map(kinds).fillna(0).astype(np.int64)


def nectar_map(grown: pd.DataFrame, shared: pd.Series, knowledge: Knowledge) -> NectarMap:
    """Return the map of nectar.

    Parameters
    ----------
    grown
        yard_id, plant, x and y [m].
    shared
        Whether a row counts for other yards too (bool, same index).
    """
    frame = pd.DataFrame(
        {
            "yard_id": grown["yard_id"].astype(object).where(grown["yard_id"].notna(), ""),
            "months": month_masks(grown["plant"], knowledge),
            "shared": shared.astype(bool),
            "x": grown["x"].astype(float),
            "y": grown["y"].astype(float),
        }
    )
    frame = frame[frame["months"] > 0].sort_values(["yard_id", "months", "shared"], kind="stable")
    keys, index = [], []
    for k, (key, rows) in enumerate(frame.groupby(["yard_id", "months", "shared"], sort=True)):
        keys.append(key)
        index.append(np.full(len(rows), k))
    flat = np.concatenate(index) if index else np.empty(0, int)
    places = np.asarray(shapely.multipoints(frame[["x", "y"]].to_numpy(float), indices=flat), object)
    columns = list(zip(*keys, strict=True)) if keys else [(), (), ()]
    return NectarMap(
        STRtree(places),
        places,
        np.array(columns[1], np.int64),
        np.array(columns[0], object),
        np.array(columns[2], bool),
    )


def felt_by(
    grown: pd.DataFrame, yard_ids: Collection[str], ground: Sequence[BaseGeometry], reach_m: float
) -> NDArray[np.bool_]:
    """Return which plants some yards can feel: their own, and those in a box around them.

    Parameters
    ----------
    grown
        yard_id, x and y [m].
    yard_ids, ground
        The yards, and all shapes from which they reach for nectar.
    reach_m
        How far.
    """
    own = grown["yard_id"].isin(list(yard_ids)).to_numpy(bool)
    if not ground:
        return own
    west, south, east, north = shapely.total_bounds(np.array(ground, object))
    near = grown["x"].between(west - reach_m, east + reach_m)
    near &= grown["y"].between(south - reach_m, north + reach_m)
    return own | near.to_numpy(bool)


# Nectar that neighbours offer within the foraging distance.


def neighbour_nectar(
    points: gpd.GeoDataFrame,
    existing: gpd.GeoDataFrame,
    yards: gpd.GeoDataFrame,
    knowledge: Knowledge,
    reach_m: float,
) -> dict[str, frozenset[int]]:
    """Return the months with bloom within reach of each yard but outside it, shifted for the night.

    Parameters
    ----------
    points, existing
        The plan's ``plant_points`` and ``existing_plants`` tables.
    yards
        yard_id and geometry.
    reach_m
        Foraging distance [m], from the yard's edge.
    """
    nectar = knowledge.plants[knowledge.plants["nectar_value"] > 0]
    grown = pd.concat([t[["yard_id", "plant", "geometry"]] for t in (points, existing)], ignore_index=True)
    grown = grown[grown["plant"].isin(nectar.index)]
    if grown.empty:
        return {}
    masks_of = pd.Series(nectar_masks(nectar), index=nectar.index)
    months = masks_of.reindex(grown["plant"]).to_numpy(np.int64)
    tree = STRtree(grown["geometry"].to_numpy())
    yard, plant = tree.query(yards.geometry.to_numpy(), predicate="dwithin", distance=reach_m)
    ids = yards["yard_id"].to_numpy()
    outside = grown["yard_id"].to_numpy()[plant] != ids[yard]
    masks = np.zeros(len(yards), np.int64)
    np.bitwise_or.at(masks, yard[outside], months[plant[outside]])
    return {
        str(i): frozenset(m for m in range(1, NECTAR_TIMES) if mask >> m & 1)
        for i, mask in zip(ids, masks, strict=True)
        if mask
    }
