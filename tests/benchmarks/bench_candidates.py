"""How long the quick look at who may be asked takes: python tests/benchmarks/bench_candidates.py [yards]."""

from __future__ import annotations

import resource
import sys
import time
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from habitat.knowledge import load_knowledge
from habitat.pipeline.candidates import with_candidates
from habitat.suitability import compile_needs
from tests.connectivity.invented_town import BUTTERFLIES, CRS_M, layers_of, request


def main(count: int) -> None:
    """Take yards of 30 m in a square, a third of them members, and time the rule and the quick look."""
    rng = np.random.default_rng(7)
    side = int(np.ceil(np.sqrt(count)))
    x, y = (v.ravel()[:count] * 32.0 for v in np.meshgrid(np.arange(side), np.arange(side)))
    ids = [f"{k:05d}" for k in range(count)]
    role = np.where(rng.random(count) < 1 / 3, "member", "other")
    yards = gpd.GeoDataFrame(
        {"yard_id": ids, "role": role, "area_m2": 900.0},
        geometry=shapely.box(x, y, x + 30, y + 30),
        crs=CRS_M,
    )
    signed = [i for i, r in zip(ids, role, strict=True) if r == "member"]
    sheet = gpd.GeoDataFrame({"yard_id": signed}, geometry=[None] * len(signed), crs=CRS_M)
    made = request(yards, yards.iloc[:0], layers={"participants": sheet}, connectivity={"candidates": "all"})
    knowledge = load_knowledge()
    needs = compile_needs(knowledge, assessed=("sun_h", "ph"))
    ground = {"yard_id": ids, "open_m2": rng.uniform(0, 600, count)}
    ground |= {"sun_h_mean": rng.uniform(0, 12, count), "ph_mean": rng.uniform(4.5, 8, count)}
    site = SimpleNamespace(yards=pd.DataFrame(ground))
    start = time.perf_counter()
    _, quick, _ = with_candidates(made.study, layers_of(made), site, needs, knowledge, BUTTERFLIES)
    took = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{count} yards, {len(BUTTERFLIES)} butterflies: {took:.1f} s, peak {peak:.0f} MB")
    print(f"{1e6 * took / len(quick):.0f} us a yard")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
