"""Soil tests: whose yard, several of one yard, what is not used."""

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point

from habitat.soil.water import soil_water
from tests.support.remarks import said
from tests.support.small_layers import SOUTH, WEST, Small, frame_of, square_yards


def small(yards=3, **rasters):
    return Small(square_yards(yards, 20.0), rasters=rasters)


def west_half(inside, beyond):
    return lambda x, y: np.where(x < WEST + 30, inside, beyond)


def test_soil_tests_win_in_their_yard_only():
    made = small(ph=6.0, depth_cm=100.0, sand_pct=40.0, clay_pct=20.0)
    made.vectors = {
        "soil_tests": pd.DataFrame(
            {"yard_id": ["y1"], "ph": [7.4], "texture": ["clay"], "drainage": ["poorly"], "depth_cm": [60]}
        )
    }
    site = made.survey()
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
    made.yards.geometry = made.yards.translate(0.4, 0.4)
    yards = made.survey().yards
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
    yards = made.survey().yards
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
    yards = made.survey().yards
    assert yards["texture"].tolist() == ["clay", "sand", ""]


def test_impossible_tests_are_told_and_not_used():
    made = small(ph=6.0)
    made.vectors = {
        "soil_tests": pd.DataFrame(
            {"yard_id": ["y0", "y1"], "ph": [65.0, 7.0], "drainage": ["soggy", "well"]}
        )
    }
    site = made.survey()
    assert site.yards["ph_mean"].tolist() == pytest.approx([6, 7, 6])
    told = " ".join(said(n) for n in site.notes)
    assert "ph 65 is impossible" in told
    assert "drainage 'soggy' is no class" in told


def test_a_test_holds_for_a_yard_smaller_than_a_cell():
    made = Small(square_yards(2, 3.0), cell_m=10.0, rasters={"ph": 6.0})
    made.vectors = {"soil_tests": pd.DataFrame({"yard_id": ["y1"], "ph": [7.0]})}
    assert made.survey().yards["ph_mean"].tolist() == pytest.approx([6, 7])


def test_a_test_tells_nothing_of_the_neighbour_that_shares_its_cells():
    made = Small(square_yards(3, 10.5), cell_m=1.0, rasters={"depth_cm": 100.0})
    made.vectors = {"soil_tests": pd.DataFrame({"yard_id": ["y1"], "ph": [6.4], "texture": ["loam"]})}
    yards = made.survey().yards
    assert yards["ph_source"].tolist() == ["not assessed", "soil test", "not assessed"]
    assert yards["ph_known"].tolist() == [0.0, 1.0, 0.0]
    assert yards["ph_mean"].isna().tolist() == [True, False, True]
    assert yards["texture"].tolist() == ["", "loam", ""]


def test_what_tests_alone_tell_is_not_assessed_in_other_yards():
    """One test in the middle yard, no map: its neighbours know no more and no less than before."""
    bare, tested = small(depth_cm=100.0), small(depth_cm=100.0)
    tested.vectors["soil_tests"] = pd.DataFrame({"yard_id": ["y1"], "ph": [6.4]})
    without, site = bare.survey(), tested.survey()
    assert site.by_tests == ("ph",)
    assert site.yards["ph_source"].tolist() == ["not assessed", "soil test", "not assessed"]
    assert site.yards["known_share"].tolist() == without.yards["known_share"].tolist() == [1.0] * 3
    tested.rasters["ph"] = west_half(np.nan, 6.0)  # a map with a hole: there it is unknown
    mapped = tested.survey()
    assert mapped.by_tests == ()
    assert "unknown" in set(mapped.yards["ph_source"])
