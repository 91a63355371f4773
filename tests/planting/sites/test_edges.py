"""Sides of open ground, cut where what grows there changes."""

import numpy as np
import pytest
import shapely

from habitat.planting.sites import edges as strips


def test_a_side_that_no_stretch_fits_is_cut_evenly():
    """Modules of 2 m, and stretches of at least 2.7 m and at most 3 m: none has a whole number of modules."""
    assert strips.cut_even(np.zeros((3, 1)), 6.0, 3.0) == [(0.0, 3.0), (3.0, 6.0)]
    stops = [stop for _, stop in strips.cut_even(np.zeros((4, 1)), 8.0, 3.0)]
    assert stops == pytest.approx([8 / 3, 16 / 3, 8.0])


def test_cut_even_is_the_best_of_all_cuts():
    """Against every way to cut a short side."""
    rng = np.random.default_rng(2)
    for _ in range(20):
        n = int(rng.integers(6, 12))
        values = rng.uniform(0, 1, (n, 3)).round(1)
        values[n // 2 :] = values[n // 2 :] * 0.2
        cuts = strips.cut_even(values, float(n))
        assert cost_of(values, [round(b) for _, b in cuts]) == pytest.approx(
            min(cost_of(values, ends) for ends in all_ends(n)), abs=1e-9
        )


def all_ends(n):
    if n == 0:
        yield []
    for size in range(3, 11):
        if size <= n:
            for rest in all_ends(n - size):
                yield [size, *[size + e for e in rest]]


def cost_of(values, ends):
    parts = np.split(values, ends[:-1])
    return sum(((p - p.mean(axis=0)) ** 2).mean(axis=1).sum() + strips.CUT_PRICE for p in parts)


@pytest.mark.parametrize("turn", [0.0, 17.0, 44.0, 63.0, 91.0, 170.0])
def test_a_bed_around_a_corner_is_laid_out_along_its_own_sides(turn):
    """Not along the diagonal, as the smallest rectangle around it lies: its end is cut square."""
    around = shapely.Polygon([(0, 0), (7, 0), (7, 7), (5, 7), (5, 2), (0, 2)])
    axis = np.array(strips.bed_axis(shapely.affinity.rotate(around, turn, origin=(0, 0))))
    side = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    along = abs(float(axis @ side))
    assert min(along, abs(along - 1.0)) < 1e-6
    assert np.linalg.norm(axis) == pytest.approx(1.0)


@pytest.mark.parametrize("turn", [5.0, 60.0, 120.0])
def test_a_straight_bed_is_laid_out_along_its_length(turn):
    straight = shapely.affinity.rotate(shapely.box(0, 0, 8, 1.8), turn, origin=(0, 0))
    axis = np.array(strips.bed_axis(straight))
    assert abs(float(axis @ [np.cos(np.radians(turn)), np.sin(np.radians(turn))])) == pytest.approx(1.0)


def test_a_bed_without_square_sides_goes_by_the_rectangle_around():
    bow = shapely.LineString([(0, 0), (3, 1), (6, 1.5), (9, 1), (12, 0)]).buffer(1.0)
    assert strips.bed_axis(bow) == strips.long_axis(bow)


def test_of_a_collection_only_polygons_are_kept():
    square, line = shapely.box(0, 0, 1, 1), shapely.LineString([(3, 0), (4, 0)])
    far = shapely.box(2, 0, 3, 1)
    assert strips.polygonal(shapely.GeometryCollection([line, square])).equals(square)
    assert strips.polygonal(shapely.GeometryCollection([square, line, far])).area == 2.0
    assert strips.polygonal(line).is_empty
    assert strips.polygonal(square).geom_type == "Polygon"


def test_a_strip_is_sampled_a_module_a_metre_on_its_left():
    """Along 3 m to the east the strip lies north of the line, sampled at 0.2, 0.5 and 0.8 of its depth."""
    points = strips.sample_points(shapely.LineString([(0, 0), (3, 0)]), 2.0)
    assert points[:, :, 0] == pytest.approx(np.repeat([[0.5], [1.5], [2.5]], 3, axis=1))
    assert points[:, :, 1] == pytest.approx(np.tile([0.4, 1.0, 1.6], (3, 1)))
