"""Where yards lie over each other: per pair, per yard, and the ground they cover in all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from habitat.layers.raw import ShapeArray

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
