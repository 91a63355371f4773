"""Styles, GeoJSON and DXF: sound files of their standards that hold what the plan holds."""

import json
from xml.etree import ElementTree as ET

import ezdxf
import geopandas as gpd
import pytest
import shapely

from habitat.errors import OutputError
from habitat.report.package import exchange
from habitat.report.package.exchange import write_dxf, write_geojson
from habitat.report.package.styles import OGC, SE, SLD, STYLES, write_styles
from habitat.report.package.tables import TABLES
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"), report={"formats": ["geojson", "dxf"]})


def test_styles_name_columns_that_exist(tmp_path):
    """OGC 05-078r4: a descriptor names its layer; its filters name columns of that layer."""
    write_styles(tmp_path)
    assert {p.stem for p in tmp_path.iterdir()} == set(STYLES)
    columns = {t.name: {c[0] for c in t.columns} for t in TABLES}
    for path in tmp_path.iterdir():
        root = ET.parse(path).getroot()
        assert root.tag == f"{{{SLD}}}StyledLayerDescriptor"
        assert root.get("version") == "1.1.0"
        layer = root.find(f".//{{{SLD}}}NamedLayer/{{{SE}}}Name").text
        assert layer == path.stem
        used = {e.text for e in root.iter(f"{{{OGC}}}PropertyName")}
        assert used <= columns[layer]
        assert root.findall(f".//{{{SE}}}Rule")


CHILDREN = {
    "sld:StyledLayerDescriptor": ("sld:NamedLayer",),
    "sld:NamedLayer": (
        "se:Name", "se:Description", "sld:LayerFeatureConstraints", "sld:NamedStyle", "sld:UserStyle",
    ),
    "sld:UserStyle": ("se:Name", "se:Description", "sld:IsDefault", "se:FeatureTypeStyle"),
    "se:FeatureTypeStyle": (
        "se:Name", "se:Description", "se:FeatureTypeName", "se:SemanticTypeIdentifier", "se:Rule",
    ),
    "se:Rule": (
        "se:Name", "se:Description", "se:LegendGraphic", "ogc:Filter", "se:ElseFilter",
        "se:MinScaleDenominator", "se:MaxScaleDenominator",
        "se:LineSymbolizer", "se:PolygonSymbolizer", "se:PointSymbolizer",
    ),
    "se:Description": ("se:Title", "se:Abstract"),
    "ogc:Filter": ("ogc:PropertyIsEqualTo",),
    "ogc:PropertyIsEqualTo": ("ogc:PropertyName", "ogc:Literal"),
    "se:PolygonSymbolizer": (
        "se:Name", "se:Description", "se:BaseURL", "se:Geometry", "se:Fill", "se:Stroke", "se:Displacement",
        "se:PerpendicularOffset",
    ),
    "se:LineSymbolizer": (
        "se:Name", "se:Description", "se:BaseURL", "se:Geometry", "se:Stroke", "se:PerpendicularOffset",
    ),
    "se:PointSymbolizer": ("se:Name", "se:Description", "se:BaseURL", "se:Geometry", "se:Graphic"),
    "se:Graphic": (
        "se:ExternalGraphic", "se:Mark", "se:Opacity", "se:Size", "se:Rotation", "se:AnchorPoint",
        "se:Displacement",
    ),
    "se:Mark": ("se:WellKnownName", "se:Fill", "se:Stroke"),
    "se:Fill": ("se:GraphicFill", "se:SvgParameter"),
    "se:Stroke": ("se:GraphicFill", "se:GraphicStroke", "se:SvgParameter"),
    "se:Size": ("ogc:PropertyName",),
}  # fmt: skip
"""Children of each element in their order, by the schemas of OGC 05-078r4 and 05-077r4 (from memory)."""

PARAMETERS = {
    "se:Fill": {"fill", "fill-opacity"},
    "se:Stroke": {
        "stroke", "stroke-opacity", "stroke-width", "stroke-linejoin", "stroke-linecap", "stroke-dasharray",
        "stroke-dashoffset",
    },
}  # fmt: skip
"""Names of SvgParameter, OGC 05-077r4, sections 11.1.3 and 11.2.2 (from memory)."""


def short(element):
    space, tag = element.tag[1:].split("}")
    return f"{ {SE: 'se', SLD: 'sld', OGC: 'ogc'}[space] }:{tag}"


def test_styles_hold_the_elements_of_the_standard_in_their_order(tmp_path):
    write_styles(tmp_path)
    seen = set()
    for path in tmp_path.iterdir():
        for element in ET.parse(path).getroot().iter():
            name, inside = short(element), [short(child) for child in element]
            seen.add(name)
            allowed = CHILDREN.get(name, ())
            assert set(inside) <= set(allowed), (path.name, name)
            places = [allowed.index(child) for child in inside]
            assert places == sorted(places), (path.name, name)
            told = {c.get("name") for c in element if short(c) == "se:SvgParameter"}
            assert told <= PARAMETERS.get(name, set())
    assert {"se:PolygonSymbolizer", "se:LineSymbolizer", "se:PointSymbolizer", "ogc:Filter"} <= seen


def test_styles_tell_kinds_apart_without_colour():
    for layer, rules in STYLES.items():
        drawn = [(r.dash, r.width) for r in rules]
        assert len(set(drawn)) >= len(rules) - (layer == "yards"), layer


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
