"""Rasters of a plan as cloud-optimised GeoTIFF (OGC 21-026): sun hours, and fit of the plants asked for."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import rasterio
import rasterio.shutil
from numpy.typing import NDArray

from habitat.knowledge import resolve_plants
from habitat.report.plan import Plan
from habitat.suitability import compile_needs, fit

TILE = 1024
Window = tuple[slice, slice]


def write_rasters(plan: Plan, folder: Path) -> None:
    """Write ``sun_h.tif`` and ``fit-<genus-species>.tif`` for the plants of ``suitability.rasters``."""
    folder.mkdir(parents=True, exist_ok=True)
    sun = plan.site.rasters.get("sun_h")
    if sun is not None:
        bands = {"hours of direct sun per clear day, mean over the sun months": "h"}
        _write(plan, folder / "sun_h.tif", bands, lambda window: sun[window][None])
    for match in resolve_plants(plan.study.suitability.rasters, plan.knowledge):
        if match.accepted is not None:
            _write_fit(plan, match.accepted, folder / f"fit-{match.accepted.lower().replace(' ', '-')}.tif")


def _write_fit(plan: Plan, plant: str, path: Path) -> None:
    needs = compile_needs(plan.knowledge, plan.study, plan.site.assessed).subset([plant])
    bands = {
        f"fit of {plant}, unknown ground at its worst": "1",
        f"fit of {plant}, unknown ground at its best": "1",
    }

    def values(window: Window) -> NDArray[np.float32]:
        found = fit(needs, {name: layer[window] for name, layer in plan.site.rasters.items()})
        return np.stack([found.low[0], found.high[0]]).astype(np.float32) / np.float32(255)

    _write(plan, path, bands, values)


def _write(
    plan: Plan, path: Path, bands: dict[str, str], values: Callable[[Window], NDArray[np.float32]]
) -> None:
    """Write tile by tile into a plain file, then copy that into the cloud-optimised layout."""
    grid = plan.site.grid
    profile = {
        "driver": "GTiff",
        "dtype": "float32",
        "count": len(bands),
        "height": grid.shape[0],
        "width": grid.shape[1],
        "crs": grid.crs,
        "transform": grid.transform,
        "nodata": float("nan"),
        "tiled": True,
        "blockxsize": 512,
        "blockysize": 512,
        "BIGTIFF": "IF_SAFER",
    }
    with TemporaryDirectory(dir=path.parent) as folder:
        plain = Path(folder) / "plain.tif"
        with rasterio.open(plain, "w", **profile) as target:
            for window in grid.tiles(TILE):
                block = values(window).astype(np.float32)
                target.write(_masked(plan, block, window), window=_window(window))
            target.descriptions, target.units = tuple(bands), tuple(bands.values())
        rasterio.shutil.copy(
            plain,
            path,
            driver="COG",
            COMPRESS="DEFLATE",
            PREDICTOR="YES",
            BLOCKSIZE=512,
            OVERVIEW_RESAMPLING="AVERAGE",
            NUM_THREADS="1",
            BIGTIFF="IF_SAFER",
        )


def _masked(plan: Plan, block: NDArray[np.float32], window: Window) -> NDArray[np.float32]:
    del plan, window
    return np.round(block, 3)


def _window(window: Window) -> rasterio.windows.Window:
    rows, cols = window
    return rasterio.windows.Window.from_slices(rows, cols)
