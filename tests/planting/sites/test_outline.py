"""Outlines: sharp corners are cut, nooks of the lawn filled, narrow parts left out."""

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from habitat.planting.sites.outline import bed_outline, corner_degrees, opened, outline_corners

FIELD = box(-50, -50, 50, 50)


def test_a_rectangle_stays_as_it_is():
    bed = bed_outline(box(0, 0, 8, 2), FIELD, 1.5)
    assert bed.symmetric_difference(box(0, 0, 8, 2)).area < 0.05


def test_a_sharp_corner_is_cut():
    wedge = Polygon([(0, 0), (10, 0), (10, 4)])
    assert corner_degrees(np.array(wedge.exterior.coords)[:-1]).min() < 25
    bed = bed_outline(wedge, FIELD, 1.5)
    assert outline_corners(bed)[1].min() >= 89
    assert bed.area > 0.7 * wedge.area


def test_a_sharp_nook_is_filled_where_it_is_lawn_and_kept_where_something_stands():
    notch = Polygon([(3.0, 4.0), (5.0, 4.0), (4.2, 2.0)])
    shape = box(0, 0, 8, 4).difference(notch)
    filled = bed_outline(shape, FIELD, 1.5)
    assert outline_corners(filled)[1].max() <= 271
    kept = bed_outline(shape, FIELD.difference(notch), 1.5)
    assert kept.intersection(notch).area < 0.01


def test_narrow_parts_are_left_out():
    shape = shapely.union(box(0, 0, 6, 2), box(6, 0, 12, 0.8))
    assert bed_outline(shape, FIELD, 1.5).bounds[2] < 6.1
    assert opened(shape, 0.7).area == pytest.approx(shape.area, rel=0.01)
    assert bed_outline(box(0, 0, 8, 1.0), FIELD, 1.5).is_empty


def test_a_trunk_inside_is_a_hole():
    trunk = shapely.Point(4, 1.5).buffer(0.5)
    bed = bed_outline(box(0, 0, 8, 3).difference(trunk), FIELD.difference(trunk), 0.8)
    assert len(bed.interiors) == 1
    assert bed.intersection(trunk).area < 0.01
