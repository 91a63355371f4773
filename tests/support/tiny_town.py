"""Tiny invented towns, planned in a few seconds, and what of results a run that follows reads."""

from __future__ import annotations

import random
from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
from affine import Affine
from shapely.geometry import box

from habitat.report.lists.decisions import write_decisions
from habitat.report.package.carried import write_carried
from habitat.report.package.geopackage import write_geopackage, write_run_json

WEST, SOUTH = 337_575.0, 4_418_386.0  # 39.9 N, 82.9 W on EPSG:32617
STUDY = """\
[study]
name = "Tiny town"
date = {year}-03-01
crs = "EPSG:32617"
[layers.yards]
path = "town.gpkg"
layer = "yards"
[layers.buildings]
path = "town.gpkg"
layer = "buildings"
[layers.anchors]
path = "town.gpkg"
layer = "anchors"
[layers.participants]
path = "participants.csv"
{growers}[rasters.drainage]
path = "drainage.tif"
[planting]
wishes = ["monarch", "black swallowtail"]
budget = {budget}
plants = ["swamp milkweed", "butterfly milkweed", "golden alexanders", "wild bergamot", "wild geranium",
  "Symphyotrichum laeve", "New England aster", "dense blazing star", "foxglove beardtongue",
  "little bluestem"]
[connectivity]
invite = 2
rank_draws = 0
"""
GROWERS = '[layers.growers]\npath = "growers.csv"\n'


def write_town(folder: Path, chance: random.Random, roles: dict[str, str], year: int = 2026) -> Path:
    """Write a street of yards, a house in each, a meadow at its end; wet ground at one side."""
    folder.mkdir(parents=True, exist_ok=True)
    yards, houses, x = [], [], WEST
    for _ in roles:
        wide, deep = chance.uniform(12, 20), chance.uniform(22, 30)
        yards.append(box(x, SOUTH, x + wide, SOUTH + deep))
        houses.append(box(x + 2, SOUTH + 3, x + wide - 2, SOUTH + chance.uniform(9, 12)))
        x += wide
    meadow = box(x + 5, SOUTH, x + 45, SOUTH + 30)
    file = folder / "town.gpkg"
    frames = {
        "yards": gpd.GeoDataFrame({"yard_id": list(roles)}, geometry=yards, crs=32617),
        "buildings": gpd.GeoDataFrame({"height_m": [6.0] * len(houses)}, geometry=houses, crs=32617),
        "anchors": gpd.GeoDataFrame(
            {"name": ["meadow"], "host_share": [0.2], "butterflies": ["all"]}, geometry=[meadow], crs=32617
        ),
    }
    for layer, frame in frames.items():
        frame.to_file(file, layer=layer)
    rows = [f"{yard},{role},no" for yard, role in roles.items()]
    (folder / "participants.csv").write_text(
        "\n".join(["yard_id,role,publish", *rows]) + "\n", encoding="utf-8"
    )
    _wet(folder / "drainage.tif", x, chance)
    stocked = chance.random() < 0.5
    if stocked:
        stock = f"plant,form,price,quantity\nAsclepias incarnata,plug,2,{chance.randint(10, 60)}\n"
        (folder / "growers.csv").write_text(stock, encoding="utf-8")
    text = STUDY.format(year=year, budget=chance.randint(60, 200), growers=GROWERS if stocked else "")
    path = folder / "study.toml"
    path.write_text(text, encoding="utf-8")
    return path


def _wet(path: Path, east: float, chance: random.Random) -> None:
    """Write drainage classes: poorly drained up to somewhere along the street, well drained beyond."""
    shape = (16, int((east - WEST) // 5) + 24)
    values = np.full(shape, 5, np.float32)
    values[:, : chance.randint(8, shape[1] - 8)] = 2
    with rasterio.open(
        path, "w", driver="GTiff", height=shape[0], width=shape[1], count=1, dtype="float32",
        crs="EPSG:32617", transform=Affine(5, 0, WEST - 30, 0, -5, SOUTH + 55), nodata=-1,
    ) as raster:  # fmt: skip
        raster.write(values, 1)


def write_for_next(plan, folder: Path) -> Path:
    """Write what a run with ``--after`` reads of results, without sheets, maps and lists."""
    folder.mkdir(parents=True)
    write_geopackage(plan, folder / "plan.gpkg")
    write_run_json(plan, folder / "run.json")
    write_carried(plan, folder / "for_next_run.json")
    write_decisions(plan, folder / "decisions.csv")
    return folder
