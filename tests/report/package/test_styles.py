"""Styles: sound Styled Layer Descriptors that name what the package holds."""

from xml.etree import ElementTree as ET

from habitat.report.package.styles import OGC, SE, SLD, STYLES, write_styles
from habitat.report.package.tables import TABLES


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
