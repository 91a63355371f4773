"""Shapes as short SVG paths: whole decimetres from the north-west corner of the map, y downward."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from habitat.grid import Bounds

PER_M = 10
"""Units of a path per metre."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """The frame of the map.

    Parameters
    ----------
    west, north
        North-west corner in the study's CRS [m].
    width, height
        Size in decimetres.
    """

    west: float
    north: float
    width: int
    height: int

    @classmethod
    def around(cls, bounds: Bounds, margin_m: float = 12.0) -> Sheet:
        """Return the frame around bounds."""
        west, south, east, north = bounds
        size = [round(PER_M * (span + 2 * margin_m)) for span in (east - west, north - south)]
        return cls(west - margin_m, north + margin_m, size[0], size[1])

    def cells(self, xy: NDArray[np.float64]) -> NDArray[np.int64]:
        """Return coordinates as whole decimetres."""
        return np.rint(PER_M * (np.asarray(xy, float)[:, :2] * (1, -1) - (self.west, -self.north))).astype(
            np.int64
        )

    def point(self, shape: Any) -> list[int]:
        """Return a place inside a shape."""
        return list(map(int, self.cells(shapely.get_coordinates(shape.representative_point()))[0]))

    def path(self, shape: Any, *, tolerance_m: float = 0.0) -> str:
        """Return the path of a polygon or line; empty for an empty shape.

        Examples
        --------
        >>> Sheet(0.0, 10.0, 100, 100).path(shapely.box(1, 1, 3, 2))
        'M30 90v-10h-20v10z'
        """
        if shape is None or shape.is_empty:
            return ""
        if tolerance_m > 0:
            shape = shapely.simplify(shape, tolerance_m)
        parts: list[str] = []
        for part in shapely.get_parts(shape):
            if part.geom_type == "Polygon":
                parts += [
                    self._line(ring.coords[:-1], close=True) for ring in (part.exterior, *part.interiors)
                ]
            elif part.geom_type in ("LineString", "LinearRing"):
                parts.append(self._line(part.coords, close=False))
        return "".join(parts)

    def paths(self, shapes: Iterable[Any], *, tolerance_m: float = 0.0) -> str:
        """Return the path of many shapes."""
        return "".join(self.path(s, tolerance_m=tolerance_m) for s in shapes)

    def _line(self, coords: Any, *, close: bool) -> str:
        cells = self.cells(np.asarray(coords, float))
        steps = np.diff(cells, axis=0)
        steps = steps[(steps != 0).any(axis=1)]
        if not len(cells):
            return ""
        return f"M{cells[0][0]} {cells[0][1]}{''.join(map(_step, steps.tolist()))}{'z' if close else ''}"


def _step(step: list[int]) -> str:
    dx, dy = step
    if dy == 0:
        return f"h{dx}"
    if dx == 0:
        return f"v{dy}"
    return f"l{dx} {dy}"
