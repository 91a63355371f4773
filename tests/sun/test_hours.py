"""Hours of sun: open sky, crowns with and without leaves, forenoon and afternoon."""

import numpy as np
import pytest
from shapely.geometry import Point, box

from habitat.sun.hours import open_sky_hours, sun_hours
from habitat.sun.trees import CROWN_BASE_SHARE
from tests.support.small_layers import SOUTH, WEST, Small, frame_of, square_yards


def small(**vectors):
    return Small(square_yards(3, 20.0), margin=15.0, vectors=vectors)


def cell(layers, x, y):
    row, col = layers.grid.rowcol(WEST + x, SOUTH + y)
    return int(row), int(col)


def hours_of(made):
    relief, notes = made.relief()
    return made, relief, sun_hours(relief, made.terms), notes


def test_a_crown_shades_the_ground_below_and_is_not_lifted_on():
    trees = frame_of([Point(WEST + 10.5, SOUTH + 10.5)], height_m=[10.0], crown_m=[8.0], evergreen=[True])
    layers, relief, hours, _ = hours_of(small(trees=trees))
    under = cell(layers, 12.5, 10.5)
    assert relief.ground[under] == 0
    rim = 10 * (CROWN_BASE_SHARE + (1 - CROWN_BASE_SHARE) * np.sqrt(1 - (2 / 4) ** 2))
    assert relief.in_leaf[under] == pytest.approx(rim, abs=1e-5)
    assert hours.mean[under] == 0
    assert all(raster[under] == 0 for raster in hours.by_month.values())
    assert not relief.roof.any()


def test_bare_crowns_let_their_share_of_light_through():
    """April: positions lit without the crown count half where the crown alone shades; June: not at all."""
    point = [Point(WEST + 10.5, SOUTH + 10.5)]
    made = small(trees=frame_of(point, height_m=[10.0], crown_m=[8.0], evergreen=["no"]))
    layers, _, hours, _ = hours_of(made)
    sky = open_sky_hours(layers.grid, layers.terms)
    under = cell(layers, 12.5, 10.5)
    assert hours.by_month[6][under] == 0
    assert hours.by_month[4][under] == pytest.approx(0.5 * sky[4], abs=1e-5)
    made.sections = {"site": {"leafless_light": 0.25, "leaf_on": (4, 10)}}
    assert hours_of(made)[2].by_month[4][under] == 0
    made.sections = {"site": {"leafless_light": 0.25}}
    assert hours_of(made)[2].by_month[4][under] == pytest.approx(0.25 * sky[4], abs=1e-5)


def test_forenoon_and_afternoon():
    """A wall to the west of a spot takes its afternoon, not its forenoon."""
    wall = frame_of([box(WEST + 18, SOUTH - 15, WEST + 20, SOUTH + 35)], height_m=[8.0])
    layers, _, hours, _ = hours_of(small(buildings=wall))
    east, west = cell(layers, 22.5, 10.5), cell(layers, 15.5, 10.5)
    flat = np.mean([open_sky_hours(layers.grid, layers.terms)[m] for m in (5, 6, 7, 8)])
    assert hours.mean[east] == pytest.approx(hours.mean[west], abs=0.8)
    assert hours.afternoon[east] < 0.4 * hours.mean[east]
    assert hours.afternoon[west] > 0.6 * hours.mean[west]
    corner = hours.afternoon[cell(layers, 58, 34)]
    assert hours.afternoon[west] <= flat / 2 + 0.3
    assert corner <= flat / 2 + 0.3


def test_open_sky_hours_are_the_day():
    made = small(buildings=frame_of([box(WEST - 10, SOUTH - 4, WEST + 70, SOUTH - 2)], height_m=[4.0]))
    _, _, hours, _ = hours_of(made)
    sky = open_sky_hours(made.grid, made.terms)
    assert sky[6] == pytest.approx(15.0, abs=0.3)
    assert np.nanmax(hours.by_month[6]) <= sky[6] + 1e-6
