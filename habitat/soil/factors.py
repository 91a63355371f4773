"""Soil on the grid: from rasters, soil polygons and tests, with the source of every value kept.

Which wins: a soil test holds for its whole yard; elsewhere a raster, where it knows; else the soil polygons.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from habitat.arrays import FloatRaster
from habitat.factors import FACTORS, Factor
from habitat.layers.types import Layers
from habitat.remarks import Remark, Subject, remark
from habitat.soil.measured import TestValues, lay_tests, read_tests
from habitat.soil.texture import CENTRES, texture_class
from habitat.soil.units import units_on_grid
from habitat.soil.water import soil_water

SOURCES = ("unknown", "raster", "soil map", "soil test")
"""Where a cell's value is from; codes index this."""

PARTS = ("sand_pct", "silt_pct", "clay_pct")
"""Shares of the fine earth [%], which are no factors themselves."""


def possible(name: str) -> tuple[float, float]:
    """Return the range of a part or a factor: values outside of it are unknown, and told."""
    return (0.0, 100.0) if name in PARTS else FACTORS[name].possible


def given_on_ground() -> tuple[Factor, ...]:
    """Return the factors of the ground that a study may give."""
    return tuple(f for f in FACTORS.of_group("ground") if f.given)


@dataclass(slots=True)
class Soil:
    """Soil factors on the grid and, per factor, the code of each cell's source (index into SOURCES).

    cell_m : width of the cells of the raster that a factor came from [m], of the coarsest if of several.
    tests : factor -> yard_id -> what was measured there. by_tests : factors that no map tells, tests alone.
    """

    rasters: dict[str, FloatRaster] = field(default_factory=dict)
    sources: dict[str, NDArray[np.uint8]] = field(default_factory=dict)
    cell_m: dict[str, float] = field(default_factory=dict)
    tests: dict[str, TestValues] = field(default_factory=dict)
    by_tests: tuple[str, ...] = ()
    notes: list[Remark] = field(default_factory=list)


def soil_factors(layers: Layers) -> Soil:
    """Return the soil factors that the study has data for: ``FACTORS`` but for the sun."""
    soil = Soil()
    parts = _rasters(layers, soil)
    _fill_from_units(layers, soil, parts)
    mapped = set(soil.rasters)
    tests, told = read_tests(layers)
    soil.notes += told
    soil.tests = tests
    for name, values in tests.items():
        _lay(layers, soil, parts, name, values)
    _texture_of_parts(soil, parts)
    _water(layers, soil, parts)
    if {"texture", "depth_cm"} <= mapped or not tests:
        mapped.add("available_water_mm")
    soil.by_tests = tuple(name for name in soil.rasters if name not in mapped)
    return soil


def _rasters(layers: Layers, soil: Soil) -> dict[str, FloatRaster]:
    """Read rasters into the soil; return sand and clay [%], which are no factors themselves."""
    factors = given_on_ground()
    names = (*(f.name for f in factors), *PARTS)
    read = {name: layers.rasters[name].read(layers.grid) for name in names if name in layers.rasters}
    for name, values in read.items():
        _bound(name, values, soil.notes)
    for name in (f.name for f in factors if f.name in read and not f.in_steps):
        soil.rasters[name] = read[name]
    for name in (f.name for f in factors if f.name in read and f.in_steps and f.name != "texture"):
        soil.rasters[name] = _numbers(layers, name, read[name], soil.notes)
    parts, told = sand_and_clay(read)
    soil.notes += told
    if parts:
        soil.rasters["texture"] = texture_class(parts["sand_pct"], parts["clay_pct"])
    elif "texture" in read:
        soil.rasters["texture"] = _numbers(layers, "texture", read["texture"], soil.notes)
    for name, values in soil.rasters.items():
        soil.sources[name] = np.where(np.isnan(values), 0, 1).astype(np.uint8)
        from_rasters = (
            [name] if name in read and not (name == "texture" and parts) else sorted(have_parts(read))
        )
        soil.cell_m[name] = max(layers.rasters[n].cell_m for n in from_rasters)
    return parts


def have_parts(read: dict[str, FloatRaster]) -> dict[str, FloatRaster]:
    """Return those of the rasters that are shares of sand, silt and clay."""
    return {name: read[name] for name in PARTS if name in read}


def _bound(name: str, values: FloatRaster, notes: list[Remark]) -> None:
    """Make impossible values unknown, in place, and tell."""
    if name in FACTORS and FACTORS[name].in_steps:
        return  # codes of classes may be any numbers
    low, high = possible(name)
    bad = (values < low) | (values > high)
    if bad.any():
        share = float(bad.mean())
        values[bad] = np.nan
        notes.append(remark("raster_out_of_range", Subject(layers=(name,)), share=share, low=low, high=high))


def sand_and_clay(read: dict[str, FloatRaster]) -> tuple[dict[str, FloatRaster], list[Remark]]:
    """Return sand and clay [%] from any two of sand, silt and clay; all three must add up to 100 within 2."""
    have = have_parts(read)
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


def _numbers(layers: Layers, name: str, values: FloatRaster, notes: list[Remark]) -> FloatRaster:
    """Return the numbers of class codes by the classes' names; what means nothing becomes unknown, told."""
    low, high = FACTORS[name].possible
    number_of = FACTORS[name].read_class or float
    named = {code: number_of(word) for code, word in (layers.rasters[name].classes or {}).items()}
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


def _fill_from_units(layers: Layers, soil: Soil, parts: dict[str, FloatRaster]) -> None:
    """Let soil polygons speak where no raster does."""
    drawn, told = units_on_grid(layers)
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


def _lay(layers: Layers, soil: Soil, parts: dict[str, FloatRaster], name: str, values: TestValues) -> None:
    """Let soil tests win inside their yards."""
    blank = np.full(layers.grid.shape, np.nan, np.float32)
    if name in ("sand_pct", "clay_pct"):
        parts[name], _ = lay_tests(parts.get(name, blank), values, layers)
        return
    raster, touched = lay_tests(soil.rasters.get(name, blank), values, layers)
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


def _water(layers: Layers, soil: Soil, parts: dict[str, FloatRaster]) -> None:
    """Add the plant-available water of the rooting depth [mm], if texture and depth are known."""
    if not {"sand_pct", "clay_pct"} <= set(parts) or "depth_cm" not in soil.rasters:
        return
    water = soil_water(parts["sand_pct"], parts["clay_pct"], layers.study.site.organic_matter_pct)
    depth = soil.rasters["depth_cm"]
    # 1 % of the volume over 1 cm of depth is 0.1 mm.
    soil.rasters["available_water_mm"] = (water.available_pct * depth / 10).astype(np.float32)
    known = ~np.isnan(soil.rasters["available_water_mm"])
    worse = np.minimum(soil.sources.get("texture", 1), soil.sources["depth_cm"])
    soil.cell_m["available_water_mm"] = max(soil.cell_m.get("texture", 0), soil.cell_m.get("depth_cm", 0))
    soil.sources["available_water_mm"] = np.where(known, worse, 0).astype(np.uint8)
