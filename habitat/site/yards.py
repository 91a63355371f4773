"""One row per yard: what its ground offers, weighted by area, with sources and known shares."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.grid import Grid
from habitat.layers.types import Layers
from habitat.site.ground import Ground
from habitat.site.soil import SOURCES
from habitat.site.texture import CLASSES
from habitat.site.words import drainage_word, reaction_class
from habitat.site.zonal import zonal_table

FloatRaster = NDArray[np.float32]

CLASS_FACTORS = ("drainage", "texture", "zone")
"""Factors whose yard value is the class that covers most of the yard."""

SUN = ("sun_h", "sun_afternoon_h")
"""Factors of which roofs have none: their known share is that of the ground beside the roofs."""


def yard_table(
    layers: Layers,
    rasters: dict[str, FloatRaster],
    sources: dict[str, NDArray[np.uint8]],
    ground: Ground,
    *,
    roof: NDArray[np.bool_] | None,
    sun_source: str,
    tests: dict[str, dict[str, float]],
) -> gpd.GeoDataFrame:
    """Return the yards of a site; columns as ``Site.yards`` says, and a ``_known`` and ``_source`` for each factor."""
    yards = layers.yards
    grid = layers.grid
    table = zonal_table(yards.geometry, rasters, grid, classes=CLASS_FACTORS)
    _leave_roofs_out(table, yards.geometry, roof, grid)
    out = pd.DataFrame(
        {"yard_id": yards["yard_id"].astype(str), "area_m2": yards.geometry.area}, index=yards.index
    )
    herbs = ground.open_ground[ground.open_ground["growth_form"] == "herb"].set_index("yard_id")["open_m2"]
    out["open_m2"] = herbs.reindex(out["yard_id"]).to_numpy() if ground.placeable else np.nan
    out = out.join(table)
    _lay_tests(out, tests)
    _add_sources(out, yards.geometry, sources, tests, grid)
    known = [f"{name}_known" for name in rasters]
    out["known_share"] = out[known].mean(axis=1) if known else 0.0
    return _worded(out, sun_source, yards)


def _leave_roofs_out(
    table: pd.DataFrame, shapes: gpd.GeoSeries, roof: NDArray[np.bool_] | None, grid: Grid
) -> None:
    """Count the known share of sun over the ground that no roof covers."""
    names = [f"{name}_known" for name in SUN if f"{name}_known" in table]
    if roof is None or not names:
        return
    covered = zonal_table(shapes, {"roof": np.where(roof, 1.0, np.nan).astype(np.float32)}, grid)[
        "roof_known"
    ]
    for name in names:
        table[name] = np.clip(table[name] / (1 - covered).where(covered < 1), 0, 1).fillna(0.0)


def _lay_tests(out: pd.DataFrame, tests: dict[str, dict[str, float]]) -> None:
    """Let tests win in their yards to the letter, whatever the cells at the edge hold."""
    for name, values in tests.items():
        column = f"{name}_{'mode' if name in CLASS_FACTORS else 'mean'}"
        if column in out:
            given = out["yard_id"].map(values)
            out[column] = given.fillna(out[column])
            out.loc[given.notna(), f"{name}_known"] = 1.0


def _add_sources(
    out: pd.DataFrame,
    shapes: gpd.GeoSeries,
    sources: dict[str, NDArray[np.uint8]],
    tests: dict[str, dict[str, float]],
    grid: Grid,
) -> None:
    """Add a column per soil factor that says where most of the yard's known value is from."""
    codes = {name: np.where(code == 0, np.nan, code).astype(np.float32) for name, code in sources.items()}
    table = zonal_table(shapes, codes, grid, classes=tuple(codes))
    for name in codes:
        words = [SOURCES[int(c)] if np.isfinite(c) else SOURCES[0] for c in table[f"{name}_mode"]]
        tested = out["yard_id"].isin(tests.get(name, {}))
        out[f"{name}_source"] = np.where(tested, SOURCES[3], words)


def _worded(out: pd.DataFrame, sun_source: str, yards: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Put numbers of classes into words, and promise the columns of the contract."""
    blank = pd.Series(np.nan, index=out.index)
    for name in ("sun_h_mean", "ph_mean", "depth_cm_mean"):
        if name not in out:
            out[name] = np.nan
    known = out["sun_h_mean"].notna()
    out["sun_h_source"] = np.where(known, sun_source, SOURCES[0])
    if "ph_source" not in out:
        out["ph_source"] = SOURCES[0]
    out["reaction"] = [reaction_class(v) for v in out["ph_mean"]]
    out["drainage_rank"] = out.pop("drainage_mode") if "drainage_mode" in out else blank
    out["drainage_mode"] = [drainage_word(v) for v in out["drainage_rank"]]
    number = out.pop("texture_mode") if "texture_mode" in out else blank
    out["texture"] = [CLASSES[int(n) - 1] if np.isfinite(n) else "" for n in number]
    return gpd.GeoDataFrame(out, geometry=yards.geometry, crs=yards.crs)
