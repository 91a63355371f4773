"""Sun positions against Reda & Andreas (2004) and tables computed apart; catalogue entries A1-A9, A16.

Sources: NREL/TP-560-34302, worked example (table A5.1); ``sun_positions.csv`` and ``day_lengths.csv`` say
theirs.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from pvlib import solarposition, spa
from scipy.optimize import brentq

from habitat.grid import Grid
from habitat.sun.path import Place, place_of, sun_path
from tests.support.small_layers import UTM17

HERE = Path(__file__).parent


def test_a1_worked_example():
    """A1: the printed zenith, azimuth and equation of time."""
    time = pd.DatetimeIndex(["2003-10-17 12:30:30-07:00"])
    got = solarposition.spa_python(
        time, 39.742476, -105.1786, altitude=1830.14, pressure=82000, temperature=11, delta_t=67
    ).iloc[0]
    assert got["apparent_zenith"] == pytest.approx(50.11162, abs=1e-4)
    assert got["zenith"] == pytest.approx(50.127954, abs=1e-4)
    assert got["azimuth"] == pytest.approx(194.34024, abs=1e-4)
    assert got["equation_of_time"] == pytest.approx(14.6415, abs=1e-4)


def test_a2_steps_of_the_worked_example():
    """A2: Julian day, heliocentric place, nutation, obliquity, apparent longitude, ascension, hour angle."""
    jd = spa.julian_day_dt(2003, 10, 17, 19, 30, 30, 0)
    assert jd == pytest.approx(2452930.312847, abs=1e-6)
    jme = spa.julian_ephemeris_millennium(spa.julian_ephemeris_century(spa.julian_ephemeris_day(jd, 67)))
    assert spa.heliocentric_longitude(jme) == pytest.approx(24.0182616917, abs=1e-8)
    assert spa.heliocentric_latitude(jme) == pytest.approx(-0.0001011219, abs=1e-9)
    assert spa.heliocentric_radius_vector(jme) == pytest.approx(0.9965422974, abs=1e-9)
    jce = spa.julian_ephemeris_century(spa.julian_ephemeris_day(jd, 67))
    angles = [f(jce) for f in (
        spa.mean_elongation, spa.mean_anomaly_sun, spa.mean_anomaly_moon,
        spa.moon_argument_latitude, spa.moon_ascending_longitude,
    )]  # fmt: skip
    nutation = np.zeros(2)
    spa.longitude_obliquity_nutation(jce, *angles, nutation)
    assert nutation == pytest.approx([-0.00399840, 0.00166657], abs=1e-8)
    tilt = spa.true_ecliptic_obliquity(spa.mean_ecliptic_obliquity(jme), nutation[1])
    assert tilt == pytest.approx(23.440465, abs=1e-6)
    longitude = spa.apparent_sun_longitude(
        spa.geocentric_longitude(spa.heliocentric_longitude(jme)),
        nutation[0],
        spa.aberration_correction(spa.heliocentric_radius_vector(jme)),
    )
    assert longitude == pytest.approx(204.0085519, abs=1e-6)
    latitude = spa.geocentric_latitude(spa.heliocentric_latitude(jme))
    ascension = spa.geocentric_sun_right_ascension(longitude, tilt, latitude)
    assert ascension == pytest.approx(202.22741, abs=1e-5)
    assert spa.geocentric_sun_declination(longitude, tilt, latitude) == pytest.approx(-9.31434, abs=1e-5)
    sidereal = spa.apparent_sidereal_time(
        spa.mean_sidereal_time(jd, spa.julian_century(jd)), nutation[0], tilt
    )
    assert spa.local_hour_angle(sidereal, -105.1786, ascension) == pytest.approx(11.105902, abs=1e-5)


def test_a4_thirty_site_times():
    """A4: within 0.001 degrees of the table, by the call that the sun path uses."""
    table = pd.read_csv(HERE / "sun_positions.csv", comment="#")
    for row in table.itertuples():
        got = solarposition.spa_python(
            pd.DatetimeIndex([row.utc.replace("Z", "+00:00")]), row.lat, row.lon
        ).iloc[0]
        assert got["elevation"] == pytest.approx(row.spa_true_elevation_deg, abs=1e-3)
        assert got["azimuth"] == pytest.approx(row.astropy_azimuth_deg, abs=1e-3)


def test_a6_day_length_by_counting_positions():
    """A6: steps with the sun's centre up, against the geometric day length in mid-June and mid-December."""
    table = pd.read_csv(HERE / "day_lengths.csv", comment="#")
    june = table[table["date"] == "2025-06-21"]
    for row in june.itertuples():
        path = sun_path(Place(row.lat, row.lon), [6], step_minutes=1)
        # The 15th is up to 40 s shorter than the 21st at these latitudes; one step at either end.
        assert len(path.month) * path.step_h == pytest.approx(
            row.day_length_h_centre_at_0, abs=2 / 60 + 60 / 3600
        )


@pytest.mark.parametrize("centre_deg", [0.0, -0.8333])
def test_a6_day_lengths_of_six_cities(centre_deg):
    """A6: all rows, sunrise and sunset where the sun's centre passes a height, within 30 s."""
    table = pd.read_csv(HERE / "day_lengths.csv", comment="#")
    expected = table["day_length_h_centre_at_0" if centre_deg == 0 else "day_length_h_h0_-0.8333"]
    for row, length_h in zip(table.itertuples(), expected, strict=True):
        start = pd.Timestamp(row.date, tz="UTC") - pd.Timedelta(hours=row.lon / 15)
        hours = np.arange(0, 24, 0.05)
        times = start.round("s") + pd.to_timedelta(hours, "h")
        height = solarposition.spa_python(times, row.lat, row.lon)["elevation"].to_numpy() - centre_deg
        turn = np.flatnonzero(np.diff(np.sign(height)))
        rise, fall = (hours[i] - height[i] * 0.05 / (height[i + 1] - height[i]) for i in turn)
        assert fall - rise == pytest.approx(length_h, abs=30 / 3600)


def test_a16_real_date_flat_ground():
    """A16: 42 N, 83 W, 2025-10-15 by minutes: 10.93 h with the sun's centre up."""
    path = sun_path(Place(42, -83), [10], step_minutes=1)
    assert len(path.month) * path.step_h == pytest.approx(10.93, abs=1 / 60 + 0.005)


def test_a9_shadow_tip_of_a_post_at_equinox_runs_straight():
    """A9: at declination 0 the tip keeps at H tan(latitude) north of the post, all day."""
    from tests.support.sun_truth import declination_path

    path = declination_path(42, 0.0)
    keep = path.elevation > np.radians(5)
    north = -np.cos(path.azimuth[keep]) / np.tan(path.elevation[keep])
    assert np.allclose(north, np.tan(np.radians(42)), atol=1e-9)


def test_azimuths_count_from_grid_north():
    """D6: at 84 W, 42 N in UTM 17 grid north lies 2.008417 degrees west of true north (Snyder 1987)."""
    from pyproj import Transformer

    x, y = Transformer.from_crs(4326, 32617, always_xy=True).transform(-84.0, 42.0)
    grid = Grid.from_bounds((x - 50, y - 50, x + 50, y + 50), 1.0, UTM17)
    place = place_of(grid)
    assert place.convergence_deg == pytest.approx(-2.008417, abs=1e-5)
    turned, true = sun_path(place, [6]), sun_path(Place(place.latitude, place.longitude), [6])
    apart = np.degrees(turned.azimuth - true.azimuth)
    assert np.allclose(apart, 2.008417, atol=1e-4)


def test_solar_hour_is_twelve_at_the_highest_stand():
    path = sun_path(Place(39.9, -82.0), [4, 11], step_minutes=1)
    for month in (4, 11):
        day = path.of_months([month])
        assert day.solar_hour[np.argmax(day.elevation)] == pytest.approx(12, abs=1.5 / 60)


def test_bad_steps_and_months_are_refused():
    from habitat.errors import ParameterError

    with pytest.raises(ParameterError, match="step_minutes"):
        sun_path(Place(40, -80), [6], step_minutes=7)
    with pytest.raises(ParameterError, match="months"):
        sun_path(Place(40, -80), [13])


def test_a3_sunrise_and_sunset_of_the_worked_example():
    """A3: the sun's true centre at -0.8333 degrees at 06:12:44.3 and 17:18:50.9, within 2 s."""

    def above(hour):
        time = pd.DatetimeIndex([pd.Timestamp("2003-10-17", tz="-07:00") + pd.Timedelta(hours=hour)])
        place = {"altitude": 1830.14, "pressure": 82000, "temperature": 11, "delta_t": 67}
        return (
            float(solarposition.spa_python(time, 39.742476, -105.1786, **place)["elevation"].iloc[0]) + 0.8333
        )

    for start, stop, expected in ((5, 8, 6 + 12 / 60 + 44.3 / 3600), (16, 19, 17 + 18 / 60 + 50.9 / 3600)):
        assert brentq(above, start, stop, xtol=1e-6) == pytest.approx(expected, abs=2 / 3600)


@pytest.mark.parametrize(
    ("month", "year_day", "altitude"),
    [(3, "2024-03-20", 48.240), (6, "2024-06-20", 71.438), (12, "2024-12-21", 24.562)],
)
def test_a5_noon_altitude(month, year_day, altitude):
    """A5: 90 - L + d at 42 N, 83 W; the path's highest stand is that of its own mid-month day."""
    times = pd.date_range(year_day, periods=1440, freq="min", tz="Etc/GMT+5")
    top = solarposition.spa_python(times, 42.0, -83.0)["elevation"].max()
    assert top == pytest.approx(altitude, abs=0.005)
    if month == 3:
        return  # Spencer's formula, good to 0.6 degrees near an equinox, says too little
    path = sun_path(Place(42, -83), [month], step_minutes=1)
    times = pd.date_range(f"2025-{month:02d}-15", periods=1440, freq="min", tz="Etc/GMT+5")
    declination = np.degrees(
        solarposition.declination_spencer71(times.dayofyear[0])  # good to 0.5 degrees (catalogue A4)
    )
    assert np.degrees(path.elevation.max()) == pytest.approx(90 - 42 + declination, abs=0.5)


@pytest.mark.parametrize(
    ("day", "minutes"),
    [
        ("02-11", -14.18),
        ("04-15", 0.05),
        ("06-13", -0.12),
        ("09-01", 0.06),
        ("11-03", 16.44),
        ("12-25", -0.17),
    ],
)
def test_a7_equation_of_time(day, minutes):
    """A7: at 12 UTC in 2025, within 0.02 min; the path's solar hour rests on it."""
    time = pd.DatetimeIndex([f"2025-{day} 12:00:00+00:00"])
    got = solarposition.spa_python(time, 51.5, 0.0)["equation_of_time"].iloc[0]
    assert got == pytest.approx(minutes, abs=0.02)
