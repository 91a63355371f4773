"""Soil from rasters, polygons and tests: which wins, what is unknown, where it is from."""

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point, box

from habitat.pipeline.survey import survey
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
    site = survey(made.layers())
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
    yards = survey(made.layers()).yards
    assert set(yards["ph_source"]) == {"raster with cells of 90 m"}
    assert set(yards["texture_source"]) == {"raster with cells of 30 m"}
    assert set(yards["available_water_mm_source"]) == {"raster with cells of 30 m"}
    assert set(yards["depth_cm_source"]) == {"raster"}


# Polygons --------------------------------------------------------------------------------------------------


def units(split=30.0, **columns):
    shapes = [box(WEST, SOUTH, WEST + split, SOUTH + 20), box(WEST + split, SOUTH, WEST + 60, SOUTH + 20)]
    return frame_of(shapes, **columns)


def test_soil_polygons_by_area_share():
    """The middle yard is half in each polygon: pH 6 and 8 give 7; the split at 30.75 shifts it by area."""
    made = small()
    made.vectors = {
        "soil_units": units(30.75, ph=[6.0, 8.0], drainage=["well", "poorly drained"], depth_cm=[50, 90])
    }
    site = survey(made.layers())
    share = 10.75 / 20
    assert site.yards["ph_mean"].tolist() == pytest.approx([6, 6 * share + 8 * (1 - share), 8], abs=1e-5)
    assert site.yards["drainage_mode"].tolist() == ["well drained", "well drained", "poorly drained"]
    assert set(site.yards["ph_source"]) == {"soil map"}


def test_ties_of_classes_go_to_the_lower_number():
    made = small(1)
    made.cell_m = 20.0
    made.vectors = {"soil_units": units(10.0, drainage=["well", "poorly"])}
    assert made.soil().rasters["drainage"][0, 0] == 2


def test_polygons_fill_what_rasters_leave_open():
    made = small(ph=west_half(5.0, np.nan))
    made.vectors = {"soil_units": units(ph=[6.0, 8.0])}
    site = survey(made.layers())
    assert site.yards["ph_mean"].tolist() == pytest.approx([5, 6.5, 8])
    assert site.yards["ph_source"].tolist() == ["raster", "raster", "soil map"]
    assert site.yards["ph_known"].tolist() == [1, 1, 1]


def test_polygons_with_sand_and_clay_have_texture_and_water():
    made = small()
    made.vectors = {"soil_units": units(sand_pct=[40, 20], clay_pct=[20, 60], depth_cm=[100, 50])}
    soil = made.soil()
    assert [soil.rasters["texture"][0, c] for c in (0, -1)] == [4, 12]
    assert soil.rasters["available_water_mm"][0, 0] == pytest.approx(142.6, abs=0.1)


def test_words_that_mean_nothing_are_told():
    made = small()
    made.vectors = {"soil_units": units(texture=["mud", "loam"])}
    soil = made.soil()
    assert np.isnan(soil.rasters["texture"][0, 0])
    assert any("'mud' is no class that we know" in said(n) for n in soil.notes)


def test_a_cell_less_than_half_mapped_is_unknown():
    made = small(1)
    made.cell_m = 20.0
    made.vectors = {"soil_units": frame_of([box(WEST, SOUTH, WEST + 9, SOUTH + 20)], ph=[6.0])}
    assert np.isnan(made.soil().rasters["ph"][0, 0])


# Tests -----------------------------------------------------------------------------------------------------


def test_soil_tests_win_in_their_yard_only():
    made = small(ph=6.0, depth_cm=100.0, sand_pct=40.0, clay_pct=20.0)
    made.vectors = {
        "soil_tests": pd.DataFrame(
            {"yard_id": ["y1"], "ph": [7.4], "texture": ["clay"], "drainage": ["poorly"], "depth_cm": [60]}
        )
    }
    site = survey(made.layers())
    yards = site.yards
    assert yards["ph_mean"].tolist() == pytest.approx([6, 7.4, 6])
    assert yards["texture"].tolist() == ["loam", "clay", "loam"]
    assert yards["ph_source"].tolist() == ["raster", "soil test", "raster"]
    assert yards["drainage_source"].tolist() == ["not assessed", "soil test", "not assessed"]
    assert yards["drainage_known"].tolist() == [0, 1, 0]
    clay = float(soil_water(25, 50).available_pct) * 6
    assert yards["available_water_mm_mean"].tolist() == pytest.approx([142.6, clay, 142.6], abs=0.1)
    assert yards["reaction"].tolist() == ["moderately acid", "slightly alkaline", "moderately acid"]


def test_water_worked_out_of_a_yards_own_tests_is_known_in_all_of_it():
    """Cells that a yard shares with its neighbour hold no test; a yard without depth has no water."""
    made = small(ph=6.0)
    tests = {"yard_id": ["y1", "y2"], "ph": [7.4, 6.5], "texture": ["clay", "loam"], "depth_cm": [60, None]}
    made.vectors = {"soil_tests": pd.DataFrame(tests)}
    layers = made.layers()
    layers.yards.geometry = layers.yards.translate(0.4, 0.4)
    yards = survey(layers).yards
    assert yards["available_water_mm_known"].tolist() == [0, 1, 0]
    assert yards["available_water_mm_source"].tolist() == ["not assessed", "soil test", "not assessed"]


def test_several_tests_of_a_yard():
    """Median of numbers; most frequent class, at a tie the wetter drainage and the finer texture."""
    made = small()
    made.vectors = {
        "soil_tests": pd.DataFrame(
            {
                "yard_id": ["y0"] * 3 + ["y1"] * 2,
                "ph": [6.0, 7.0, 7.9, 5.0, 6.0],
                "drainage": ["well", "well", "poorly", "well", "poorly"],
                "texture": ["loam", "clay", "loam", "sand", "loam"],
            }
        )
    }
    yards = survey(made.layers()).yards
    assert yards["ph_mean"].tolist()[:2] == [7.0, 5.5]
    assert yards["drainage_mode"].tolist()[:2] == ["well drained", "poorly drained"]
    assert yards["texture"].tolist()[:2] == ["loam", "loam"]


def test_tests_by_place_and_tests_that_lie_nowhere():
    places = [Point(WEST + 25, SOUTH + 5), Point(WEST + 500, SOUTH)]
    made = small()
    made.vectors = {"soil_tests": frame_of(places, ph=[7.0, 4.0])}
    soil = made.soil()
    assert soil.tests["ph"] == {"y1": 7.0}
    assert [n.subject.rows for n in soil.notes if "lies in no yard" in said(n)] == [(1,)]


def test_measured_sand_and_clay_beat_a_guessed_class():
    made = small()
    made.vectors = {
        "soil_tests": pd.DataFrame(
            {
                "yard_id": ["y0", "y1"],
                "sand_pct": [20, 30],
                "clay_pct": [60, None],
                "texture": ["loam", "sand"],
            }
        )
    }
    yards = survey(made.layers()).yards
    assert yards["texture"].tolist() == ["clay", "sand", ""]


def test_impossible_tests_are_told_and_not_used():
    made = small(ph=6.0)
    made.vectors = {
        "soil_tests": pd.DataFrame(
            {"yard_id": ["y0", "y1"], "ph": [65.0, 7.0], "drainage": ["soggy", "well"]}
        )
    }
    site = survey(made.layers())
    assert site.yards["ph_mean"].tolist() == pytest.approx([6, 7, 6])
    told = " ".join(said(n) for n in site.notes)
    assert "ph 65 is impossible" in told
    assert "drainage 'soggy' is no class" in told


def test_a_test_holds_for_a_yard_smaller_than_a_cell():
    made = Small(square_yards(2, 3.0), cell_m=10.0, rasters={"ph": 6.0})
    made.vectors = {"soil_tests": pd.DataFrame({"yard_id": ["y1"], "ph": [7.0]})}
    assert survey(made.layers()).yards["ph_mean"].tolist() == pytest.approx([6, 7])


def test_holes_keep_their_unknown_share():
    site = survey(small(ph=west_half(6.0, np.nan)).layers())
    assert site.yards["ph_known"].tolist() == [1, 0.5, 0]
    assert site.yards["known_share"].tolist() == [1, 0.5, 0]
    assert site.yards["ph_source"].tolist() == ["raster", "raster", "unknown"]
    assert np.isnan(site.yards["ph_mean"].iloc[2])
    assert site.yards["reaction"].iloc[2] == ""


def test_a_test_tells_nothing_of_the_neighbour_that_shares_its_cells():
    made = Small(square_yards(3, 10.5), cell_m=1.0, rasters={"depth_cm": 100.0})
    made.vectors = {"soil_tests": pd.DataFrame({"yard_id": ["y1"], "ph": [6.4], "texture": ["loam"]})}
    yards = survey(made.layers()).yards
    assert yards["ph_source"].tolist() == ["not assessed", "soil test", "not assessed"]
    assert yards["ph_known"].tolist() == [0.0, 1.0, 0.0]
    assert yards["ph_mean"].isna().tolist() == [True, False, True]
    assert yards["texture"].tolist() == ["", "loam", ""]


def test_what_tests_alone_tell_is_not_assessed_in_other_yards():
    """One test in the middle yard, no map: its neighbours know no more and no less than before."""
    bare, tested = small(depth_cm=100.0), small(depth_cm=100.0)
    tested.vectors["soil_tests"] = pd.DataFrame({"yard_id": ["y1"], "ph": [6.4]})
    without, site = survey(bare.layers()), survey(tested.layers())
    assert site.by_tests == ("ph",)
    assert site.yards["ph_source"].tolist() == ["not assessed", "soil test", "not assessed"]
    assert site.yards["known_share"].tolist() == without.yards["known_share"].tolist() == [1.0] * 3
    tested.rasters["ph"] = west_half(np.nan, 6.0)  # a map with a hole: there it is unknown
    mapped = survey(tested.layers())
    assert mapped.by_tests == ()
    assert "unknown" in set(mapped.yards["ph_source"])
