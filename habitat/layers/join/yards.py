"""The yards themselves: ids, duplicates, slivers, overlaps, and the CRS that their place calls for."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from habitat.errors import CrsError, LayerError
from habitat.layers.crs import GEOD, WGS84, choose_metric_crs, crs_label, length_error, lon_lat
from habitat.layers.formats.raw import Draft
from habitat.layers.join.overlaps import PILED, Overlaps, find_overlaps, stacks
from habitat.settings.layers import Sources

FAR_M = 100_000.0
"""A yard this far from the middle of the others is no neighbour but a slip: judgement."""
SLIVER_WIDTH_M = 0.5
TINY_YARD_M2 = 1.0
HUGE_YARD_M2 = 10e6
STRETCH_TOLD, STRETCH_REFUSED = 0.002, 0.01
SEEN_M2 = 0.01
"""Smaller overlaps of two yards are told together."""

TOLD_PAIRS = 50

HOLDS_MANY = 10
"""An outline around so many yards is no yard: judgement."""


def places_of(draft: Draft) -> NDArray[np.float64]:
    """Return a longitude and latitude of every row that has a shape ``(n, 2)`` [degrees]."""
    box = _boxes(draft)
    crs = draft.crs or WGS84
    return lon_lat(crs, np.column_stack([box[:, [0, 2]].mean(axis=1), box[:, [1, 3]].mean(axis=1)]))


def boxes_of(draft: Draft) -> NDArray[np.float64]:
    """Return (west, south, east, north) of every row that has a shape ``(n, 4)`` [degrees].

    Infinite or NaN where a place cannot be worked out; near enough for shapes of some kilometres.
    """
    box = _boxes(draft)
    corners = np.stack(
        [lon_lat(draft.crs or WGS84, box[:, [x, y]]) for x, y in ((0, 1), (2, 1), (0, 3), (2, 3))]
    )
    return np.hstack([corners.min(axis=0), corners.max(axis=0)])


def _boxes(draft: Draft) -> NDArray[np.float64]:
    assert draft.shapes is not None
    assert draft.crs is not None
    box = shapely.bounds(draft.shapes[~shapely.is_missing(draft.shapes)])
    if draft.crs.is_geographic:  # around the date line, a box's middle lies on the other side of the Earth
        box[box[:, 2] - box[:, 0] > 180.0, 0] += 360.0
    return np.asarray(box)


def drop_far_yards(draft: Draft) -> None:
    """Set aside yards that lie far from all others: null island, a slipped digit, a swapped pair."""
    where = places_of(draft)
    finite = np.isfinite(where).all(axis=1)
    if not finite.any():
        raise CrsError(
            "the yards lie nowhere on Earth", draft.where, "State their true crs under layers.yards"
        )
    lon, lat = where[finite].T
    turn = np.angle(np.exp(1j * np.radians(lon)) * np.exp(-1j * np.radians(lon[0])))
    middle = np.array([np.median(np.degrees(turn) + lon[0]), np.median(lat)])
    distance = np.full(len(where), np.inf)
    n = int(finite.sum())
    distance[finite] = GEOD.inv(
        np.full(n, middle[0]), np.full(n, middle[1]), where[finite, 0], where[finite, 1]
    )[2]
    far = distance > FAR_M
    if far.sum() * 2 > len(far):
        raise LayerError(
            "the yards lie all over the map: fewer than half are within 100 km of their middle",
            draft.where,
            "Check its coordinates, or keep one neighbourhood with where",
        )
    rows = draft.table.index.to_numpy()
    draft.set_aside(
        {
            int(r): f"it lies at longitude {p[0]:.4f}, latitude {p[1]:.4f}, far from the other yards "
            f"({d / 1000:,.0f} km)"
            for r, p, d in zip(rows[far], where[far], distance[far], strict=True)
        }
    )


def settle_metric_crs(sources: Sources, draft: Draft) -> tuple[CRS, str]:
    """Return the metric CRS and how it was come by: stated, the yards' own, or the UTM zone there.

    Raises
    ------
    CrsError
        If the stated one stretches lengths by more than 1 % where the yards are,
            or the yards lie near a pole.
    """
    assert draft.crs is not None
    where = places_of(draft)
    lon, lat = np.median(where, axis=0)
    if abs(lat) > 75:
        raise CrsError(
            f"the yards lie at longitude {lon:.2f}, latitude {lat:.2f}, where nobody gardens: latitude "
            "and longitude are swapped, or their order is the file's own",
            draft.where,
            "Export the yards again with longitude first (or swap x and y), or state their true crs",
        )
    if sources.crs is not None:
        stated = CRS.from_user_input(sources.crs)
        if draft.crs.is_geographic:
            _refuse_swapped(stated, draft, float(lon), float(lat))
        return _stated(stated, sources.named_in, float(lon), float(lat))
    own = draft.crs
    metres = own.is_projected and all(a.unit_conversion_factor == 1.0 for a in own.axis_info[:2])
    if metres and own.to_authority(min_confidence=70) and length_error(own, lon, lat) < 0.001:
        crs, why = CRS.from_user_input(crs_label(own)), "the yards' own"
    else:
        crs, why = choose_metric_crs(where[:, 0], where[:, 1]), "the UTM zone of the yards"
    return crs, f"Metric CRS: {crs_label(crs)} ({crs.name}), {why}; state study.crs to choose another"


def _refuse_swapped(crs: CRS, draft: Draft, lon: float, lat: float) -> None:
    """Stop if yards in degrees miss the stated metric CRS, but would lie in it the other way round."""
    ways = {
        "latitude and longitude are swapped": (lat, lon),
        "their longitudes have lost or gained a minus sign (west is negative)": (-lon, lat),
        "their latitudes have lost or gained a minus sign (south is negative)": (lon, -lat),
    }
    if length_error(crs, lon, lat) < STRETCH_REFUSED:
        return
    for words, (x, y) in ways.items():
        if abs(y) <= 90 and length_error(crs, x, y) < STRETCH_TOLD:
            raise CrsError(
                f"the yards lie near longitude {lon:.3f}, latitude {lat:.3f}, far from where study.crs "
                f"({crs_label(crs)}) is made for, but they would lie in it if {words}",
                draft.where,
                "Export the yards again with the right order and signs, or leave study.crs out",
            )


def _stated(crs: CRS, where: str, lon: float, lat: float) -> tuple[CRS, str]:
    stretch = length_error(crs, lon, lat)
    if not stretch < STRETCH_REFUSED:
        raise CrsError(
            f"study.crs is {crs_label(crs)}, which stretches lengths by {stretch:.1%} where the yards are "
            f"(longitude {lon:.2f}, latitude {lat:.2f})",
            where,
            f"Leave it out, or state {crs_label(choose_metric_crs(np.array([lon]), np.array([lat])))}",
        )
    told = f"Metric CRS: {crs_label(crs)} ({crs.name}), as stated"
    if stretch > STRETCH_TOLD:
        told += f"; it stretches lengths by {stretch:.2%} here"
    return crs, told


def measure(draft: Draft) -> Overlaps:
    """Tell slivers, giants and overlaps of the yards; all stay in use."""
    assert draft.shapes is not None
    area, length = shapely.area(draft.shapes), shapely.length(draft.shapes)
    rows = draft.table.index.to_numpy()
    width = 2 * area / np.maximum(length, 1e-9)
    thin = (width < SLIVER_WIDTH_M) | (area < TINY_YARD_M2)
    for i in np.flatnonzero(thin)[:TOLD_PAIRS]:
        draft.tell(
            f"a sliver, too narrow for a yard: {area[i]:.2f} m2, about {width[i]:.2f} m wide; kept",
            int(rows[i]),
            1,
        )
    if thin.sum() > TOLD_PAIRS:
        draft.tell(f"{int(thin.sum()) - TOLD_PAIRS} more slivers like these", harm=1)
    for i in np.flatnonzero(area > HUGE_YARD_M2)[:TOLD_PAIRS]:
        draft.tell(
            f"very large for a yard: {area[i] / 1e6:,.1f} km2; are its units or CRS right?", int(rows[i]), 2
        )
    found = find_overlaps(draft.shapes, draft.where)
    _tell_overlaps(draft, found, area)
    draft.details |= {"ground_area_m2": found.ground_m2, "overlap_m2": float(area.sum() - found.ground_m2)}
    return found


def _tell_overlaps(draft: Draft, found: Overlaps, area: NDArray[np.float64]) -> None:
    ids = draft.table["yard_id"].to_numpy()
    rows = draft.table.index
    pairs = list(zip(found.first, found.second, found.pair_m2, strict=True))
    same = [bool(m2 > 0.99 * max(area[i], area[j])) for i, j, m2 in pairs]
    alike = np.array(same, dtype=bool)
    for stack in stacks(len(ids), found.first[alike], found.second[alike]):
        draft.tell(
            f"{len(stack)} yards are stacked on the same ground ({_some(ids[stack])}); all are kept, the "
            "ground counts once. Units of one building are best asked as one yard",
            int(rows[stack[0]]),
            2,
        )
    for pile in found.piles:
        draft.tell(
            f"{len(pile)} yards lie over each other, each in the box of more than {PILED} others "
            f"({_some(ids[pile])}): who shares what with whom is not told; all are kept, the ground counts "
            "once",
            int(rows[pile[0]]),
            2,
        )
    _tell_boundaries(draft, found, area)
    apart = [p for p, s in zip(pairs, same, strict=True) if not s]
    rest = sorted((p for p in apart if p[2] >= SEEN_M2), key=lambda p: (-p[2], p[0], p[1]))
    for i, j, m2 in rest[:TOLD_PAIRS]:
        small, big = (i, j) if area[i] <= area[j] else (j, i)
        if m2 > 0.99 * area[small]:
            what = f"nested: {ids[small]} lies inside {ids[big]} (overlap {m2:,.1f} m2)"
        else:
            what = f"overlaps {ids[j]} by {m2:,.2f} m2"
        draft.tell(
            f"{what}; both are kept, the ground counts once",
            int(rows[i]),
            0 if m2 < 0.05 else 1 if m2 < 1 else 2,
        )
    if len(rest) > TOLD_PAIRS:
        more = sum(p[2] for p in rest[TOLD_PAIRS:])
        draft.tell(f"{len(rest) - TOLD_PAIRS} more pairs of yards overlap, by {more:,.2f} m2 in all", harm=1)
    if len(apart) > len(rest):
        few = f"{len(apart) - len(rest)} pair(s) of yards overlap by less than {SEEN_M2} m2 each"
        draft.tell(f"{few}, as outlines drawn one by one do", harm=0)


def _tell_boundaries(draft: Draft, found: Overlaps, area: NDArray[np.float64]) -> None:
    """Tell of outlines that lie around many other yards: of a block or a town, not of a yard."""
    rows = draft.table.index.to_numpy()
    larger = np.where(area[found.first] >= area[found.second], found.first, found.second)
    smaller = np.where(area[found.first] >= area[found.second], found.second, found.first)
    within = (found.pair_m2 > 0.99 * area[smaller]) & (area[larger] > 2 * area[smaller])
    holds = np.bincount(larger[within], minlength=len(area))
    for i in np.flatnonzero(holds >= HOLDS_MANY)[:TOLD_PAIRS]:
        draft.tell(
            f"it lies around {holds[i]} other yards: a boundary rather than a yard ({area[i]:,.0f} m2); "
            "leave it out if it is",
            int(rows[i]),
            3,
        )


def _some(names: NDArray[np.object_]) -> str:
    return ", ".join(names[:12]) + (f" and {len(names) - 12} more" if len(names) > 12 else "")


def yard_frame(draft: Draft, crs: CRS, overlap_m2: NDArray[np.float64]) -> gpd.GeoDataFrame:
    """Return the yards with area and overlap, before people are joined on."""
    frame = gpd.GeoDataFrame(
        draft.table.copy(), geometry=gpd.GeoSeries(draft.shapes, index=draft.table.index, crs=crs)
    )
    frame["area_m2"] = frame.geometry.area
    frame["overlap_m2"] = overlap_m2
    return frame
