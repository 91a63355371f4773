"""How long yard sheets take, and whether memory stays flat.

Run from the checkout: ``python tests/benchmarks/bench_sheets.py [yards]`` (150 by default; try 10000). The
small plan of the tests is laid out again and again, 6 planned yards of 7 in each copy, seeded by nothing.
"""

from __future__ import annotations

import dataclasses
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[2]))

from habitat.report.package.provenance import peak_memory_mb
from habitat.report.plan import Plan
from habitat.report.sheets.files import write_sheets
from tests.report.small_plan import small_plan

STEP_M = 120.0
TABLES = ("yards", "existing_plants", "beds", "plantings", "plant_points", "yard_butterflies", "yard_results")
IDS = ("yard_id", "bed_id", "planting_id", "point_id")


def many(plan: Plan, copies: int) -> Plan:
    """Return a plan of as many copies, 120 m apart, each with ids of its own."""
    tables: dict[str, Any] = {name: _copies(getattr(plan, name), copies) for name in TABLES}
    vectors = {
        name: dataclasses.replace(layer, frame=_copies(layer.frame, copies))
        for name, layer in plan.layers.vectors.items()
    }
    site = dataclasses.replace(
        plan.site,
        yards=_copies(plan.site.yards, copies),
        closed_ground=_copies(plan.site.closed_ground, copies),
        height_limits=_copies(plan.site.height_limits, copies),
    )
    return dataclasses.replace(
        plan, layers=dataclasses.replace(plan.layers, vectors=vectors), site=site, **tables
    )


def _copies(frame: Any, copies: int) -> Any:
    parts = []
    for k in range(copies):
        part = frame.copy()
        for column in IDS:
            if column in part:
                part[column] = [f"{k}-{value}" for value in part[column]]
        if isinstance(part, gpd.GeoDataFrame):
            part = part.set_geometry(part.geometry.translate(STEP_M * (k % 100), STEP_M * (k // 100)))
        parts.append(part)
    whole = pd.concat(parts, ignore_index=True)
    return gpd.GeoDataFrame(whole, crs=frame.crs) if isinstance(frame, gpd.GeoDataFrame) else whole


def main(yards: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        plan = many(small_plan(folder / "study"), -(-yards // 6))
        marks: list[tuple[int, float, float]] = []
        start, processor = time.perf_counter(), time.process_time()

        def tell(_: str, done: int, total: int) -> None:
            if done and done % max(total // 5, 1) == 0:
                marks.append((done, time.perf_counter() - start, peak_memory_mb()))

        write_sheets(plan, folder / "sheets", progress=tell)
        seconds = time.perf_counter() - start
        for done, at, peak in marks:
            print(f"{done:6d} sheets after {at:7.1f} s, peak {peak:6.0f} MB")
        made = len(list((folder / "sheets").glob("yard-*.pdf")))
        used = time.process_time() - processor
        print(
            f"{made} sheets and the print files: {seconds:.1f} s, of processor time {used:.1f} s "
            f"({1000 * used / made:.0f} ms a sheet), peak {peak_memory_mb():6.0f} MB"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 150)
