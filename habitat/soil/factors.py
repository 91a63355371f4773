"""Soil on the grid: from rasters, soil polygons and tests, with the source of every value kept.

Which wins: a soil test holds for its whole yard; elsewhere a raster, where it knows; else the soil polygons.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.arrays import FloatRaster
from habitat.factors import FACTORS, Factor
from habitat.grid import Grid
from habitat.remarks import Remark, Subject, remark
from habitat.settings.site import SiteSettings
from habitat.soil.measured import TestValues, lay_tests, read_tests
from habitat.soil.texture import CENTRES, PARTS, PERCENT, texture_class
from habitat.soil.units import units_on_grid
from habitat.soil.water import soil_water

SOURCES = ("unknown", "raster", "soil map", "soil test")
"""Where a cell's value is from; codes index this."""


def _possible(name: str) -> tuple[float, float]:
    """Return the range of a part or a factor: values outside of it are unknown, and told."""
    return PERCENT if name in PARTS else FACTORS[name].possible


def _given_on_ground() -> tuple[Factor, ...]:
    """Return the factors of the ground that a study may give."""
    return tuple(f for f in FACTORS.of_group("ground") if f.given)


def soil_maps() -> tuple[str, ...]:
    """Return the names of the maps that tell of the soil: factors of the ground, and parts of the texture."""
    return (*(f.name for f in _given_on_ground()), *PARTS)


@dataclass(frozen=True, slots=True)
class SoilMap:
    """A raster of one property of the soil.

    values : (rows, cols), NaN where unknown. cell_m : width of the cells of the map that it was read from
    [m]. classes : code -> name of the class, where the values are codes.
    """

    values: FloatRaster
    cell_m: float
    classes: Mapping[int, str] | None = None


@dataclass(slots=True)
class Soil:
    """Soil factors on the grid and, per factor, the code of each cell's source (index into SOURCES).

    rasters : float32 (rows, cols) by factor, NaN where unknown; units as in ``soil_factors``, classes as
    numbers. cell_m : width of the cells of the raster that a factor came from [m], of the coarsest if of
    several. tests : factor -> yard_id -> what was measured there. by_tests : factors that no map tells, tests
    alone.
    """

    rasters: dict[str, FloatRaster] = field(default_factory=dict)
    sources: dict[str, NDArray[np.uint8]] = field(default_factory=dict)
    cell_m: dict[str, float] = field(default_factory=dict)
    tests: dict[str, TestValues] = field(default_factory=dict)
    by_tests: tuple[str, ...] = ()
    notes: list[Remark] = field(default_factory=list)


def soil_factors(
    grid: Grid,
    yards: gpd.GeoDataFrame,
    *,
    maps: Mapping[str, SoilMap] | None = None,
    units: gpd.GeoDataFrame | None = None,
    tests: pd.DataFrame | None = None,
    organic_matter_pct: float | None = None,
) -> Soil:
    """Return the soil factors of a place, as far as anything tells of them.

    Parameters
    ----------
    grid
        The grid of all maps.
    yards
        yard_id and geometry; a test holds for its whole yard.
    maps
        By name, of ``soil_maps()``: ph, sand_pct, silt_pct and clay_pct [%] (any two tell the texture),
        texture, drainage and zone (codes of classes), depth_cm [cm], salt.
    units
        Soil polygons with columns of the same names; they speak where no map does.
    tests
        Soil tests, as ``read_tests`` takes them; they win in their yards.
    organic_matter_pct
        For the water that the soil holds [% of weight, 0-8]; None for the usual value of ``SiteSettings``.

    Returns
    -------
    Soil
        ph, drainage (rank 1 very poorly to 7 excessively drained), texture (USDA class 1 sand to 12 clay),
        depth_cm, available_water_mm (of the rooting depth), zone, salt: those that anything tells.

    Examples
    --------
    >>> import geopandas as gpd, numpy as np, shapely
    >>> yards = gpd.GeoDataFrame({"yard_id": ["a"]}, geometry=[shapely.box(0, 0, 2, 1)], crs=32617)
    >>> grid = Grid.from_bounds((0, 0, 2, 1), 1.0, yards.crs)
    >>> share = {"sand_pct": [[40, 20]], "clay_pct": [[20, 60]], "depth_cm": [[100, 50]]}
    >>> maps = {name: SoilMap(np.array(v, np.float32), cell_m=1.0) for name, v in share.items()}
    >>> soil = soil_factors(grid, yards, maps=maps)
    >>> soil.rasters["texture"].tolist(), soil.rasters["available_water_mm"].round().tolist()
    ([[4.0, 12.0]], [[143.0, 54.0]])
    """
    soil = Soil()
    parts = _from_maps(maps or {}, soil)
    _fill_from_units(units, grid, soil, parts)
    mapped = set(soil.rasters)
    soil.tests, told = read_tests(tests, yards)
    soil.notes += told
    for name, values in soil.tests.items():
        _lay(yards, grid, soil, parts, name, values)
    _texture_of_parts(soil, parts)
    usual_pct = SiteSettings().organic_matter_pct
    _water(soil, parts, usual_pct if organic_matter_pct is None else organic_matter_pct)
    if {"texture", "depth_cm"} <= mapped or not soil.tests:
        mapped.add("available_water_mm")
    soil.by_tests = tuple(name for name in soil.rasters if name not in mapped)
    return soil


def _from_maps(maps: Mapping[str, SoilMap], soil: Soil) -> dict[str, FloatRaster]:
    """Take maps into the soil; return sand and clay [%], which are no factors themselves."""
    factors = _given_on_ground()
    read = {name: _bounded(name, maps[name].values, soil.notes) for name in soil_maps() if name in maps}
    for name in (f.name for f in factors if f.name in read and not f.in_steps):
        soil.rasters[name] = read[name]
    for name in (f.name for f in factors if f.name in read and f.in_steps and f.name != "texture"):
        soil.rasters[name] = _numbers(name, read[name], maps[name].classes, soil.notes)
    parts, told = _sand_and_clay(read)
    soil.notes += told
    if parts:
        soil.rasters["texture"] = texture_class(parts["sand_pct"], parts["clay_pct"])
    elif "texture" in read:
        soil.rasters["texture"] = _numbers("texture", read["texture"], maps["texture"].classes, soil.notes)
    for name, values in soil.rasters.items():
        soil.sources[name] = np.where(np.isnan(values), 0, 1).astype(np.uint8)
        from_rasters = (
            [name] if name in read and not (name == "texture" and parts) else sorted(_have_parts(read))
        )
        soil.cell_m[name] = max(maps[n].cell_m for n in from_rasters)
    return parts


def _have_parts(read: dict[str, FloatRaster]) -> dict[str, FloatRaster]:
    """Return those of the rasters that are shares of sand, silt and clay."""
    return {name: read[name] for name in PARTS if name in read}


def _bounded(name: str, values: FloatRaster, notes: list[Remark]) -> FloatRaster:
    """Return a map with impossible values made unknown, and tell."""
    if name in FACTORS and FACTORS[name].in_steps:
        return values  # codes of classes may be any numbers
    low, high = _possible(name)
    bad = (values < low) | (values > high)
    if not bad.any():
        return values
    share = float(bad.mean())
    notes.append(remark("raster_out_of_range", Subject(layers=(name,)), share=share, low=low, high=high))
    return np.where(bad, np.float32(np.nan), values)


def _sand_and_clay(read: dict[str, FloatRaster]) -> tuple[dict[str, FloatRaster], list[Remark]]:
    """Return sand and clay [%] from any two of sand, silt and clay; all three must add up to 100 within 2."""
    have = _have_parts(read)
    if len(have) < 2:
        return {}, [remark("texture_part_alone", Subject(layers=(only,))) for only in have]
    if len(have) == 2:
        first, second = have.values()
        rest = 100 - first - second
        sand, clay = have.get("sand_pct", rest), have.get("clay_pct", rest)
        whole = np.full(sand.shape, 100.0, np.float32)
    else:
        whole = have["sand_pct"] + have["silt_pct"] + have["clay_pct"]
        sand, clay = have["sand_pct"] * (100 / whole), have["clay_pct"] * (100 / whole)
    bad = (np.abs(whole - 100) > 2) | (sand < 0) | (clay < 0) | (sand + clay > 100 + 1e-3)
    notes = []
    if bad.any():
        notes.append(remark("texture_parts_off", Subject(layers=tuple(have)), share=float(bad.mean())))
    out = {"sand_pct": sand, "clay_pct": clay}
    return {k: np.where(bad, np.nan, v).astype(np.float32) for k, v in out.items()}, notes


def _numbers(
    name: str, values: FloatRaster, classes: Mapping[int, str] | None, notes: list[Remark]
) -> FloatRaster:
    """Return the numbers of class codes by the classes' names; what means nothing becomes unknown, told."""
    low, high = FACTORS[name].possible
    number_of = FACTORS[name].read_class or float
    named = {code: number_of(word) for code, word in (classes or {}).items()}
    if named:
        out = np.full(values.shape, np.nan, np.float32)
        for code, number in named.items():
            out[values == code] = number
    else:
        out = np.where((values >= low) & (values <= high), values, np.nan).astype(np.float32)
    strange = np.unique(values[~np.isnan(values) & np.isnan(out)])
    if len(strange):
        codes = tuple(float(v) for v in strange[:5])
        notes.append(remark("raster_codes_unknown", Subject(layers=(name,)), codes=codes))
    return out


def _fill_from_units(
    units: gpd.GeoDataFrame | None, grid: Grid, soil: Soil, parts: dict[str, FloatRaster]
) -> None:
    """Let soil polygons speak where no raster does."""
    if units is None:
        return
    drawn, told = units_on_grid(units, grid)
    soil.notes += told
    for name, values in drawn.items():
        if name in ("sand_pct", "clay_pct"):
            had = parts.get(name)
            parts[name] = values if had is None else np.where(np.isnan(had), values, had)
            continue
        had = soil.rasters.get(name)
        source = soil.sources.get(name, np.zeros(values.shape, np.uint8))
        fills = ~np.isnan(values) & (source == 0)
        soil.rasters[name] = values if had is None else np.where(fills, values, had)
        soil.sources[name] = np.where(fills, 2, source).astype(np.uint8)


def _lay(
    yards: gpd.GeoDataFrame,
    grid: Grid,
    soil: Soil,
    parts: dict[str, FloatRaster],
    name: str,
    values: TestValues,
) -> None:
    """Let soil tests win inside their yards."""
    blank = np.full(grid.shape, np.nan, np.float32)
    if name in ("sand_pct", "clay_pct"):
        parts[name], _ = lay_tests(parts.get(name, blank), values, yards, grid)
        return
    raster, touched = lay_tests(soil.rasters.get(name, blank), values, yards, grid)
    soil.rasters[name] = raster
    source = soil.sources.get(name, np.zeros(blank.shape, np.uint8))
    soil.sources[name] = np.where(touched, 3, source).astype(np.uint8)


def _texture_of_parts(soil: Soil, parts: dict[str, FloatRaster]) -> None:
    """Keep sand and clay in step with texture classes that came from a class alone."""
    if "texture" not in soil.rasters:
        return
    texture = soil.rasters["texture"]
    blank = np.full(texture.shape, np.nan, np.float32)
    sand, clay = parts.get("sand_pct", blank), parts.get("clay_pct", blank)
    stands_for = np.array([(np.nan, np.nan), *CENTRES], np.float32)
    number = np.nan_to_num(texture).astype(int)
    alone = ~np.isnan(texture) & (texture_class(sand, clay) != texture)
    parts["sand_pct"] = np.where(alone, stands_for[number, 0], sand)
    parts["clay_pct"] = np.where(alone, stands_for[number, 1], clay)


def _water(soil: Soil, parts: dict[str, FloatRaster], organic_matter_pct: float) -> None:
    """Add the plant-available water of the rooting depth [mm], if texture and depth are known."""
    if not {"sand_pct", "clay_pct"} <= set(parts) or "depth_cm" not in soil.rasters:
        return
    water = soil_water(parts["sand_pct"], parts["clay_pct"], organic_matter_pct)
    depth = soil.rasters["depth_cm"]
    # 1 % of the volume over 1 cm of depth is 0.1 mm.
    soil.rasters["available_water_mm"] = (water.available_pct * depth / 10).astype(np.float32)
    known = ~np.isnan(soil.rasters["available_water_mm"])
    worse = np.minimum(soil.sources.get("texture", 1), soil.sources["depth_cm"])
    soil.cell_m["available_water_mm"] = max(soil.cell_m.get("texture", 0), soil.cell_m.get("depth_cm", 0))
    soil.sources["available_water_mm"] = np.where(known, worse, 0).astype(np.uint8)
