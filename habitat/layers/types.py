"""What reading hands on: cleaned layers, each with an account of every row."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import pandas as pd
from pyproj import CRS

from habitat.errors import HabitatError
from habitat.grid import Grid
from habitat.remarks import Note
from habitat.settings.layers import RasterSource


@dataclass(frozen=True, slots=True)
class VectorLayer:
    """A vector layer or table in the study's CRS.

    ``frame`` is indexed by the source row (0-based) and holds only rows that can be used, columns under
    our own names; ids are text. ``set_aside`` has columns row, reason, attributes (a JSON text), geometry
    (study CRS, may be empty). Rows in = used + repaired + rows set aside. ``details`` holds what the layer's
    own check found out: of yards ground_area_m2 and overlap_m2 (in all), of tables matched and unmatched.
    """

    name: str
    frame: gpd.GeoDataFrame | pd.DataFrame
    rows_in: int
    used: int
    repaired: int
    set_aside: gpd.GeoDataFrame
    source_crs: str | None
    encoding: str | None
    notes: tuple[Note, ...] = ()
    details: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class RasterLayer:
    """A raster that has been opened and checked; ``habitat.layers.rasters.window.read_raster`` reads it.

    ``classes`` maps class codes to names for kind "class". ``error`` is the stated standard deviation
    or class confusion, in the layer's units, as the study gives it.
    """

    name: str
    source: RasterSource
    path: str
    kind: str
    source_crs: str
    cell_m: float
    band: int
    scale: float
    offset: float
    nodata: tuple[float, ...]
    classes: dict[int, str] | None
    notes: tuple[Note, ...] = ()
    details: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Layers:
    """Everything that was read: ``vectors`` and ``rasters`` by name, the CRS and the one analysis grid."""

    crs: CRS
    grid: Grid
    vectors: dict[str, VectorLayer]
    rasters: dict[str, RasterLayer]
    notes: tuple[Note, ...] = ()

    def only_drawn(self) -> frozenset[str]:
        """Return the layers that are made of drawn yards alone: they tell nothing of any other yard."""
        return frozenset(name for name, layer in self.vectors.items() if layer.details.get("only_drawn"))

    def frame(self, name: str) -> gpd.GeoDataFrame | None:
        """Return the frame of a vector layer, or None if the study has no such layer."""
        layer = self.vectors.get(name)
        return None if layer is None else layer.frame

    @property
    def yards(self) -> gpd.GeoDataFrame:
        """The yards, with everything that the participants table says joined on.

        Columns: yard_id (text, unique), role ("member", "candidate", "other"), publish (bool), budget
        (float, NaN if not given), children, pets, sprayed, deer, septic (bool), max_height_m (float, NaN),
        no_trees, no_vines, no_shrubs, keep_lawn, low_only, easy_care (bool), look, disliked_colours (text or
        None), hours_a_month, bed_m2 (float, NaN), area_m2, address (text or None), geometry.
        """
        return self.vectors["yards"].frame

    @property
    def rows_set_aside(self) -> int:
        """How many rows could not be used, over all layers."""
        return sum(len(layer.set_aside) for layer in self.vectors.values())


@dataclass(frozen=True, slots=True)
class Parts:
    """What could be read, and the errors of what could not.

    As ``Layers``, but layers and rasters with an error are missing; without yards there is no CRS and no
    grid. ``faults`` holds the errors by key ("layers.plants", "rasters.ph").
    """

    crs: CRS | None
    grid: Grid | None
    vectors: dict[str, VectorLayer]
    rasters: dict[str, RasterLayer]
    notes: tuple[Note, ...]
    faults: dict[str, HabitatError]

    def whole(self) -> Layers | None:
        """Return the layers for further work, None without yards."""
        if self.crs is None or self.grid is None:
            return None
        return Layers(self.crs, self.grid, self.vectors, self.rasters, self.notes)
