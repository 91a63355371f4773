"""Compiled loops of drawing against plain Python, shapely and elementary geometry."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box

from habitat.planting.drawing import _drift_kernels, _kernels
from habitat.planting.drawing._kernels import discs_area
from habitat.planting.drawing.lattice import (
    fine_points,
    region_edges,
)


def beds(seed, count=6):
    """Return bed-like regions: rectangles, bent strips, lobed shapes with and without a hole."""
    rng = np.random.default_rng(seed)
    for k in range(count):
        if k % 3 == 0:
            yield shapely.affinity.rotate(
                box(0, 0, rng.uniform(2.4, 6), rng.uniform(1.2, 1.8)), rng.uniform(0, 90)
            )
        elif k % 3 == 1:
            turn = np.linspace(0, rng.uniform(0.5, 2), 12)
            ring = np.column_stack([np.cos(turn), np.sin(turn)])
            radius = rng.uniform(3, 6)
            yield Polygon(np.vstack([ring * radius, (ring * (radius + 1.6))[::-1]]))
        else:
            turn = np.linspace(0, 2 * math.pi, 14)[:-1]
            shape = Polygon(np.column_stack([np.cos(turn), np.sin(turn)]) * rng.uniform(1.2, 2.2, (13, 1)))
            yield shape.difference(shape.centroid.buffer(0.3))


def test_best_phase_equals_trying_every_phase():
    rng = np.random.default_rng(3)
    for bed in beds(7):
        edges = region_edges(bed)
        spacing = float(rng.uniform(0.2, 0.8))
        low, high = edges[:, 1].min() + 1e-6, edges[:, 1].max() - 1e-6
        rows = int((high - low) / spacing) + 1
        best, _ = _kernels.count_lattice(edges, low, high, (spacing, spacing, 0.0), 0)
        tried = [
            sum(
                math.floor((b - t) / spacing) - math.ceil((a - t) / spacing) + 1
                for row in range(rows)
                for a, b in crossings(edges, low + row * spacing)
            )
            for t in np.linspace(0, spacing, 300)
        ]
        assert max(tried) <= best <= max(tried) + 1


def crossings(edges, v):
    """Return the stretches inside at a height, from plain crossing of edges."""
    found = sorted(
        x0 + (v - y0) / (y1 - y0) * (x1 - x0) for x0, y0, x1, y1 in edges if (y0 <= v) != (y1 <= v)
    )
    return list(zip(found[::2], found[1::2], strict=True))


def plain_drift(edges, zone, placed, reach, spacing, wanted, tries):
    """Try every lattice over the whole region; return the most points, and the sum of their keys below 0."""
    best = (0, 0.0)
    for option in range(4):
        turned = edges[:, [1, 0, 3, 2]] * (1, -1, 1, -1) if option % 2 else edges
        gap = spacing if option < 2 else spacing * math.sqrt(0.75)
        low, high = turned[:, [1, 3]].min() + 1e-6, turned[:, [1, 3]].max() - 1e-6
        left = turned[:, [0, 2]].min() + 1e-6
        for k in range(2 * tries):
            first = low + k * gap / tries if k < tries else high - (k - tries) * gap / tries
            first -= math.floor((first - low) / gap) * gap if k >= tries else 0.0
            rows = (
                [first + r * gap for r in range(int((high - first + 4e-6) / gap) + 1)]
                if first <= high
                else []
            )
            for t in range(2 * tries):
                points = []
                for r, v in enumerate(rows):
                    origin = left + t * spacing / (2 * tries) + (spacing / 2 if option > 1 and r % 2 else 0.0)
                    for start, stop in crossings(turned, min(v, high)):
                        steps = range(
                            math.ceil((start - 2e-6 - origin) / spacing),
                            math.floor((stop + 2e-6 - origin) / spacing) + 1,
                        )
                        points += [(origin + n * spacing, min(v, high)) for n in steps]
                xy = np.array(points).reshape(-1, 2)
                xy = np.column_stack((-xy[:, 1], xy[:, 0])) if option % 2 else xy
                away = np.linalg.norm(xy[:, None] - placed[None], axis=2)
                xy = xy[(away >= spacing / 2 + reach[None] - 1e-6).all(axis=1)]
                keys = np.sort(_drift_kernels.zone_keys(xy, zone))[:wanted]
                best = max(best, (len(keys), -float(keys.sum())))
    return best


@pytest.mark.parametrize("seed", range(4))
def test_the_drift_nearest_to_its_zone_is_that_of_all_lattices_tried_in_full(seed):
    """Points far from the zone and lattices with too few near it are passed over; the best is the same."""
    rng = np.random.default_rng(seed)
    for bed in beds(seed, 3):
        edges = _kernels.rotate_edges(region_edges(bed), 0.0)
        west, south, east, north = bed.bounds
        corner = rng.uniform((west, south), ((west + east) / 2, (south + north) / 2))
        zone = np.array([*corner, *(corner + rng.uniform(0.3, 1.2, 2))])
        placed = rng.uniform((west, south), (east, north), (12, 2))
        reach = rng.uniform(0.1, 0.25, 12)
        wanted = int(rng.integers(2, 15))
        given = (edges, zone, placed, reach, float(rng.uniform(0.3, 0.6)), wanted, 2)
        found = _drift_kernels.drift_points(*given)
        count, cost = plain_drift(*given)
        assert len(found) == count
        assert -_drift_kernels.zone_keys(found, zone).sum() == pytest.approx(cost, abs=1e-6)


def test_kernels_that_choose_points_agree_with_plain_loops():
    rng = np.random.default_rng(5)
    points, placed = rng.uniform(0, 3, (60, 2)), rng.uniform(0, 3, (8, 2))
    reach = rng.uniform(0.1, 0.4, 8)
    gap = np.linalg.norm(points[:, None] - placed[None], axis=2)
    plain = (gap >= 0.2 + reach[None] - 1e-6).all(axis=1)
    assert (_kernels.clear_of(points, reach, placed, 0.2) == plain).all()
    kept = _kernels.sweep_fill(points, np.array([0.0]), 0.5)
    slow = []
    for i in np.argsort(points[:, 0], kind="stable"):
        if all(np.linalg.norm(points[i] - points[j]) >= 0.5 - 1e-6 for j in slow):
            slow.append(i)
    assert kept.tolist() == slow
    zone = np.array([0.0, 0.0, 1.0, 1.0])
    keys = _drift_kernels.zone_keys(points, zone)
    filled = _drift_kernels.gap_points(points, keys, placed, reach, 0.4, 12)
    apart = np.linalg.norm(filled[:, None] - filled[None], axis=2) + np.eye(len(filled))
    assert apart.min() >= 0.4 - 1e-6
    assert (np.linalg.norm(filled[:, None] - placed[None], axis=2) >= 0.2 + reach - 1e-5).all()


@pytest.mark.parametrize("step", [0.12, 0.31])
def test_fine_points_are_the_outline_and_the_grid_inside(step):
    """Against shapely: the outline cut into equal parts, and every grid point that lies inside.

    Grid points that lie on the outline itself may be there or not.
    """
    for bed in beds(4):
        found = fine_points(bed, step).round(6)
        west, south, east, north = bed.bounds
        x, y = np.meshgrid(np.arange(west, east, step), np.arange(south, north, step))
        grid = np.column_stack([x.ravel(), y.ravel()])
        outline = shapely.get_coordinates(shapely.segmentize(bed, step))
        inside = shapely.dwithin(bed.buffer(-1e-6), shapely.points(grid), 0)
        touching = shapely.dwithin(bed, shapely.points(grid), 1e-6)
        for some, all_of in (
            (np.vstack([grid[inside], outline]), found),
            (found, [*grid[touching], *outline]),
        ):
            gap = np.abs(some[:, None] - np.array(all_of)[None]).max(axis=2).min(axis=1)
            assert gap.max() <= 2e-6


def union_area(x, y, r):
    """Return the area of a union of discs by shapely with many segments."""
    return shapely.union_all(shapely.buffer(shapely.points(x, y), r, quad_segs=400)).area


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 100_000), n=st.integers(1, 25))
def test_union_of_discs_is_exact(seed, n):
    rng = np.random.default_rng(seed)
    x, y, r = rng.uniform(0, 3, n), rng.uniform(0, 3, n), rng.uniform(0.05, 1.2, n)
    if n > 3:  # equal and nested discs
        x[1], y[1], r[1] = x[0], y[0], r[0]
        x[2], y[2], r[2] = x[0], y[0], r[0] / 2
    assert discs_area(x + 5e5, y + 4.4e6, r) == pytest.approx(union_area(x, y, r), rel=2e-5)


def test_two_discs_by_the_lens_formula():
    """Two unit discs a distance 1 apart share 2 pi / 3 - sqrt(3) / 2 (elementary geometry)."""
    lens = 2 * math.pi / 3 - math.sqrt(3) / 2
    got = discs_area(np.array([0.0, 1.0]), np.zeros(2), np.ones(2))
    assert got == pytest.approx(2 * math.pi - lens, abs=1e-12)


@pytest.mark.parametrize("turn", [0.3, 1.1])
def test_points_just_a_spacing_apart_are_clear_of_each_other(turn):
    """Of a grid of 3 x 3 m all 16 points stay, of one of half a metre no two of a square."""
    x, y = (v.ravel() for v in np.meshgrid(np.arange(4.0), np.arange(4.0)))
    turns = np.array([turn])
    assert _kernels.sweep_fill(np.column_stack([x, y]), turns, 1.0).size == 16
    assert _kernels.sweep_fill(np.column_stack([x, y])[[0, 1, 4, 5]] / 2, turns, 1.0).size == 1
