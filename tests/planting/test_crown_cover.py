"""Ground under crowns: exact areas of discs, overlaps once."""

import math

import numpy as np
import pytest
import shapely
from shapely import box

from habitat.planting.crown_cover import crown_polygons, weighted_cover_m2


def test_overlaps_count_once_with_the_greater_weight():
    xy, radius = np.array([[0.0, 0.0], [1.0, 0.0]]), np.ones(2)
    lens = 2 * math.pi / 3 - math.sqrt(3) / 2
    got = weighted_cover_m2(xy, radius, np.array([1.0, 0.5]))
    assert got == pytest.approx(math.pi + 0.5 * (math.pi - lens))
    clipped = weighted_cover_m2(xy, radius, np.array([1.0, 0.5]), box(-2, 0, 3, 2))
    assert clipped == pytest.approx(got / 2, rel=2e-3)
    assert weighted_cover_m2(xy, radius, np.zeros(2)) == 0.0


def test_crown_polygons_have_the_discs_area():
    radius = np.array([0.3, 5.0])
    assert shapely.area(crown_polygons(np.zeros((2, 2)), radius)) == pytest.approx(math.pi * radius**2)
