"""Coordinate reference systems: never assumed, and checked against where the coordinates lie."""

from __future__ import annotations

import textwrap
import warnings
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Geod, Transformer
from pyproj.exceptions import CRSError, ProjError
from pyproj.network import set_network_enabled  # type: ignore[attr-defined]
from pyproj.transformer import TransformerGroup

from habitat.errors import CrsError, HabitatError
from habitat.layers.formats.raw import Draft
from habitat.settings.layers import VectorSource
from habitat.settings.study import known_crs

set_network_enabled(False)  # datum grids come from the disk or not at all

WGS84 = CRS.from_epsg(4326)
GEOD = Geod(ellps="WGS84")
FAR_OUTSIDE_DEG = (6.0, 4.0)
"""No layer is believed farther outside its area of use (longitude, latitude): judgement, one UTM zone."""

FOOT_PER_M = 3937 / 1200
SMALL_AREA_DEG = 15.0
"""Only in areas less tall than this does fitting in another unit say anything: most places fit a UTM zone."""
FEET = {
    "US survey foot": "US survey feet",
    "foot": "international feet",
    "British foot (Sears 1922)": "British feet",
}


def crs_label(crs: CRS) -> str:
    """Return "EPSG:32617" where there is such a code, else the CRS's name."""
    found = crs.to_authority(min_confidence=70)
    return ":".join(found) if found else str(crs.name)


def parse_crs(text: str, key: str) -> CRS:
    """Return the CRS that a study states.

    A name counts only if it is the CRS's own: what merely comes near to one is another system.

    Raises
    ------
    CrsError
        If PROJ does not know it.
    """
    try:
        return known_crs(text)
    except (CRSError, ValueError):
        raise CrsError(
            f"{key} is {text!r}, which PROJ does not know", "", "Write an EPSG code such as EPSG:32617"
        ) from None


def settle_crs(draft: Draft, source: VectorSource) -> None:
    """Decide in which CRS a layer's coordinates are, and take rows with impossible ones out of use.

    What the study states wins; then the file's own word; then the format's or the headings' meaning. A table
    of shapes whose coordinates can only be degrees is read as WGS 84, and told.

    Raises
    ------
    CrsError
        If nothing says, or what is said cannot be right for the coordinates.
    """
    if draft.shapes is None:
        return
    stated = parse_crs(source.crs, f"layers.{draft.name}.crs") if source.crs else None
    if stated is not None:
        if draft.crs is not None and draft.crs_from == "file" and not _same(draft.crs, stated):
            draft.tell(
                f"the study says {crs_label(stated)}, the file {crs_label(draft.crs)}: the study's CRS is "
                "used"
            )
        draft.crs, draft.crs_from = stated, "study"
    if draft.crs is not None and not (draft.crs.is_geographic or draft.crs.is_projected):
        draft.crs = None  # a local or engineering system: nowhere on Earth
    bounds = _bounds(draft)
    if bounds is None:
        draft.crs = draft.crs or WGS84
        return
    if draft.crs_from == "columns":
        draft.tell(
            "places are read as longitude and latitude in WGS 84 (EPSG:4326), as the headings say", harm=0
        )
    if draft.crs is None:
        draft.crs = _of_table(draft, bounds)
    if told := shift_note(draft.crs):
        draft.tell(told)
    if draft.crs.is_geographic:
        _check_degrees(draft)
    else:
        _check_projected(draft, bounds)


def _same(a: CRS, b: CRS) -> bool:
    return a == b or crs_label(a) == crs_label(b) or a.equals(b, ignore_axis_order=True)


def _bounds(draft: Draft) -> NDArray[np.float64] | None:
    """Return (west, east, south, north) of the middle half of the rows, None if there are none.

    A few rows with slips in their coordinates say nothing of the layer's CRS.
    """
    shapes = draft.shapes[~shapely.is_missing(draft.shapes)] if draft.shapes is not None else np.array([])
    box = shapely.bounds(shapes) if len(shapes) else np.empty((0, 4))
    box = box[np.isfinite(box).all(axis=1)]
    if not len(box):
        return None
    places, last = np.sort(box[:, :2], axis=0), len(box) - 1
    inner = (last + 3) // 4, (3 * last) // 4
    low, high = places[min(inner) if last > 1 else 0], places[max(inner) if last > 1 else last]
    return np.array([low, high]).T.ravel()


def _in_degrees(bounds: NDArray[np.float64]) -> bool:
    return bool(np.abs(bounds[:2]).max() <= 360 and np.abs(bounds[2:]).max() <= 90)


def _of_table(draft: Draft, bounds: NDArray[np.float64]) -> CRS:
    if draft.own_format == "table" and _in_degrees(bounds):
        draft.tell(
            "the table does not say its CRS: its numbers are read as longitude/latitude, WGS 84 "
            "(EPSG:4326); state crs if that is wrong",
            harm=1,
        )
        return WGS84
    prj = " (a shapefile's .prj is missing or says nothing)" if draft.own_format == "shapefile" else ""
    raise CrsError(
        f"layer {draft.name!r} has no coordinate reference system (CRS){prj}; its coordinates run about "
        f"{bounds[0]:,.2f} to {bounds[1]:,.2f} and {bounds[2]:,.2f} to {bounds[3]:,.2f}",
        draft.where,
        f'State it as crs = "EPSG:..." under layers.{draft.name}; who made the file knows it',
    )


def _check_degrees(draft: Draft) -> None:
    """Longitudes and latitudes must be possible; a few rows that are not are set aside."""
    assert draft.shapes is not None
    assert draft.crs is not None
    box = shapely.bounds(draft.shapes)
    with np.errstate(invalid="ignore"):
        bad_lon, bad_lat = np.abs(box[:, [0, 2]]).max(axis=1) > 360, np.abs(box[:, [1, 3]]).max(axis=1) > 90
        wide = box[:, 2] > 180
    bad, known = bad_lon | bad_lat, np.isfinite(box[:, 0])
    if bad.sum() * 2 > known.sum():
        worst = box[bad][0]
        said = "The study says" if draft.crs_from == "study" else "By its format or label"
        maybe = (
            "Latitude and longitude may be swapped, or its true"
            if (np.abs(worst[[0, 2]]) <= 90).all()
            else "Its true"
        )
        raise CrsError(
            f"layer {draft.name!r} has coordinates such as {worst[0]:,.2f}, {worst[1]:,.2f}, out of range "
            f"for longitude and latitude in degrees. {said} its CRS is {crs_label(draft.crs)}, which "
            "cannot be",
            draft.where,
            f'{maybe} coordinate reference system must be stated: crs = "EPSG:..." under layers.{draft.name}',
        )
    rows = draft.table.index.to_numpy()
    draft.set_aside(
        {
            int(r): f"its coordinates {b[0]:,.4f}, {b[1]:,.4f} are out of range for longitude and latitude"
            for r, b in zip(rows[bad], box[bad], strict=True)
        }
    )
    wide = wide[~bad]
    if wide.any() and draft.shapes is not None:
        draft.tell("longitudes count from 0 to 360: 360 is taken off those above 180", harm=0)
        draft.shapes[wide] = shapely.transform(draft.shapes[wide], lambda c: c - [360.0, 0.0])


def _check_projected(draft: Draft, bounds: NDArray[np.float64]) -> None:
    assert draft.crs is not None
    if draft.own_format == "tape":
        return
    if _in_degrees(bounds) and np.abs(bounds[:2]).max() <= 180:
        raise CrsError(
            f"layer {draft.name!r} says its CRS is {crs_label(draft.crs)}, but its coordinates "
            f"({bounds[0]:.4f}, {bounds[2]:.4f}) look like longitude and latitude in degrees",
            draft.where,
            f'If they are, state crs = "EPSG:4326" under layers.{draft.name}',
        )
    middle = np.array([bounds[:2].mean(), bounds[2:].mean()])
    if told := check_area_of_use(draft.crs, middle, f"layer {draft.name!r}", draft.where):
        draft.tell(told, harm=3)


def check_area_of_use(
    crs: CRS, centre: NDArray[np.float64], what: str, where: str, error: type[HabitatError] = CrsError
) -> str | None:
    """Refuse a projected CRS that puts the data far outside its area of use, or inside it in another unit.

    Parameters
    ----------
    centre
        ``(x, y)`` of the data in ``crs``.

    Returns
    -------
    str or None
        What to tell if the place lies outside by a little.

    Raises
    ------
    CrsError
        (or ``error``) if the place is impossible, far outside,
        or would fit in feet for metres (or the reverse).
    """
    lon, lat = lon_lat(crs, centre[None, :])[0]
    name = crs.axis_info[0].unit_name if crs.axis_info else "unit"
    said = f"{what} says its CRS is {crs_label(crs)} ({FEET.get(name, name + 's')})"
    mend = "State the true CRS; feet, metres and neighbouring zones are easily taken for each other"
    if not np.isfinite([lon, lat]).all():
        raise error(
            f"{said}, but its coordinates ({centre[0]:,.1f}, {centre[1]:,.1f}) lie nowhere in it", where, mend
        )
    area = crs.area_of_use
    if area is None:
        return None
    beyond = _beyond(area, lon, lat)
    if max(beyond) == 0.0:
        return None
    place = (
        f"longitude {lon:.2f}, latitude {lat:.2f}, outside the area the CRS is made for "
        f"({textwrap.shorten(area.name, 70, placeholder=' ...')})"
    )
    units = (
        ((FOOT_PER_M, "metres"), (1 / FOOT_PER_M, "feet")) if area.north - area.south < SMALL_AREA_DEG else ()
    )
    for factor, other in units:
        there = lon_lat(crs, centre[None, :] * factor)[0]
        if np.isfinite(there).all() and max(_beyond(area, *there)) == 0.0:
            raise error(f"{said}, which puts it at {place}; its numbers look like {other}", where, mend)
    turned = lon_lat(crs, centre[None, ::-1])[0]
    if np.isfinite(turned).all() and max(_beyond(area, *turned)) == 0.0 and area.north - area.south < 90:
        swap = "easting and northing may be swapped: they would fit the other way round"
        raise error(f"{said}, which puts it at {place}; {swap}", where, mend)
    if beyond[0] > FAR_OUTSIDE_DEG[0] or beyond[1] > FAR_OUTSIDE_DEG[1]:
        raise error(f"{said}, but that puts it at {place}", where, mend)
    return f"it lies at {place}: is {crs_label(crs)} its true CRS?"


def _beyond(area: Any, lon: float, lat: float) -> tuple[float, float]:
    """Return how far a place lies outside an area, in longitude and latitude [degrees]."""
    half = ((area.east - area.west) % 360 or 360.0) / 2
    aside = abs((lon - (area.west + half) + 180) % 360 - 180) - half
    return max(0.0, aside), max(0.0, area.south - lat, lat - area.north)


@lru_cache(maxsize=64)
def mover(source: CRS, target: CRS) -> Transformer:
    """Return the transformation between two CRSs, x (longitude) first in both.

    Raises
    ------
    CrsError
        If there is none: one of them names a way of projecting that nobody knows.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return Transformer.from_crs(source, target, always_xy=True)
    except IndexError:  # the library finds no operation and looks at the first
        raise _no_way(source, target) from None


def _no_way(source: CRS, target: CRS) -> CrsError:
    return CrsError(
        f"nothing leads from its coordinate reference system ({source.name}) to {target.name}: it names a "
        "way of projecting that is not known",
        "",
        "State its true crs in the study, or save the file again in a common one such as EPSG:4326",
    )


def lon_lat(crs: CRS, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return points as WGS 84 longitude and latitude [degrees], infinite where there is none."""
    try:
        x, y = mover(crs, WGS84).transform(points[:, 0], points[:, 1])
    except ProjError:
        return np.full_like(points, np.inf)
    return np.column_stack([x, y])


def choose_metric_crs(lon: NDArray[np.float64], lat: NDArray[np.float64]) -> CRS:
    """Return the UTM zone (WGS 84) of a set of places.

    Examples
    --------
    >>> choose_metric_crs(np.array([-82.9]), np.array([39.9])).to_epsg()
    32617
    >>> choose_metric_crs(np.array([179.9, -179.8]), np.array([-17.0, -17.0])).to_epsg()
    32701
    """
    turn = np.exp(1j * np.radians(lon)).mean()
    middle = float(np.degrees(np.angle(turn)))
    zone = int(np.floor((middle + 180) / 6)) % 60 + 1
    return CRS.from_epsg((32600 if np.median(lat) >= 0 else 32700) + zone)


@lru_cache(maxsize=64)
def shift_note(source: CRS) -> str | None:
    """Return what to tell if the best datum shift from a CRS to WGS 84 is not installed."""
    if source == WGS84:
        return None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            group = TransformerGroup(source, WGS84, always_xy=True)
    except (ProjError, CRSError, IndexError):
        return None
    if group.best_available or not group.unavailable_operations:
        return None
    used = group.transformers[0].accuracy if group.transformers else -1
    if 0 <= used <= 5:  # within what a phone can tell
        return None
    error = f"about {used:g} m" if used > 0 else "an unknown distance"
    return f"the exact datum shift from {crs_label(source)} is not installed: places may be off by {error}"


def length_error(crs: CRS, lon: float, lat: float) -> float:
    """Return the share by which a CRS stretches lengths at a place (0.0004 is 4 cm in 100 m)."""
    try:
        factors = mover(WGS84, crs)
        ahead_lon, ahead_lat, _ = GEOD.fwd(lon, lat, 45.0, 1000.0)
        x, y = factors.transform([lon, ahead_lon], [lat, ahead_lat])
    except ProjError:
        return float("inf")
    return abs(float(np.hypot(x[1] - x[0], y[1] - y[0])) / 1000.0 - 1.0)
