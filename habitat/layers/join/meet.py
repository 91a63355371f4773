"""Do the layers meet? One that lies elsewhere has a wrong CRS, swapped coordinates or a lost sign."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.errors import HabitatError, LayerError, RasterError
from habitat.layers.crs import GEOD, crs_label
from habitat.layers.formats.raw import Draft
from habitat.layers.join.yards import places_of

APART_M = 50_000.0
"""Layers farther from the yards than this describe some other place: judgement."""

ELSEWHERE_M = 1_000_000.0
"""A single row this far away is a slip in any layer; a state's roads and trees lie nearer: judgement."""


@dataclass(frozen=True, slots=True)
class Extent:
    """Where a layer lies: ``box`` is (west, south, east, north) [degrees], without its farthest 10 %."""

    name: str
    where: str
    box: NDArray[np.float64]
    in_degrees: bool
    crs: str
    is_raster: bool = False

    @property
    def key(self) -> str:
        """Its place in the study file: "layers.plants", "rasters.ph"."""
        return f"{'rasters' if self.is_raster else 'layers'}.{self.name}"


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


def distances_m(a: NDArray[np.float64], boxes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return about how far many boxes ``(n, 4)`` lie from one [m], as ``distance_m``; infinite if unknown.

    Boxes within some degrees are measured in the plane, all at once; only the rest one by one.
    """
    west, south, east, north = np.where(np.isfinite(boxes), boxes, np.nan).T
    lat = np.maximum(0.0, np.maximum(a[1] - north, south - a[3]))
    lon = np.maximum(0.0, np.maximum(a[0] - east, west - a[2]))
    middle = np.radians(np.clip((a[1] + a[3]) / 2, -89.0, 89.0))
    out = np.hypot(lat * 111_000.0, lon * 111_000.0 * np.cos(middle))
    for i in np.flatnonzero((lat > 5) | (lon > 5)):
        out[i] = distance_m(a, boxes[i])
    return np.where(np.isnan(out), np.inf, out)


def _turned(box: NDArray[np.float64], how: str) -> NDArray[np.float64]:
    west, south, east, north = box
    if how == "swap":
        return np.array([south, west, north, east])
    if how == "east for west":
        return np.array([-east, south, -west, north])
    return np.array([west, -north, east, -south])


def layers_apart(yards: Extent, others: list[Extent]) -> dict[str, HabitatError]:
    """Return what to say of each layer that lies somewhere else than the yards, with the likeliest reason.

    Returns
    -------
    Errors by key ("layers.plants", "rasters.ph"); "layers.yards" alone if the yards themselves are to blame.
    """
    apart = [o for o in others if distance_m(yards.box, o.box) > APART_M]
    how = _blame_of_yards(yards, others, apart)
    if how is not None:
        what = f"the yards do not meet the other layers: {WAYS[how].format('yards')}"
        return {"layers.yards": LayerError(what, yards.where, _mend("yards"))}
    alone = len(others) == 1 and yards.in_degrees
    return {o.key: _apart_error(yards, o, alone) for o in apart}


def _blame_of_yards(yards: Extent, others: list[Extent], apart: list[Extent]) -> str | None:
    """Return how the yards would have to be turned to meet all the rest, if only they can be to blame."""
    sure = len(others) > 1 or abs(yards.box[[1, 3]].mean()) > 66 or not all(o.in_degrees for o in others)
    if not (apart and yards.in_degrees and len(apart) == len(others) and sure):
        return None
    return next(
        (how for how in WAYS if all(distance_m(_turned(yards.box, how), o.box) <= APART_M for o in others)),
        None,
    )


def _apart_error(yards: Extent, other: Extent, alone: bool) -> HabitatError:
    error: type[HabitatError] = RasterError if other.is_raster else LayerError
    what = f"{'raster' if other.is_raster else 'layer'} {other.name!r}"
    away = distance_m(yards.box, other.box) / 1000
    said = (
        f"{what} does not meet the yards: it lies some {away:,.0f} km away, near longitude "
        f"{other.box[[0, 2]].mean():.3f}, latitude {other.box[[1, 3]].mean():.3f} (the yards near "
        f"{yards.box[[0, 2]].mean():.3f}, {yards.box[[1, 3]].mean():.3f})"
    )
    if other.in_degrees:
        for how, words in WAYS.items():
            if distance_m(yards.box, _turned(other.box, how)) <= APART_M:
                which = f"{other.name} or in yards" if alone and how == "swap" else other.name
                which = f"{other.name} or of yards" if alone and how != "swap" else which
                mend = _mend("whichever lies in the wrong place" if alone else other.name, other.name)
                return error(f"{said}: {words.format(which)}", other.where, mend)
    return error(
        said,
        other.where,
        f"One of the two has a wrong CRS ({other.name}: {other.crs}; yards: {yards.crs}), or is another "
        "place",
    )


WAYS = {
    "swap": "longitude and latitude are swapped (in the wrong order) in {}",
    "east for west": "the longitudes of {} have lost or gained a minus sign (west is negative)",
    "north for south": "the latitudes of {} have lost or gained a minus sign (south is negative)",
}


def _mend(which: str, table: str = "") -> str:
    return (
        f"Export {which} again with the right order and signs; for a table state x and y under "
        f"layers.{table or which}"
    )
