"""Nectar that neighbours offer within the foraging distance."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely import STRtree

from habitat.knowledge import Knowledge


def neighbour_nectar(
    points: gpd.GeoDataFrame,
    existing: gpd.GeoDataFrame,
    yards: gpd.GeoDataFrame,
    knowledge: Knowledge,
    reach_m: float,
) -> dict[str, frozenset[int]]:
    """Return the months with bloom within reach of each yard but outside it.

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
    months = _month_masks(nectar).reindex(grown["plant"]).to_numpy()
    tree = STRtree(grown["geometry"].to_numpy())
    yard, plant = tree.query(yards.geometry.to_numpy(), predicate="dwithin", distance=reach_m)
    ids = yards["yard_id"].to_numpy()
    outside = grown["yard_id"].to_numpy()[plant] != ids[yard]
    masks = np.zeros(len(yards), np.int64)
    np.bitwise_or.at(masks, yard[outside], months[plant[outside]])
    return {
        str(i): frozenset(m for m in range(1, 13) if mask >> m & 1)
        for i, mask in zip(ids, masks, strict=True)
        if mask
    }


def _month_masks(plants: pd.DataFrame) -> pd.Series[int]:
    """Return a bit per month of bloom, bit 1 for January."""
    first, last = plants["bloom_start_month"].to_numpy(int), plants["bloom_end_month"].to_numpy(int)
    months = np.arange(1, 13)
    wraps = (first > last)[:, None]
    after, before = months >= first[:, None], months <= last[:, None]
    blooms = np.where(wraps, after | before, after & before)
    return pd.Series((blooms << months).sum(axis=1), index=plants.index)
