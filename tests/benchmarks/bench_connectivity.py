"""Seconds that the corridor takes: links, worth, removal, invitations, least cost, a demo-sized town.

Run from the top of the checkout: ``python tests/benchmarks/bench_connectivity.py`` for the smaller sizes,
``--full`` for the larger ones. All data are invented and seeded. A size is run once to compile, then timed;
the figure is the median of three runs, or of one where a run is long. Tests hold each fast
path to its plain twin.
"""

from __future__ import annotations

import argparse
import math
import statistics
import sys
import time
from pathlib import Path

import numpy as np
import shapely
from pyproj import CRS

sys.path.insert(0, str(Path(__file__).parents[2]))

from habitat.connectivity import score_corridor
from habitat.connectivity.by_ground import ground_hops
from habitat.connectivity.connected import connect, importance
from habitat.connectivity.graph import passage_graph, without_dominated
from habitat.connectivity.growing import Stage
from habitat.connectivity.invitations import greedy_order
from habitat.connectivity.links import straight_hops
from habitat.connectivity.reach import Reach
from habitat.grid import Grid
from tests.connectivity.invented_town import request, town

DENSITY = 150.0  # breeding places a square kilometre
REACH = Reach(200.0, 300.0)
CUT = 1e-4


def timed(name: str, run, repeat: int = 3):
    """Run once, then ``repeat`` times; print the median seconds and return the last result."""
    run()
    wall, processor = [], []
    for _ in range(repeat):
        clock, own = time.perf_counter(), time.process_time()
        out = run()
        wall.append(time.perf_counter() - clock)
        processor.append(time.process_time() - own)
    print(
        f"{name:<58} {statistics.median(wall):8.3f} s  (processor {statistics.median(processor):.3f} s)",
        flush=True,
    )
    return out


def places(n: int, seed: int = 5):
    """Return polygons of ``n`` breeding places, spread evenly with some jitter, and their areas [m2]."""
    rng = np.random.default_rng(seed)
    per = math.ceil(math.sqrt(2 * n))
    cell = 1000.0 * math.sqrt(n / DENSITY) / per
    k = rng.permutation(per * per)[:n]
    middle = np.column_stack([k % per, k // per]) * cell + cell / 2 + rng.uniform(-0.15, 0.15, (n, 2)) * cell
    half = rng.uniform(6, 14, (n, 2)).clip(max=0.45 * cell)
    turn = rng.uniform(0, math.pi, n)
    corner = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])[None] * half[:, None]
    c, s = np.cos(turn)[:, None], np.sin(turn)[:, None]
    xy = np.stack([corner[..., 0] * c - corner[..., 1] * s, corner[..., 0] * s + corner[..., 1] * c], -1)
    shapes = shapely.polygons(xy + middle[:, None])
    return shapes, shapely.area(shapes)


def graph_of(shapes):
    """Return all hops of places as a graph."""
    hops = straight_hops(shapes, REACH.hop_m)
    return passage_graph(len(shapes), hops.i, hops.j, REACH.weight(hops.distance_m))


def bench_links_and_worth(sizes):
    for n in sizes:
        shapes, area = places(n)
        timed(f"links, {n} places", lambda s=shapes: straight_hops(s, REACH.hop_m))
        graph = graph_of(shapes)
        once, _ = timed(
            f"dominated links out, {len(graph.to) // 2} links", lambda g=graph: without_dominated(g)
        )
        timed(
            f"equivalent area, {n} places",
            lambda g=once, a=area: connect(g, a, CUT),
            repeat=1 if n > 5000 else 3,
        )


def bench_removal(sizes):
    for n in sizes:
        shapes, area = places(n)
        graph = graph_of(shapes)
        timed(f"removal of every place, {n} places", lambda g=graph, a=area: importance(g, a, CUT), repeat=1)


def bench_invitations(sizes, candidates, picks):
    for here in sizes:
        shapes, area = places(here + candidates)
        graph = graph_of(shapes)
        base = np.arange(here)
        there = np.where(np.arange(here + candidates) < here, area, 0.0)
        stage = Stage(graph, base, there, np.arange(here, here + candidates), area[here:], 1e4, 1.0, CUT)
        name = f"exact greedy, {picks} of {candidates} beside {here}"
        timed(name, lambda s=stage: greedy_order([s], picks), repeat=1)


def bench_least_cost(cells, count, limits):
    rng = np.random.default_rng(6)
    y, x = np.mgrid[0:cells, 0:cells].astype(float)
    v = np.sin(x / 37) + np.cos(y / 29) + np.sin((x + y) / 91)
    cost = np.where(v > 1, 1.0, np.where(v > 0, 3.0, np.where(v > -1, 8.0, 20.0)))
    cost[::64], cost[:, ::96] = 40.0, 40.0
    grid = Grid.from_bounds((0, 0, cells * 5.0, cells * 5.0), 5.0, CRS.from_epsg(32617))
    spot = rng.uniform(20, cells * 5.0 - 60, (count, 2))
    shapes = np.array([shapely.box(*p, *(p + rng.uniform(15, 40, 2))) for p in spot], object)
    for limit in limits:
        name = f"least cost up to {limit} m, {count} places, {cells} x {cells} cells"
        timed(name, lambda m=limit: ground_hops(shapes, float(m), cost, grid), repeat=1)


def bench_town():
    yards, anchors, breeding = town()
    costs = {y: 100.0 + k for k, y in enumerate(yards["yard_id"])}
    asked = request(yards, breeding, anchors=anchors, costs=costs)
    timed("whole corridor, 180 yards, 10 butterflies, 35 candidates", lambda: score_corridor(asked), repeat=1)


if __name__ == "__main__":
    options = argparse.ArgumentParser()
    options.add_argument("--full", action="store_true")
    full = options.parse_args().full
    bench_town()
    bench_links_and_worth((1_000, 5_000, 20_000) if full else (1_000, 5_000))
    bench_removal((200, 1_000, 5_000) if full else (200, 1_000))
    bench_invitations((500, 1_000, 2_000) if full else (500,), 2_000, 20)
    bench_least_cost(1_000, 120, (1_000, 2_000, 4_000) if full else (1_000, 2_000))
