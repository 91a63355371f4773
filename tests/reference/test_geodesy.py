"""Lengths and areas on the ground: what a parcel file in Web Mercator gets wrong, and what is read from it.

Sources: C. F. F. Karney, J. Geodesy 87 (2013) 43-55 and the examples of GeographicLib (geodesic length
and azimuth); closed form of the Mercator scale, a / (nu cos phi) and a / (rho cos phi) on WGS 84; the
parcels of momepy's bundled Prague data set, whose areas were worked out with pyproj.Geod and in UTM
33N, apart from this project.
"""

import geopandas as gpd
import momepy
import numpy as np
import pytest
from pyproj import Geod

from habitat.layers import read_layers
from habitat.study import read_study

WGS84 = Geod(ellps="WGS84")


def test_geodesic_length_and_azimuth():
    azimuth, _, length = WGS84.inv(-73.8, 40.6, -0.5, 51.6)
    assert length == pytest.approx(5_551_759.400, abs=0.001)
    assert azimuth == pytest.approx(51.198883, abs=5e-7)


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
