"""The view that tells why a spot is dark."""

import numpy as np
import pytest
from shapely.geometry import Point, box

from habitat.errors import ParameterError
from habitat.sun.horizon import horizon_view
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


def test_the_horizon_of_a_wall():
    """Due south the wall's top is seen at atan(height / distance to its face); due north the view is free."""
    site = small().survey()
    view = horizon_view(*site.heights(), WEST + 30.5, SOUTH + 3.5)
    turn = 0.7  # degrees by which grid and true north differ here at most
    south = view.horizon_deg[180]
    assert south == pytest.approx(np.degrees(np.arctan(4 / 5.5)), abs=0.5 + turn)
    assert view.horizon_deg[0] == 0
    assert np.isnan(view.distance_m[0])
    assert view.distance_m[180] == pytest.approx(5.5, abs=0.1)
    assert not view.under_cover


def test_the_view_agrees_with_the_hours():
    """Positions that the view calls lit add up to the hours of the cell, within a few steps."""
    site = small().survey()
    for x, y in ((10.5, 2.5), (30.5, 8.5), (50.5, 15.5)):
        view = horizon_view(*site.heights(), WEST + x, SOUTH + y)
        for month in (4, 6, 9):
            there = site.sun_by_month[month][cell(site, x, y)]
            assert view.tracks[month].hours == pytest.approx(there, abs=0.8)


def test_bare_crowns_let_their_share_into_the_view():
    """Under and beside a deciduous crown: in April half the light that it covers comes through."""
    made = small()
    made.vectors["trees"] = frame_of(
        [Point(WEST + 30, SOUTH + 10)], height_m=[9], crown_m=[6], evergreen=[False]
    )
    site = made.survey()
    for y in (10.5, 15.5):
        view = horizon_view(*site.heights(), WEST + 30.5, SOUTH + y)
        assert set(np.unique(view.tracks[4].light)) <= {0.0, 0.5, 1.0}
        assert (view.tracks[4].light == 0.5).sum() >= 8
        assert set(np.unique(view.tracks[6].light)) <= {0.0, 1.0}
        april = site.sun_by_month[4][cell(site, 30.5, y)]
        assert view.tracks[4].hours == pytest.approx(april, abs=0.8)


def test_a20_horizon_of_a_half_sphere():
    """asin(R / D): 17.4576 degrees for R 3, D 10, on half-metre cells (closed form)."""

    def dome(x, y):
        away = np.hypot(x - WEST - 20.25, y - SOUTH - 10.25)
        return np.sqrt(np.clip(9 - away**2, 0, None))

    made = Small(square_yards(2, 20.0), cell_m=0.5, rasters={"terrain_m": dome})
    view = horizon_view(*made.survey().heights(), WEST + 10.25, SOUTH + 10.25)
    assert view.horizon_deg.max() == pytest.approx(17.4576, abs=0.4)
    assert abs(view.azimuth_deg[np.argmax(view.horizon_deg)] - 90) <= 2


def test_a20_horizon_of_a_cone():
    """atan(H / D) from outside the base: 21.8014 degrees for H 4, R 3, D 10 (closed form)."""

    def cone(x, y):
        return 4 * np.clip(1 - np.hypot(x - WEST - 20.25, y - SOUTH - 10.25) / 3, 0, None)

    made = Small(square_yards(2, 20.0), cell_m=0.5, rasters={"terrain_m": cone})
    view = horizon_view(*made.survey().heights(), WEST + 10.25, SOUTH + 10.25)
    assert view.horizon_deg.max() == pytest.approx(21.8014, abs=0.4)


def test_a21_sky_view_of_walls_canyons_and_basins():
    """(1 + cos b) / 2 beside a wall, cos b in a canyon, cos^2 b in a round basin (Oke 1987; from memory).

    The share of sky is the mean of cos^2 of the horizon over all azimuths. Walls are 800 m long; b lies
    between those of a wall a cell nearer and a cell farther.
    """

    def sky(middle, land, span):
        made = Small(square_yards(1, 20.0), cell_m=1.0, rasters={"terrain_m": land}, bounds=span)
        view = horizon_view(*made.survey().heights(), *middle)
        return float((np.cos(np.radians(view.horizon_deg)) ** 2).mean())

    x, y, away = WEST + 10.5, SOUTH + 10.5, 20
    strip = (WEST - 20, SOUTH - 400, WEST + 42, SOUTH + 420)
    high = away * np.tan(np.radians(30))
    wall = sky((x, y), lambda e, n: np.where(e - x > away - 0.6, high, 0.0) + 0 * n, strip)
    canyon = sky((x, y), lambda e, n: np.where(abs(e - x) > away - 0.6, high, 0.0) + 0 * n, strip)
    round_span = (WEST - 20, SOUTH - 20, WEST + 42, SOUTH + 42)
    basin = sky((x, y), lambda e, n: np.where(np.hypot(e - x, n - y) > away - 0.5, high, 0.0), round_span)
    near, far = (np.degrees(np.arctan(high / (away + d))) for d in (-1.0, 1.0))
    for got, formula in (
        (wall, lambda b: (1 + np.cos(b)) / 2),
        (canyon, np.cos),
        (basin, lambda b: np.cos(b) ** 2),
    ):
        assert formula(np.radians(near)) - 0.005 <= got <= formula(np.radians(far)) + 0.005


def test_under_a_crown_the_view_says_so():
    made = small()
    made.vectors["trees"] = frame_of(
        [Point(WEST + 30, SOUTH + 10)], height_m=[9], crown_m=[6], evergreen=[True]
    )
    view = horizon_view(*made.survey().heights(), WEST + 31, SOUTH + 10)
    assert view.under_cover
    assert view.tracks[6].hours == 0


def test_spots_without_a_view_are_refused():
    site = small().survey()
    with pytest.raises(ParameterError, match="inside the grid"):
        horizon_view(*site.heights(), 0, 0)
    with pytest.raises(ParameterError, match="without heights"):
        horizon_view(*Small(square_yards(2)).survey().heights(), WEST + 1, SOUTH + 1)
