"""How long page and GIS package take, how large they get, how much memory: ``python bench_page.py [COPIES]``.

The seven yards of the report tests stand side by side again and again: 147, 1,400 and 10,003 yards.
Loading is what the main thread of Chromium takes (thread ticks, DevTools protocol), and its heap then.
"""

import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import pandas as pd
from shapely.affinity import translate

sys.path.insert(0, str(Path(__file__).parents[2]))

from habitat.report.package.geopackage import write_geopackage
from habitat.report.package.provenance import peak_memory_mb, reset_peak_memory
from habitat.report.page.page import write_page
from habitat.report.plan import Plan
from tests.report.browser import browser
from tests.report.small_plan import small_plan

COPIES = (21, 200, 1429)
IDS = ("yard_id", "bed_id", "planting_id", "point_id", "from_yard", "to_yard")
TABLES = (
    "yards", "existing_plants", "beds", "plantings", "plant_points", "yard_butterflies", "links",
    "open_ground", "breeding", "yard_results",
)  # fmt: skip


def many(plan: Plan, copies: int) -> Plan:
    """Return the plan with its yards repeated in a square of streets; anchors stay two."""
    side = int(copies**0.5) + 1
    tables = {name: repeated(getattr(plan, name), copies, side) for name in TABLES}
    vectors = {
        name: replace(layer, frame=repeated(layer.frame, copies, side))
        if name in ("yards", "buildings", "paving", "trees")
        else layer
        for name, layer in plan.layers.vectors.items()
    }
    return replace(plan, layers=replace(plan.layers, vectors=vectors), **tables)


def repeated(frame, copies, side):
    """Return the rows of a table ``copies`` times, ids and shapes moved apart; rows of anchors once."""
    parts = []
    for k in range(copies):
        part = frame.copy()
        for column in set(IDS) & set(part.columns):
            part[column] = [v if str(v).startswith("anchor:") else f"{k}-{v}" for v in part[column]]
        if k and "yard_id" in part:
            part = part[~part["yard_id"].str.startswith("anchor:")]
        if "geometry" in part:
            part["geometry"] = [translate(g, 260 * (k % side), 130 * (k // side)) for g in part.geometry]
        parts.append(part)
    out = pd.concat(parts, ignore_index=True)
    return gpd.GeoDataFrame(out, geometry="geometry", crs=frame.crs) if "geometry" in out else out


def loading(page: Path, profile: Path) -> str:
    """Say what loading a page takes."""
    with browser(profile, 1200, 900) as driver:
        driver.set_page_load_timeout(300)
        driver.execute_cdp_cmd("Performance.enable", {"timeDomain": "threadTicks"})
        driver.get(page.as_uri())
        driver.execute_cdp_cmd("HeapProfiler.collectGarbage", {})
        found = {
            m["name"]: m["value"] for m in driver.execute_cdp_cmd("Performance.getMetrics", {})["metrics"]
        }
    return f"loading {found['TaskDuration']:5.2f} s CPU, heap {found['JSHeapUsedSize'] / 1e6:5.1f} MB"


def main() -> None:
    """Print one line per size."""
    sizes = tuple(map(int, sys.argv[1:])) or COPIES
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        plan = small_plan(folder / "study")
        for copies in sizes:
            large = many(plan, copies)
            reset_peak_memory()
            start = time.perf_counter()
            write_page(large, folder / "page.html")
            page_s = time.perf_counter() - start
            peak = peak_memory_mb()
            start = time.perf_counter()
            write_geopackage(large, folder / f"{copies}.gpkg")
            package_s = time.perf_counter() - start
            print(
                f"{len(large.yards):6d} yards, {len(large.plant_points):7d} plants: page {page_s:6.2f} s, "
                f"{(folder / 'page.html').stat().st_size / 1e6:6.2f} MB, process peak {peak:6.0f} MB; "
                f"package {package_s:6.2f} s; {loading(folder / 'page.html', folder / f'profile-{copies}')}"
            )


if __name__ == "__main__":
    main()
