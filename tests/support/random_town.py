"""A town of random yards on random ground, far enough apart that none shades another."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
import shapely
from affine import Affine
from shapely.affinity import translate

from tests.support.yards import ORIGIN, random_yard

APART_M, ACROSS, CELL_M = 65.0, 25, 5.0
WEST, SOUTH = 337_500.0, 4_418_000.0  # 39.9 N, 82.9 W on EPSG:32617
SOIL = {"ph": (6.3, 0.7), "sand_pct": (40.0, 15.0), "clay_pct": (22.0, 7.0), "drainage": (4.5, 1.3)}
"""Mean and spread of the soil; the rank of drainage is rounded and stays between 1 and 7."""
STUDY = """\
[study]
name = "Random yards"
date = 2026-03-01
crs = "EPSG:32617"
season = [4, 10]
[layers.yards]
path = "town.gpkg"
layer = "yards"
[layers.buildings]
path = "town.gpkg"
layer = "buildings"
[layers.trees]
path = "town.gpkg"
layer = "trees"
[layers.anchors]
path = "town.gpkg"
layer = "anchors"
[layers.participants]
path = "participants.csv"
[planting]
effort = "quick"
budget = 250
wishes = [{wishes}]
[connectivity]
invite = 8
"""


def write_random_town(folder: Path, count: int, wishes: tuple[str, ...], seed: int = 0) -> Path:
    """Write so many random yards, one in four a member, with trees, soil, and a meadow at one end."""
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(seed)
    yards, houses, trees = [], [], []
    for k in range(count):
        at = (WEST + APART_M * (k % ACROSS) - ORIGIN[0], SOUTH + APART_M * (k // ACROSS) - ORIGIN[1])
        yard, house = (translate(shape, *at) for shape in random_yard(1_000 * seed + k))
        yards.append(yard)
        houses.append(house.intersection(yard))
        spots = shapely.points(rng.uniform(yard.bounds[:2], yard.bounds[2:], (rng.integers(0, 6), 2)))
        trees += [spot for spot in spots if yard.contains(spot) and house.distance(spot) > 3.0]
    _write(folder / "town.gpkg", rng, yards, houses, trees)
    for name, (mean, spread) in SOIL.items():
        _soil(folder / f"{name}.tif", rng, count, name, mean, spread)
    rows = [f"{k:04d},{'member' if k % 4 == 0 else 'candidate'},no" for k in range(count)]
    (folder / "participants.csv").write_text(
        "\n".join(["yard_id,role,publish", *rows]) + "\n", encoding="utf-8"
    )
    lines = [STUDY.format(wishes=", ".join(f'"{w}"' for w in wishes))]
    lines += [f'[rasters.{name}]\npath = "{name}.tif"\n' for name in SOIL]
    path = folder / "study.toml"
    path.write_text("".join(lines), encoding="utf-8")
    return path


def _write(file, rng, yards, houses, trees) -> None:
    meadow = [shapely.box(WEST - 120, SOUTH, WEST - 60, SOUTH + 60)]
    ids, high = [f"{k:04d}" for k in range(len(yards))], rng.uniform(4, 9, len(houses))
    frames = {
        "yards": gpd.GeoDataFrame({"yard_id": ids}, geometry=yards, crs=32617),
        "buildings": gpd.GeoDataFrame({"height_m": high}, geometry=houses, crs=32617),
        "trees": gpd.GeoDataFrame(
            {"height_m": rng.uniform(4, 16, len(trees)), "crown_m": rng.uniform(3, 8, len(trees))},
            geometry=trees, crs=32617,
        ),
        "anchors": gpd.GeoDataFrame(
            {"name": ["meadow"], "host_share": [0.2], "butterflies": ["all"]}, geometry=meadow, crs=32617
        ),
    }  # fmt: skip
    for layer, frame in frames.items():
        frame.to_file(file, layer=layer)


def _soil(path, rng, count, name, mean, spread) -> None:
    """Write a raster of sums of waves, some hundred metres long."""
    wide, high = APART_M * ACROSS + 200, APART_M * (count // ACROSS + 1) + 200
    shape = int(high / CELL_M), int(wide / CELL_M)
    y, x = np.mgrid[: shape[0], : shape[1]] * CELL_M
    waves = [(rng.uniform(-0.03, 0.03, 2), rng.uniform(0, 6.3)) for _ in range(6)]
    values = mean + spread * sum(np.sin(a * x + b * y + c) for (a, b), c in waves) / np.sqrt(3.0)
    values = np.clip(np.rint(values), 1, 7) if name == "drainage" else np.clip(values, 3.5, 95)
    with rasterio.open(
        path, "w", driver="GTiff", height=shape[0], width=shape[1], count=1, dtype="float32",
        crs="EPSG:32617", transform=Affine(CELL_M, 0, WEST - 130, 0, -CELL_M, SOUTH + high - 130), nodata=-1,
    ) as raster:  # fmt: skip
        raster.write(values.astype(np.float32), 1)
