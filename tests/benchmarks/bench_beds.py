"""Seconds for the geometry of planting: bed sites, drawing and the recount of habitat.

Run ``python -m tests.benchmarks.bench_beds [yards]`` from the checkout. Seeded random yards (200 by default,
8-40 m a side, 45 m apart, one house each, 1 m cells, 103 plants); processor seconds of one process once
compiled, median of three runs.
"""

import statistics
import sys
import time

import geopandas as gpd
import pandas as pd
from shapely.affinity import translate

from habitat.planting.habitat_area import recount
from habitat.planting.types import Drawn
from tests.support.yards import KNOWLEDGE, SEASON, SETTINGS, UTM, existing, random_choice, random_yard, scene

BUTTERFLIES = (
    "Danaus plexippus",
    "Papilio polyxenes",
    "Papilio glaucus",
    "Phyciodes tharos",
    "Papilio troilus",
    "Epargyreus clarus",
)


def median_s(work, runs=3):
    """Return the median processor seconds of some runs, and the last result."""
    seconds = []
    for _ in range(runs):
        start = time.process_time()
        result = work()
        seconds.append(time.process_time() - start)
    return statistics.median(seconds), result


def renamed(drawn, k):
    """Return a drawing with ids of its own, so that many fit into one table."""
    frames = []
    for table in (drawn.beds, drawn.plantings, drawn.points):
        frame = table.copy()
        for column in ("yard_id", "bed_id", "planting_id", "point_id"):
            if column in frame:
                frame[column] = frame[column].str.replace("Y1", f"Y{k:05d}", regex=False)
        frames.append(frame)
    return frames


def placed_yard(k):
    """Return the k-th random yard at its place in a town of 20 yards a row."""
    return scene(*(translate(g, 45.0 * (k % 20), 45.0 * (k // 20)) for g in random_yard(k)))


def main(count):
    scenes = [placed_yard(seed) for seed in range(count)]
    scenes[0].draw(random_choice(scenes[0].sites(), 0), scenes[0].sites())
    seconds, sites = median_s(lambda: [one.sites() for one in scenes])
    total = sum(map(len, sites))
    print(f"bed sites: {count} yards, {total} sites: {seconds:.2f} s, {1000 * seconds / count:.0f} ms a yard")
    choices = [random_choice(s, seed) for seed, s in enumerate(sites)]
    pairs = list(zip(scenes, choices, sites, strict=True))
    seconds, drawn = median_s(lambda: [one.draw(choice, s) for one, choice, s in pairs])
    placed = sum(len(d.points) for d in drawn)
    wanted = sum(a.count for c in choices for a in c.allocations)
    print(
        f"drawing: {placed} of {wanted} plants: {seconds:.2f} s, {1000 * seconds / count:.0f} ms a yard "
        "(far more plants than a household's money buys)"
    )
    parts = zip(*(renamed(d, k) for k, d in enumerate(drawn)), strict=True)
    tables = [gpd.GeoDataFrame(pd.concat(p, ignore_index=True), geometry="geometry", crs=UTM) for p in parts]
    names = [f"Y{k:05d}" for k in range(count)]
    yards = gpd.GeoDataFrame(
        {"yard_id": names, "role": "member"}, geometry=[one.yard["geometry"] for one in scenes], crs=UTM
    )
    table = Drawn(*tables)
    rules = {"knowledge": KNOWLEDGE, "settings": SETTINGS, "season": SEASON}
    seconds, _ = median_s(lambda: recount(yards, existing(), table, BUTTERFLIES, **rules))
    print(f"recount: {count} yards x {len(BUTTERFLIES)} butterflies: {seconds:.2f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
