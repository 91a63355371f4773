"""Rasters of a plan as cloud-optimised GeoTIFF (OGC 21-026): sun hours, and fit of the plants asked for."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import rasterio
import rasterio.shutil
from numpy.typing import NDArray

from habitat.errors import StudyError
from habitat.knowledge import resolve_plants
from habitat.report.plan import Plan
from habitat.study.fitting import needs_of
from habitat.suitability import fit

TILE = 1024
SUN = {
    "sun_h": "hours of direct sun per clear day, mean over the sun months",
    "sun_afternoon_h": "hours of direct sun after solar noon per clear day, mean over the sun months",
}
"""Rasters of sun, with the words of their bands."""

Window = tuple[slice, slice]


def write_rasters(plan: Plan, folder: Path) -> None:
    """Write the rasters of sun, and ``fit-<genus-species>.tif`` for the plants of ``suitability.rasters``."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, words in SUN.items():
        if (sun := plan.site.rasters.get(name)) is not None:
            _write(plan, folder / f"{name}.tif", {words: "h"}, partial(_part_of, sun))
    for plant in plants_asked_for(plan):
        _write_fit(plan, plant, folder / f"fit-{plant.lower().replace(' ', '-')}.tif")


def _part_of(raster: NDArray[np.float32], window: Window) -> NDArray[np.float32]:
    return raster[window][None]


def plants_asked_for(plan: Plan) -> list[str]:
    """Return the accepted names of the plants of ``suitability.rasters``, each once.

    Raises
    ------
    StudyError
        If a name is not in the plant tables.
    """
    out = []
    for match in resolve_plants(plan.study.suitability.rasters, plan.knowledge):
        if match.accepted is None:
            hint = f"; did you mean {' or '.join(match.suggestions)}?" if match.suggestions else ""
            raise StudyError(
                f"suitability.rasters names {match.given!r}, which is not in the plant tables{hint}",
                str(plan.study.path),
                "Mend the name or leave it out",
            )
        out.append(match.accepted)
    return list(dict.fromkeys(out))


def _write_fit(plan: Plan, plant: str, path: Path) -> None:
    needs = needs_of(plan.study, plan.knowledge, plan.site.assessed, plan.site.by_tests).subset([plant])
    bands = {
        f"fit of {plant}, unknown ground at its worst": "1",
        f"fit of {plant}, unknown ground at its best": "1",
    }

    def both_bounds(window: Window) -> NDArray[np.float32]:
        values = {name: plan.site.rasters[name][window] for name in plan.site.assessed}
        rows, cols = (part.stop - part.start for part in window)
        found = fit(needs, values, shape=(rows, cols))
        both = np.stack([found.low[0], found.high[0]]).astype(np.float32) / np.float32(255)
        blank = [np.isnan(v) for v in values.values()]
        both[:, np.all(blank, axis=0) if blank else np.ones((rows, cols), bool)] = np.nan
        return both

    _write(plan, path, bands, both_bounds)


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
                target.write(np.round(block, 3), window=_window(window))
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


def _window(window: Window) -> rasterio.windows.Window:
    rows, cols = window
    return rasterio.windows.Window.from_slices(rows, cols)
