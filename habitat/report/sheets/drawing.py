"""The drawing of a yard and of its beds, as marks in millimetres on paper, top left (0, 0).

A mark is a plain dict that ``assets/drawing.typ`` knows how to draw: ``kind`` area, line, circle or words,
and ``look``, which names a style there. Nothing but numbers and words is handed over: data is never markup.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from habitat.grid import Bounds
from habitat.report.words.numbers import M_PER_FT, Units

Mark = dict[str, Any]

SCALES = {
    "metric": (
        20,
        25,
        40,
        50,
        60,
        75,
        100,
        125,
        150,
        200,
        250,
        300,
        350,
        400,
        500,
        600,
        750,
        1000,
        1500,
        2000,
        3000,
        5000,
    ),
    "us": (
        24,
        36,
        48,
        60,
        72,
        96,
        120,
        180,
        240,
        300,
        360,
        420,
        480,
        600,
        720,
        840,
        960,
        1200,
        2400,
        3600,
        6000,
    ),
}  # fmt: skip
"""Scales of drawings, one to so much: whole and half steps of a ruler in centimetres or inches."""


@dataclass(frozen=True, slots=True)
class Paper:
    """A window of the ground on paper: ``bounds`` [m] at one to ``scale``.

    ``turn_deg`` turns the ground anticlockwise about the middle of the window first.
    """

    bounds: Bounds
    scale: int
    turn_deg: float = 0.0

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height on paper [mm]."""
        west, south, east, north = self.bounds
        return (east - west) * 1000 / self.scale, (north - south) * 1000 / self.scale

    def mm(self, metres: float) -> float:
        """Return a length on paper [mm]."""
        return round(metres * 1000 / self.scale, 3)

    def place(self, x: float, y: float) -> list[float]:
        """Return a point on paper."""
        return [self.mm(x - self.bounds[0]), self.mm(self.bounds[3] - y)]

    def ring(self, coords: Any) -> list[list[float]]:
        """Return a ring or line on paper."""
        xy = np.asarray(coords)[:, :2]
        west, _, _, north = self.bounds
        out = np.column_stack([xy[:, 0] - west, north - xy[:, 1]]) * 1000 / self.scale
        places: list[list[float]] = np.round(out, 3).tolist()
        return places

    def clip(self, shape: BaseGeometry) -> BaseGeometry:
        """Return what of a shape lies in the window; nothing where a plan drawn by hand leaves none."""
        west, south, east, north = self.bounds
        if not (west < east and south < north):
            return shapely.GeometryCollection()
        return shapely.clip_by_rect(shape, *self.bounds)


def scale_for(wide_m: float, high_m: float, room_mm: tuple[float, float], system: str) -> int:
    """Return the largest scale of the list at which an extent fits, a round one beyond it if none does.

    Examples
    --------
    >>> scale_for(20.0, 30.0, (180.0, 120.0), "metric"), scale_for(20.0, 30.0, (180.0, 120.0), "us")
    (250, 300)
    """
    need = max(wide_m * 1000 / room_mm[0], high_m * 1000 / room_mm[1]) * (1 - 1e-9)
    return next((s for s in SCALES[system] if s >= need), math.ceil(need / 1000) * 1000)


def area(shape: BaseGeometry, look: str, paper: Paper) -> list[Mark]:
    """Return marks for the polygons of a shape, holes kept."""
    out = []
    for part in _parts(paper.clip(shape)):
        if isinstance(part, Polygon) and part.area > 0:
            rings = [paper.ring(r.coords) for r in (part.exterior, *part.interiors)]
            out.append({"kind": "area", "look": look, "rings": rings})
    return out


def line(shape: BaseGeometry, look: str, paper: Paper) -> list[Mark]:
    """Return marks for the lines of a shape; of polygons, their outlines as far as they lie in the window."""
    lines = shapely.boundary(shape) if shape.geom_type.endswith("Polygon") else shape
    parts = _parts(paper.clip(shapely.line_merge(lines) if lines.geom_type == "MultiLineString" else lines))
    return [
        {"kind": "line", "look": look, "points": paper.ring(p.coords)}
        for p in parts
        if isinstance(p, LineString) and p.length > 0
    ]


def circle(point: Point, across_m: float, look: str, paper: Paper) -> Mark:
    """Return a mark for a circle at true size."""
    return {
        "kind": "circle",
        "look": look,
        "at": paper.place(point.x, point.y),
        "r": paper.mm(across_m / 2),
    }


def words(at: Sequence[float], text: str, look: str, turn_deg: float = 0.0) -> Mark:
    """Return a mark for words centred on a point of the paper."""
    return {"kind": "words", "look": look, "at": list(at), "text": text, "turn": round(turn_deg, 1)}


Box = tuple[float, float, float, float]
"""West, top, east and bottom of what is written, on paper [mm]."""

WORDS_MM = {
    "key": (1.25, 0.5, 2.2),
    "bed-key": (1.55, 1.8, 2.7),
    "on-building": (1.35, 1.2, 3.4),
    "street": (1.3, 1.0, 2.8),
    "bed-number": (1.5, 2.4, 4.2),
    "fixed-words": (0.0, 3.4, 3.4),
    "corner": (1.3, 0.6, 2.4),
    "cross": (1.2, 0.2, 1.6),
    "measure-words": (1.2, 0.8, 2.2),
    "cut-words": (1.9, 1.0, 3.2),
}
"""By look: width of a letter, air left and right together, and height of what is written [mm]; measured from
the shipped font in the sizes of ``drawing.typ``."""


def taken_by(mark: Mark) -> Box:
    """Return the paper that words take, whichever way they are turned."""
    letter, air, high = WORDS_MM[mark["look"]]
    half, tall = (len(mark["text"]) * letter + air) / 2, high / 2
    if mark.get("turn"):
        turn = math.radians(mark["turn"])
        wide = abs(half * math.cos(turn)) + abs(tall * math.sin(turn))
        half, tall = wide, abs(half * math.sin(turn)) + abs(tall * math.cos(turn))
    x, y = mark["at"]
    return x - half, y - tall, x + half, y + tall


def meets(box: Box, others: Sequence[Box]) -> bool:
    """Return whether a box lies over any of others."""
    return any(box[0] < o[2] and box[2] > o[0] and box[1] < o[3] and box[3] > o[1] for o in others)


def _parts(shape: BaseGeometry) -> list[BaseGeometry]:
    return [p for p in shapely.get_parts(shapely.get_parts(shape)) if not p.is_empty]


def plant_circles(placed: Sequence[Any], forms: Any, paper: Paper) -> list[Mark]:
    """Return a circle at mature spread for each plant, hatched by form."""
    return [circle(p.geometry, p.crown_m, f"plant-{forms.get(p.plant, 'forb')}", paper) for p in placed]


def scale_bar(paper: Paper, system: str, longest_mm: float = 45.0) -> dict[str, Any]:
    """Return a scale bar: its length on paper [mm] and the words at its middle and end."""
    unit_m, unit = (M_PER_FT, "ft") if system == "us" else (1.0, "m")
    longest = longest_mm / 1000 * paper.scale / unit_m
    power = 10.0 ** math.floor(math.log10(longest))
    length = next(k * power for k in (5.0, 2.0, 1.0) if k * power <= longest)
    return {
        "length": paper.mm(length * unit_m),
        "middle": f"{length / 2:g}",
        "end": f"{length:g} {unit}",
    }


def scale_words(paper: Paper, units: Units) -> str:
    """Return a scale in words: one to so much, and so many feet to the inch in US units."""
    if units.us and paper.scale % 12 == 0:
        return f"1 in = {paper.scale / 12:g} ft (1:{paper.scale})"
    return f"1:{paper.scale}"


UPRIGHT = 1.25
"""A shape this much longer one way than the other has a long side."""


def level(shape: BaseGeometry) -> float:
    """Return the angle [deg] by which a shape is turned anticlockwise to lie with its long side level.

    It is 0 where the shape is not upright and turning would not make its frame at least a fifth smaller; a
    shape that is nearly as long as wide is turned as little as it takes.

    Examples
    --------
    >>> bed = shapely.box(0, 0, 10, 1)
    >>> round(level(affinity.rotate(bed, 30))), level(bed)
    (-30, 0.0)
    >>> abs(level(affinity.rotate(bed, 90)))  # either way round
    90.0
    """
    frame = shape.minimum_rotated_rectangle
    west, south, east, north = shape.bounds
    upright = north - south > UPRIGHT * (east - west)
    close = frame.area > 0.8 * (east - west) * (north - south)
    if not isinstance(frame, Polygon) or (close and not upright):
        return 0.0
    corners = np.asarray(frame.exterior.coords)[:3]
    sides = np.diff(corners, axis=0)
    lengths = np.hypot(*sides.T)
    longer = sides[np.argmax(lengths)]
    angle = math.degrees(math.atan2(longer[1], longer[0]))
    step = 180.0 if lengths.max() > UPRIGHT * lengths.min() else 90.0
    return -((angle + step / 2) % step - step / 2)


def turned(shapes: Iterable[BaseGeometry], angle_deg: float, about: Point) -> list[BaseGeometry]:
    """Return shapes turned anticlockwise about a point."""
    if not angle_deg:
        return list(shapes)
    return [affinity.rotate(s, angle_deg, origin=about) for s in shapes]


def frame(shapes: Sequence[BaseGeometry], margin_m: float) -> Bounds:
    """Return the bounds of shapes with a margin [m]."""
    west, south, east, north = shapely.total_bounds(np.asarray(shapes, dtype=object))
    return (west - margin_m, south - margin_m, east + margin_m, north + margin_m)
