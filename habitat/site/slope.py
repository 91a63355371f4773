"""Slope of the ground from heights."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatRaster = NDArray[np.float32]


def gradient(height_m: FloatRaster, cell_m: float) -> tuple[FloatRaster, FloatRaster]:
    """Return the rise per metre eastward and northward, over the eight neighbours.

    Parameters
    ----------
    height_m
        (rows, cols), north up.
    cell_m
        Side of a cell [m].

    Returns
    -------
    Two float32 rasters; NaN where a neighbour is unknown. Rim cells take their own height beyond the rim.

    References
    ----------
    Horn (1981), Hill shading and the reflectance map, Proceedings of the IEEE 69:14-47.
    """
    z = np.pad(np.asarray(height_m, np.float64), 1, mode="edge")
    across = z[:-2, 1:-1], z[1:-1, :-2], z[1:-1, 2:], z[2:, 1:-1]
    north, west, east, south = across
    nw, ne, sw, se = z[:-2, :-2], z[:-2, 2:], z[2:, :-2], z[2:, 2:]
    rise_east = ((ne + 2 * east + se) - (nw + 2 * west + sw)) / (8 * cell_m)
    rise_north = ((nw + 2 * north + ne) - (sw + 2 * south + se)) / (8 * cell_m)
    return rise_east.astype(np.float32), rise_north.astype(np.float32)


def slope_deg(height_m: FloatRaster, cell_m: float) -> FloatRaster:
    """Return the slope of the ground [degrees], NaN where a neighbour is unknown.

    Examples
    --------
    >>> plane = np.add.outer(-0.2 * np.arange(5), 0.3 * np.arange(5)).astype("float32")
    >>> round(float(slope_deg(plane, 1.0)[2, 2]), 3)
    19.827
    """
    rise_east, rise_north = gradient(height_m, cell_m)
    return np.degrees(np.arctan(np.hypot(rise_east, rise_north))).astype(np.float32)
