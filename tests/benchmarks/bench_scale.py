"""How time and memory of each stage grow with the town: the sample town laid side by side, run whole.

``python tests/benchmarks/bench_scale.py 1 4 16 [--workers N] [--cluster C] [--json FILE]``
writes a study of so many tiles each (225 parcels and 120 planned yards a tile) into a scratch folder and runs
it in a process of its own. Told: seconds and peak memory by stage, processor seconds in all, and the exponent
of time in yards (1.0 is a flat cost a yard) from a straight line through the logarithms.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import rasterio
from pyproj import Transformer

TOWN = Path(__file__).parents[2] / "sample_geodata"
YARDS = 225
PLACES = ("plants.csv", "sightings.csv")
IDS = {"participants.csv": "yard_id", "soil_tests.csv": "yard_id"}


def write_town(folder: Path, tiles: int) -> Path:
    """Write the sample town as many times as told, in rows as long as they are many, and return its study."""
    folder.mkdir()
    shutil.copy(TOWN / "study.toml", folder)
    across = max(1, round(tiles**0.5))
    with rasterio.open(TOWN / "terrain_m.tif") as raster:
        west, south, east, north = raster.bounds
    moves = [((east - west) * (t % across), -(north - south) * (t // across)) for t in range(tiles)]
    for layer, _ in pyogrio.list_layers(TOWN / "town.gpkg"):
        frame = gpd.read_file(TOWN / "town.gpkg", layer=layer)
        parts = [_moved(frame, t, *move) for t, move in enumerate(moves)]
        whole = gpd.GeoDataFrame(pd.concat(parts, ignore_index=True), crs=frame.crs)
        whole.to_file(folder / "town.gpkg", layer=layer)
    for path in TOWN.glob("*.tif"):
        _tile_raster(path, folder / path.name, across, -(-tiles // across))
    for path in TOWN.glob("*.csv"):
        table = pd.read_csv(path, dtype=str, keep_default_na=False)
        if path.name == "growers.csv":
            table["quantity"] = [str(int(q) * tiles) if q else q for q in table["quantity"]]
        else:
            table = pd.concat([_copied(table, path.name, t, *m) for t, m in enumerate(moves)])
        table.to_csv(folder / path.name, index=False)
    return folder / "study.toml"


def _moved(frame: gpd.GeoDataFrame, tile: int, dx: float, dy: float) -> gpd.GeoDataFrame:
    out = frame.assign(geometry=frame.geometry.translate(dx, dy))
    for column in ("parcel", "address", "name"):
        if column in out:
            out[column] = out[column] + f" {tile}" if column != "parcel" else out[column] + f"-{tile}"
    return out


def _copied(table: pd.DataFrame, name: str, tile: int, dx: float, dy: float) -> pd.DataFrame:
    out = table.copy()
    if name in IDS:
        out[IDS[name]] += f"-{tile}"
        if "address" in out:
            out["address"] += f" {tile}"
    if name in PLACES:
        metric = Transformer.from_crs(4326, 32617, always_xy=True)
        x, y = metric.transform(out["lon"].astype(float), out["lat"].astype(float))
        lon, lat = metric.transform(x + dx, y + dy, direction="INVERSE")
        out["lon"], out["lat"] = np.round(lon, 7), np.round(lat, 7)
    return out


def _tile_raster(path: Path, target: Path, across: int, down: int) -> None:
    with rasterio.open(path) as source:
        cells, profile = np.tile(source.read(), (1, down, across)), source.profile
        scales, offsets = source.scales, source.offsets
    profile.update(height=cells.shape[1], width=cells.shape[2])
    with rasterio.open(target, "w", **profile) as raster:
        raster.write(cells)
        raster.scales, raster.offsets = scales, offsets


def measure(study: Path, options: list[str]) -> dict[str, object]:
    """Run a study, and return seconds and memory [MB] by stage and processor seconds in all."""
    out, before = study.parent / "out", os.times()
    start = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "habitat", "run", str(study), "--out", str(out), "--quiet", *options],
        check=True,
    )
    wall, after = time.perf_counter() - start, os.times()
    spent = after.children_user + after.children_system - before.children_user - before.children_system
    stages = json.loads((out / "timings.json").read_text(encoding="utf-8"))
    shutil.rmtree(out)
    return {"wall_s": round(wall, 1), "processor_s": round(spent, 1), "stages": stages}


def exponent(yards: list[int], seconds: list[float]) -> float | None:
    """Return the slope of a straight line through the logarithms; None where there is nothing to fit."""
    if len(yards) < 2 or min(seconds) <= 0:
        return None
    return round(float(np.polyfit(np.log(yards), np.log(seconds), 1)[0]), 2)


def main() -> None:
    """Measure towns of the sizes that were asked for."""
    ask = argparse.ArgumentParser()
    ask.add_argument("tiles", type=int, nargs="+")
    ask.add_argument("--workers", default="2")
    ask.add_argument("--cluster", default="")
    ask.add_argument("--json", type=Path)
    asked = ask.parse_args()
    options = ["--workers", asked.workers]
    options += ["--cluster", asked.cluster] if asked.cluster else []
    found: dict[int, dict[str, object]] = {}
    for tiles in asked.tiles:
        with tempfile.TemporaryDirectory() as folder:
            found[tiles] = measure(write_town(Path(folder) / "town", tiles), options)
        print(f"{YARDS * tiles:,} yards: {json.dumps(found[tiles])}", flush=True)
    yards = [YARDS * tiles for tiles in found]
    fitted = {"processor_s": exponent(yards, [float(f["processor_s"]) for f in found.values()])}
    for stage in next(iter(found.values()))["stages"]:
        fitted[stage] = exponent(yards, [float(f["stages"][stage]["seconds"]) for f in found.values()])
    print("exponent of time in yards:", json.dumps(fitted))
    if asked.json:
        told = {"yards": {YARDS * t: f for t, f in found.items()}, "exponent": fitted}
        asked.json.write_text(json.dumps(told, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
