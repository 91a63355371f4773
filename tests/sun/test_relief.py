"""Heights from footprints, trees and surface rasters; roofs and what nobody saw; slopes."""

import numpy as np
import pytest
from matplotlib.colors import LightSource
from shapely.geometry import Point, box

from habitat.errors import ParameterError
from habitat.sun.hours import sun_hours
from habitat.sun.relief import gradient, relief_of_heights, slope_deg
from tests.support.remarks import said
from tests.support.small_layers import SOUTH, WEST, Small, frame_of, square_yards


def small(**vectors):
    return Small(square_yards(3, 20.0), margin=15.0, vectors=vectors)


def cell(layers, x, y):
    row, col = layers.grid.rowcol(WEST + x, SOUTH + y)
    return int(row), int(col)


def hours_of(made):
    relief, notes = made.relief()
    return made, relief, sun_hours(relief, made.terms), notes


def test_footprints_give_roofs_of_their_height():
    houses = frame_of([box(WEST + 5, SOUTH + 5, WEST + 15, SOUTH + 15)], height_m=[7.5])
    layers, relief, hours, _ = hours_of(small(buildings=houses))
    assert relief.in_leaf[cell(layers, 10, 10)] == 7.5
    assert relief.roof.sum() == 100
    assert np.isnan(hours.mean[relief.roof]).all()
    assert not np.isnan(hours.mean[~relief.roof]).any()
    assert hours.by_month[9][cell(layers, 10.5, 17.5)] < 7 < 11 < hours.by_month[9][cell(layers, 10.5, 2.5)]


def test_storeys_and_missing_heights_are_told():
    shapes = [box(WEST + 5 + 20 * i, SOUTH + 5, WEST + 15 + 20 * i, SOUTH + 15) for i in range(3)]
    houses = frame_of(shapes, height_m=[9.0, np.nan, np.nan], storeys=[np.nan, 2, np.nan])
    layers, relief, _, notes = hours_of(small(buildings=houses))
    assert [float(relief.in_leaf[cell(layers, 10 + 20 * i, 10)]) for i in range(3)] == [9.0, 6.0, 6.0]
    assert any("1 of 3 buildings have neither height_m nor storeys: 6 m is assumed" in said(n) for n in notes)


def test_taller_of_two_overlapping_buildings_wins():
    shapes = [
        box(WEST + 5, SOUTH + 5, WEST + 15, SOUTH + 15),
        box(WEST + 8, SOUTH + 5, WEST + 25, SOUTH + 15),
    ]
    layers, relief, _, _ = hours_of(small(buildings=frame_of(shapes, height_m=[9.0, 4.0])))
    assert relief.in_leaf[cell(layers, 10, 10)] == 9.0
    assert relief.in_leaf[cell(layers, 20, 10)] == 4.0


def test_roofs_stand_on_the_terrain():
    made = small(buildings=frame_of([box(WEST + 5, SOUTH + 5, WEST + 15, SOUTH + 15)], height_m=[5.0]))
    made.rasters = {"terrain_m": lambda x, y: 100 + 0.1 * (x - WEST)}
    layers, relief, _, _ = hours_of(made)
    assert relief.sloped
    assert relief.in_leaf[cell(layers, 10, 10)] == pytest.approx(100 + 0.1 * 10 + 5, abs=0.01)
    assert relief.ground[cell(layers, 30.5, 10)] == pytest.approx(103.05, abs=0.01)


def surface(x, y):
    """Level ground with a house of 6 m and a round crown of 8 m."""
    x, y = x - WEST, y - SOUTH
    house = (x > 5) & (x < 15) & (y > 5) & (y < 15)
    crown = np.hypot(x - 30, y - 10) < 4
    return np.where(house, 6.0, np.where(crown, 8.0, 0.0))


HOUSE = [box(WEST + 5, SOUTH + 5, WEST + 15, SOUTH + 15)]


def test_under_the_crowns_of_a_bare_surface_the_sun_is_unknown():
    made = small()
    made.rasters = {"surface_m": surface}
    layers, _, hours, _ = hours_of(made)
    assert np.isnan(hours.mean[cell(layers, 30, 10)])
    assert np.isnan(hours.mean[cell(layers, 10, 10)]), "a roof that nobody named is no ground either"
    assert not np.isnan(hours.mean[cell(layers, 45, 10)])
    site = made.survey()
    assert any("stands over the ground that no trees layer explains" in said(n) for n in site.notes)
    assert site.yards["sun_h_known"].iloc[1] == pytest.approx(1 - np.pi * 16 / 400, abs=0.02)


def test_trees_tell_what_the_crowns_of_a_surface_are():
    trees = frame_of([Point(WEST + 30, SOUTH + 10)], height_m=[8.0], crown_m=[7.0], evergreen=[False])
    made = small(trees=trees, buildings=frame_of(HOUSE))
    made.rasters = {"surface_m": surface}
    layers, relief, hours, _ = hours_of(made)
    under = cell(layers, 30, 10)
    assert relief.ground[under] == pytest.approx(0, abs=0.01)
    assert hours.by_month[6][under] == 0
    assert hours.by_month[4][under] > 4
    assert not relief.unseen.any()
    assert relief.roof[cell(layers, 10, 10)]


def test_wide_hills_are_ground_not_roofs():
    """A surface that rises 30 m over 100 m holds nothing that stands on it."""
    made = small()
    made.rasters = {"surface_m": lambda x, y: 0.3 * (x - WEST) + 3 * np.sin((y - SOUTH) / 20)}
    relief, _ = made.relief()
    assert not relief.unseen.any()
    assert relief.sloped


ROW, COL = np.mgrid[0:8, 0:9]


PLANE = (0.3 * COL - 0.2 * ROW).astype(np.float32)


def test_a22_slope_and_aspect_of_a_plane():
    """Rising 0.3 a metre to the east and 0.2 to the north: 19.827029 degrees, facing 236.309932."""
    east, north = (g[1:-1, 1:-1] for g in gradient(PLANE, 1.0))
    assert np.allclose(slope_deg(PLANE, 1.0)[1:-1, 1:-1], 19.827029, atol=1e-4)
    aspect = np.degrees(np.arctan2(-east, -north)) % 360
    assert np.allclose(aspect, 236.309932, atol=1e-4)


def test_a22_light_on_the_plane():
    """Normal times light from azimuth 135 at 40 degrees: 0.553727."""
    east, north = (float(g[3, 3]) for g in gradient(PLANE, 1.0))
    normal = np.array([-east, -north, 1]) / np.sqrt(east**2 + north**2 + 1)
    azimuth, altitude = np.radians(135), np.radians(40)
    light = [np.sin(azimuth) * np.cos(altitude), np.cos(azimuth) * np.cos(altitude), np.sin(altitude)]
    assert normal @ light == pytest.approx(0.553727, abs=1e-5)


def test_cell_size_and_holes():
    assert np.allclose(slope_deg(PLANE, 2.0)[3, 3], np.degrees(np.arctan(np.hypot(0.15, 0.1))), atol=1e-4)
    holed = PLANE.copy()
    holed[4, 4] = np.nan
    assert np.isnan(slope_deg(holed, 1.0)).sum() == 8, "the eight cells around the hole"


def test_against_another_library():
    """matplotlib shades rough ground by our normals as n.s does."""
    rng = np.random.default_rng(1)
    land = np.cumsum(np.cumsum(rng.normal(0, 0.02, (40, 40)), 0), 1).astype(np.float32)
    east, north = gradient(land, 1.0)
    shade = (east * -1 + 1) / np.sqrt(east**2 + north**2 + 1)
    theirs = LightSource(azdeg=90, altdeg=45).shade_normals(
        np.dstack([-east, -north, np.ones_like(east)]) / np.sqrt(east**2 + north**2 + 1)[..., None]
    )
    assert np.corrcoef(shade[2:-2, 2:-2].ravel(), theirs[2:-2, 2:-2].ravel())[0, 1] > 0.999


def test_heights_alone_give_the_hours_that_footprints_give():
    """A wall as an array and as a footprint; on the wall itself there is no ground, or no light."""
    wall = frame_of([box(WEST + 20, SOUTH, WEST + 22, SOUTH + 20)], height_m=[5.0])
    made, relief, hours, _ = hours_of(small(buildings=wall))
    plain = relief_of_heights(relief.in_leaf, made.grid)
    assert not plain.sloped
    got = sun_hours(plain, made.terms)
    open_ground = ~relief.roof
    assert np.array_equal(got.mean[open_ground], hours.mean[open_ground])
    assert (got.mean[relief.roof] == 0).all()


def test_heights_of_a_hill_are_ground_where_they_are_given_as_ground():
    made = small()
    hill = np.add.outer(np.zeros(made.grid.shape[0]), 0.2 * np.arange(made.grid.shape[1])).astype(np.float32)
    relief = relief_of_heights(hill, made.grid, ground_m=hill)
    assert relief.sloped
    assert (sun_hours(relief, made.terms).mean > 5).all()
    with pytest.raises(ParameterError, match="ground_m"):
        relief_of_heights(hill, made.grid, ground_m=hill[:-1])
