"""The plan's own trees take light."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Point, box

from habitat.errors import ParameterError
from habitat.site.planned import rasters_with_trees, sun_with_trees
from habitat.sun.hours import sun_hours
from tests.support.small_layers import SOUTH, WEST, Small, frame_of, square_yards

WALL = [box(WEST - 10, SOUTH - 4, WEST + 70, SOUTH - 2)]


def small(tests=None, **sections):
    vectors = {"buildings": frame_of(WALL, height_m=[4.0])}
    if tests is not None:
        vectors["soil_tests"] = tests
    return Small(square_yards(3, 20.0), margin=15.0, vectors=vectors, sections=sections)


def cell(site, x, y):
    row, col = site.grid.rowcol(WEST + x, SOUTH + y)
    return int(row), int(col)


def test_planned_trees_take_light_and_only_there():
    site = small().survey()
    trees = frame_of([Point(WEST + 30.5, SOUTH + 8.5)], height_m=[9.0], crown_m=[6.0], evergreen=[False])
    grown = sun_with_trees(site, trees)
    lost = site.rasters["sun_h"] - grown.rasters["sun_h"]
    assert (lost[~np.isnan(lost)] >= -1e-5).all()
    assert lost[cell(site, 30.5, 13.5)] > 0.8, "north of the tree"
    assert abs(lost[cell(site, 30.5, 0.5)]) < 0.3, "south of it"
    assert grown.rasters["sun_h"][cell(site, 31.5, 8.5)] == 0, "under it"
    assert (grown.yards["sun_h_mean"] <= site.yards["sun_h_mean"] + 1e-9).all()
    assert grown.yards["sun_h_mean"].iloc[1] < site.yards["sun_h_mean"].iloc[1] - 0.3
    assert grown.yards["ph_mean"].equals(site.yards["ph_mean"])


def test_planned_trees_equal_trees_that_stand():
    """Planting a tree and surveying with the tree there give the same hours."""
    trees = frame_of([Point(WEST + 30.5, SOUTH + 8.5)], height_m=[9.0], crown_m=[6.0], evergreen=[False])
    made = small()
    planned = sun_with_trees(made.survey(), trees)
    made.vectors["trees"] = trees
    standing = made.survey()
    assert np.allclose(planned.rasters["sun_h"], standing.rasters["sun_h"], atol=1e-4, equal_nan=True)
    assert np.allclose(planned.sun_by_month[4], standing.sun_by_month[4], atol=1e-4, equal_nan=True)


def test_planned_trees_one_by_one_or_together():
    site = small().survey()
    points = [Point(WEST + 30.5, SOUTH + 8.5), Point(WEST + 36.5, SOUTH + 12.5)]
    both = frame_of(points, height_m=[9.0, 4.0], crown_m=[6.0, 3.0], evergreen=[False, True])
    step = sun_with_trees(sun_with_trees(site, both.iloc[:1]), both.iloc[1:])
    once = sun_with_trees(site, both)
    assert np.allclose(step.rasters["sun_h"], once.rasters["sun_h"], atol=1e-4, equal_nan=True)


def test_hours_that_somebody_kept_are_those_that_are_worked_out():
    site = small().survey()
    kept = replace(site, sun_known=sun_hours(*site.heights()))
    trees = frame_of([Point(WEST + 30.5, SOUTH + 8.5)], height_m=[9.0], crown_m=[6.0], evergreen=[False])
    once, again = (sun_with_trees(one, trees) for one in (site, kept))
    assert again.sun_known is None  # more stands there now
    for name, values in once.rasters.items():
        np.testing.assert_array_equal(again.rasters[name], values)
        np.testing.assert_array_equal(rasters_with_trees(kept, trees)[name], values)


def test_planned_trees_need_heights():
    bare = Small(square_yards(2)).survey()
    trees = frame_of([Point(WEST, SOUTH)], height_m=[9.0], crown_m=[6.0], evergreen=[False])
    with pytest.raises(ParameterError, match="without heights"):
        sun_with_trees(bare, trees)
    with pytest.raises(ParameterError, match="no crown_m"):
        sun_with_trees(small().survey(), trees.drop(columns="crown_m"))
    site = small().survey()
    assert sun_with_trees(site, trees.iloc[:0]) is site
