"""Vines only where a support holds them: which support, what it costs, and where in a bed it stands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from habitat.arrays import Flags, Floats
from habitat.errors import StudyError

NEEDS_SUPPORT_M = 1.5
"""A vine that grows no taller scrambles over its neighbours: it needs none and gets no place: judgement."""

PANEL_M = 0.4
"""Room to either side of a vine's stem in a bed, so that its support can be set: judgement."""

SPREADS_M = (3.0, 2.0, 1.5, 1.0)
"""Spreads for which a place is sought, the widest first."""

GRID_M = 0.25
FROM_END_M = 1.2
"""Vines stand this far from the tall end of a bed, where planting begins: judgement."""

VINES_MOST = 2
"""Most places for vines in one yard: judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Support:
    """What holds one vine: its name, its width and height [m], and its price in the group's money.

    Twining kinds are never led into trees or shrubs (garden and trade press, several accounts). Prices are
    memory; ``planting.support_prices`` wins over them.
    """

    kind: str
    width_m: float
    height_m: float
    price: float


SUPPORTS = (
    (3.0, Support(kind="trellis", width_m=1.2, height_m=1.8, price=40.0)),
    (5.0, Support(kind="tall trellis", width_m=1.8, height_m=2.4, price=70.0)),
    (float("inf"), Support(kind="arbor", width_m=2.0, height_m=2.4, price=150.0)),
)
"""Mature height of a vine [m] up to which each support holds it: judgement."""


def support_of(height_m: float, prices: dict[str, float] | None = None) -> Support | None:
    """Return what holds a vine of a mature height [m]; None where it needs nothing.

    Examples
    --------
    >>> support_of(4.5).kind, support_of(7.0, {"arbor": 90.0}).price, support_of(1.2)
    ('tall trellis', 90.0, None)
    """
    if height_m <= NEEDS_SUPPORT_M:
        return None
    support = next(s for most, s in SUPPORTS if height_m <= most)
    price = (prices or {}).get(support.kind, support.price)
    return Support(kind=support.kind, width_m=support.width_m, height_m=support.height_m, price=float(price))


def check_support_prices(prices: dict[str, float], where: str = "") -> None:
    """Refuse prices of supports that nobody knows.

    Raises
    ------
    StudyError
        If a key names no support.
    """
    known = [s.kind for _, s in SUPPORTS]
    for key in prices:
        if key not in known:
            what = f"planting.support_prices names {key!r}, which is no support of vines"
            raise StudyError(what, where, f"Supports: {', '.join(known)}")


def support_prices(vine: Flags, height_m: Floats, prices: dict[str, float] | None = None) -> Floats:
    """Return the price of each plant's support (plants,), 0 where it needs none."""
    held = [support_of(float(h), prices) if v else None for v, h in zip(vine, height_m, strict=True)]
    return np.array([s.price if s else 0.0 for s in held], float)


def vine_place(
    bed: Polygon, ground: BaseGeometry, rooms: list[BaseGeometry], hard: BaseGeometry, towards: Floats
) -> tuple[Point, float] | None:
    """Return where in a bed a vine and its support stand, and the widest spread [m] that has room there.

    Parameters
    ----------
    bed
        The bed.
    ground
        Where stems of vines may stand in it.
    rooms
        Where crowns of ``SPREADS_M`` have room, in their order.
    hard
        Walls and fences; the place is near one.
    towards
        Unit vector (x, y) along the bed from the end where planting begins.
    """
    for spread, room in zip(SPREADS_M, rooms, strict=True):
        points = _grid(ground.intersection(room))
        if not len(points):
            continue
        along = points @ towards
        start = float((shapely.get_coordinates(bed) @ towards).min())
        away = shapely.distance(shapely.points(points), hard)
        worth = np.abs(along - start - FROM_END_M) + away
        return Point(points[int(np.argmin(np.round(worth, 6)))]), spread
    return None


def support_line(at: Point, back: tuple[float, float], width_m: float) -> LineString:
    """Return a support on the map: a line behind the stem, across the way to the wall or fence."""
    middle = np.array([at.x, at.y]) + 0.12 * np.asarray(back)
    across = np.array([-back[1], back[0]]) * width_m / 2.0
    return LineString([middle - across, middle + across])


def _grid(shape: BaseGeometry) -> Floats:
    if shape.is_empty:
        return np.empty((0, 2))
    west, south, east, north = shape.bounds
    x, y = np.arange(west, east + GRID_M, GRID_M), np.arange(south, north + GRID_M, GRID_M)
    xx, yy = (a.ravel() for a in np.meshgrid(x, y, indexing="ij"))
    shapely.prepare(shape)
    inside = shapely.contains_xy(shape, xx, yy)
    return np.column_stack([xx[inside], yy[inside]])
