"""What stands on the ground or hangs over it, as polygons that setbacks are measured from."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from rasterio import features

from habitat.arrays import FloatRaster, Shapes
from habitat.grid import Grid
from habitat.ground.setbacks import DEFAULTS
from habitat.remarks import Remark, Subject, remark
from habitat.sun.relief import slope_deg
from habitat.sun.trees import is_yes

TRUNK_RADIUS_M = 0.25
"""Radius of a trunk that nobody measured (judgement)."""

CLUMP_M = 0.3
"""Width of a plant whose crown nobody measured; a group takes the same area for each (judgement)."""

STREET_WIDTH_M = 6.0
"""Width of a street without width_m (judgement)."""

BUSY_KINDS = frozenset(
    {"main", "major", "busy", "arterial", "highway", "primary", "secondary", "trunk", "motorway"}
)
"""Kinds of street that count as busy where there is no column ``busy``."""


def things(surroundings: Mapping[str, gpd.GeoDataFrame]) -> dict[str, Shapes]:
    """Return the polygons that setbacks are measured from, by ``Setback.what``.

    Parameters
    ----------
    surroundings
        Layers by ``Setback.layer``, in one metric CRS. trees: points or crowns; plants: crown_m [m], count;
        streets: width_m [m], busy (yes or no), kind.

    Returns
    -------
    dict
        Shapes by what they are; what has no layer is left out.
    """
    out: dict[str, Shapes] = {}
    for setback in DEFAULTS:
        frame = surroundings.get(setback.layer)
        if frame is not None and len(frame):
            out[setback.what] = OUTLINES.get(setback.what, outlines)(frame)
    return out


def outlines(frame: gpd.GeoDataFrame) -> Shapes:
    """Return valid, flat shapes; blank ones are left out."""
    return _clean(frame.geometry)


def _clean(shapes: gpd.GeoSeries) -> Shapes:
    """Return valid, flat shapes; blank ones are left out."""
    flat = shapely.force_2d(shapes.to_numpy())
    flat = flat[~(shapely.is_missing(flat) | shapely.is_empty(flat))]
    return np.asarray(shapely.make_valid(flat), object)


def trunks(trees: gpd.GeoDataFrame) -> Shapes:
    """Return a disc for the trunk of each tree."""
    places = shapely.point_on_surface(_clean(trees.geometry))
    return np.asarray(shapely.buffer(places, TRUNK_RADIUS_M), object)


def crowns(plants: gpd.GeoDataFrame) -> Shapes:
    """Return a disc for the crown of each plant, or for the clump that a group takes."""
    plants = plants[~(plants.geometry.isna() | plants.geometry.is_empty)]
    crown, count = _column(plants, "crown_m"), _column(plants, "count")
    width = np.where(crown > 0, crown, CLUMP_M * np.sqrt(np.where(count > 0, count, 1)))
    return np.asarray(shapely.buffer(shapely.force_2d(plants.geometry.to_numpy()), width / 2), object)


def _column(frame: gpd.GeoDataFrame, name: str) -> NDArray[np.float64]:
    if name not in frame:
        return np.full(len(frame), np.nan)
    return pd.to_numeric(frame[name], errors="coerce").to_numpy(float)


def street_widths(streets: gpd.GeoDataFrame) -> NDArray[np.float64]:
    """Return the width of each street [m], STREET_WIDTH_M where width_m is missing or not positive."""
    width = _column(streets, "width_m")
    return np.where(width > 0, width, STREET_WIDTH_M)


def busy_roads(streets: gpd.GeoDataFrame) -> Shapes:
    """Return the ground of busy roads: lines widened, polygons as they are."""
    return widened(streets[_busy(streets)])


def quiet_streets(streets: gpd.GeoDataFrame) -> Shapes:
    """Return the ground of the other streets: lines widened, polygons as they are."""
    return widened(streets[~_busy(streets)])


def traffic_notes(streets: gpd.GeoDataFrame | None) -> list[Remark]:
    """Tell if nothing says which streets are busy."""
    if streets is None or not len(streets) or "busy" in streets or _busy(streets).any():
        return []
    return [remark("busy_roads_unknown", Subject(layers=("streets",)))]


def widened(streets: gpd.GeoDataFrame) -> Shapes:
    """Return streets as polygons: lines widened by half their width to either side."""
    half = np.where(streets.geometry.geom_type.str.contains("Polygon"), 0.0, street_widths(streets) / 2)
    shapes = shapely.force_2d(streets.geometry.to_numpy())
    return np.asarray(shapely.buffer(shapes, half, cap_style="flat"), object)


def _busy(streets: gpd.GeoDataFrame) -> NDArray[np.bool_]:
    if "busy" in streets:
        return is_yes(streets["busy"])
    for column in ("kind", "class"):
        if column in streets:
            return np.asarray(
                streets[column].astype("string").str.lower().isin(BUSY_KINDS).fillna(False), bool
            )
    return np.zeros(len(streets), bool)


OUTLINES: dict[str, Callable[[gpd.GeoDataFrame], Shapes]] = {
    "trunk": trunks,
    "plant": crowns,
    "busy_road": busy_roads,
    "street": quiet_streets,
}
"""What setbacks are measured from, by ``Setback.what``, where it is not the layer's own outlines."""


def steep_ground(terrain_m: FloatRaster, grid: Grid, steep_deg: float) -> Shapes:
    """Return the outlines of the cells steeper than an angle.

    Parameters
    ----------
    terrain_m
        (rows, cols) height of the ground [m], NaN where unknown: there nothing is called steep.
    grid
        The grid of the heights.
    steep_deg
        Steepest slope that is still planted [degrees].
    """
    mask = slope_deg(terrain_m, grid.cell_m) > steep_deg
    found = features.shapes(mask.astype(np.uint8), mask=mask, transform=grid.transform)
    shapes = np.array([shapely.geometry.shape(s) for s, _ in found], object)
    return np.asarray(shapely.make_valid(shapes), object) if len(shapes) else shapes
