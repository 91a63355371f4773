"""Lattices in beds: against slow plain counting, and as plantings that can be dug."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box

from habitat.errors import ParameterError
from habitat.planting.drawing import _kernels
from habitat.planting.drawing.lattice import (
    FEW,
    count_plants,
    fine_points,
    fit_lattice,
    pack,
    place_lattice,
    region_edges,
)


def plain_count(region, kind, spacing, angle, first, phase):
    """Count lattice points in a region one by one: the obvious way."""
    gap = spacing if kind == "square" else spacing * math.sqrt(3) / 2
    reach = int(3 * max(region.bounds[2:]) / gap) + 3
    c, s = math.cos(angle), math.sin(angle)
    points = []
    for row in range(-reach, reach):
        v = first + row * gap
        odd = spacing / 2 if kind == "triangular" and row % 2 else 0.0
        for col in range(-reach, reach):
            u = phase + odd + col * spacing
            points.append((c * u - s * v, s * u + c * v))
    return int(shapely.dwithin(region, shapely.points(points), 1e-6).sum())


def plain_best(region, spacing, steps=7, turns=12):
    """Return the most plants over square and triangular, offsets and turns, by plain counting."""
    best = 0
    xy = shapely.get_coordinates(region)
    for kind, per in (("square", 90), ("triangular", 60)):
        gap = spacing if kind == "square" else spacing * math.sqrt(3) / 2
        for turn in np.radians(np.arange(turns) * per / turns):
            c, s = math.cos(turn), math.sin(turn)
            u, v = xy @ [c, s], xy @ [-s, c]
            rows = np.arange(math.ceil((v.max() - v.min()) / gap) + 2)
            for dv in np.arange(steps) / steps * gap:
                vv = v.min() + dv + rows * gap
                for du in np.arange(steps) / steps * spacing:
                    uu = u.min() + du + np.arange(-1, math.ceil((u.max() - u.min()) / spacing) + 1) * spacing
                    odd = spacing / 2 * (rows % 2) if kind == "triangular" else 0 * rows
                    px = (uu[None, :] + odd[:, None]).ravel()
                    py = np.repeat(vv, len(uu))
                    inside = shapely.contains_xy(region, c * px - s * py, s * px + c * py)
                    best = max(best, int(inside.sum()))
    return best


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


def test_search_counts_as_plain_counting():
    for bed in beds(1):
        lattice = fit_lattice(bed, 0.5)
        plain = plain_count(bed, lattice.kind, 0.5, lattice.angle, lattice.first, lattice.phase)
        assert plain == lattice.count == len(place_lattice(bed, lattice))


@pytest.mark.parametrize("spacing", [0.35, 0.6, 1.1])
def test_at_least_nine_tenths_of_the_best_lattice(spacing):
    """Of the best of square and triangular over offsets and turns; where few fit, one plant fewer at most."""
    for bed in beds(2, 6):
        best = plain_best(bed, spacing)
        got = int(count_plants(bed, np.array([spacing]))[0])
        assert got >= 0.9 * best or (best <= 12 and got >= best - 1)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), spacing=st.floats(0.15, 2.5))
def test_plants_stand_inside_and_apart(seed, spacing):
    bed = next(iter(beds(seed, 1 + seed % 3)))
    points = pack(bed, spacing)
    assert len(points) >= 1
    assert shapely.dwithin(bed, shapely.points(points), 1e-5).all()
    gaps = np.linalg.norm(points[:, None] - points[None], axis=2) + np.eye(len(points)) * 1e9
    assert gaps.min() >= spacing - 1e-5


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), dx=st.floats(-1e3, 1e3), dy=st.floats(-1e3, 1e3))
def test_a_shifted_bed_holds_as_many(seed, dx, dy):
    bed = next(iter(beds(seed, 1)))
    moved = shapely.affinity.translate(bed, 500_000 + dx, 4_400_000 + dy)
    here, there = (int(count_plants(b, np.array([0.45]))[0]) for b in (bed, moved))
    assert abs(here - there) <= max(1, 0.02 * here)


def test_counting_is_filling():
    spacings = np.array([0.2, 0.5, 0.9, 1.6])
    for bed in beds(5):
        assert count_plants(bed, spacings).tolist() == [max(1, len(pack(bed, s))) for s in spacings]


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


def test_few_plants_are_set_better_than_by_lattice():
    strip = box(0, 0, 8, 1)
    assert fit_lattice(strip, 1.5).count < FEW
    assert len(pack(strip, 1.5)) >= 6  # a zigzag: steps of sqrt(1.5^2 - 1^2) = 1.118 m


def test_no_region_no_plants():
    assert fit_lattice(Polygon(), 0.5).count == 0
    assert count_plants(Polygon(), np.array([0.5])).tolist() == [0]


@pytest.mark.parametrize("spacing", [0.0, -1.0, float("nan")])
def test_spacing_must_be_positive(spacing):
    with pytest.raises(ParameterError, match="spacing_m"):
        fit_lattice(box(0, 0, 1, 1), spacing)


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
    filled = _kernels.gap_points(points, _kernels.zone_keys(points, zone), placed, reach, 0.4, 12)
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
