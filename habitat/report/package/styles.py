"""Styles of our own for the layers of plan.gpkg, as OGC Styled Layer Descriptors.

References
----------
OGC 05-078r4, Styled Layer Descriptor 1.1; OGC 05-077r4, Symbology Encoding 1.1.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree as ET

from habitat.report.words.names import ROLE_WORDS
from habitat.terms import CANDIDATE, MEMBER, OTHER

SE, SLD, OGC = "http://www.opengis.net/se", "http://www.opengis.net/sld", "http://www.opengis.net/ogc"
METRE = "http://www.opengeospatial.org/se/units/metre"
INK, LEAF, PLUM, SKY = "#22301f", "#2f6b3a", "#6d1f5e", "#1f4f8a"


@dataclass(frozen=True, slots=True)
class Rule:
    """How features look whose ``column`` has ``value`` (all features if there is no column).

    ``kind`` is polygon, line or point; ``size`` names a column that holds the diameter of a point [m].
    """

    title: str
    kind: str
    stroke: str
    width: float = 1.0
    fill: str = ""
    dash: str = ""
    column: str = ""
    value: str = ""
    size: str = ""


def _of_role(role: str, stroke: str, width: float, fill: str, dash: str = "") -> Rule:
    return Rule(ROLE_WORDS[role], "polygon", stroke, width, fill, dash, "role", role)


STYLES: dict[str, tuple[Rule, ...]] = {
    "yards": (
        _of_role(MEMBER, INK, 1.8, "#f6ecc9"),
        _of_role(CANDIDATE, INK, 1.0, "#fbf8f0", "5 4"),
        _of_role(OTHER, "#8a8470", 0.6, "#eeeae0"),
        Rule("block of yards, some not shown", "polygon", "#a19b86", 0.6, "#e4dfd0", "", "role", "block"),
    ),
    "open_ground": (
        Rule("open for flowers and grasses", "polygon", LEAF, 0.5, "#dbe8c8", "", "growth_form", "herb"),
    ),
    "beds": (
        Rule("flowers and grasses", "polygon", INK, 1.2, "#cfe3ad", column="growth_form", value="herb"),
        Rule("shrubs and vines", "polygon", INK, 1.2, "#a8c98a", "6 2", "growth_form", "shrub"),
        Rule("trees", "polygon", INK, 1.2, "#79b26d", "2 2", "growth_form", "tree"),
    ),
    "plant_points": (Rule("plant at mature spread", "point", LEAF, 0.6, "#79b26d", size="crown_m"),),
    "existing_plants": (Rule("grows already", "point", PLUM, 1.0, "#ecd0e6"),),
    "links": (
        Rule("way, with the members' plans", "line", SKY, 1.2, column="state", value="members"),
        Rule("way, with everybody planted", "line", SKY, 0.8, dash="4 4", column="state", value="everyone"),
    ),
    "chain": (
        Rule("chain", "line", PLUM, 3.5, column="weakest", value="false"),
        Rule("its weakest step", "line", PLUM, 3.5, dash="6 5", column="weakest", value="true"),
    ),
    "invitations": (Rule("to ask next", "polygon", PLUM, 2.5),),
}
"""Rules by layer; told apart by dash and width as well as by colour."""


def write_styles(folder: Path) -> None:
    """Write a file per layer, ``LAYER.sld``."""
    folder.mkdir(parents=True, exist_ok=True)
    for prefix, space in (("se", SE), ("sld", SLD), ("ogc", OGC)):
        ET.register_namespace(prefix, space)
    for layer, rules in STYLES.items():
        tree = ET.ElementTree(style_of(layer, rules))
        ET.indent(tree)
        tree.write(folder / f"{layer}.sld", encoding="utf-8", xml_declaration=True)


def style_of(layer: str, rules: tuple[Rule, ...]) -> ET.Element:
    """Return the descriptor of one layer."""
    root = ET.Element(f"{{{SLD}}}StyledLayerDescriptor", version="1.1.0")
    named = _add(root, SLD, "NamedLayer")
    _add(named, SE, "Name", layer)
    style = _add(_add(named, SLD, "UserStyle"), SE, "FeatureTypeStyle")
    for rule in rules:
        _rule(style, rule)
    return root


def _add(parent: ET.Element, space: str, tag: str, text: str | None = None, **attributes: str) -> ET.Element:
    child = ET.SubElement(parent, f"{{{space}}}{tag}", attributes)
    child.text = text
    return child


def _rule(style: ET.Element, rule: Rule) -> None:
    element = _add(style, SE, "Rule")
    _add(element, SE, "Name", rule.title)
    _add(_add(element, SE, "Description"), SE, "Title", rule.title)
    if rule.column:
        equal = _add(_add(element, OGC, "Filter"), OGC, "PropertyIsEqualTo")
        _add(equal, OGC, "PropertyName", rule.column)
        _add(equal, OGC, "Literal", rule.value)
    if rule.kind == "polygon":
        _paint(_add(element, SE, "PolygonSymbolizer"), rule)
    elif rule.kind == "line":
        _paint(_add(element, SE, "LineSymbolizer"), rule)
    else:
        _point(element, rule)


def _paint(parent: ET.Element, rule: Rule) -> None:
    if rule.fill:
        _parameter(_add(parent, SE, "Fill"), "fill", rule.fill)
    stroke = _add(parent, SE, "Stroke")
    _parameter(stroke, "stroke", rule.stroke)
    _parameter(stroke, "stroke-width", f"{rule.width:g}")
    if rule.dash:
        _parameter(stroke, "stroke-dasharray", rule.dash)


def _parameter(parent: ET.Element, name: str, value: str) -> None:
    _add(parent, SE, "SvgParameter", value, name=name)


def _point(parent: ET.Element, rule: Rule) -> None:
    attributes = {"uom": METRE} if rule.size else {}
    graphic = _add(_add(parent, SE, "PointSymbolizer", **attributes), SE, "Graphic")
    mark = _add(graphic, SE, "Mark")
    _add(mark, SE, "WellKnownName", "circle")
    _paint(mark, rule)
    size = _add(graphic, SE, "Size", None if rule.size else "8")
    if rule.size:
        _add(size, OGC, "PropertyName", rule.size)
