"""What already grows: names resolved, crowns estimated, one row per record."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd

from habitat.knowledge import Knowledge, resolve_plants
from habitat.layers.types import Layers

UNNAMED = {"empty": "", "another thing": ": mend the row"}
"""What follows from a name that is no plant's; of all others: it shades, but counts for no butterfly."""

COLUMNS = ["row", "yard_id", "plant", "name_given", "count", "crown_m2", "butterflies", "geometry"]


def existing_plants(layers: Layers, knowledge: Knowledge) -> tuple[gpd.GeoDataFrame, tuple[str, ...]]:
    """Return the plan's ``existing_plants`` table and what there is to tell about it.

    Records come from the plants layer, and from trees and what is kept (layer keep) where ``plant`` is named:
    kept beds and plants stay as they are and count like those that stand. A kept bed of one plant without a
    count is taken as full at the plant's spacing. A name that is not in the tables stays, with ``plant``
    missing: it shades and takes room but counts for no butterfly. Crown area [m2] is the measured crown where
    given, else count x the disc of the mature spread (no more than a kept bed), else NaN.
    """
    frames = [_records(layers, name) for name in ("plants", "trees", "keep")]
    records = (
        pd.concat([f for f in frames if f is not None], ignore_index=True)
        if any(f is not None for f in frames)
        else _empty(layers)
    )
    matches = resolve_plants(records["name_given"].tolist(), knowledge)
    records["plant"] = pd.Series([m.accepted for m in matches], index=records.index, dtype=object)
    records["count"] = _counts(records, knowledge)
    records["crown_m2"] = _crown_m2(records, knowledge)
    records["butterflies"] = [_eaters(plant, knowledge) for plant in records["plant"]]
    notes = tuple(
        f"{layer} row {int(row) + 1}: {match.note}"
        + ("" if match.accepted else UNNAMED.get(match.how, "; it shades, but counts for no butterfly"))
        for layer, row, match in zip(records["layer"], records["row"], matches, strict=True)
        if match.note
    )
    frame = gpd.GeoDataFrame(records[COLUMNS], geometry="geometry", crs=layers.crs)
    return frame, notes


def _empty(layers: Layers) -> gpd.GeoDataFrame:
    columns = ["layer", "row", "yard_id", "name_given", "count", "crown_m", "bed_m2", "geometry"]
    frame = pd.DataFrame({c: pd.Series(dtype=object) for c in columns})
    return gpd.GeoDataFrame(frame, geometry="geometry", crs=layers.crs)


def _records(layers: Layers, name: str) -> gpd.GeoDataFrame | None:
    frame = layers.frame(name)
    if frame is None or "plant" not in frame or frame.empty:
        return None
    named = frame if name == "plants" else frame[frame["plant"].notna()]
    out = gpd.GeoDataFrame(
        {
            "layer": name,
            "row": named.index,
            "name_given": named["plant"].fillna("").astype(str),
            "count": _numbers(named, "count"),
            "crown_m": _numbers(named, "crown_m"),
            "bed_m2": named.geometry.area if name == "keep" else 0.0,
        },
        geometry=gpd.GeoSeries(named.geometry.centroid.values, index=named.index),
        crs=layers.crs,
    )
    out["yard_id"] = named["yard_id"] if "yard_id" in named else _yard_of(out, layers.yards)
    return out


def _numbers(frame: pd.DataFrame, column: str) -> pd.Series[float]:
    if column not in frame:
        return pd.Series(np.nan, index=frame.index)
    return pd.to_numeric(frame[column], errors="coerce")


def _yard_of(points: gpd.GeoDataFrame, yards: gpd.GeoDataFrame) -> pd.Series[str]:
    """Return the yard each point lies in; the first in yard order where several do, None outside all."""
    joined = gpd.sjoin(
        points[["geometry"]], yards[["yard_id", "geometry"]], how="left", predicate="intersects"
    )
    first = joined[~joined.index.duplicated()]["yard_id"]
    return first.reindex(points.index).astype(object).where(lambda s: s.notna(), None)


def _counts(records: pd.DataFrame, knowledge: Knowledge) -> pd.Series[float]:
    """Return the counts given; 1 where none is, and a kept bed's room at the plant's spacing."""
    cell = np.sqrt(0.75) * records["plant"].map(knowledge.plants["spacing_m"]).astype(float) ** 2
    full = np.floor(records["bed_m2"].astype(float) / cell).fillna(0.0).clip(lower=1.0)
    return records["count"].astype(float).fillna(full)


def _crown_m2(records: pd.DataFrame, knowledge: Knowledge) -> pd.Series[float]:
    spread = records["plant"].map(knowledge.plants["spread_m"]).astype(float)
    across = records["crown_m"].astype(float).fillna(spread)
    crowns = np.pi / 4.0 * across**2 * records["count"].astype(float)
    bed = records["bed_m2"].astype(float)
    return crowns.where((bed <= 0) | (crowns < bed), bed)


def _eaters(plant: str | None, knowledge: Knowledge) -> str:
    return "; ".join(knowledge.eaters_of(plant)["butterfly"]) if plant else ""
