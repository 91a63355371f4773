"""The yards themselves: ids, duplicates, slivers, overlaps, and the CRS that their place calls for."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from habitat.errors import CrsError, LayerError
from habitat.layers.crs import GEOD, WGS84, choose_metric_crs, crs_label, length_error, lon_lat
from habitat.layers.formats.raw import Draft, ShapeArray
from habitat.settings.layers import Sources

NOISE_M2 = 1e-4
"""Overlaps below this are rounding of shared corners, not ground."""


@dataclass(frozen=True, slots=True)
class Overlaps:
    """Pairs of polygons that share ground.

    Parameters
    ----------
    first, second
        Positions of each pair, first < second.
    pair_m2
        Ground that the pair shares [m2].
    yard_m2
        Ground of each polygon that lies in any other too [m2].
    ground_m2
        Ground that all cover together, counted once [m2].
    """

    first: NDArray[np.int64]
    second: NDArray[np.int64]
    pair_m2: NDArray[np.float64]
    yard_m2: NDArray[np.float64]
    ground_m2: float


def find_overlaps(shapes: ShapeArray) -> Overlaps:
    """Return the overlaps of valid polygons in a metric CRS.

    Examples
    --------
    >>> boxes = shapely.box([0, 8, 30], [0, 0, 0], [10, 20, 40], [10, 10, 10])
    >>> found = find_overlaps(boxes)
    >>> found.pair_m2, found.yard_m2, found.ground_m2
    (array([20.]), array([20., 20.,  0.]), 300.0)
    """
    first, second = _close_pairs(shapes)
    shared = shapely.intersection(shapes[first], shapes[second])
    area = shapely.area(shared)
    keep = area > NOISE_M2
    first, second, shared, area = first[keep], second[keep], shared[keep], area[keep]
    yard_m2 = _per_yard(len(shapes), first, second, shared, area)
    return Overlaps(first, second, area, yard_m2, _ground(shapes, first, second, area))


def _close_pairs(shapes: ShapeArray) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return pairs whose boxes overlap and which do more than touch."""
    tree = shapely.STRtree(shapes)
    first, second = tree.query(shapes)
    ahead = first < second
    first, second = first[ahead], second[ahead]
    box = shapely.bounds(shapes)
    width = np.minimum(box[first, 2], box[second, 2]) - np.maximum(box[first, 0], box[second, 0])
    height = np.minimum(box[first, 3], box[second, 3]) - np.maximum(box[first, 1], box[second, 1])
    near = (width > 0) & (height > 0) & (width * height > NOISE_M2)
    first, second = first[near], second[near]
    order = np.lexsort((second, first))
    first, second = first[order], second[order]
    shapely.prepare(shapes)
    inside = shapely.relate_pattern(shapes[first], shapes[second], "T********")  # interiors meet
    return first[inside], second[inside]


def _per_yard(
    count: int,
    first: NDArray[np.int64],
    second: NDArray[np.int64],
    shared: ShapeArray,
    area: NDArray[np.float64],
) -> NDArray[np.float64]:
    partners = np.bincount(np.concatenate([first, second]), minlength=count)
    out: NDArray[np.float64] = np.zeros(count)
    np.add.at(out, first, area)
    np.add.at(out, second, area)
    for yard in np.flatnonzero(partners > 1):
        out[yard] = shapely.union_all(shared[(first == yard) | (second == yard)]).area
    return out


def _ground(
    shapes: ShapeArray, first: NDArray[np.int64], second: NDArray[np.int64], area: NDArray[np.float64]
) -> float:
    """Return the area of the union, worked out group by group of polygons that hang together."""
    total = float(shapely.area(shapes).sum())
    if not len(first):
        return float(total)
    links = coo_array((area, (first, second)), shape=(len(shapes), len(shapes)))
    _, group = connected_components(links, directed=False)
    touched = np.unique(np.concatenate([first, second]))
    for label in np.unique(group[touched]):
        members = shapes[touched[group[touched] == label]]
        total += shapely.union_all(members).area - shapely.area(members).sum()
    return float(total)


# The yards themselves: ids, duplicates, slivers, overlaps, and the CRS that their place calls for.

FAR_M = 100_000.0
"""A yard this far from the middle of the others is no neighbour but a slip: judgement."""
SLIVER_WIDTH_M = 0.5
TINY_YARD_M2 = 1.0
HUGE_YARD_M2 = 10e6
STRETCH_TOLD, STRETCH_REFUSED = 0.002, 0.01
SEEN_M2 = 0.01
"""Smaller overlaps of two yards are told together."""

TOLD_PAIRS = 50


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
    turn = np.angle(np.exp(1j * np.radians(where[:, 0])) * np.exp(-1j * np.radians(where[finite][0, 0])))
    lon = np.degrees(turn) + where[finite][0, 0]
    middle = np.median(np.column_stack([lon, where[:, 1]])[finite], axis=0)
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
    found = find_overlaps(draft.shapes)
    _tell_overlaps(draft, found, area)
    draft.details |= {"ground_area_m2": found.ground_m2, "overlap_m2": float(area.sum() - found.ground_m2)}
    return found


def _tell_overlaps(draft: Draft, found: Overlaps, area: NDArray[np.float64]) -> None:
    ids = draft.table["yard_id"].to_numpy()
    rows = draft.table.index
    pairs = list(zip(found.first, found.second, found.pair_m2, strict=True))
    same = [bool(m2 > 0.99 * max(area[i], area[j])) for i, j, m2 in pairs]
    for stack in _stacks([(int(i), int(j)) for (i, j, _), s in zip(pairs, same, strict=True) if s]):
        names = ", ".join(ids[stack[:12]]) + (f" and {len(stack) - 12} more" if len(stack) > 12 else "")
        draft.tell(
            f"{len(stack)} yards are stacked on the same ground ({names}); all are kept, the ground "
            "counts once. Units of one building are best asked as one yard",
            int(rows[stack[0]]),
            2,
        )
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


def _stacks(pairs: list[tuple[int, int]]) -> list[list[int]]:
    """Return the groups that pairs hang together in, each sorted, the first members in order."""
    group: dict[int, set[int]] = {}
    for i, j in pairs:
        joined = group.get(i, {i}) | group.get(j, {j})
        for member in joined:
            group[member] = joined
    return [list(g) for g in sorted({tuple(sorted(members)) for members in group.values()})]


def yard_frame(draft: Draft, crs: CRS, overlap_m2: NDArray[np.float64]) -> gpd.GeoDataFrame:
    """Return the yards with area and overlap, before people are joined on."""
    frame = gpd.GeoDataFrame(
        draft.table.copy(), geometry=gpd.GeoSeries(draft.shapes, index=draft.table.index, crs=crs)
    )
    frame["area_m2"] = frame.geometry.area
    frame["overlap_m2"] = overlap_m2
    return frame
