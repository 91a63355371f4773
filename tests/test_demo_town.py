"""The demo town is what its script draws: the same shapes, values and rows, and a town worth planning."""

import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import rasterio
import shapely

from habitat.study.reading import read_study

DEMO = Path(__file__).parents[1] / "sample_geodata"
TABLES = ("participants", "plants", "soil_tests", "growers", "sightings")
RASTERS = ("surface_m", "terrain_m", "ph", "sand_pct", "clay_pct", "drainage", "depth_cm")


@pytest.fixture(scope="module")
def again(tmp_path_factory):
    folder = tmp_path_factory.mktemp("town")
    subprocess.run([sys.executable, str(DEMO / "make_town.py"), str(folder)], check=True)
    return folder


@pytest.fixture(scope="module")
def yards():
    return gpd.read_file(DEMO / "town.gpkg", layer="yards")


def layer_names():
    return [name for name, _ in pyogrio.list_layers(DEMO / "town.gpkg")]


@pytest.mark.parametrize("name", layer_names())
def test_layer_is_drawn_again(again, name):
    shipped, drawn = (gpd.read_file(f / "town.gpkg", layer=name) for f in (DEMO, again))
    assert shipped.crs == drawn.crs
    assert shipped.crs.to_epsg() == 32617
    pd.testing.assert_frame_equal(shipped.drop(columns="geometry"), drawn.drop(columns="geometry"))
    apart = shapely.hausdorff_distance(shipped.geometry.array, drawn.geometry.array)
    assert np.nanmax(apart) < 0.05


@pytest.mark.parametrize("name", RASTERS)
def test_raster_is_drawn_again(again, name):
    with rasterio.open(DEMO / f"{name}.tif") as a, rasterio.open(again / f"{name}.tif") as b:
        assert (a.shape, a.transform, a.crs, a.nodata) == (b.shape, b.transform, b.crs, b.nodata)
        assert a.scales == b.scales
        one, two = a.read(1).astype(float), b.read(1).astype(float)
    # a footprint edge may fall on the other side of a cell centre with another geometry library
    assert (np.abs(one - two) > 1).mean() < 1e-3


@pytest.mark.parametrize("name", TABLES)
def test_table_is_drawn_again(again, name):
    pd.testing.assert_frame_equal(*(pd.read_csv(f / f"{name}.csv") for f in (DEMO, again)), atol=2e-6)


def test_under_five_megabytes():
    assert sum(p.stat().st_size for p in DEMO.iterdir() if p.is_file()) < 5e6


def test_study_reads():
    study = read_study(DEMO / "study.toml")
    assert study.study.name == "Quillwater pollinator corridor"
    assert len(study.planting.wishes) == 10


def test_lots_are_many_irregular_and_do_not_overlap(yards):
    assert len(yards) >= 150
    assert yards["parcel"].is_unique
    assert yards.is_valid.all()
    assert yards.area.sum() == pytest.approx(yards.union_all().area, rel=1e-5)
    fill = yards.area / yards.minimum_rotated_rectangle().area
    assert (fill < 0.97).mean() > 0.5  # no checkerboard: most lots are no rectangles
    assert yards.area.std() > 150


def test_streets_frontage_and_houses(yards):
    streets = gpd.read_file(DEMO / "town.gpkg", layer="streets").union_all()
    assert (yards.distance(streets) < 12).all()
    houses = gpd.read_file(DEMO / "town.gpkg", layer="buildings")
    inside = gpd.sjoin(houses[houses["kind"] == "house"], yards, predicate="within")
    assert len(inside) == (houses["kind"] == "house").sum()
    assert inside["parcel"].is_unique
    assert houses["height_m"].between(2, 10).all()


def test_anchors_lie_at_opposite_ends():
    anchors = gpd.read_file(DEMO / "town.gpkg", layer="anchors").set_index("name").geometry
    assert anchors["Heronry Wood edge"].distance(anchors["Ferry Meadow"]) > 600
    assert anchors["Quill Fen"].distance(anchors["Ferry Meadow"]) > 200


def test_no_row_has_to_be_set_aside(yards):
    sheet = pd.read_csv(DEMO / "participants.csv", dtype=str, keep_default_na=False)
    given = sheet[sheet["yard_id"] != ""]
    assert set(given["yard_id"]) <= set(yards["parcel"])
    assert set(sheet["address"]) <= set(yards["address"])
    assert 0 < (sheet["yard_id"] == "").sum() < 10
    plants = pd.read_csv(DEMO / "plants.csv")
    points = gpd.GeoSeries.from_xy(plants["lon"], plants["lat"], crs=4326).to_crs(32617)
    assert points.within(yards.union_all()).all()
    assert 190 <= len(plants) <= 220


def test_soil_follows_the_creek_and_has_a_hole():
    with rasterio.open(DEMO / "drainage.tif") as source:
        rank = source.read(1, masked=True)
    assert 0 < rank.mask.mean() < 0.02
    assert rank.min() <= 2
    assert rank.max() >= 6
