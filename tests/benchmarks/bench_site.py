"""Seconds and memory of the site's heavy parts, on invented, seeded data.

Run: python -m tests.benchmarks.bench_site [--large]

sun 2000 : plain opaque surface of 2000 x 2000 cells of 1 m, seven mid-month days in 15-minute steps, true
azimuths; months and halves of the day counted apart. sun 2000 season : the season's mean alone.
sun 2000 sloped : months and halves, and the ground's slope.
zonal : 5,000 yards, 6 layers of 2000 x 2000 cells, against exactextract called alone. ground : 1,000 yards
with houses, paving, trees.
"""

from __future__ import annotations

import argparse
import json
import resource
import statistics
import time

import geopandas as gpd
import numpy as np
import shapely
from exactextract import exact_extract
from exactextract.raster import NumPyRasterSource

from habitat.cells import zonal_table
from habitat.grid import Grid
from habitat.sun.path import Place, sun_path
from habitat.sun.shadows import heights_of, lit_counts
from tests.support.small_layers import UTM17, Small


def town(size: int, seed: int = 1) -> np.ndarray:
    """Gentle ground, a house and two trees to each lot of 26 m."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:size, 0:size].astype(np.float32)
    land = 4 * np.sin(x / 260) + 3 * np.cos(y / 340) + 0.01 * x
    for r in range(0, size - 26, 26):
        for c in range(0, size - 26, 26):
            h, w = rng.integers(8, 14, 2)
            r0, c0 = r + rng.integers(2, 10), c + rng.integers(2, 10)
            land[r0 : r0 + h, c0 : c0 + w] = land[r0, c0] + rng.uniform(3.5, 9)
            for _ in range(2):
                rr, cc, k = r + rng.integers(3, 22), c + rng.integers(3, 22), rng.integers(1, 4)
                land[rr - k : rr + k, cc - k : cc + k] = np.maximum(
                    land[rr - k : rr + k, cc - k : cc + k], rng.uniform(4, 16)
                )
    return land.astype(np.float32)


def yards(count: int, extent: float, seed: int = 2) -> gpd.GeoSeries:
    """Rotated boxes with a notch, spread over a square."""
    rng = np.random.default_rng(seed)
    side = int(np.ceil(np.sqrt(count)))
    step = extent / side
    base = np.array([(-1, -1), (1, -1), (1, 0.2), (0.4, 0.3), (0.4, 1), (-1, 1)]) * min(28.0, step) * 0.45
    shapes = []
    for k in rng.permutation(side * side)[:count]:
        a = rng.uniform(-0.15, 0.15)
        turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
        shapes.append(shapely.Polygon(base @ turn + ((k % side + 0.5) * step, (k // side + 0.5) * step)))
    return gpd.GeoSeries(shapes, crs=UTM17)


def timed(name: str, work, repeat: int = 5, **more: object) -> float:
    """Print what some work takes and return its median processor time [s], which other work does not blur."""
    work()
    times, processor = [], []
    for _ in range(repeat):
        start, busy = time.perf_counter(), time.process_time()
        work()
        times.append(time.perf_counter() - start)
        processor.append(time.process_time() - busy)
    row = {"name": name, "seconds": round(statistics.median(times), 3), "least": round(min(times), 3)}
    row["processor"] = round(statistics.median(processor), 3)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps({**row, "runs": repeat, "peak_mb": round(peak), **more}), flush=True)
    return statistics.median(processor)


def bench_sun(size: int, repeat: int = 5) -> None:
    path = sun_path(Place(39.9, -83.0), range(4, 11))
    group = (path.month - 4) * 2 + path.afternoon
    land = town(size)
    plain, sloped = heights_of(land, 1.0), heights_of(land, 1.0, ground=land)
    season = np.arange(len(path.month)) // 255  # as few groups as a byte of counts allows
    timed(f"sun {size} season", lambda: lit_counts(plain, path, season), repeat, positions=len(path.month))
    timed(f"sun {size}", lambda: lit_counts(plain, path, group), repeat, positions=len(path.month))
    timed(f"sun {size} sloped", lambda: lit_counts(sloped, path, group), repeat, positions=len(path.month))


def bench_zonal(size: int = 2000, count: int = 5000) -> None:
    rng = np.random.default_rng(3)
    grid = Grid.from_bounds((0, 0, size, size), 1.0, UTM17)
    rasters = {f"layer{i}": rng.random((size, size), np.float32) for i in range(6)}
    shapes = yards(count, float(size))
    frame = gpd.GeoDataFrame(geometry=shapes)

    def alone() -> None:
        wkt = UTM17.to_wkt()
        sources = [NumPyRasterSource(r, *grid.bounds, name=n, srs_wkt=wkt) for n, r in rasters.items()]
        exact_extract(sources, frame, ["count", "mean"], output="pandas")

    ours = timed("zonal", lambda: zonal_table(shapes, rasters, grid), 3, yards=count, layers=6)
    theirs = timed("zonal, exactextract alone", alone, 3)
    print(json.dumps({"name": "zonal, ratio", "ratio": round(ours / theirs, 2)}))


def bench_ground(count: int = 1000) -> None:
    shapes = yards(count, np.sqrt(count) * 30)
    frame = gpd.GeoDataFrame(
        {"yard_id": [f"y{i:05d}" for i in range(count)], "role": "member"}, geometry=shapes
    ).assign(area_m2=shapes.area)
    middle = shapes.centroid
    house = gpd.GeoDataFrame(
        {"height_m": 6.0}, geometry=middle.buffer(4, cap_style="square"), index=frame.index
    )
    paving = gpd.GeoDataFrame(geometry=middle.translate(7, 0).buffer(2, cap_style="square"))
    trees = gpd.GeoDataFrame({"crown_m": 5.0}, geometry=middle.translate(-6, 5), index=frame.index)
    made = Small(frame, vectors={"buildings": house, "paving": paving, "trees": trees})
    timed("ground", made.ground, 1, yards=count)


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--large", action="store_true", help="also 5000 x 5000 cells")
    asked = parser.parse_args()
    bench_sun(500)
    bench_sun(2000)
    if asked.large:
        bench_sun(5000, 2)
    bench_zonal()
    bench_ground()
