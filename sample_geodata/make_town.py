"""Draw the invented town of Quillwater and write it as geodata: ``python make_town.py [FOLDER]``.

Everything follows from the streets in ``town_streets.py`` and one seed. No person, place or firm is real.
"""

from __future__ import annotations

import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

sys.path.insert(0, str(Path(__file__).parent))

from town_ground import CRS, ORIGIN, write_rasters
from town_houses import Built, build, wild_trees
from town_lots import Lot, lots
from town_people import addresses, growers, participants, plants, sightings, soil_tests
from town_streets import BREEDING, EXTENT, Street, anchors, creek_water, streets

SEED = 20260301


def make_town(folder: Path) -> None:
    """Write all files of the town into a folder; files of an earlier town there are replaced."""
    folder.mkdir(parents=True, exist_ok=True)
    ways = streets()
    found = lots(ways, np.random.default_rng(SEED))
    built = build(found, np.random.default_rng(SEED + 1))
    trees = built.trees + wild_trees(np.random.default_rng(SEED + 2))
    parcel = [f"{lot.block:02d}-{lot.number:03d}" for lot in found]
    address = addresses(found)
    _write_vectors(folder / "town.gpkg", ways, found, parcel, address, built, trees)
    write_rasters(folder, built.buildings, trees)
    _write_tables(folder, found, parcel, address, built)


def _write_vectors(
    path: Path,
    ways: list[Street],
    found: list[Lot],
    parcel: list[str],
    address: list[str],
    built: Built,
    trees: list[dict],
) -> None:
    path.unlink(missing_ok=True)
    roads = [
        {"kind": "road", "geometry": s.line.buffer(s.paved_m / 2, cap_style="flat").intersection(EXTENT)}
        for s in ways
    ]
    layers = {
        "yards": [
            {"parcel": p, "address": a, "geometry": lot.shape}
            for p, a, lot in zip(parcel, address, found, strict=True)
        ],
        "buildings": built.buildings,
        "paving": built.paving + roads,
        "water": [{"name": "Quill Creek", "geometry": creek_water()}],
        "trees": trees,
        "streets": [
            {
                "name": s.name,
                "kind": s.kind,
                "width_m": s.paved_m,
                "busy": s.busy,
                "geometry": s.line.intersection(EXTENT),
            }
            for s in ways
        ],
        "wires": _overhead(ways),
        "buried": _buried(ways) + built.laterals,
        "septic": built.septic,
        "fences": built.fences,
        "anchors": [
            {"name": n, "host_share": s, "butterflies": BREEDING.get(n), "geometry": g}
            for n, s, g in anchors()
        ],
    }
    for name, rows in layers.items():
        frame = gpd.GeoDataFrame(rows, geometry="geometry")
        shapes = shapely.set_precision(frame.geometry.array, 0.01)
        frame = frame.set_geometry(shapely.transform(shapes, lambda xy: xy + ORIGIN), crs=CRS)
        frame.to_file(path, layer=name, driver="GPKG")


def _overhead(ways: list[Street]) -> list[dict]:
    served = {"Ferry Road", "Mill Street", "Orchard Street", "Wood End", "Fen Road"}
    return [
        {
            "kind": "distribution",
            "height_m": 8.5,
            "geometry": s.line.offset_curve(s.row_m / 2 - 0.8).intersection(EXTENT),
        }
        for s in ways
        if s.name in served
    ]


def _buried(ways: list[Street]) -> list[dict]:
    return [
        {"kind": "gas main", "geometry": s.line.offset_curve(-(s.row_m / 2 - 1.2)).intersection(EXTENT)}
        for s in ways
        if s.kind != "lane"
    ]


def _write_tables(
    folder: Path, found: list[Lot], parcel: list[str], address: list[str], built: Built
) -> None:
    shut = shapely.union_all([row["geometry"] for row in built.buildings + built.paving]).buffer(0.7)
    ground = [lot.shape.buffer(-1.2).difference(shut) for lot in found]
    sheet = participants(found, parcel, address, np.random.default_rng(SEED + 3))
    tables: dict[str, pd.DataFrame] = {
        "participants": sheet,
        "plants": plants(found, ground, np.random.default_rng(SEED + 4)),
        "soil_tests": soil_tests(sheet, np.random.default_rng(SEED + 5)),
        "growers": growers(),
        "sightings": sightings(found, np.random.default_rng(SEED + 6)),
    }
    for name, table in tables.items():
        table.to_csv(folder / f"{name}.csv", index=False, lineterminator="\n")


if __name__ == "__main__":
    make_town(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
