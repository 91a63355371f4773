"""Soil from rasters, polygons and tests: which wins, what is unknown, where it is from."""

import numpy as np
import pytest
from shapely.geometry import box

from habitat.soil.factors import SoilMap, soil_factors
from habitat.soil.water import soil_water
from tests.support.remarks import said
from tests.support.small_layers import SOUTH, WEST, ArrayRaster, Small, frame_of, square_yards


def small(yards=3, **rasters):
    return Small(square_yards(yards, 20.0), rasters=rasters)


def west_half(inside, beyond):
    return lambda x, y: np.where(x < WEST + 30, inside, beyond)


def test_sand_and_clay_give_texture_and_water():
    made = small(sand_pct=40.0, clay_pct=20.0, depth_cm=100.0)
    soil = made.soil()
    assert (soil.rasters["texture"] == 4).all()
    # 14.26 % of the volume over 100 cm (Saxton & Rawls) is 142.6 mm.
    assert soil.rasters["available_water_mm"][0, 0] == pytest.approx(142.6, abs=0.1)
    site = made.survey()
    assert site.yards["texture"].tolist() == ["loam"] * 3
    assert site.assessed == ("texture", "depth_cm", "available_water_mm")


def test_organic_matter_of_the_study_is_used():
    made = small(sand_pct=40.0, clay_pct=20.0, depth_cm=50.0)
    made.sections = {"site": {"organic_matter_pct": 5.0}}
    soil = made.soil()
    expected = float(soil_water(40, 20, 5.0).available_pct) * 5
    assert soil.rasters["available_water_mm"][0, 0] == pytest.approx(expected, abs=0.01)


def test_any_two_of_sand_silt_and_clay_will_do():
    for given in ({"sand_pct": 40.0, "silt_pct": 40.0}, {"silt_pct": 40.0, "clay_pct": 20.0}):
        assert (small(**given).soil().rasters["texture"] == 4).all()
    soil = small(sand_pct=40.4, silt_pct=40.4, clay_pct=20.2).soil()
    assert (soil.rasters["texture"] == 4).all()
    soil = small(sand_pct=50.0, silt_pct=50.0, clay_pct=20.0).soil()
    assert np.isnan(soil.rasters["texture"]).all()
    assert any("do not add up" in said(n) for n in soil.notes)
    soil = small(sand_pct=50.0).soil()
    assert "texture" not in soil.rasters
    assert any("sand_pct alone tells no texture" in said(n) for n in soil.notes)


def test_class_rasters_by_name_and_by_number():
    texture = ArrayRaster("texture", west_half(7, 9), "class", classes={7: "Silt loam", 9: "clay"})
    drainage = ArrayRaster(
        "drainage", west_half(1, 2), "class", classes={1: "well", 2: "very poorly drained"}
    )
    zone = ArrayRaster("zone", west_half(1, 2), "class", classes={1: "6a", 2: "6b"})
    soil = small(texture=texture, drainage=drainage, zone=zone).soil()
    assert np.unique(soil.rasters["texture"]).tolist() == [5, 12]
    assert np.unique(soil.rasters["drainage"]).tolist() == [1, 5]
    assert np.unique(soil.rasters["zone"]).tolist() == [6.0, 6.5]
    soil = small(texture=west_half(4, 40), drainage=west_half(3.4, 7)).soil()
    assert np.isnan(soil.rasters["texture"][0, -1])
    assert soil.rasters["drainage"][0, 0] == pytest.approx(3.4)
    assert any("codes 40 mean no class" in said(n) for n in soil.notes)


def test_impossible_values_are_unknown_and_told():
    soil = small(ph=west_half(6.5, 65.0)).soil()
    assert np.isnan(soil.rasters["ph"][0, -1])
    assert any("ph: 50.0%" in said(n) for n in soil.notes)


def test_coarse_maps_are_told():
    """The value is the map's; that yards of 20 m share cells of 90 m stands beside it."""
    made = small(ph=ArrayRaster("ph", 6.5, cell_m=90.0), depth_cm=80.0, sand_pct=40.0)
    made.rasters["clay_pct"] = ArrayRaster("clay_pct", 20.0, cell_m=30.0)
    yards = made.survey().yards
    assert set(yards["ph_source"]) == {"raster with cells of 90 m"}
    assert set(yards["texture_source"]) == {"raster with cells of 30 m"}
    assert set(yards["available_water_mm_source"]) == {"raster with cells of 30 m"}
    assert set(yards["depth_cm_source"]) == {"raster"}


def units(split=30.0, **columns):
    shapes = [box(WEST, SOUTH, WEST + split, SOUTH + 20), box(WEST + split, SOUTH, WEST + 60, SOUTH + 20)]
    return frame_of(shapes, **columns)


def test_polygons_fill_what_rasters_leave_open():
    made = small(ph=west_half(5.0, np.nan))
    made.vectors = {"soil_units": units(ph=[6.0, 8.0])}
    site = made.survey()
    assert site.yards["ph_mean"].tolist() == pytest.approx([5, 6.5, 8])
    assert site.yards["ph_source"].tolist() == ["raster", "raster", "soil map"]
    assert site.yards["ph_known"].tolist() == [1, 1, 1]


def test_polygons_with_sand_and_clay_have_texture_and_water():
    made = small()
    made.vectors = {"soil_units": units(sand_pct=[40, 20], clay_pct=[20, 60], depth_cm=[100, 50])}
    soil = made.soil()
    assert [soil.rasters["texture"][0, c] for c in (0, -1)] == [4, 12]
    assert soil.rasters["available_water_mm"][0, 0] == pytest.approx(142.6, abs=0.1)


def test_holes_keep_their_unknown_share():
    site = small(ph=west_half(6.0, np.nan)).survey()
    assert site.yards["ph_known"].tolist() == [1, 0.5, 0]
    assert site.yards["known_share"].tolist() == [1, 0.5, 0]
    assert site.yards["ph_source"].tolist() == ["raster", "raster", "unknown"]
    assert np.isnan(site.yards["ph_mean"].iloc[2])
    assert site.yards["reaction"].iloc[2] == ""


def test_the_arrays_that_are_given_stay_as_they_were():
    made = small()
    values = np.full(made.grid.shape, 65.0, np.float32)
    soil = soil_factors(made.grid, made.yards, maps={"ph": SoilMap(values, 1.0)})
    assert np.isnan(soil.rasters["ph"]).all()
    assert (values == 65.0).all()
    assert soil.by_tests == ()


def test_water_is_told_by_the_worse_of_what_it_follows_from():
    """Texture of a raster (code 1) with depth of a soil map (2), and the other way round, are a raster's."""
    parts, raster = {"sand_pct": [40, 40], "clay_pct": [20, 20]}, {"sand_pct": 40.0, "clay_pct": 20.0}
    for rasters, polygons in ((raster, {"depth_cm": [100, 50]}), ({"depth_cm": 100.0}, parts)):
        made = small(**rasters)
        made.vectors = {"soil_units": units(**polygons)}
        soil = made.soil()
        assert {soil.sources["texture"].max(), soil.sources["depth_cm"].max()} == {1, 2}
        assert set(np.unique(soil.sources["available_water_mm"])) == {1}
