"""Shapes burnt into the grid by cell centres."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray
from rasterio import features

from habitat.grid import Grid


def rasterize_index(shapes: gpd.GeoSeries, grid: Grid) -> NDArray[np.int32]:
    """Return per cell the position of the last shape that holds the cell's centre, -1 for none."""
    pairs = [(shape, i) for i, shape in enumerate(shapes) if not shape.is_empty]
    if not pairs:
        return np.full(grid.shape, -1, np.int32)
    burnt = features.rasterize(pairs, grid.shape, fill=-1, transform=grid.transform, dtype="int32")
    return np.asarray(burnt, np.int32)
