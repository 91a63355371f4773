"""Seconds that the corridor takes: links, worth, removal, invitations, least cost, a demo-sized town.

Run from the top of the checkout: ``python tests/benchmarks/bench_connectivity.py`` for the smaller sizes,
``--full`` for the larger ones. All data are invented and seeded. A size is run once to compile, then timed;
the figure is the least of some runs, or of one where a run is long. Processor seconds are of all threads
together. Tests hold each fast path to its plain twin.
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from pathlib import Path

import numpy as np
import shapely
from pyproj import CRS

sys.path.insert(0, str(Path(__file__).parents[2]))

from habitat.connectivity.distance.least_cost import links_by_cost
from habitat.connectivity.distance.links import straight_links
from habitat.connectivity.distance.reach import Reach
from habitat.connectivity.graph._removal_kernels import passing
from habitat.connectivity.graph.passages import limit_of, passage_graph, without_dominated
from habitat.connectivity.invitations.gains import ChoiceGraph
from habitat.connectivity.invitations.search import greedy_order
from habitat.connectivity.measures.connected_area import connect, importance
from habitat.grid import Grid
from tests.connectivity.invented_town import request, score, town

DENSITY = 150.0  # breeding places a square kilometre
REACH = Reach(200.0, 300.0)
CUT = 1e-4


def timed(name: str, run, repeat: int = 3):
    """Run once, then ``repeat`` times; print the least seconds and return the last result."""
    if repeat > 1:
        run()
    wall, processor = [], []
    for _ in range(repeat):
        clock, own = time.perf_counter(), time.process_time()
        out = run()
        wall.append(time.perf_counter() - clock)
        processor.append(time.process_time() - own)
    print(
        f"{name:<58} {min(wall):8.3f} s  (processor {min(processor):.3f} s)",
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
    half = rng.uniform((6, 8), (14, 18), (n, 2)).clip(max=0.45 * cell)
    turn = rng.uniform(0, math.pi, n)
    corner = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])[None] * half[:, None]
    c, s = np.cos(turn)[:, None], np.sin(turn)[:, None]
    xy = np.stack([corner[..., 0] * c - corner[..., 1] * s, corner[..., 0] * s + corner[..., 1] * c], -1)
    shapes = shapely.polygons(xy + middle[:, None])
    return shapes, shapely.area(shapes)


def graph_of(shapes):
    """Return all links of places as a graph."""
    links = straight_links(shapes, REACH.longest_m)
    return passage_graph(len(shapes), links.i, links.j, REACH.weight(links.distance_m))


def bench_links_and_worth(sizes):
    for n in sizes:
        shapes, area = places(n)
        often = 5 if n <= 5_000 else 2 if n <= 20_000 else 1
        links = timed(f"links, {n} places", lambda s=shapes: straight_links(s, REACH.longest_m), often)
        graph = passage_graph(n, links.i, links.j, REACH.weight(links.distance_m))
        once, _ = timed(
            f"dominated links out, {len(links.i)} links", lambda g=graph: without_dominated(g), often
        )
        timed(f"equivalent area, {n} places", lambda g=once, a=area: connect(g, a, CUT), often)


def bench_removal(sizes, sampled):
    """Time removal of every place; from some sources only where ``sampled`` says how many."""
    for n in sizes:
        shapes, area = places(n)
        graph, exact = graph_of(shapes), n not in sampled
        importance(graph.subset(np.arange(n) < 50), area[:50], CUT)
        if exact:
            timed(f"removal of every place, {n} places", lambda g=graph, a=area: importance(g, a, CUT), 1)
            continue
        once, back = without_dominated(graph)
        some = np.sort(np.random.default_rng(0).permutation(n)[: sampled[n]])
        timed(
            f"removal, {n} places, x {n / sampled[n]:g} for all sources",
            lambda g=once, b=back, a=area, s=some: passing(
                g.start, g.to, g.weight, g.owner, b.start, b.ends, b.passage, a, limit_of(CUT), s, True
            ),
            1,
        )


def bench_invitations(sizes, candidates, picks):
    for here in sizes:
        shapes, area = places(here + candidates)
        graph = graph_of(shapes)
        base = np.arange(here)
        there = np.where(np.arange(here + candidates) < here, area, 0.0)
        choice = ChoiceGraph(
            graph, base, there, np.arange(here, here + candidates), area[here:], 1e4, 1.0, CUT
        )
        name = f"exact greedy, {picks} of {candidates} beside {here}"
        timed(name, lambda s=choice: greedy_order([s], picks), 3)


def bench_least_cost(cells, count, cell_m, limits):
    """Time the least cost of all pairs within 1 km; the search has no window, so it is exact."""
    rng = np.random.default_rng(6)
    y, x = np.mgrid[0:cells, 0:cells].astype(float)
    v = np.sin(x / 37) + np.cos(y / 29) + np.sin((x + y) / 91)
    cost = np.where(v > 1, 1.0, np.where(v > 0, 3.0, np.where(v > -1, 8.0, 20.0)))
    for r, c, down, over in np.c_[
        rng.integers(0, cells - 6, (cells**2 // 800, 2)), rng.integers(2, 5, (cells**2 // 800, 2))
    ]:
        cost[r : r + down, c : c + over] = 100.0
    cost[::64], cost[:, ::96] = 40.0, 40.0
    grid = Grid.from_bounds((0, 0, cells * cell_m, cells * cell_m), cell_m, CRS.from_epsg(32617))
    per = math.ceil(math.sqrt(count))
    k, step = rng.permutation(per * per)[:count], cells / per
    spot = ((np.column_stack([k % per, k // per]) + rng.uniform(0.1, 0.8, (count, 2))) * step).astype(int)
    far = spot + rng.integers(3, 9, (count, 2))
    shapes = shapely.box(*(spot + 0.1).T * cell_m, *(far - 0.1).T * cell_m)
    for shape in shapes:
        rows, cols = grid.window(shape.bounds)
        cost[rows, cols] = 1.0
    near = straight_links(shapes, 1000.0)
    links_by_cost(shapes, near, 200.0, cost, grid)
    for limit in limits:
        name = f"least cost up to {limit} m, {len(near.i)} pairs, {cells} x {cells} cells of {cell_m:g} m"
        timed(name, lambda m=limit: links_by_cost(shapes, near, float(m), cost, grid), 1)


def bench_town():
    yards, anchors, breeding = town()
    costs = {y: 100.0 + k for k, y in enumerate(yards["yard_id"])}
    asked = request(yards, breeding, anchors=anchors, costs=costs)
    timed("whole corridor, 180 yards, 10 butterflies, 35 candidates", lambda: score(asked), repeat=1)


if __name__ == "__main__":
    options = argparse.ArgumentParser()
    options.add_argument("--full", action="store_true")
    full = options.parse_args().full
    bench_town()
    bench_links_and_worth((1_000, 5_000, 20_000, 100_000) if full else (1_000, 5_000, 20_000))
    bench_removal((200, 1_000, 5_000, 20_000) if full else (200, 1_000), {20_000: 400})
    bench_invitations((500, 1_000, 2_000) if full else (500,), 2_000, 20)
    bench_least_cost(2_000, 500, 5.0, (2_000, 4_000, 8_000, math.inf) if full else (2_000, 4_000))
    if full:
        bench_least_cost(2_000, 500, 2.0, (4_000, math.inf))
