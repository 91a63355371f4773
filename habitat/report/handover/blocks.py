"""A drawing in the open exchange format: layers, a symbol (block) per kind of plant, words, outlines."""

from __future__ import annotations

import importlib
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from habitat.errors import OutputError
from habitat.report.words.text import plain

METRES = 6
"""Unit of a drawing: code of the header variable INSUNITS (published reference of the format)."""

LAYERS = {
    "YARD": 8, "BUILDING": 9, "PAVING": 8, "WATER": 5, "TREE": 94, "FENCE": 8, "WIRES": 30, "BURIED": 1,
    "SEPTIC": 34, "DOWNSPOUT": 5, "BED": 3, "PLANT-HERB": 82, "PLANT-SHRUB": 92, "PLANT-TREE": 104,
    "NUMBER": 7,
    "FIXED-POINT": 6, "DIMENSION": 6, "LEGEND": 7, "SCHEDULE": 7,
}  # fmt: skip
"""Layers of the drawing, each with the colour index that it is drawn in."""

OF_LAYER = 256
"""Colour index that stands for that of the layer."""

NUMBER_M = 0.12
"""Height of the number of a plant."""

MEASURE = {
    "dimtxt": 0.2, "dimtsz": 0.08, "dimexo": 0.0, "dimexe": 0.0, "dimgap": 0.05, "dimdec": 1, "dimtad": 1,
    "dimtih": 0, "dimtoh": 0, "dimpost": "<> m", "dimdsep": ord("."),
    "dimzin": 0, "dimclrd": OF_LAYER, "dimclre": OF_LAYER, "dimclrt": OF_LAYER,
}  # fmt: skip
"""How dimensions look: sizes in metres, strokes for arrows, one decimal, words above their line."""

_NOT_IN_NAMES = re.compile(r"[^A-Za-z0-9 .-]")
"""What the name of a block is kept free of."""


class Sheet:
    """A drawing in metres of the study's CRS, to be written into one file.

    Raises
    ------
    OutputError
        If the package ezdxf is not installed.
    """

    def __init__(self) -> None:
        self._ezdxf = _drawing_package()
        self._middle = self._ezdxf.enums.TextEntityAlignment.MIDDLE_CENTER
        with _fixed(self._ezdxf):
            self.drawing: Any = self._ezdxf.new("R2010", units=METRES)
        for name, colour in LAYERS.items():
            self.drawing.layers.add(name, color=colour)
        self.space: Any = self.drawing.modelspace()
        self.blocks: dict[str, tuple[str, float]] = {}

    def write(self, path: Path) -> None:
        """Write the drawing; nothing in it depends on the clock or on chance."""
        with _fixed(self._ezdxf):
            self.drawing.saveas(path)

    def outline(self, shape: BaseGeometry, layer: str) -> None:
        """Draw the rings of polygons and the lines of a shape."""
        for part in shapely.get_parts(shapely.get_parts(shape)):
            if part.geom_type == "Polygon":
                for ring in (part.exterior, *part.interiors):
                    self.line(ring.coords[:-1], layer, closed=True)
            elif isinstance(part, LineString) and part.length > 0:
                self.line(part.coords, layer)

    def line(
        self, places: Iterable[Any], layer: str, *, closed: bool = False, colour: int = OF_LAYER
    ) -> None:
        """Draw a line through places, in the colour of its layer if no other index is given."""
        flat = [xy[:2] for xy in places]
        self.space.add_lwpolyline(flat, close=closed, dxfattribs={"layer": layer, "color": colour})

    def circle(self, point: Point, across_m: float, layer: str) -> None:
        """Draw a circle; none where its width is not known."""
        if across_m > 0:
            self.space.add_circle((point.x, point.y), across_m / 2, dxfattribs={"layer": layer})

    def words(self, x: float, y: float, text: str, height_m: float, layer: str = "NUMBER") -> None:
        """Write words that begin at a place."""
        told = self.space.add_text(plain(text, 120), height=height_m, dxfattribs={"layer": layer})
        told.set_placement((x, y))

    def define(self, plant: str, form: str, across_m: float) -> None:
        """Make the symbol of a kind of plant at its mature spread, if it is not made yet."""
        if plant in self.blocks:
            return
        name = f"PLANT {_NOT_IN_NAMES.sub('_', plant)[:60]}"
        if name in self.drawing.blocks:
            name += f" {len(self.blocks)}"
        block = self.drawing.blocks.new(name)
        half = max(across_m, 0.02) / 2
        block.add_circle((0, 0), half)
        for dx, dy in ((1, 0), (0, 1)) if form != "herb" else ():
            block.add_line((-half * dx, -half * dy), (half * dx, half * dy))
        if form == "tree":
            block.add_circle((0, 0), half / 10)
        for tag, place in (("NUMBER", (0.0, 0.0)), ("PLANT", (0.0, -half))):
            told = block.add_attdef(tag, height=NUMBER_M)
            told.set_placement(place, align=self._middle)
            told.is_invisible = tag != "NUMBER"
        self.blocks[plant] = name, 2 * half

    def plant(self, at: Point, plant: str, across_m: float, layer: str, number: str) -> None:
        """Set the symbol of a defined kind at a place, ``across_m`` wide, with its number."""
        name, spread = self.blocks[plant]
        scale = across_m / spread if across_m > 0 else 1.0
        size = {"xscale": scale, "yscale": scale, "zscale": scale}
        symbol = self.space.add_blockref(name, (at.x, at.y), dxfattribs={"layer": layer, **size})
        symbol.add_auto_attribs({"NUMBER": number, "PLANT": plain(plant, 60)})
        for told in symbol.attribs:
            told.dxf.layer, told.dxf.height = "NUMBER", NUMBER_M

    def dimension(self, start: Point, end: Point, text: str = "<>") -> None:
        """Draw an aligned dimension between two points, its line through them; "<>" stands for its length.

        It runs from west to east, so that its words stand upright.
        """
        start, end = sorted((start, end), key=lambda p: (round(p.x, 6), p.y))
        if "MEASURE" not in self.drawing.dimstyles:
            self.drawing.dimstyles.new("MEASURE", dxfattribs=MEASURE)
        made = self.space.add_aligned_dim(
            (start.x, start.y), (end.x, end.y), 0.0, text=text, dimstyle="MEASURE",
            dxfattribs={"layer": "DIMENSION"},
        )  # fmt: skip
        made.render()


def _drawing_package() -> Any:
    try:
        return importlib.import_module("ezdxf")  # only those who ask for drawings need it
    except ImportError as error:
        raise OutputError(
            "drawings (DXF) need the package ezdxf",
            "report.formats",
            "Install it with 'pip install ezdxf', or leave dxf and handover out of report.formats",
        ) from error


@contextmanager
def _fixed(ezdxf: Any) -> Iterator[None]:
    """Write no dates and no random ids, so that equal plans give equal bytes."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
