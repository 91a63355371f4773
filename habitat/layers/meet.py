"""Do the layers meet? One that lies elsewhere has a wrong CRS, swapped coordinates or a lost sign."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.errors import HabitatError, LayerError, RasterError
from habitat.layers.crs import GEOD, crs_label
from habitat.layers.raw import Draft
from habitat.layers.yards import places_of

APART_M = 50_000.0
"""Layers farther from the yards than this describe some other place: judgement."""


@dataclass(frozen=True, slots=True)
class Extent:
    """Where a layer lies: ``box`` is (west, south, east, north) [degrees], without its farthest 10 %."""

    name: str
    where: str
    box: NDArray[np.float64]
    in_degrees: bool
    crs: str
    is_raster: bool = False


def extent_of(draft: Draft) -> Extent | None:
    """Return where a layer lies, None if it has no shapes."""
    if draft.shapes is None or draft.crs is None or not any(s is not None for s in draft.shapes):
        return None
    places = places_of(draft)
    places = places[np.isfinite(places).all(axis=1)]
    if not len(places):
        return None
    low, high = (
        np.percentile(places, [5, 95], axis=0)
        if draft.name != "yards"
        else (places.min(axis=0), places.max(axis=0))
    )
    return Extent(
        draft.name, draft.where, np.array([*low, *high]), bool(draft.crs.is_geographic), crs_label(draft.crs)
    )


def distance_m(a: NDArray[np.float64], b: NDArray[np.float64]) -> float:
    """Return about how far two boxes of longitude and latitude lie apart [m]; 0 if they meet."""
    lat = max(0.0, a[1] - b[3], b[1] - a[3])
    lon = max(0.0, a[0] - b[2], b[0] - a[2])
    lon = min(lon, max(0.0, 360.0 - max(a[2], b[2]) + min(a[0], b[0])))
    if lat == lon == 0.0:
        return 0.0
    middle = min(89.0, max(-89.0, (a[1] + a[3]) / 2))
    if lat > 5 or lon > 5:
        return float(
            GEOD.inv((a[0] + a[2]) / 2, middle, (b[0] + b[2]) / 2, min(90, max(-90, (b[1] + b[3]) / 2)))[2]
        )
    return float(np.hypot(lat * 111_000.0, lon * 111_000.0 * np.cos(np.radians(middle))))


def _turned(box: NDArray[np.float64], how: str) -> NDArray[np.float64]:
    west, south, east, north = box
    if how == "swap":
        return np.array([south, west, north, east])
    if how == "east for west":
        return np.array([-east, south, -west, north])
    return np.array([west, -north, east, -south])


def check_meeting(yards: Extent, others: list[Extent]) -> None:
    """Refuse layers that lie somewhere else than the yards, with the likeliest reason.

    Raises
    ------
    LayerError, RasterError
        Naming the layer, how far away it lies, and what to look at.
    """
    apart = [o for o in others if distance_m(yards.box, o.box) > APART_M]
    if not apart:
        return
    agree = len(apart) == len(others) and (len(others) > 1 or abs(yards.box[[1, 3]].mean()) > 66)
    if yards.in_degrees and agree:
        for how, words in WAYS.items():
            if all(distance_m(_turned(yards.box, how), o.box) <= APART_M for o in others):
                raise LayerError(
                    f"the yards do not meet the other layers: {words.format('yards')}",
                    yards.where,
                    _mend("yards"),
                )
    worst = apart[0]
    error: type[HabitatError] = RasterError if worst.is_raster else LayerError
    what = f"{'raster' if worst.is_raster else 'layer'} {worst.name!r}"
    away = distance_m(yards.box, worst.box) / 1000
    said = (
        f"{what} does not meet the yards: it lies some {away:,.0f} km away, near longitude "
        f"{worst.box[[0, 2]].mean():.3f}, latitude {worst.box[[1, 3]].mean():.3f} (the yards near "
        f"{yards.box[[0, 2]].mean():.3f}, {yards.box[[1, 3]].mean():.3f})"
    )
    if worst.in_degrees:
        for how, words in WAYS.items():
            if distance_m(yards.box, _turned(worst.box, how)) <= APART_M:
                raise error(f"{said}: {words.format(worst.name)}", worst.where, _mend(worst.name))
    raise error(
        said,
        worst.where,
        f"One of the two has a wrong CRS ({worst.name}: {worst.crs}; yards: {yards.crs}), or is another "
        "place",
    )


WAYS = {
    "swap": "longitude and latitude are swapped (in the wrong order) in {}",
    "east for west": "the longitudes of {} have lost or gained a minus sign (west is negative)",
    "north for south": "the latitudes of {} have lost or gained a minus sign (south is negative)",
}


def _mend(name: str) -> str:
    return (
        f"Export {name} again with the right order and signs; for a table state x and y under layers.{name}"
    )
