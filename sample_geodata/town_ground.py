"""The ground of Quillwater as rasters: terrain, surface heights, soil that follows the creek."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import rasterio
import shapely
from affine import Affine
from numpy.typing import NDArray
from rasterio.features import rasterize
from town_streets import HEIGHT_M, WIDTH_M, creek, creek_water

ORIGIN = (412000.0, 4417200.0)
CRS = "EPSG:32617"
SOIL_CELL_M = 5.0
NODATA = -32768


def cell_centres(cell_m: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the local coordinates of all cell centres, row 0 in the north."""
    u = np.arange(cell_m / 2, WIDTH_M, cell_m)
    v = np.arange(HEIGHT_M - cell_m / 2, 0, -cell_m)
    return np.meshgrid(u, v)


def creek_distance(u: NDArray[np.float64], v: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the distance from the creek's centre line [m]."""
    return shapely.distance(shapely.points(u, v), creek())


def terrain(u: NDArray[np.float64], v: NDArray[np.float64], away: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the ground height [m]: a valley that rises to the west and falls to the south."""
    valley = 14.0 * (1 - np.exp(-away / 170.0))
    return 231.0 + valley + 0.006 * v + 0.9 * np.sin(u / 90.0) * np.cos(v / 120.0)


def soil(
    u: NDArray[np.float64], v: NDArray[np.float64], away: NDArray[np.float64]
) -> dict[str, NDArray[np.float64]]:
    """Return pH, sand and clay [%], drainage rank 1-7 and depth [cm]; a hole of unknown ground is NaN."""
    near = np.exp(-away / 85.0)
    roll = 0.6 * np.sin((0.8 * u + 0.6 * v) / 83.0 + 1.2) + 0.4 * np.sin((0.9 * v - 0.45 * u) / 57.0)
    roll = roll + 0.25 * np.sin((0.3 * u + v) / 31.0 + 0.4)
    ph = 6.15 + 0.75 * near + 0.35 * roll - 0.0004 * (v - 450)
    clay = np.clip(24 - 8 * near + 7 * np.sin(v / 150.0) + 3 * roll, 6, 45)
    sand = np.clip(34 + 22 * near + 9 * np.cos(u / 110.0) - 4 * roll, 8, 75)
    drainage = np.clip(
        np.round(1.4 + 4.1 * (1 - np.exp(-away / 75.0)) + 0.5 * roll + 0.9 * (sand > 50)), 1, 7
    )
    depth = np.clip(105 - 42 * np.exp(-((u - 60) ** 2) / 9000.0) * (1 + 0.3 * roll) + 20 * near, 25, 150)
    layers = {"ph": ph, "sand_pct": sand, "clay_pct": clay, "drainage": drainage, "depth_cm": depth}
    hole = ((u - 340) / 46.0) ** 2 + ((v - 262) / 30.0) ** 2 < 1
    return {name: np.where(hole, np.nan, values) for name, values in layers.items()}


def surface(heights: NDArray[np.float64], buildings: list[dict], trees: list[dict]) -> NDArray[np.float64]:
    """Return the height of ground, roofs and crowns [m] at 1 m cells."""
    transform = Affine(1, 0, 0, 0, -1, HEIGHT_M)
    roofs = rasterize(
        [(b["geometry"], b["height_m"]) for b in sorted(buildings, key=lambda b: b["height_m"])],
        heights.shape,
        transform=transform,
        dtype="float64",
    )
    tops = roofs
    for tree in trees:
        _raise_crown(tops, tree)
    return heights + tops


def _raise_crown(tops: NDArray[np.float64], tree: dict) -> None:
    x, y, r = tree["geometry"].x, HEIGHT_M - tree["geometry"].y, tree["crown_m"] / 2
    rows = slice(max(0, int(y - r)), min(tops.shape[0], int(y + r) + 1))
    cols = slice(max(0, int(x - r)), min(tops.shape[1], int(x + r) + 1))
    dy, dx = np.mgrid[rows, cols] + 0.5
    share = ((dx - x) ** 2 + (dy - y) ** 2) / max(r, 0.5) ** 2
    crown = np.where(share <= 1, tree["height_m"] * (0.55 + 0.45 * np.sqrt(np.clip(1 - share, 0, 1))), 0.0)
    np.maximum(tops[rows, cols], crown, out=tops[rows, cols])


def write_raster(path: Path, values: NDArray[np.float64], cell_m: float, scale: float, unit: str) -> None:
    """Write values as scaled 16-bit integers, compressed; NaN becomes the declared nodata value."""
    stored = np.where(np.isnan(values), NODATA, np.round(values / scale)).astype(np.int16)
    profile = {
        "driver": "GTiff",
        "dtype": "int16",
        "count": 1,
        "height": stored.shape[0],
        "width": stored.shape[1],
        "crs": CRS,
        "transform": Affine(cell_m, 0, ORIGIN[0], 0, -cell_m, ORIGIN[1] + HEIGHT_M),
        "nodata": NODATA,
        "compress": "deflate",
        "predictor": 2,
        "zlevel": 9,
        "tiled": True,
        "blockxsize": 256,
        "blockysize": 256,
    }
    with rasterio.open(path, "w", **profile) as target:
        target.write(stored, 1)
        target.scales, target.units = (scale,), (unit,)


def write_rasters(folder: Path, buildings: list[dict], trees: list[dict]) -> None:
    """Write all rasters of the town."""
    u, v = cell_centres(1.0)
    ground = terrain(u, v, creek_distance(u, v))
    water = rasterize([creek_water()], u.shape, transform=Affine(1, 0, 0, 0, -1, HEIGHT_M), dtype="float64")
    ground = ground - 0.8 * water
    write_raster(folder / "terrain_m.tif", ground, 1.0, 0.1, "m")
    write_raster(folder / "surface_m.tif", surface(ground, buildings, trees), 1.0, 0.1, "m")
    u, v = cell_centres(SOIL_CELL_M)
    scales = {"ph": 0.01, "sand_pct": 0.1, "clay_pct": 0.1, "drainage": 1.0, "depth_cm": 1.0}
    units = {"ph": "pH", "sand_pct": "%", "clay_pct": "%", "drainage": "rank", "depth_cm": "cm"}
    for name, values in soil(u, v, creek_distance(u, v)).items():
        write_raster(folder / f"{name}.tif", values, SOIL_CELL_M, scales[name], units[name])
