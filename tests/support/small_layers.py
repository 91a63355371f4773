"""Small layers for tests of the site: frames and arrays in memory; rasters go through a file."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import rasterio
from pyproj import CRS
from shapely.geometry import box

from habitat.grid import Grid
from habitat.ground.open_ground import Ground, open_and_closed
from habitat.ground.things import steep_ground
from habitat.layers.types import Layers, RasterLayer, VectorLayer
from habitat.pipeline.survey import survey
from habitat.settings.layers import RasterSource
from habitat.settings.site import SiteSettings
from habitat.site.types import Site
from habitat.soil.factors import Soil, SoilMap, soil_factors
from habitat.study.model import Study
from habitat.sun.hours import SunTerms
from habitat.sun.relief import build_relief

SCRATCH = tempfile.TemporaryDirectory(prefix="habitat-rasters-")
UTM17 = CRS.from_epsg(32617)
WEST, SOUTH = 412000.0, 4417600.0
"""A corner near 39.9 N, 82.0 W."""


@dataclass(frozen=True)
class ArrayRaster:
    """What a raster holds: a function of cell-centre coordinates, or an array on one grid."""

    name: str
    values: Any
    kind: str = "continuous"
    cell_m: float = 1.0
    classes: dict[int, str] | None = None
    notes: tuple[Any, ...] = ()

    def read(self, grid: Grid) -> Any:
        if callable(self.values):
            x, y = np.meshgrid(grid.x, grid.y)
            return np.asarray(self.values(x, y), np.float32)
        if np.ndim(self.values) == 0:
            return np.full(grid.shape, self.values, np.float32)
        return np.array(self.values, np.float32)

    def opened(self, grid: Grid) -> RasterLayer:
        """Write the values into a file on the grid, and return it as reading opens it."""
        path = Path(tempfile.mkdtemp(dir=SCRATCH.name)) / f"{self.name}.tif"
        rows, cols = grid.shape
        profile = {"driver": "GTiff", "height": rows, "width": cols, "count": 1, "dtype": "float32"}
        with rasterio.open(path, "w", crs=grid.crs.to_wkt(), transform=grid.transform, **profile) as file:
            file.write(self.read(grid), 1)
        kept = {"vrt": None, "transform": tuple(grid.transform)[:6], "shape": grid.shape, "dtype": "float32"}
        kept |= {"alpha": None, "masked": False, "crs_wkt": grid.crs.to_wkt()}
        return RasterLayer(
            self.name, RasterSource(path=str(path)), str(path), self.kind, "EPSG:32617", self.cell_m, 1, 1.0,
            0.0, (), self.classes, self.notes, kept,
        )  # fmt: skip


def square_yards(count: int = 4, side: float = 20.0, **columns: Any) -> gpd.GeoDataFrame:
    """Yards in a row from west to east, ``y0``, ``y1``, ..."""
    shapes = [box(WEST + i * side, SOUTH, WEST + (i + 1) * side, SOUTH + side) for i in range(count)]
    return yards_of(shapes, **columns)


def yards_of(shapes: list[Any], **columns: Any) -> gpd.GeoDataFrame:
    ids = [f"y{i}" for i in range(len(shapes))]
    data = {"yard_id": ids, "role": "member", "publish": False, **columns}
    frame = gpd.GeoDataFrame(data, geometry=shapes, crs=UTM17, index=range(len(shapes)))
    return frame.assign(area_m2=frame.area)


def frame_of(shapes: list[Any], **columns: Any) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(columns, geometry=list(shapes), crs=UTM17, index=range(len(shapes)))


@dataclass
class Small:
    """Collects what a study has, and makes Layers of it."""

    yards: gpd.GeoDataFrame = field(default_factory=square_yards)
    cell_m: float = 1.0
    margin: float = 0.0
    vectors: dict[str, Any] = field(default_factory=dict)
    rasters: dict[str, Any] = field(default_factory=dict)
    sections: dict[str, dict[str, Any]] = field(default_factory=dict)
    bounds: tuple[float, float, float, float] | None = None

    @property
    def grid(self) -> Grid:
        west, south, east, north = self.bounds or self.yards.total_bounds
        m = self.margin
        return Grid.from_bounds((west - m, south - m, east + m, north + m), self.cell_m, self.yards.crs)

    @property
    def settings(self) -> SiteSettings:
        return SiteSettings(**self.sections.get("site", {}))

    @property
    def terms(self) -> SunTerms:
        return SunTerms.of((4, 10), (5, 8), self.settings)

    def raster(self, name: str) -> Any:
        return self._opened()[name].read(self.grid) if name in self.rasters else None

    def soil(self) -> Soil:
        """The soil from the arrays alone: no study, no layers."""
        opened = self._opened()
        return soil_factors(
            self.grid,
            self.yards,
            maps={n: SoilMap(r.read(self.grid), r.cell_m, r.classes) for n, r in opened.items()},
            units=self.vectors.get("soil_units"),
            tests=self.vectors.get("soil_tests"),
            organic_matter_pct=self.settings.organic_matter_pct,
        )

    def relief(self) -> Any:
        """The heights, and what was assumed."""
        return build_relief(
            self.grid,
            self.settings,
            buildings=self.vectors.get("buildings"),
            trees=self.vectors.get("trees"),
            terrain_m=self.raster("terrain_m"),
            surface_m=self.raster("surface_m"),
        )

    def ground(self) -> Ground:
        """Open and closed ground."""
        terrain = self.raster("terrain_m")
        steep = None if terrain is None else steep_ground(terrain, self.grid, self.settings.steep_deg)
        return open_and_closed(self.yards, self.vectors, self.settings, steep=steep)

    def _opened(self) -> dict[str, ArrayRaster]:
        return {n: r if isinstance(r, ArrayRaster) else ArrayRaster(n, r) for n, r in self.rasters.items()}

    def survey(self, *progress: Any) -> Site:
        """The whole survey of a study with these layers."""
        paths = {name: {"path": f"{name}.gpkg"} for name in ("yards", *self.vectors)}
        return survey(Study(layers=paths, **self.sections), self.layers(), *progress)

    def layers(self) -> Layers:
        vectors = {"yards": self.yards, **self.vectors}
        frames = {n: _layer(n, f) for n, f in vectors.items()}
        rasters = {name: raster.opened(self.grid) for name, raster in self._opened().items()}
        return Layers(self.yards.crs, self.grid, frames, rasters)


def _layer(name: str, frame: pd.DataFrame) -> VectorLayer:
    aside = gpd.GeoDataFrame({"row": [], "reason": [], "attributes": []}, geometry=[], crs=UTM17)
    return VectorLayer(name, frame, len(frame), len(frame), 0, aside, "EPSG:32617", "utf-8")
