"""Lengths and areas on the ground: what a parcel file in Web Mercator gets wrong, and what is read from it.

Sources: C. F. F. Karney, J. Geodesy 87 (2013) 43-55 and the examples of GeographicLib (geodesic length
and azimuth); ICSM GDA Technical Manual (Flinders Peak to Buninyong; from memory, matched to the last digit);
EPSG Guidance Note 7-2 (examples of projections; from memory, matched); J. P. Snyder, USGS Professional Paper
1395 (1987; authalic latitude, transverse Mercator scale); closed form of the Mercator scale, a / (nu cos phi)
and a / (rho cos phi) on WGS 84; the parcels of momepy's bundled Prague data set, whose areas were
worked out with pyproj.Geod and in UTM 33N, apart from this project.
"""

from pathlib import Path

import geopandas as gpd
import libpysal
import momepy
import numpy as np
import pytest
from pyproj import CRS, Geod, Proj, Transformer
from shapely.geometry import Polygon

from habitat.layers.crs import choose_metric_crs
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study

WGS84 = Geod(ellps="WGS84")


def degrees(d, m, s):
    return np.sign(d) * (abs(d) + m / 60 + s / 3600)


def test_geodesic_length_and_azimuth():
    azimuth, _, length = WGS84.inv(-73.8, 40.6, -0.5, 51.6)
    assert length == pytest.approx(5_551_759.400, abs=0.001)
    assert azimuth == pytest.approx(51.198883, abs=5e-7)


def test_d1_nearly_antipodal_points_and_the_quarter_meridian():
    assert WGS84.inv(174.81, -41.32, -5.50, 40.96)[2] == pytest.approx(19_959_679.267, abs=0.001)
    assert WGS84.inv(0, 0, 0, 90)[2] == pytest.approx(10_001_965.7293, abs=0.001)


def test_d2_a_published_survey_line():
    """Flinders Peak to Buninyong on GRS80: 54,972.271 m, 306 52 05.37 and back 127 10 25.07; MGA zone 55."""
    start = degrees(144, 25, 29.52440), degrees(-37, 57, 3.72030)
    end = degrees(143, 55, 35.38390), degrees(-37, 39, 10.15610)
    there, back, length = Geod(ellps="GRS80").inv(*start, *end)
    second = 0.01 / 3600
    assert length == pytest.approx(54_972.271, abs=0.001)
    assert there % 360 == pytest.approx(degrees(306, 52, 5.37), abs=second)
    assert back % 360 == pytest.approx(degrees(127, 10, 25.07), abs=second)
    east, north = Transformer.from_crs(4283, 28355, always_xy=True).transform(*start)
    assert (east, north) == pytest.approx((273_741.297, 5_796_489.777), abs=0.001)


@pytest.mark.parametrize(
    ("source", "target", "lon", "lat", "expected", "within"),
    [
        (4326, 3857, -(100 + 20 / 60), 24 + 22 / 60 + 54.433 / 3600, (-11_169_055.58, 2_800_000.00), 0.01),
        (4277, 27700, 0.5, 50.5, (577_274.99, 69_740.50), 0.02),
    ],
)
def test_d3_examples_of_projections(source, target, lon, lat, expected, within):
    got = Transformer.from_crs(source, target, always_xy=True).transform(lon, lat)
    assert got == pytest.approx(expected, abs=within)


def test_d4_area_of_a_quad_of_one_degree():
    """Bounded by parallels 9,130,794,541 m2 (authalic latitude), by geodesic edges 85,120 m2 less."""
    edge = np.linspace(0, 1, 2001)
    ring = [*((-83 + e, 42) for e in edge), *((-82 - e, 43) for e in edge)]
    equal_area = gpd.GeoSeries([Polygon(ring)], crs=4326).to_crs(6933)
    assert equal_area.area.iloc[0] == pytest.approx(9_130_794_541.13, abs=20)
    corners = Polygon([(-83, 42), (-82, 42), (-82, 43), (-83, 43)])
    assert abs(WGS84.geometry_area_perimeter(corners)[0]) == pytest.approx(9_130_709_421.2, abs=1)


def test_d6_scale_of_a_utm_zone():
    factors = [Proj(32617).get_factors(lon, 42) for lon in (-81, -84)]
    assert [f.meridional_scale for f in factors] == pytest.approx([0.9996, 1.00035971], abs=1e-7)
    assert factors[1].meridian_convergence == pytest.approx(-2.008417, abs=1e-5)


@pytest.mark.parametrize(
    ("lon", "lat", "zone"),
    [
        (-83.05, 42.33, 32617),
        (-87.63, 41.88, 32616),
        (-71.06, 42.36, 32619),
        (-74.01, 40.71, 32618),
        (-93.27, 44.98, 32615),
    ],
)
def test_d7_the_zone_that_yards_fall_in(lon, lat, zone):
    """Six degrees a zone, counted from 180 W (definition); the metric CRS that a study gets."""
    assert choose_metric_crs(np.array([lon]), np.array([lat])).to_epsg() == zone


def test_d8_a_layer_without_crs_in_survey_feet(tmp_path):
    """Chicago's community areas (libpysal's example) have no CRS; in EPSG:3435 they are 598.57 km2."""
    assert CRS.from_epsg(3435).axis_info[0].unit_conversion_factor == pytest.approx(1200 / 3937, abs=1e-15)
    shapes = gpd.read_file(Path(libpysal.__file__).parent / "examples" / "chicago" / "Chicago77.shp")
    assert shapes.crs is None
    frame = gpd.GeoDataFrame({"yard_id": [f"C{i}" for i in range(len(shapes))]}, geometry=shapes.geometry)
    frame.to_file(tmp_path / "yards.gpkg")
    text = '[study]\ncell_m = 10\n[layers.yards]\npath = "yards.gpkg"\ncrs = "EPSG:3435"\n'
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    layers = read_layers(read_study(tmp_path / "study.toml"))
    assert layers.crs.to_epsg() == 32616
    assert layers.yards["area_m2"].sum() / 1e6 == pytest.approx(598.14, abs=0.01)
    geodesic = sum(abs(WGS84.geometry_area_perimeter(g)[0]) for g in layers.yards.to_crs(4326).geometry)
    assert geodesic / 1e6 == pytest.approx(598.57, abs=0.01)


@pytest.mark.parametrize(
    ("latitude", "east", "north"), [(42.0, 1.343615, 1.348626), (45.0, 1.411845, 1.416615)]
)
def test_web_mercator_stretches_lengths(latitude, east, north):
    step = 1e-3
    corners = gpd.GeoSeries.from_xy(
        [-83.0, -83.0 + step, -83.0], [latitude, latitude, latitude + step], crs=4326
    )
    flat = corners.to_crs(3857)
    along = flat.iloc[0].distance(flat.iloc[1]) / WGS84.inv(-83.0, latitude, -83.0 + step, latitude)[2]
    up = flat.iloc[0].distance(flat.iloc[2]) / WGS84.inv(-83.0, latitude, -83.0, latitude + step)[2]
    assert along == pytest.approx(east, abs=5e-6)
    assert up == pytest.approx(north, abs=3e-5)  # the scale grows along the step


def test_parcels_in_web_mercator_are_read_at_their_true_size(tmp_path):
    plots = gpd.read_file(momepy.datasets.get_path("bubenec"), layer="plots").to_crs(3857)
    assert plots.area.sum() == pytest.approx(677_215.8, abs=0.1)
    frame = gpd.GeoDataFrame(
        {"yard_id": [f"P{i}" for i in range(len(plots))]}, geometry=plots.geometry.values
    )
    frame.to_file(tmp_path / "yards.gpkg")
    (tmp_path / "study.toml").write_text('[layers.yards]\npath = "yards.gpkg"\n', encoding="utf-8")
    layers = read_layers(read_study(tmp_path / "study.toml"))
    assert layers.crs.to_epsg() == 32633
    assert layers.yards["area_m2"].sum() == pytest.approx(278_727.6, abs=0.5)
    geodesic = sum(abs(WGS84.geometry_area_perimeter(g)[0]) for g in layers.yards.to_crs(4326).geometry)
    assert geodesic == pytest.approx(278_938.24, abs=0.5)
    assert np.isclose(677_215.8 / layers.yards["area_m2"].sum(), 2.4297, atol=1e-3)
