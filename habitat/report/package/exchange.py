"""Other formats on request: GeoJSON for the web, DXF for drawing programs."""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import geopandas as gpd
import pyogrio
import shapely

from habitat.errors import OutputError
from habitat.report.package.geopackage import table_frame
from habitat.report.package.tables import TABLES
from habitat.report.plan import Plan
from habitat.report.words.text import plain

LAYERS = {
    "YARD": 8, "BUILDING": 9, "PAVING": 8, "TREE": 94, "BED": 3, "PLANT-HERB": 82, "PLANT-SHRUB": 92,
    "PLANT-TREE": 104, "NUMBER": 7,
}  # fmt: skip
"""Layers of the drawing, each with the colour index that it is drawn in."""


def write_geojson(plan: Plan, folder: Path) -> None:
    """Write every layer that has shapes as GeoJSON, in longitude and latitude.

    References
    ----------
    RFC 7946: WGS 84, outer rings anticlockwise; seven decimals are about a centimetre.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for table in TABLES:
        if table.geometry:
            frame = gpd.GeoDataFrame(table_frame(plan, table)).to_crs(4326)
            pyogrio.write_dataframe(
                frame,
                folder / f"{table.name}.geojson",
                driver="GeoJSON",
                layer=table.name,
                layer_options={"RFC7946": "YES", "COORDINATE_PRECISION": "7"},
            )


def write_dxf(plan: Plan, path: Path) -> None:
    """Write yards, buildings, paving, trees, beds and plants as one drawing, in metres of the study's CRS.

    Every plant is a circle at its mature spread with its number on the sheet beside it.

    Raises
    ------
    OutputError
        If the package ezdxf is not installed.
    """
    try:
        ezdxf: Any = importlib.import_module("ezdxf")  # only those who ask for drawings need it
    except ImportError as error:
        raise OutputError(
            "drawings (DXF) need the package ezdxf",
            "report.formats",
            "Install it with 'pip install ezdxf', or leave dxf out of report.formats",
        ) from error
    with _fixed(ezdxf):
        drawing = ezdxf.new("R2010", units=6)
        for name, colour in LAYERS.items():
            drawing.layers.add(name, color=colour)
        _ground(plan, drawing.modelspace())
        _beds(plan, drawing.modelspace())
        drawing.saveas(path)


@contextmanager
def _fixed(ezdxf: Any) -> Iterator[None]:
    """Write no dates and no random ids, so that equal plans give equal bytes."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


def _ground(plan: Plan, space: Any) -> None:
    for name, shape in zip(plan.yards["yard_id"], plan.yards.geometry, strict=True):
        _outline(space, shape, "YARD")
        _label(space, shape.representative_point(), plain(name, 60), 1.2)
    for layer, name in (("buildings", "BUILDING"), ("paving", "PAVING")):
        frame = plan.layers.frame(layer)
        for shape in [] if frame is None else frame.geometry:
            _outline(space, shape, name)
    trees = plan.layers.frame("trees")
    if trees is not None and "crown_m" in trees:
        for point, crown in zip(trees.geometry, trees["crown_m"].astype(float), strict=True):
            if crown > 0 and point is not None:
                _circle(space, point.centroid, crown, "TREE")


def _beds(plan: Plan, space: Any) -> None:
    forms = dict(zip(plan.beds["bed_id"], plan.beds["growth_form"], strict=True)) if len(plan.beds) else {}
    for number, shape in zip(plan.beds.get("bed_number", ()), plan.beds.geometry, strict=True):
        _outline(space, shape, "BED")
        _label(space, shape.representative_point(), f"bed {int(number)}", 0.5)
    points = plan.plant_points
    if not len(points):
        return
    columns = (points[c] for c in ("bed_id", "crown_m", "key_number"))
    for point, bed, crown, key in zip(points.geometry, *columns, strict=True):
        _circle(space, point, float(crown), f"PLANT-{str(forms.get(bed, 'herb')).upper()}")
        _label(space, point, str(int(key)), 0.12)


def _outline(space: Any, shape: Any, layer: str) -> None:
    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon":
            for ring in (part.exterior, *part.interiors):
                space.add_lwpolyline(ring.coords[:-1], close=True, dxfattribs={"layer": layer})


def _circle(space: Any, point: Any, across_m: float, layer: str) -> None:
    if across_m > 0:
        space.add_circle((point.x, point.y), across_m / 2, dxfattribs={"layer": layer})


def _label(space: Any, point: Any, words: str, height_m: float) -> None:
    text = space.add_text(words, height=height_m, dxfattribs={"layer": "NUMBER"})
    text.set_placement((point.x, point.y))
