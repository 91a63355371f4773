"""One analysis grid: shape, transform and CRS in a single value."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from affine import Affine
from numpy.typing import ArrayLike, NDArray
from pyproj import CRS

from habitat.errors import ParameterError

Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Grid:
    """A north-up grid of square cells in a metric CRS.

    Parameters
    ----------
    shape
        ``(rows, cols)``.
    transform
        Cell to map transform; square cells, north up.
    crs
        A projected CRS in metres.

    Examples
    --------
    >>> grid = Grid.from_bounds((0.2, 0.0, 2.5, 3.0), 1.0, "EPSG:32617")
    >>> grid.shape, grid.bounds
    ((3, 3), (0.0, 0.0, 3.0, 3.0))
    """

    shape: tuple[int, int]
    transform: Affine
    crs: CRS

    def __post_init__(self) -> None:
        t = self.transform
        if t.b or t.d or t.a <= 0 or not math.isclose(t.a, -t.e):
            raise ParameterError("transform", tuple(t)[:6], "north up with square cells")
        if min(self.shape) < 1:
            raise ParameterError("shape", self.shape, "at least one row and one column")

    @classmethod
    def from_bounds(cls, bounds: Bounds, cell_m: float, crs: CRS | str | int) -> Grid:
        """Return the grid that covers bounds, its edges on whole multiples of the cell size.

        Every grid of one cell size therefore shares the same lattice, whatever its extent.

        Parameters
        ----------
        bounds
            (west, south, east, north) [m].
        cell_m
            Side of a cell [m].
        crs
            A projected CRS in metres, or its name ("EPSG:32617") or EPSG number.

        Raises
        ------
        ParameterError
            If the cell size is not positive, or the CRS is not projected or not in metres.
        """
        if not cell_m > 0:
            raise ParameterError("cell_m", cell_m, "more than 0 m")
        crs = CRS.from_user_input(crs)
        if not crs.is_projected or crs.axis_info[0].unit_conversion_factor != 1:
            raise ParameterError("crs", crs.to_string(), "projected, with axes in metres")
        west, south, east, north = bounds
        left, bottom = math.floor(west / cell_m + 1e-9), math.floor(south / cell_m + 1e-9)
        right, top = math.ceil(east / cell_m - 1e-9), math.ceil(north / cell_m - 1e-9)
        shape = (max(1, top - bottom), max(1, right - left))
        return cls(shape, Affine(cell_m, 0.0, left * cell_m, 0.0, -cell_m, (bottom + shape[0]) * cell_m), crs)

    @property
    def cell_m(self) -> float:
        """Side of a cell [m]."""
        return float(self.transform.a)

    @property
    def bounds(self) -> Bounds:
        """``(west, south, east, north)`` [m]."""
        west, north = self.transform.c, self.transform.f
        rows, cols = self.shape
        return (west, north - rows * self.cell_m, west + cols * self.cell_m, north)

    @property
    def x(self) -> NDArray[np.float64]:
        """Cell-centre eastings [m], west to east."""
        return np.asarray(self.transform.c + (np.arange(self.shape[1]) + 0.5) * self.cell_m, np.float64)

    @property
    def y(self) -> NDArray[np.float64]:
        """Cell-centre northings [m], north to south."""
        return np.asarray(self.transform.f - (np.arange(self.shape[0]) + 0.5) * self.cell_m, np.float64)

    def window(self, bounds: Bounds) -> tuple[slice, slice]:
        """Return the row and column slices of the cells that bounds touch, clipped to the grid.

        Parameters
        ----------
        bounds
            (west, south, east, north) [m].
        """
        west, south, east, north = bounds
        c, left, top = self.cell_m, self.transform.c, self.transform.f
        row0, row1 = math.floor((top - north) / c + 1e-9), math.ceil((top - south) / c - 1e-9)
        col0, col1 = math.floor((west - left) / c + 1e-9), math.ceil((east - left) / c - 1e-9)
        rows, cols = self.shape
        r0, c0 = min(max(row0, 0), rows), min(max(col0, 0), cols)
        return slice(r0, min(max(row1, r0), rows)), slice(c0, min(max(col1, c0), cols))

    def crop(self, rows: slice, cols: slice) -> Grid:
        """Return the grid of a window given by row and column slices."""
        t = self.transform @ Affine.translation(cols.start, rows.start)
        return Grid((rows.stop - rows.start, cols.stop - cols.start), t, self.crs)

    def rowcol(self, x: ArrayLike, y: ArrayLike) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return the cells that points lie in; points outside give indices outside the shape.

        Parameters
        ----------
        x, y
            Eastings and northings [m], any shape.

        Returns
        -------
        tuple
            Rows (from the north) and columns (from the west), int64 of that shape.
        """
        col = np.floor((np.asarray(x, float) - self.transform.c) / self.cell_m).astype(np.int64)
        row = np.floor((self.transform.f - np.asarray(y, float)) / self.cell_m).astype(np.int64)
        return row, col

    def tiles(self, size: int) -> Iterator[tuple[slice, slice]]:
        """Yield row and column slices of tiles of at most ``size`` cells a side, row by row."""
        for r in range(0, self.shape[0], size):
            for c in range(0, self.shape[1], size):
                yield (
                    slice(r, min(r + size, self.shape[0])),
                    slice(c, min(c + size, self.shape[1])),
                )
