"""GeoJSON and DXF: sound files of their standards that hold what the plan holds."""

import json

import ezdxf
import geopandas as gpd
import pytest
import shapely

from habitat.errors import OutputError
from habitat.report.package import exchange
from habitat.report.package.exchange import write_dxf, write_geojson
from habitat.report.package.tables import TABLES
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"), report={"formats": ["geojson", "dxf"]})


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


def test_the_drawing_holds_yards_beds_and_plants(plan, tmp_path):
    write_dxf(plan, tmp_path / "plan.dxf")
    drawing = ezdxf.readfile(tmp_path / "plan.dxf")
    assert not drawing.audit().errors
    assert drawing.header["$INSUNITS"] == 6  # metres
    space = drawing.modelspace()
    assert len(space.query('LWPOLYLINE[layer=="BED"]')) == len(plan.beds)
    yards = space.query('LWPOLYLINE[layer=="YARD"]')
    areas = sorted(shapely.Polygon(y.get_points("xy")).area for y in yards)
    assert areas == pytest.approx(sorted(plan.yards.area), rel=1e-6)
    plants = [c for c in space.query("CIRCLE") if c.dxf.layer.startswith("PLANT-")]
    assert len(plants) == len(plan.plant_points)
    assert sorted(2 * c.dxf.radius for c in plants) == pytest.approx(sorted(plan.plant_points["crown_m"]))
    shrubs = space.query('CIRCLE[layer=="PLANT-SHRUB"]')
    assert len(shrubs) == (plan.plant_points["plant"] == "Lindera benzoin").sum()
    numbers = {t.dxf.text for t in space.query("TEXT")}
    assert {"0007", "bed 1", "7"} <= numbers


def test_the_drawing_measures_what_the_package_does(plan, tmp_path):
    """Read back: every entity on a layer that the drawing names, outlines of the areas [m2] of the tables."""
    write_dxf(plan, tmp_path / "plan.dxf")
    drawing = ezdxf.readfile(tmp_path / "plan.dxf")
    space, named = drawing.modelspace(), {layer.dxf.name for layer in drawing.layers}
    assert {"YARD", "BUILDING", "PAVING", "TREE", "BED", "PLANT-HERB", "PLANT-SHRUB", "NUMBER"} <= named
    assert {e.dxf.layer for e in space} <= named
    read = {
        layer: [shapely.Polygon(p.get_points("xy")) for p in space.query(f'LWPOLYLINE[layer=="{layer}"]')]
        for layer in ("BED", "BUILDING")
    }
    assert sorted(p.area for p in read["BED"]) == pytest.approx(sorted(plan.beds["area_m2"]), rel=1e-6)
    built = plan.layers.frame("buildings").area.sum()
    assert sum(p.area for p in read["BUILDING"]) == pytest.approx(built, rel=1e-6)
    plants = [c.dxf.center for c in space.query("CIRCLE") if c.dxf.layer.startswith("PLANT-")]
    beds = shapely.union_all(read["BED"]).buffer(1e-6)
    assert shapely.covers(beds, shapely.points([(p.x, p.y) for p in plants])).all()


def test_geojson_keeps_the_areas_of_beds(plan, geojson):
    """Degrees with seven decimals are about a centimetre (RFC 7946, section 11.2), so areas come back."""
    read = gpd.read_file(geojson / "beds.geojson").to_crs(plan.layers.crs)
    assert list(read["bed_id"]) == list(plan.beds["bed_id"])
    assert read.area.to_numpy() == pytest.approx(plan.beds["area_m2"].to_numpy(), rel=5e-3)
    assert read.area.sum() == pytest.approx(plan.beds["area_m2"].sum(), rel=1e-3)


def test_equal_plans_give_equal_drawings(plan, tmp_path):
    for name in ("one.dxf", "two.dxf"):
        write_dxf(plan, tmp_path / name)
    assert (tmp_path / "one.dxf").read_bytes() == (tmp_path / "two.dxf").read_bytes()


def test_odd_names_break_no_drawing(tmp_path):
    odd = ("<script>", "=1+1", "a\nb", "../../x", "\u202eabc", "L" * 300, "%%u{\\fArial;x}")
    write_dxf(small_plan(tmp_path, yard_ids=odd), tmp_path / "odd.dxf")
    assert not ezdxf.readfile(tmp_path / "odd.dxf").audit().errors


def test_without_the_drawing_package_the_error_says_what_to_do(plan, tmp_path, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "ezdxf", None)
    with pytest.raises(OutputError, match="pip install ezdxf"):
        exchange.write_dxf(plan, tmp_path / "plan.dxf")
