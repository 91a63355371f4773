"""Counted hours: they win at their spot and correct their surroundings."""

import numpy as np
import pytest
from shapely.geometry import Point, box

from tests.support.remarks import said
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


def test_a_count_wins_at_its_spot_and_fades_with_distance():
    plain = small().survey().rasters["sun_h"]
    counts = frame_of([Point(WEST + 10.5, SOUTH + 10.5)], sun_h=[9.0])
    site = small(counts).survey()
    got = site.rasters["sun_h"]
    spot = cell(site, 10.5, 10.5)
    assert got[spot] == 9.0
    off = 9.0 - plain[spot]
    near, far = cell(site, 20.5, 10.5), cell(site, 59.5, 10.5)
    assert got[near] - plain[near] == pytest.approx(off * np.exp(-((10 / 30) ** 2)), abs=1e-3)
    assert abs(got[far] - plain[far]) < 0.1 * abs(off)
    ratio = got[near] / plain[near]
    assert site.sun_by_month[6][near] == pytest.approx(small().survey().sun_by_month[6][near] * ratio)
    told = [said(n) for n in site.notes if "were counted" in said(n)]
    assert len(told) == 1
    assert "yard y0: 9 h of sun were counted" in told[0]
    assert "counted by people at a spot" in site.yards["sun_h_source"].iloc[0]


def test_a_count_of_a_yard_is_the_mean_of_that_yard():
    import pandas as pd

    counts = pd.DataFrame({"yard_id": ["y1", "y1"], "sun_h": [7.0, 8.0]})
    site = small(counts).survey()
    assert site.yards["sun_h_mean"].iloc[1] == 7.5
    assert site.yards["sun_h_source"].tolist()[1] == "counted by people"
    inside = site.rasters["sun_h"][15:35, 35:55]
    assert inside.mean() == pytest.approx(7.5, abs=0.01)


def test_a_count_without_any_heights_is_known_where_it_was_made():
    made = Small(
        square_yards(2), vectors={"soil_tests": frame_of([Point(WEST + 10, SOUTH + 10)], sun_h=[6.5])}
    )
    site = made.survey()
    assert "sun_h" in site.assessed
    assert np.nanmax(site.rasters["sun_h"]) == 6.5
    assert site.yards["sun_h_known"].tolist() == pytest.approx([1 / 400, 0.0])


def test_hours_that_cannot_be_are_not_used():
    counts = frame_of([Point(WEST + 10, SOUTH + 10), Point(WEST + 999, SOUTH)], sun_h=[19.0, 5.0])
    site = small(counts).survey()
    assert any("19 h of sun cannot be" in said(n) for n in site.notes)
    assert any("lies in no yard" in said(n) for n in site.notes)
    assert (site.rasters["sun_h"] == small().survey().rasters["sun_h"]).sum() > 0.9 * site.rasters[
        "sun_h"
    ].size - 900
