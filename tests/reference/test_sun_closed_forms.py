"""Swept sun hours against closed forms for walls, canyons, slopes, posts and blocks; A8-A19.

Sources: ``sun_hours_closed_form.csv`` (half day length: Duffie & Beckman; walls as horizons of another
latitude, derived). A wall one cell thick at distance D lies between D - c/2 and D + c/2 for cell c, so hours
must lie between the two closed forms, within the time steps. Rays are followed from cell to cell, up to half
a cell aside of a cell's centre, now to one side and now to the other: hence means over cells along a wall,
and c more for a single cell.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from pvlib import shading

from habitat.sun.path import Place, SunPath, sun_path
from habitat.sun.shadows import heights_of, lit_counts
from tests.support.sun_truth import declination_path

TABLE = pd.read_csv(Path(__file__).parent / "sun_hours_closed_form.csv", comment="#")
STEP_MINUTES = 4.0
STEP_H = STEP_MINUTES / 60


def hours(caster, path, cell_m=1.0, ground=None):
    counts = lit_counts(
        heights_of(caster.astype(np.float32), cell_m, ground=ground), path, path.month, groups=24
    )
    return counts.sum(axis=0, dtype=int) * path.step_h


def half_day(latitude, declination):
    x, d = np.radians(latitude), np.radians(declination)
    return np.degrees(np.arccos(np.clip(-np.tan(x) * np.tan(d), -1, 1)))


def wall_to_south(latitude, declination, top_deg):
    """A11, any angle."""
    flat = half_day(latitude, declination)
    if latitude + top_deg < 90:
        return 2 / 15 * min(flat, half_day(latitude + top_deg, declination))
    # Beyond the zenith the wall hides the sun around noon: H0 of the far side, clipped to never and all day.
    return 2 / 15 * max(0.0, flat - half_day(latitude + top_deg, declination))


def wall_to_west(latitude, declination, top_deg):
    """A12."""
    k, lat, d = np.tan(np.radians(top_deg)), np.radians(latitude), np.radians(declination)
    a, b, day = np.cos(lat), np.tan(d) * np.sin(lat), half_day(latitude, declination)
    c = -b / np.hypot(a, k)
    after = day if c < -1 else np.degrees(np.arccos(c) - np.arctan2(k, a))
    return (day + np.clip(after, -day, day)) / 15


def test_the_formulas_written_here_give_the_table():
    for row in TABLE.itertuples():
        assert wall_to_south(row.lat, row.dec, row.beta_deg) == pytest.approx(
            row.wall_E_W_to_south_h, abs=1e-3
        )
        assert wall_to_west(row.lat, row.dec, row.beta_deg) == pytest.approx(row.wall_N_S_to_west_h, abs=1e-3)


@pytest.mark.parametrize("declination", [-23.44, -10.0, 0.0, 10.0, 23.44])
def test_a10_flat_ground(declination):
    expected = TABLE.loc[TABLE["dec"] == declination, "flat_h"].iloc[0]
    got = hours(np.zeros((9, 11)), declination_path(42, declination, STEP_MINUTES))
    assert np.ptp(got) == 0
    assert got[0, 0] == pytest.approx(expected, abs=STEP_H)


DISTANCE = 8
ENDS_H = 0.15
"""A wall of 2 x 400 cells leaves 1.1 degrees at either end: 5 minutes at sunrise and at sunset."""


def between(got, one, two, slack=2 * STEP_H):
    low, high = sorted((one, two))
    assert low - slack <= got <= high + slack + ENDS_H


@pytest.mark.parametrize("row", [r for r in TABLE.itertuples() if r.beta_deg in (20, 30, 60)], ids=str)
def test_a11_wall_to_the_south(row):
    height = DISTANCE * np.tan(np.radians(row.beta_deg))
    land = np.zeros((DISTANCE + 3, 801))
    land[-2] = height
    got = hours(land, declination_path(42, row.dec, STEP_MINUTES))[1, 350:450]
    for half, value in ((0.5, got.mean()), (1.0, got.min()), (1.0, got.max())):
        ends = [np.degrees(np.arctan(height / (DISTANCE + sign * half))) for sign in (-1, 1)]
        between(value, *(wall_to_south(42, row.dec, b) for b in ends))


@pytest.mark.parametrize("row", [r for r in TABLE.itertuples() if r.beta_deg in (20, 45, 75)], ids=str)
def test_a12_wall_to_the_west_and_a13_canyon(row):
    height = DISTANCE * np.tan(np.radians(row.beta_deg))
    land = np.zeros((801, 2 * DISTANCE + 1))
    land[:, 0] = height
    path = declination_path(42, row.dec, STEP_MINUTES)
    ends = [
        wall_to_west(42, row.dec, np.degrees(np.arctan(height / (DISTANCE + half)))) for half in (-0.5, 0.5)
    ]
    between(hours(land, path)[350:450, DISTANCE].mean(), *ends)
    land[:, -1] = height
    flat = 2 / 15 * half_day(42, row.dec)
    between(hours(land, path)[350:450, DISTANCE].mean(), *(2 * e - flat for e in ends), slack=4 * STEP_H)


@pytest.mark.parametrize("tilt", [15, 30, 45])
@pytest.mark.parametrize("declination", [-23.44, 0.0, 23.44])
def test_a14_south_slope(tilt, declination):
    """(2/15) min(H0(L), H0(L - t)), in cells whose sunward neighbours are there to tell the slope."""
    rows = np.arange(60)[:, None] + np.zeros((60, 60))
    land = (-rows * np.tan(np.radians(tilt))).astype(np.float32)
    got = hours(land, declination_path(42, declination, STEP_MINUTES), ground=land)
    expected = 2 / 15 * min(half_day(42, declination), half_day(42 - tilt, declination))
    assert np.allclose(got[20:40, 20:40], expected, atol=2 * STEP_H)


@pytest.mark.parametrize("aspect", [20, 100, 200, 300])
def test_a_slope_of_any_aspect_is_lit_while_the_sun_is_above_its_plane(aspect):
    path = declination_path(42, 15.0, 10.0)
    row, col = np.mgrid[0:50, 0:50]
    downhill = np.radians(aspect)
    fall = 0.35 * (np.sin(downhill) * col - np.cos(downhill) * row)
    land = (-fall).astype(np.float32)
    got = hours(land, path, ground=land)[20:30, 20:30]
    rise_to_sun = -0.35 * np.cos(path.azimuth - downhill)
    expected = (np.tan(path.elevation) > rise_to_sun).sum() * path.step_h
    assert np.allclose(got, expected, atol=2 * path.step_h)


@pytest.mark.parametrize(("half", "away", "height"), [(5, 4, 6), (5, 4, 4)])
def test_a15_finite_wall_at_equinox(half, away, height):
    """12 - (2/15) atan(w sin L / dist) where dist < H tan L, else 12 h; half-metre cells."""
    cell = 0.5
    land = np.zeros((20, 61))
    land[12, 30 - round(half / cell) : 30 + round(half / cell) + 1] = height
    row = 12 - round(away / cell)
    got = hours(land, declination_path(42, 0.0, STEP_MINUTES), cell)[row, 30]
    sin_l, tan_l = np.sin(np.radians(42)), np.tan(np.radians(42))

    def formula(w, d):
        return 12 - 2 / 15 * np.degrees(np.arctan(w * sin_l / d)) if d < height * tan_l else 12.0

    # The row of cells spans one cell more than 2 w.
    bounds = [formula(half + e * cell, away - f * cell) for e in (-0.5, 1.5) for f in (-1, 1)]
    assert min(bounds) - 2 * STEP_H <= got <= max(bounds) + 2 * STEP_H


def test_a15_values_of_the_catalogue():
    """12 - 5.32127 h for w 5, dist 4, H 6 at 42 N."""
    assert 12 - 2 / 15 * np.degrees(np.arctan(5 * np.sin(np.radians(42)) / 4)) == pytest.approx(
        6.67873, abs=1e-5
    )


@pytest.mark.parametrize(
    ("azimuth", "altitude", "area"), [(180, 40, 171.5052), (225, 40, 201.1236), (200, 25, 264.9185)]
)
def test_a19_shadow_area_of_a_block(azimuth, altitude, area):
    """Footprint and shadow of a 10 x 10 m block of 6 m, as a Minkowski sum; quarter-metre cells."""
    cell = 0.25
    land = np.zeros((160, 160), np.float32)
    land[60:100, 60:100] = 6.0
    path = SunPath(
        np.zeros(1, int), np.radians([float(azimuth)]), np.radians([float(altitude)]), np.zeros(1), 1.0
    )
    lit = lit_counts(heights_of(land, cell), path, path.month)[0]
    covered = ((lit == 0) | (land > 0)).sum() * cell**2
    assert covered == pytest.approx(area, rel=0.02)


def test_a16_real_date_with_a_wall():
    """42 N, 83 W, 15 October: 9.744 h under a wall at 20 degrees, 8.208 h at 30 (closed form)."""
    path = sun_path(Place(42, -83), [10], step_minutes=5)
    spread = SunPath(path.solar_hour.astype(int), path.azimuth, path.elevation, path.solar_hour, path.step_h)
    for top, expected in ((20, 9.744), (30, 8.208)):
        height = DISTANCE * np.tan(np.radians(top))
        land = np.zeros((DISTANCE + 3, 801))
        land[-2] = height
        got = hours(land, spread)[1, 400]
        nearer = np.degrees(np.arctan(height / (DISTANCE - 0.5)))
        span = abs(expected - wall_to_south(42, -8.6, nearer))
        assert expected - span - 0.2 <= got <= expected + 0.2 + ENDS_H


def noon(azimuth_deg, altitude_deg):
    """A single sun position."""
    turned, up = np.radians([float(azimuth_deg)]), np.radians([float(altitude_deg)])
    return SunPath(np.zeros(1, int), turned, up, np.zeros(1), 1.0)


def test_a8_length_of_a_shadow():
    """A8: height 6, sun at 40 degrees: 7.150522 to the north of the wall's face, within one cell of 5 cm."""
    cell, wall = 0.05, 4
    land = np.zeros((200, 5), np.float32)
    land[-wall:] = 6.0
    lit = lit_counts(heights_of(land, cell), noon(180, 40), np.zeros(1, int))[0, :, 2]
    dark = (lit[:-wall] == 0).sum() * cell
    assert dark == pytest.approx(7.150522, abs=cell)


@pytest.mark.parametrize(
    ("declination", "tips"),
    [
        (0.0, [(0.0, 0.900404), (None, 0.900404), (None, 0.900404)]),
        (23.44, [(0.0, 0.33576), (0.53551, 0.27555), (0.86698, 0.18507)]),
        (-23.44, [(0.0, 2.18822), (1.41455, 2.55097), (3.00424, 3.37916)]),
    ],
)
def test_a9_shadow_tip_of_a_post(declination, tips):
    """A9: tip of a post's shadow (x, y) in post heights, 42 N, at solar hours 12, 14 and 15; cells of H / 40.

    At the equinox y is H tan(latitude) all day.
    """
    height, cell = 2.0, 0.05
    land = np.zeros((301, 301), np.float32)
    land[290, 10] = height  # the afternoon's shadow falls to the north-east
    day = declination_path(42, declination, 0.5)
    for hour, (x, y) in zip((12, 14, 15), tips, strict=True):
        at = int(np.argmin(np.abs(day.solar_hour - hour)))
        sun = noon(np.degrees(day.azimuth[at]), np.degrees(day.elevation[at]))
        dark = lit_counts(heights_of(land, cell), sun, np.zeros(1, int))[0] == 0
        row, col = np.nonzero(dark)
        north, east = (290 - row) * cell / height, (col - 10) * cell / height
        tip = np.argmax(np.hypot(north, east))
        assert north[tip] == pytest.approx(y, abs=2.5 * cell / height)
        if x is not None:
            assert east[tip] == pytest.approx(x, abs=2.5 * cell / height)


@pytest.mark.parametrize(("azimuth", "zenith"), [(180, 60), (150, 65), (215, 55), (170, 70)])
def test_a17_a18_profile_angle_and_parallel_fences(azimuth, zenith):
    """A17, A18: the shaded share of the next fence, against pvlib (Anderson & Mikofski 2020), 5 cm cells.

    Points at every height of the second fence's face are receivers of their own, side by side.
    """
    height, pitch, cell = 2.0, 3.0, 0.05
    profile = 90 - shading.projected_solar_zenith_angle(zenith, azimuth, 0, 90)
    sun = noon(azimuth, 90 - zenith)
    up, north = np.sin(sun.elevation[0]), np.cos(sun.elevation[0]) * np.cos(sun.azimuth[0])
    assert abs(profile) == pytest.approx(np.degrees(np.arctan2(up, -north)), abs=1e-9)
    expected = shading.shaded_fraction1d(
        zenith, azimuth, axis_azimuth=90, shaded_row_rotation=90, axis_tilt=0, collector_width=height,
        pitch=pitch, surface_to_axis_offset=0, cross_axis_slope=0, shading_row_rotation=90,
    )  # fmt: skip
    rows, wide = round(pitch / cell) + 2, 1200
    land, face = np.zeros((rows, wide), np.float32), np.zeros((rows, wide), np.float32)
    land[-2:] = height
    steps = np.arange(400)
    face[0, 400:800] = (steps + 0.5) * height / 400
    lit = lit_counts(heights_of(land, cell, receiver=face), sun, np.zeros(1, int))[0, 0, 400:800]
    assert (lit == 0).mean() == pytest.approx(
        expected, abs=2 * cell * np.tan(np.radians(abs(profile))) / height
    )
