"""Heights from footprints, trees and surface rasters; light through leaves; roofs and what nobody saw."""

import numpy as np
import pytest
from shapely.geometry import Point, box

from habitat.pipeline.survey import survey
from habitat.settings.site import SiteSettings
from habitat.sun.hours import open_sky_hours, sun_hours
from habitat.sun.trees import CROWN_BASE_SHARE, read_trees
from tests.support.remarks import said
from tests.support.small_layers import SOUTH, WEST, ArrayRaster, Small, frame_of, square_yards

SETTINGS = SiteSettings()


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


def test_trees_without_measures_are_assumed_and_told():
    frame = frame_of([Point(0, 0), Point(5, 5), Point(9, 9).buffer(3)], height_m=[None, 12.0, None])
    trees, notes = read_trees(frame, SETTINGS)
    assert trees.height_m.tolist() == [8.0, 12.0, 8.0]
    assert trees.crown_m.tolist() == pytest.approx([4.8, 7.2, 6.0], abs=0.02)
    assert [said(n).split(":")[0] for n in notes] == [
        "2 of 3 trees have no height_m",
        "2 of 3 trees have no crown_m",
    ]


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
    site = survey(made.layers())
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


def test_a_hole_in_the_surface_is_unknown_and_told():
    made = small()
    made.rasters = {"surface_m": lambda x, y: np.where(x < WEST + 10, np.nan, 0.0)}
    site = survey(made.layers())
    assert site.yards["sun_h_known"].tolist() == pytest.approx([0.5, 1, 1])
    assert any("heights are unknown on" in said(n) for n in site.notes)
    assert any("beyond the grid" in said(n) for n in site.notes)


def test_wide_hills_are_ground_not_roofs():
    """A surface that rises 30 m over 100 m holds nothing that stands on it."""
    made = small()
    made.rasters = {"surface_m": lambda x, y: 0.3 * (x - WEST) + 3 * np.sin((y - SOUTH) / 20)}
    relief, _ = made.relief()
    assert not relief.unseen.any()
    assert relief.sloped


def test_nothing_to_go_by_is_no_relief():
    relief, notes = small().relief()
    assert relief is None
    assert notes == []
    site = survey(small().layers())
    assert "sun_h" not in site.assessed
    assert np.isnan(site.yards["sun_h_mean"]).all()
    assert (site.yards["sun_h_source"] == "not assessed").all()


def test_a_given_raster_wins_and_keeps_the_days_shape():
    made = small(buildings=frame_of(HOUSE, height_m=[6.0]))
    made.rasters = {"sun_h": ArrayRaster("sun_h", lambda x, y: np.where(x < WEST + 20, 5.0, 8.0))}
    layers = made.layers()
    site = survey(layers)
    assert site.yards["sun_h_mean"].tolist() == pytest.approx([5, 8, 8])
    assert set(site.yards["sun_h_source"]) == {"sun raster"}
    open_spot = cell(layers, 50, 10)
    assert site.rasters["sun_afternoon_h"][open_spot] == pytest.approx(4.0, abs=0.4)
    made = small()
    made.rasters = {"sun_h": lambda x, y: np.where(x < WEST + 20, 30.0, 8.0)}
    site = survey(made.layers())
    assert "sun_afternoon_h" not in site.assessed
    assert np.isnan(site.yards["sun_h_mean"].iloc[0])
    assert any("is not 0 to 24 h" in said(n) for n in site.notes)
