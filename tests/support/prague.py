"""Real parcels for the main job: momepy's bundled Prague parcels and buildings, moved to the demo's latitude.

Source: the package momepy (BSD-3-Clause), data set "bubenec", layers plots and buildings. The shapes are the
data set's own (in UTM 33N, true to scale); only the place is moved, by a shift in metres, so that the sun
stands where the plant tables expect it. Soil rasters are invented.
"""

from pathlib import Path

import geopandas as gpd
import momepy
import numpy as np
import rasterio
from affine import Affine

CENTRE = (337_575.0, 4_418_386.0)  # 39.9 N, 82.9 W on EPSG:32617
STUDY = """\
[study]
name = "Parcels"
date = 2026-03-01
crs = "EPSG:32617"
[layers.yards]
path = "parcels.gpkg"
layer = "yards"
[layers.buildings]
path = "parcels.gpkg"
layer = "buildings"
[layers.participants]
path = "participants.csv"
[layers.anchors]
path = "parcels.gpkg"
layer = "anchors"
[rasters.ph]
path = "ph.tif"
[rasters.sand_pct]
path = "sand_pct.tif"
[rasters.clay_pct]
path = "clay_pct.tif"
[rasters.drainage]
path = "drainage.tif"
[planting]
wishes = ["Danaus plexippus", "Papilio polyxenes", "Phyciodes tharos"]
[connectivity]
invite = 3
candidates = "sheet"
"""


def parcels():
    """Return the parcels and the buildings on EPSG:32617, moved by a shift in metres."""
    path = momepy.datasets.get_path("bubenec")
    plots = gpd.read_file(path, layer="plots").to_crs(32633)
    houses = gpd.read_file(path, layer="buildings").to_crs(32633)
    west, south, east, north = plots.total_bounds
    shift = (CENTRE[0] - (west + east) / 2, CENTRE[1] - (south + north) / 2)
    yards = gpd.GeoDataFrame(
        {"yard_id": [f"P{i:03d}" for i in range(len(plots))]},
        geometry=plots.geometry.translate(*shift).set_crs(32617, allow_override=True).values,
        crs=32617,
    )
    buildings = gpd.GeoDataFrame(
        {"height_m": [8.0 + 3.0 * (i % 4) for i in range(len(houses))]},
        geometry=houses.geometry.translate(*shift).set_crs(32617, allow_override=True).values,
        crs=32617,
    )
    return yards, buildings


def write_study(folder: Path, planned: int = 40, *, extra: str = "") -> Path:
    """Write a study with every parcel, of which some are members and candidates."""
    folder.mkdir(parents=True, exist_ok=True)
    yards, buildings = parcels()
    target = folder / "parcels.gpkg"
    yards.to_file(target, layer="yards")
    buildings.to_file(target, layer="buildings")
    corners = yards.geometry.representative_point()
    ends = [corners.x.idxmin(), corners.x.idxmax()]
    anchors = gpd.GeoDataFrame(
        {"name": ["west meadow", "east meadow"], "host_share": [0.2, 0.2]},
        geometry=[yards.geometry[i].buffer(-1.0) for i in ends],
        crs=32617,
    )
    anchors.to_file(target, layer="anchors")
    roomy = yards.loc[(yards.area > 250) & (yards.area < 1500) & ~yards.index.isin(ends), "yard_id"].iloc[
        :planned
    ]
    lines = ["yard_id,role,publish"]
    lines += [f"{y},{'candidate' if k % 3 == 2 else 'member'},no" for k, y in enumerate(roomy)]
    (folder / "participants.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    _soil(folder, yards.total_bounds)
    path = folder / "study.toml"
    path.write_text(STUDY + extra, encoding="utf-8")
    return path


def _soil(folder: Path, bounds) -> None:
    west, south, east, north = bounds
    cell, shape = 10.0, (int((north - south) // 10) + 12, int((east - west) // 10) + 12)
    transform = Affine(cell, 0, west - 50, 0, -cell, north + 50)
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]]
    fields = {
        "ph": 6.3 + 0.6 * np.sin(x / 20) + 0.3 * np.cos(y / 15),
        "sand_pct": 40 + 15 * np.sin(y / 18),
        "clay_pct": 20 + 6 * np.cos(x / 25),
        "drainage": np.clip(np.rint(4.5 + 1.2 * np.sin((x + y) / 30)), 1, 7),
    }
    for name, values in fields.items():
        with rasterio.open(
            folder / f"{name}.tif",
            "w",
            driver="GTiff",
            height=shape[0],
            width=shape[1],
            count=1,
            dtype="float32",
            crs="EPSG:32617",
            transform=transform,
            nodata=-1,
        ) as raster:
            raster.write(values.astype("float32"), 1)
