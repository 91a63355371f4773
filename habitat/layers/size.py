"""How much memory a study takes by the ground that its yards reach over, and which yard reaches too far."""

from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from habitat.errors import LayerError
from habitat.grid import Bounds

BYTES_PER_CELL = 110
"""Memory of a run for each cell of the grid [bytes], measured: 6.8 GB for 64 million cells."""

NAMED = 8
LEFT_OUT = 20
"""So many of the farthest yards are tried as the reason."""


def memory_mb(bounds: Bounds, cell_m: float) -> float:
    """Return about how much memory the rasters of a run take [MB].

    Parameters
    ----------
    bounds
        (west, south, east, north) of the grid [m].
    cell_m
        Side of a cell [m].

    Examples
    --------
    >>> memory_mb((0.0, 0.0, 1000.0, 1000.0), 1.0)
    110.0
    """
    west, south, east, north = bounds
    return (east - west) * (north - south) / cell_m**2 * BYTES_PER_CELL / 1e6


def refuse_beyond(yards: gpd.GeoDataFrame, edge_m: float, cell_m: float, most_mb: float, where: str) -> None:
    """Refuse yards that reach over more ground than memory is granted for.

    Parameters
    ----------
    yards
        yard_id, geometry in a metric CRS.
    edge_m
        Ground around the yards that counts too [m].
    cell_m
        Side of a cell [m].
    most_mb
        What is granted [MB].
    where
        The yards' file.

    Raises
    ------
    LayerError
        With the yards that reach farthest, if it is these, and the finest cell that fits.
    """
    boxes = yards.geometry.bounds.to_numpy()
    bounds = around(boxes, edge_m)
    need = memory_mb(bounds, cell_m)
    if need <= most_mb:
        return
    wide, high = (bounds[2] - bounds[0]) / 1000, (bounds[3] - bounds[1]) / 1000
    far = _reach_too_far(boxes, edge_m, cell_m, most_mb)
    names = [f"{yards['yard_id'].iloc[i]!r}{_size(yards.geometry.area.iloc[i])}" for i in far[:NAMED]]
    more = f" and {len(far) - NAMED} more" if len(far) > NAMED else ""
    blame = f"; without {', '.join(names)}{more}, which reach farthest, it would fit" if len(far) else ""
    finest = cell_m * math.sqrt(need / most_mb)
    cells = f"take cells of {_two_digits_up(finest):g} m (study.cell_m), the finest that fit"
    mend = f"{cells}, or raise limits.memory_mb"
    if len(far):
        mend = f"leave them out (where, under layers.yards) or set their outlines right, {mend}"
    raise LayerError(
        f"the yards reach over {wide:,.1f} x {high:,.1f} km: with cells of {cell_m:g} m a run would take "
        f"about {need:,.0f} MB of memory, more than limits.memory_mb ({most_mb:,.0f}){blame}",
        where,
        mend[0].upper() + mend[1:],
    )


def _two_digits_up(value: float) -> float:
    scale = 10.0 ** (1 - math.floor(math.log10(value)))
    return math.ceil(value * scale) / scale


def around(boxes: NDArray[np.float64], edge_m: float) -> Bounds:
    """Return the bounds of boxes ``(n, 4)`` [m] with an edge around them."""
    west, south = boxes[:, :2].min(axis=0) - edge_m
    east, north = boxes[:, 2:].max(axis=0) + edge_m
    return (float(west), float(south), float(east), float(north))


def _size(area_m2: float) -> str:
    return f" ({area_m2 / 1e6:,.1f} km2)" if area_m2 > 1e6 else ""


def _reach_too_far(
    boxes: NDArray[np.float64], edge_m: float, cell_m: float, most_mb: float
) -> NDArray[np.int64]:
    """Return the few yards without which the rest would fit, none if no few are to blame."""
    middle = np.median((boxes[:, :2] + boxes[:, 2:]) / 2, axis=0)
    reach = np.maximum(np.abs(boxes[:, :2] - middle), np.abs(boxes[:, 2:] - middle)).max(axis=1)
    order = np.argsort(-reach, kind="stable")
    for count in range(1, min(LEFT_OUT, len(boxes) // 2) + 1):
        if memory_mb(around(boxes[order[count:]], edge_m), cell_m) <= most_mb:
            return order[:count]
    return order[:0]
