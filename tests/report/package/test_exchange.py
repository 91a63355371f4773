"""GeoJSON: sound files of the standard that hold what the plan holds."""

import json

import geopandas as gpd
import pytest
import shapely

from habitat.report.package.exchange import write_geojson
from habitat.report.package.tables import TABLES
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"), report={"formats": ["geojson"]})


@pytest.fixture(scope="module")
def geojson(plan, tmp_path_factory):
    folder = tmp_path_factory.mktemp("geojson")
    write_geojson(plan, folder)
    return folder


def test_geojson_is_in_degrees_and_holds_every_row(plan, geojson):
    for table in TABLES:
        path = geojson / f"{table.name}.geojson"
        assert path.exists() == bool(table.geometry)
        if not table.geometry or not len(getattr(plan, table.source)):
            continue
        read = json.loads(path.read_text(encoding="utf-8"))
        assert "crs" not in read
        assert len(read["features"]) == len(getattr(plan, table.source))
        x, y = shapely.get_coordinates(shapely.geometry.shape(read["features"][0]["geometry"]))[0]
        assert -83 < x < -80
        assert 39 < y < 41


def test_geojson_comes_back_to_the_centimetre(plan, geojson):
    read = gpd.read_file(geojson / "yards.geojson").to_crs(plan.layers.crs)
    apart = shapely.hausdorff_distance(read.geometry.array, plan.yards.geometry.array)
    assert apart.max() < 0.02
    for shape in gpd.read_file(geojson / "yards.geojson").geometry:  # RFC 7946, section 3.1.6
        for part in shapely.get_parts(shape):
            assert part.exterior.is_ccw


def test_geojson_keeps_the_areas_of_beds(plan, geojson):
    """Degrees with seven decimals are about a centimetre (RFC 7946, section 11.2), so areas come back."""
    read = gpd.read_file(geojson / "beds.geojson").to_crs(plan.layers.crs)
    assert list(read["bed_id"]) == list(plan.beds["bed_id"])
    assert read.area.to_numpy() == pytest.approx(plan.beds["area_m2"].to_numpy(), rel=5e-3)
    assert read.area.sum() == pytest.approx(plan.beds["area_m2"].sum(), rel=1e-3)
