"""Trees as shade: when they are in leaf, what is assumed of those without measures."""

import pytest
from shapely.geometry import Point

from habitat.settings.site import SiteSettings
from habitat.sun.hours import open_sky_hours, sun_hours
from habitat.sun.trees import read_trees
from tests.support.remarks import said
from tests.support.small_layers import SOUTH, WEST, Small, frame_of, square_yards

SETTINGS = SiteSettings()


def small(**vectors):
    return Small(square_yards(3, 20.0), margin=15.0, vectors=vectors)


def cell(layers, x, y):
    row, col = layers.grid.rowcol(WEST + x, SOUTH + y)
    return int(row), int(col)


def hours_of(made):
    relief, notes = made.relief()
    return made, relief, sun_hours(relief, made.terms), notes


def test_trees_may_say_when_they_are_in_leaf():
    """Three like trees: one of the study's months, one out early, one that says half and so says nothing."""
    places = [Point(WEST + x, SOUTH + 10.5) for x in (10.5, 30.5, 50.5)]
    measures = {"height_m": [6.0] * 3, "crown_m": [8.0] * 3}
    trees = frame_of(
        places,
        **measures,
        leaf_start_month=[None, 3, 3],
        leaf_end_month=[None, 11, None],
        evergreen=[False] * 3,
    )
    layers, relief, hours, _ = hours_of(small(trees=trees))
    sky = open_sky_hours(layers.grid, layers.terms)
    usual, early, half = (cell(layers, x + 2, 10.5) for x in (10.5, 30.5, 50.5))
    assert hours.by_month[4][early] == 0
    for under in (usual, half):
        assert hours.by_month[4][under] == pytest.approx(
            0.5 * sky[4], abs=1.0
        )  # the others' shade reaches in
        assert hours.by_month[6][under] == 0
    assert sorted(relief.bare) == [1, 2, 3, 4, 11, 12]
    assert len({id(raster) for raster in relief.bare.values()}) == 2


def test_leaves_over_the_turn_of_the_year():
    trees, _ = read_trees(frame_of([Point(0, 0)], leaf_start_month=[11], leaf_end_month=[3]), SETTINGS)
    assert [m for m in range(1, 13) if not trees.bare_in(m)[0]] == [1, 2, 3, 11, 12]


def test_trees_without_measures_are_assumed_and_told():
    frame = frame_of([Point(0, 0), Point(5, 5), Point(9, 9).buffer(3)], height_m=[None, 12.0, None])
    trees, notes = read_trees(frame, SETTINGS)
    assert trees.height_m.tolist() == [8.0, 12.0, 8.0]
    assert trees.crown_m.tolist() == pytest.approx([4.8, 7.2, 6.0], abs=0.02)
    assert [said(n).split(":")[0] for n in notes] == [
        "2 of 3 trees have no height_m",
        "2 of 3 trees have no crown_m",
    ]
