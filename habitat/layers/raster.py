"""Open rasters and read them window by window on the study's grid."""

from __future__ import annotations

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.enums import Resampling
from rasterio.warp import reproject

from habitat.errors import CrsError
from habitat.grid import Grid
from habitat.layers.types import RasterLayer
from habitat.study import RasterSource, Study

CLASS_RASTERS = ("texture", "drainage", "landcover", "zone")


def open_raster(study: Study, name: str, source: RasterSource) -> RasterLayer:
    """Open a raster and note how its values are to be read."""
    path = study.resolve(source.path)
    with rasterio.open(path) as data:
        band = source.band or 1
        crs = source.crs or (data.crs.to_string() if data.crs else None)
        if crs is None:
            raise CrsError(f"raster {name!r} has no CRS", str(path), f"State it under [rasters.{name}] crs")
        scale = source.scale if source.scale is not None else data.scales[band - 1]
        offset = source.offset if source.offset is not None else data.offsets[band - 1]
        given = source.nodata if source.nodata is not None else data.nodatavals[band - 1]
        kind = source.kind or ("class" if name in CLASS_RASTERS else "continuous")
        nodata = () if given is None else (float(given),)
        return RasterLayer(
            name, source, str(path), kind, crs, abs(data.transform.a), band, scale, offset, nodata, None
        )


def read_window(layer: RasterLayer, grid: Grid) -> NDArray[np.float32]:
    """Return the values on a grid, NaN where unknown."""
    out = np.full(grid.shape, np.nan, np.float32)
    with rasterio.open(layer.path) as data:
        values = data.read(layer.band).astype(np.float32)
        values[data.read_masks(layer.band) == 0] = np.nan
        for bad in layer.nodata:
            values[values == np.float32(bad)] = np.nan
        method = Resampling.nearest if layer.kind == "class" else Resampling.bilinear
        reproject(
            values * layer.scale + layer.offset,
            out,
            src_transform=data.transform,
            src_crs=layer.source_crs,
            src_nodata=np.nan,
            dst_transform=grid.transform,
            dst_crs=grid.crs.to_wkt(),
            dst_nodata=np.nan,
            resampling=method,
        )
    return out
