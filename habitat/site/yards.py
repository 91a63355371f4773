"""One row per yard: what its ground offers, weighted by area, with sources and known shares."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd

from habitat.cells import zonal_table
from habitat.factors import FACTORS
from habitat.factors.classes import TEXTURES
from habitat.grid import Grid
from habitat.ground.open_ground import Ground
from habitat.soil.factors import SOURCES, Soil
from habitat.soil.measured import TestValues
from habitat.soil.words import drainage_word, reaction_class
from habitat.sun.light import Sun

NOT_ASSESSED = "not assessed"
"""Source of what no layer tells in a yard."""

TESTED_SHARE = 0.5
"""A yard without a test of its own knows less of itself than this, however small it is."""

COUNTED = "counted by people"
"""Source of sun hours in a yard where somebody counted."""


def yard_table(yards: gpd.GeoDataFrame, grid: Grid, soil: Soil, ground: Ground, sun: Sun) -> gpd.GeoDataFrame:
    """Return ``Site.yards``: a row per yard with what its ground offers, weighted by area.

    Parameters
    ----------
    yards
        yard_id and geometry.
    grid
        The grid of all rasters.
    soil, ground, sun
        What was found out of these yards: ``soil_factors``, ``open_and_closed``, ``sun_of_place``.

    Returns
    -------
    GeoDataFrame
        On the index of ``yards``: yard_id, area_m2, open_m2 [m2], reaction (words), drainage_rank (1-7),
        known_share [0-1], and for every factor its mean (the class that covers most, for classes), its known
        share ``NAME_known`` [0-1] and its source ``NAME_source`` in words. NaN where unknown.
    """
    rasters = {**sun.rasters, **soil.rasters}
    table = zonal_table(yards.geometry, rasters, grid, classes=_in_steps())
    _leave_roofs_out(table, yards.geometry, sun, grid)
    ids = yards["yard_id"].astype(str)
    out = pd.DataFrame({"yard_id": ids, "area_m2": yards.geometry.area}, index=yards.index)
    herbs = ground.open_ground[ground.open_ground["growth_form"] == "herb"].set_index("yard_id")["open_m2"]
    out["open_m2"] = herbs.reindex(ids).to_numpy() if ground.placeable else np.nan
    out = out.join(table)
    _lay_tests(out, soil.tests)
    _add_soil_sources(out, yards.geometry, soil, grid)
    _add_sun_sources(out, sun)
    _tell_water_of_tests(out, soil)
    assessed = [name for name in FACTORS.in_tables if name in rasters]
    _leave_untested_out(out, soil)
    known = out[[f"{name}_known" for name in assessed]]
    told = pd.DataFrame({f"{name}_known": out[f"{name}_source"] != NOT_ASSESSED for name in assessed})
    out["known_share"] = known.where(told).mean(axis=1).fillna(0.0) if assessed else 0.0
    return gpd.GeoDataFrame(_worded(out, assessed), geometry=yards.geometry, crs=yards.crs)


def _in_steps() -> tuple[str, ...]:
    """Return the factors whose yard value is the class that covers most of the yard."""
    return tuple(name for name, factor in FACTORS.items() if factor.in_steps)


def _leave_untested_out(out: pd.DataFrame, soil: Soil) -> None:
    """Say *not assessed* of what tests alone tell, in the yards without one, in place.

    A test tells of its whole yard; what is known of a little of a yard are cells that it shares with a
    neighbour's.
    """
    for name in soil.by_tests:
        if f"{name}_source" in out:
            value = f"{name}_{FACTORS[name].statistic}"
            untested = out[f"{name}_known"] < TESTED_SHARE
            out.loc[untested, f"{name}_source"] = NOT_ASSESSED
            out.loc[untested, [value, f"{name}_known"]] = (np.nan, 0.0)


def _leave_roofs_out(table: pd.DataFrame, shapes: gpd.GeoSeries, sun: Sun, grid: Grid) -> None:
    """Count the known share of sun, which roofs have none of, over the ground beside them, in place."""
    names = [f"{f.name}_known" for f in FACTORS.of_group("sun") if f"{f.name}_known" in table]
    if sun.relief is None or not names:
        return
    roof = np.where(sun.relief.roof, 1.0, np.nan).astype(np.float32)
    covered = zonal_table(shapes, {"roof": roof}, grid)["roof_known"]
    for name in names:
        share = table[name] / (1 - covered).where(covered < 1)
        table[name] = share.clip(0, 1).fillna(0.0)


def _lay_tests(out: pd.DataFrame, tests: dict[str, TestValues]) -> None:
    """Let tests win in their yards to the letter, whatever the cells at the edge hold."""
    for name, values in tests.items():
        column = f"{name}_{FACTORS[name].statistic}" if name in FACTORS else ""
        if column in out:
            given = pd.Series([values.get(y, np.nan) for y in out["yard_id"]], index=out.index, dtype=float)
            out[column] = given.fillna(out[column])
            out.loc[given.notna(), f"{name}_known"] = 1.0


def _add_soil_sources(out: pd.DataFrame, shapes: gpd.GeoSeries, soil: Soil, grid: Grid) -> None:
    """Add a column per soil factor that says where most of the yard's known value is from.

    A yard smaller than a raster's cell shares its value with neighbours: the source then names the cell's
    width.
    """
    mixed = {}
    for name, codes in soil.sources.items():
        present = [code for code in (1, 2) if (codes == code).any()]
        if len(present) == 2:
            mixed[name] = np.where(codes == 0, np.nan, codes).astype(np.float32)
        else:
            only = SOURCES[present[0]] if present else SOURCES[0]
            out[f"{name}_source"] = np.where(out[f"{name}_known"] > 0, only, SOURCES[0])
    table = zonal_table(shapes, mixed, grid, classes=tuple(mixed))
    for name in mixed:
        code = table[f"{name}_mode"]
        out[f"{name}_source"] = [SOURCES[int(c)] if np.isfinite(c) else SOURCES[0] for c in code]
    for name in soil.sources:
        cell_m = soil.cell_m.get(name, 0.0)
        coarse = (out[f"{name}_source"] == SOURCES[1]) & (out["area_m2"] < cell_m**2)
        out.loc[coarse, f"{name}_source"] = f"{SOURCES[1]} with cells of {cell_m:.0f} m"
        out.loc[out["yard_id"].isin(soil.tests.get(name, {})), f"{name}_source"] = SOURCES[3]


def _tell_water_of_tests(out: pd.DataFrame, soil: Soil) -> None:
    """Say of water worked out from a yard's own tests that it is known in the whole yard, in place.

    Cells at the edge, which belong to a neighbour too, hold no test.
    """
    name, have = "available_water_mm", {factor: set(values) for factor, values in soil.tests.items()}
    parts = have.get("sand_pct", set()) & have.get("clay_pct", set())
    tested = have.get("depth_cm", set()) & (have.get("texture", set()) | parts)
    if f"{name}_source" in out:
        here = out["yard_id"].isin(tested) & (out[f"{name}_known"] > 0)
        out.loc[here, f"{name}_source"], out.loc[here, f"{name}_known"] = SOURCES[3], 1.0


def _add_sun_sources(out: pd.DataFrame, sun: Sun) -> None:
    """Say where the sun hours are from, and let counts of a whole yard stand as they are."""
    if "sun_h_mean" not in out:
        return
    out["sun_h_source"] = np.where(out["sun_h_known"] > 0, sun.source, SOURCES[0])
    for count in sun.counted:
        here = out["yard_id"] == count.yard_id
        if count.spot:
            out.loc[here & (out["sun_h_known"] > 0), "sun_h_source"] = f"{sun.source}, {COUNTED} at a spot"
        else:
            out.loc[here, ["sun_h_mean", "sun_h_source", "sun_h_known"]] = (count.hours, COUNTED, 1.0)
    if "sun_afternoon_h_mean" in out:
        known = out["sun_afternoon_h_known"] > 0
        out["sun_afternoon_h_source"] = np.where(known, out["sun_h_source"], SOURCES[0])


def _worded(out: pd.DataFrame, assessed: list[str]) -> pd.DataFrame:
    """Put class numbers into words and columns into their fixed order; what has no layer stays unknown."""
    out["drainage_rank"] = out.get("drainage_mode", np.nan)
    out["drainage_mode"] = [drainage_word(rank) for rank in out["drainage_rank"]]
    number = out["texture_mode"] if "texture_mode" in out else pd.Series(np.nan, index=out.index)
    out["texture"] = [TEXTURES[int(n) - 1] if np.isfinite(n) else "" for n in number]
    for name in FACTORS.in_tables:
        if name not in assessed:
            out[f"{name}_known"], out[f"{name}_source"] = 0.0, NOT_ASSESSED
            if not FACTORS[name].in_steps:
                out[f"{name}_mean"] = np.nan
    if "zone_mode" not in out:
        out["zone_mode"] = np.nan
    out["reaction"] = [reaction_class(ph) for ph in out["ph_mean"]]
    means = [f"{name}_mean" for name in FACTORS.in_tables if not FACTORS[name].in_steps]
    told = [f"{name}_{what}" for name in FACTORS.in_tables for what in ("known", "source")]
    first = ["yard_id", "area_m2", "open_m2", *means, "reaction", "drainage_mode", "drainage_rank", "texture"]
    return out[[*first, "zone_mode", "known_share", *told]]
