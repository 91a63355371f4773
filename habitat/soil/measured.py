"""Soil tests: what people measured in their own yard wins there.

Several tests of one yard: the median for numbers (so the mean of two), the most frequent for classes; at a
tie the wetter drainage and the finer texture.
"""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.arrays import FloatRaster
from habitat.cells import rasterize_index
from habitat.factors import FACTORS, Factor
from habitat.grid import Grid
from habitat.remarks import Remark, Subject, remark
from habitat.soil.texture import PERCENT, texture_class

TestValues = dict[str, float]
"""yard_id -> the value of its tests."""


def tests_with_yards(
    frame: pd.DataFrame | None, yards: gpd.GeoDataFrame
) -> tuple[pd.DataFrame, list[Remark]]:
    """Return the soil tests with a yard each: by yard_id, else by the place they were taken at.

    Parameters
    ----------
    frame
        Tests, a row each, indexed by the row of their source (0-based); a column yard_id, or places of the
        yards' CRS, or both. None for none.
    yards
        yard_id and geometry.

    Returns
    -------
    tuple
        The tests that have a yard, with it in column yard_id; and a note for each that has none.
    """
    if frame is None or not len(frame):
        return pd.DataFrame({"yard_id": []}), []
    tests = pd.DataFrame(frame).copy()
    given = tests["yard_id"] if "yard_id" in tests else pd.Series(pd.NA, index=tests.index)
    given = given.astype("string").where(given.astype("string").isin(set(yards["yard_id"].astype(str))))
    if isinstance(frame, gpd.GeoDataFrame):
        given = given.fillna(_yard_at(frame.geometry, yards))
    tests["yard_id"] = given
    lost = given.isna()
    notes = [remark("soil_test_without_yard", _of_rows(int(row))) for row in tests.index[lost]]
    return tests[~lost], notes


def _yard_at(places: gpd.GeoSeries, yards: gpd.GeoDataFrame) -> pd.Series:
    """Return the id of the yard that holds each place, the first in the order of yards; NA for none."""
    points = places.centroid
    out = pd.Series(pd.NA, index=places.index, dtype="string")
    usable = ~(points.isna() | points.is_empty)
    which, yard = yards.sindex.query(points[usable].to_numpy(), predicate="intersects")
    first = pd.Series(yard, index=which).groupby(level=0).min()
    labels = places.index[usable][first.index.to_numpy(int)]
    out[labels] = yards["yard_id"].astype("string").to_numpy()[first.to_numpy(int)]
    return out


def read_tests(
    frame: pd.DataFrame | None, yards: gpd.GeoDataFrame
) -> tuple[dict[str, TestValues], list[Remark]]:
    """Return what soil tests say of each yard.

    Parameters
    ----------
    frame
        Tests, a row each: yard_id or a place (see ``tests_with_yards``), and any of ph, depth_cm [cm],
        sand_pct and clay_pct [%], drainage and texture (classes in words).
    yards
        yard_id and geometry.

    Returns
    -------
    tuple
        name -> yard_id -> value, for ph, depth_cm, drainage (rank 1-7), texture (class 1-12), and sand_pct
        and clay_pct where both were measured; and what was not used, or used in a way that should be told.

    Examples
    --------
    >>> import geopandas as gpd, shapely
    >>> squares = [shapely.box(0, 0, 9, 9), shapely.box(9, 0, 18, 9)]
    >>> yards = gpd.GeoDataFrame({"yard_id": ["a", "b"]}, geometry=squares)
    >>> tests = pd.DataFrame({"yard_id": ["a", "a", "b"], "ph": [6.0, 7.0, 65.0]})
    >>> values, notes = read_tests(tests, yards)
    >>> values, [note.kind for note in notes]
    ({'ph': {'a': 6.5}}, ['soil_tests_several', 'soil_test_impossible'])
    """
    tests, notes = tests_with_yards(frame, yards)
    notes += _several(tests)
    out: dict[str, TestValues] = {}
    told = [f for f in FACTORS.of_group("ground") if f.test_column]
    limits = {f.name: f.possible for f in told if not f.in_steps} | {"sand_pct": PERCENT, "clay_pct": PERCENT}
    for name, (low, high) in limits.items():
        if name in tests:
            values = pd.to_numeric(tests[name], errors="coerce")
            bad = values.notna() & ~values.between(low, high)
            notes += [
                remark("soil_test_impossible", _of_rows(int(r)), column=name, value=float(values[r]))
                for r in tests.index[bad]
            ]
            out[name] = _by_yard(values.mask(bad), tests["yard_id"], "median")
    for factor in told:
        if factor.in_steps and factor.name in tests:
            numbers = _translated(tests, factor, notes)
            out[factor.name] = _by_yard(numbers, tests["yard_id"], f"{factor.at_a_tie} mode")
    out["texture"] = _texture(out)
    return {name: values for name, values in out.items() if values}, notes


def _several(tests: pd.DataFrame) -> list[Remark]:
    """Tell which yards have several tests, and what is made of them."""
    return [
        remark("soil_tests_several", _of_rows(*map(int, rows), yards=(str(yard),)), count=len(rows))
        for yard, rows in tests.groupby(tests["yard_id"].astype(str), sort=True).groups.items()
        if len(rows) > 1
    ]


def _of_rows(*rows: int, yards: tuple[str, ...] = ()) -> Subject:
    return Subject(yards=yards, layers=("soil_tests",), rows=rows, household=("soil_test",))


def _texture(out: dict[str, TestValues]) -> TestValues:
    """Return the texture class by yard: from sand and clay where both were measured, else as named."""
    named = out.get("texture", {})
    sand, clay = out.get("sand_pct", {}), out.get("clay_pct", {})
    both = sorted(set(sand) & set(clay))
    for part in (sand, clay):
        for yard_id in set(part) - set(both):
            del part[yard_id]
    measured = texture_class([sand[y] for y in both], [clay[y] for y in both])
    return {**named, **{y: float(t) for y, t in zip(both, measured, strict=True) if np.isfinite(t)}}


def _translated(tests: pd.DataFrame, factor: Factor, notes: list[Remark]) -> pd.Series[float]:
    column, translate = factor.name, factor.read_class or float
    values = tests[column]
    told = [translate(str(v)) if pd.notna(v) else np.nan for v in values]
    numbers = pd.Series(np.array(told, float), index=tests.index)
    for row in tests.index[values.notna() & numbers.isna()]:
        notes.append(
            remark(
                "soil_test_class_unknown",
                _of_rows(int(row)),
                column=column,
                value=str(values[row]),
                known=factor.classes,
            )
        )
    return numbers


def _by_yard(values: pd.Series, yard: pd.Series, rule: str) -> TestValues:
    """Return one value per yard by a rule: median, lower mode, higher mode."""
    out = {}
    for yard_id, group in values.dropna().groupby(yard.astype(str), sort=True):
        if rule == "median":
            out[str(yard_id)] = float(group.median())
        else:
            modes = group.mode()
            out[str(yard_id)] = float(modes.min() if rule == "lower mode" else modes.max())
    return out


def lay_tests(
    raster: FloatRaster, values: TestValues, yards: gpd.GeoDataFrame, grid: Grid
) -> tuple[FloatRaster, NDArray[np.bool_]]:
    """Return a raster with the tests' values in the cells of their yards, and which cells those are.

    Parameters
    ----------
    raster
        (rows, cols) what is known without tests.
    values
        yard_id -> value.
    yards
        yard_id and geometry; where yards overlap, the later one counts.
    grid
        The grid of the raster.

    Returns
    -------
    tuple
        A new float32 raster, and a mask of the same shape.
    """
    yards = yards[yards["yard_id"].astype(str).isin(values)]
    index = rasterize_index(yards.geometry, grid)
    by_position = np.array([values[str(y)] for y in yards["yard_id"]] + [np.nan], np.float32)
    touched = index >= 0
    return np.where(touched, by_position[index], raster).astype(np.float32), touched
