"""Texture from arrays of any shape; the classes themselves are held to the manual in tests/reference."""

import numpy as np

from habitat.factors.classes import TEXTURES
from habitat.soil.texture import CENTRES, texture_class


def test_each_class_holds_the_point_that_stands_for_it():
    """Saxton & Rawls (2006), table 3, lists a sand and a clay content for each of the twelve classes."""
    sand, clay = np.array(CENTRES, float).T
    assert texture_class(sand, clay).tolist() == list(range(1, len(TEXTURES) + 1))


def test_shares_that_cannot_be_have_no_class():
    sand = [np.nan, 40, -1, 60, 40]
    clay = [20, np.nan, 20, 50, 20]
    assert np.isnan(texture_class(sand, clay)).tolist() == [True, True, True, True, False]


def test_shape_and_type_are_those_of_a_raster():
    got = texture_class(np.full((2, 3), 40.0), np.full((2, 3), 20.0))
    assert (got.shape, got.dtype) == ((2, 3), np.float32)
