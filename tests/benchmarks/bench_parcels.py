"""Seconds and peak memory of reading, checking and repairing a county's parcels; the goal is 60 s and 3 GB.

python tests/benchmarks/bench_parcels.py [PARCELS]

Default: 200,000 parcels (seeded; irregular quadrilaterals in blocks, of which 1 in 200 crosses itself, 1 in
300 overlaps its neighbour, 1 in 1000 has no shape) in one GeoPackage with nine columns, a sheet of 500
addresses, and 5,000 plants. Printed: seconds and processor seconds of the whole check, peak resident memory.
"""

import resource
import sys
import tempfile
import time
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely

from habitat.commands.check.account import check_study
from habitat.commands.check.words import word_notes

WEST, SOUTH = 320_000.0, 4_400_000.0


def parcels(count, seed=7):
    """Return parcels as a frame on EPSG:32617."""
    rng = np.random.default_rng(seed)
    side = int(np.ceil(np.sqrt(count)))
    x, y = np.meshgrid(np.arange(side + 1) * 24.0, np.arange(side + 1) * 36.0)
    x = WEST + x + rng.uniform(-3, 3, x.shape) + (np.arange(side + 1) // 8 * 14.0)[None, :]
    y = SOUTH + y + rng.uniform(-3, 3, y.shape) + (np.arange(side + 1) // 2 * 14.0)[:, None]
    corners = np.stack([np.stack([x[a, b], y[a, b]], -1) for a, b in
                        ((slice(None, -1), slice(None, -1)), (slice(None, -1), slice(1, None)),
                         (slice(1, None), slice(1, None)), (slice(1, None), slice(None, -1)))],
                         2)  # fmt: skip
    corners = corners.reshape(-1, 4, 2)[:count]
    crossed = rng.random(count) < 1 / 200
    corners[crossed] = corners[crossed][:, [0, 2, 1, 3]]
    wide = rng.random(count) < 1 / 300
    corners[wide, 1:3, 0] += 1.5
    shapes = shapely.polygons(corners)
    shapes[rng.random(count) < 1 / 1000] = None
    ids = [f"{i:012d}" for i in range(count)]
    return gpd.GeoDataFrame(
        {"PIN": ids, "SITUS": [f"{100 + i % 900} {NAMES[i // 900 % len(NAMES)]} {i // 90_000 or ''} "
                               "ST".replace("  ", " ") for i in range(count)]}
        | {f"FIELD_{k}": rng.integers(0, 1000, count) for k in range(7)},
        geometry=shapes, crs=32617,
    )  # fmt: skip


NAMES = [f"{a}{b}" for a in ("PLUM", "KILN", "MILL", "ELM", "OAK", "ASH", "FERN", "REED", "MOSS",
         "SAGE") for b in ("WOOD", "DALE", "FORD", "RIDGE", "BROOK", "GATE", "LEA", "STONE", "FIELD",
         "HURST")]  # fmt: skip


def write_study(folder, count):
    """Write parcels, sheet, plants and the study file; return its path."""
    frame = parcels(count)
    frame.to_file(folder / "county.gpkg", layer="parcels")
    rng = np.random.default_rng(1)
    lines = [
        "address,role",
        *(
            f"{frame['SITUS'][i].title().replace(' St', ' Street')},member"
            for i in rng.choice(count, 500, replace=False)
        ),
    ]
    (folder / "people.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    west, south, east, north = frame.total_bounds
    places = rng.uniform((west, south), (east, north), (5_000, 2))
    rows = [f"Zizia aurea,{x:.2f},{y:.2f}" for x, y in places]
    (folder / "plants.csv").write_text("\n".join(["plant,x,y", *rows]) + "\n", encoding="utf-8")
    path = folder / "study.toml"
    path.write_text(
        '[layers.yards]\npath = "county.gpkg"\ncolumns = { yard_id = "PIN", address = "SITUS" }\n'
        '[layers.participants]\npath = "people.csv"\n'
        '[layers.plants]\npath = "plants.csv"\ncrs = "EPSG:32617"\n',
        encoding="utf-8",
    )
    return path


def main(count):
    """Write the parcels, check them, print seconds and memory."""
    with tempfile.TemporaryDirectory() as name:
        path = write_study(Path(name), count)
        start, worked = time.perf_counter(), time.process_time()
        result = check_study(path, None, word_notes)
        seconds, worked = time.perf_counter() - start, time.process_time() - worked
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    yards, people = result["layers"]["yards"], result["tables"]["participants"]
    counts = {k: yards[k] for k in ("rows_in", "used", "repaired", "set_aside")}
    lines = (
        f"{count:,} parcels: {seconds:.1f} s, {worked:.1f} s of processor time, peak {peak:,.0f} MB",
        f"{counts}, overlap {result['overlap_m2']:,.0f} m2",
        f"participants {people['matched']} matched, {people['unmatched']} not",
        f"plants {len(result['plants'])}",
    )
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200_000)
