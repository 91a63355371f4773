"""Seconds and peak memory of reading, checking and repairing a county's parcels.

    python tests/benchmarks/bench_layers.py [PARCELS]

Default size: 200,000 parcels (seeded; irregular quadrilaterals in blocks,
    of which 1 in 200 crosses itself, 1 in
300 overlaps its neighbour, 1 in 1000 has no shape) in one GeoPackage with nine columns,
    and a sign-up sheet of
500 addresses. Printed: seconds to read and repair, seconds to describe, peak resident memory.
"""

import resource
import sys
import tempfile
import time
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely

from habitat.layers.check import describe_layers, layers_of

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


def main(count):
    """Write the parcels, read and describe them, print seconds and memory."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        frame = parcels(count)
        frame.to_file(folder / "county.gpkg", layer="parcels")
        rng = np.random.default_rng(1)
        chosen = rng.choice(count, 500, replace=False)
        lines = [
            "address,role",
            *(f"{frame['SITUS'][i].title().replace(' St', ' Street')},member" for i in chosen),
        ]
        (folder / "people.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        (folder / "study.toml").write_text(
            '[layers.yards]\npath = "county.gpkg"\ncolumns = { yard_id = "PIN", address = "SITUS" }\n'
            '[layers.participants]\npath = "people.csv"\n',
            encoding="utf-8",
        )
        del frame
        start = time.perf_counter()
        layers = layers_of(folder / "study.toml")
        read = time.perf_counter() - start
        result = describe_layers(layers)
        described = time.perf_counter() - start - read
        yards, people = result["layers"]["yards"], result["tables"]["participants"]
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{count:,} parcels: read and repaired in {read:.1f} s, described in {described:.1f} s, peak "
            f"{peak:,.0f} MB"
        )
        print(
            {k: yards[k] for k in ("rows_in", "used", "repaired", "set_aside")},
            f"overlap {result['overlap_m2']:,.0f} m2",
        )
        print("participants", people["matched"], "matched,", people["unmatched"], "not")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200_000)
