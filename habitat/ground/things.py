"""What stands on the ground or hangs over it, as polygons that setbacks are measured from."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from rasterio import features

from habitat.arrays import Shapes
from habitat.grid import Grid
from habitat.layers.types import Layers
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


def things(layers: Layers) -> tuple[dict[str, Shapes], list[Remark]]:
    """Return shapes by what they are: keys of the setback table but "boundary"; steep ground as "steep"."""
    out: dict[str, Shapes] = {}
    for what, layer in _LAYER_OF.items():
        frame = layers.frame(layer)
        if isinstance(frame, gpd.GeoDataFrame) and len(frame):
            out[what] = _clean(frame.geometry)
    out |= _round_things(layers)
    streets, notes = street_shapes(layers)
    return out | streets | _steep(layers), notes


_LAYER_OF = {
    "building": "buildings",
    "paving": "paving",
    "water": "water",
    "fence": "fences",
    "wires": "wires",
    "buried": "buried",
    "septic": "septic",
    "keep": "keep",
}


def _clean(shapes: gpd.GeoSeries) -> Shapes:
    """Return valid, flat shapes; blank ones are left out."""
    flat = shapely.force_2d(shapes.to_numpy())
    flat = flat[~(shapely.is_missing(flat) | shapely.is_empty(flat))]
    return np.asarray(shapely.make_valid(flat), object)


def _round_things(layers: Layers) -> dict[str, Shapes]:
    """Return trunks and the crowns of plants as discs."""
    out: dict[str, Shapes] = {}
    trees, plants = layers.frame("trees"), layers.frame("plants")
    if isinstance(trees, gpd.GeoDataFrame) and len(trees):
        places = shapely.point_on_surface(_clean(trees.geometry))
        out["trunk"] = shapely.buffer(places, TRUNK_RADIUS_M)
    if isinstance(plants, gpd.GeoDataFrame) and len(plants):
        plants = plants[~(plants.geometry.isna() | plants.geometry.is_empty)]
        crown, count = _column(plants, "crown_m"), _column(plants, "count")
        width = np.where(crown > 0, crown, CLUMP_M * np.sqrt(np.where(count > 0, count, 1)))
        out["plant"] = shapely.buffer(shapely.force_2d(plants.geometry.to_numpy()), width / 2)
    return out


def _column(frame: gpd.GeoDataFrame, name: str) -> NDArray[np.float64]:
    if name not in frame:
        return np.full(len(frame), np.nan)
    return pd.to_numeric(frame[name], errors="coerce").to_numpy(float)


def street_widths(streets: gpd.GeoDataFrame) -> NDArray[np.float64]:
    """Return the width of each street [m], assumed where it is not given."""
    width = _column(streets, "width_m")
    return np.where(width > 0, width, STREET_WIDTH_M)


def street_shapes(layers: Layers) -> tuple[dict[str, Shapes], list[Remark]]:
    """Return the ground of streets, busy ones apart: lines widened, polygons as they are."""
    streets = layers.frame("streets")
    if not isinstance(streets, gpd.GeoDataFrame) or not len(streets):
        return {}, []
    busy = _busy(streets)
    ground = widened(streets)
    notes = []
    if "busy" not in streets and not busy.any():
        notes.append(remark("busy_roads_unknown", Subject(layers=("streets",))))
    whole = {"busy_road": ground[busy], "street": ground[~busy]}
    return {what: shapes for what, shapes in whole.items() if len(shapes)}, notes


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


def _steep(layers: Layers) -> dict[str, Shapes]:
    """Return ground steeper than the study allows, by the terrain raster; without one it is not assessed."""
    if "terrain_m" not in layers.rasters:
        return {}
    slope = slope_deg(layers.rasters["terrain_m"].read(layers.grid), layers.grid.cell_m)
    shapes = _outlines(slope > layers.study.site.steep_deg, layers.grid)
    return {"steep": shapes} if len(shapes) else {}


def _outlines(mask: NDArray[np.bool_], grid: Grid) -> Shapes:
    found = features.shapes(mask.astype(np.uint8), mask=mask, transform=grid.transform)
    shapes = np.array([shapely.geometry.shape(s) for s, _ in found], object)
    return np.asarray(shapely.make_valid(shapes), object) if len(shapes) else shapes
