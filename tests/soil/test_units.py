"""Soil polygons on the grid: by area, with ties and half-mapped cells."""

import numpy as np
import pytest
from shapely.geometry import box

from tests.support.remarks import said
from tests.support.small_layers import SOUTH, WEST, Small, frame_of, square_yards


def small(yards=3, **rasters):
    return Small(square_yards(yards, 20.0), rasters=rasters)


def units(split=30.0, **columns):
    shapes = [box(WEST, SOUTH, WEST + split, SOUTH + 20), box(WEST + split, SOUTH, WEST + 60, SOUTH + 20)]
    return frame_of(shapes, **columns)


def test_soil_polygons_by_area_share():
    """The middle yard is half in each polygon: pH 6 and 8 give 7; the split at 30.75 shifts it by area."""
    made = small()
    made.vectors = {
        "soil_units": units(30.75, ph=[6.0, 8.0], drainage=["well", "poorly drained"], depth_cm=[50, 90])
    }
    site = made.survey()
    share = 10.75 / 20
    assert site.yards["ph_mean"].tolist() == pytest.approx([6, 6 * share + 8 * (1 - share), 8], abs=1e-5)
    assert site.yards["drainage_mode"].tolist() == ["well drained", "well drained", "poorly drained"]
    assert set(site.yards["ph_source"]) == {"soil map"}


def test_ties_of_classes_go_to_the_lower_number():
    made = small(1)
    made.cell_m = 20.0
    made.vectors = {"soil_units": units(10.0, drainage=["well", "poorly"])}
    assert made.soil().rasters["drainage"][0, 0] == 2


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
