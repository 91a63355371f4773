"""Ground that several yards share: pairs where they are few, piles of yards where they are many."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from habitat.errors import LayerError
from habitat.layers.formats.raw import ShapeArray

NOISE_M2 = 1e-4
"""Overlaps below this are rounding of shared corners, not ground."""

PILED = 60
"""A yard whose box meets those of more others than this lies in a pile with those of which the same is true:
their pairs are not looked at one by one (judgement; a lot in a street meets fewer than 20)."""

MOST_PAIRS = 4_000_000
"""More pairs of yards whose boxes meet than this are refused: 2,800 outlines over each other have so many,
and a county of 200,000 parcels side by side a fifth of it."""

CHUNK = 500

Indices = NDArray[np.integer[Any]]
Areas = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Overlaps:
    """Polygons that share ground.

    Parameters
    ----------
    first, second
        Positions of each pair, first < second. Of equal polygons only the first has a pair with each of the
        others; of polygons in one pile there are no pairs.
    pair_m2
        Ground that the pair shares [m2].
    yard_m2
        Ground of each polygon that lies in any other too [m2].
    ground_m2
        Ground that all cover together, counted once [m2].
    piles
        Positions of the polygons of each pile.
    """

    first: Indices
    second: Indices
    pair_m2: Areas
    yard_m2: Areas
    ground_m2: float
    piles: list[Indices] = field(default_factory=list)


def find_overlaps(shapes: ShapeArray, where: str = "") -> Overlaps:
    """Return the overlaps of valid polygons in a metric CRS, in time nearly linear in their number.

    Parameters
    ----------
    shapes
        Polygons ``(n,)``.
    where
        Their file, for messages.

    Raises
    ------
    LayerError
        If more than ``MOST_PAIRS`` pairs of different outlines lie over each other.

    Examples
    --------
    >>> boxes = shapely.box([0, 8, 30], [0, 0, 0], [10, 20, 40], [10, 10, 10])
    >>> found = find_overlaps(boxes)
    >>> found.pair_m2, found.yard_m2, found.ground_m2
    (array([20.]), array([20., 20.,  0.]), 300.0)
    """
    original, copies = _copies(shapes)
    single = shapes[original]
    near = _boxes_that_meet(single, where)
    piles = _piles(len(single), *near)
    first, second = _interiors_meet(single, *_not_in_one_pile(near, piles))
    shared = shapely.intersection(single[first], single[second])
    area = shapely.area(shared)
    keep = area > NOISE_M2
    first, second, shared, area = first[keep], second[keep], shared[keep], area[keep]
    twice = [_once_and_twice(list(single[pile])) for pile in piles]
    alone_m2 = _per_yard(single, (first, second, shared, area), piles, [two for _, two in twice])
    ground = _ground(single, (first, second, area), piles)
    return _with_copies(shapes, original, copies, (first, second, area), alone_m2, ground, piles)


def _copies(shapes: ShapeArray) -> tuple[Indices, dict[int, list[int]]]:
    """Return the positions of different polygons, and those of further ones equal to one of them."""
    seen: dict[bytes, int] = {}
    copies: dict[int, list[int]] = {}
    for i, text in enumerate(shapely.to_wkb(shapes)):
        if seen.setdefault(text, i) != i:
            copies.setdefault(seen[text], []).append(i)
    return np.array(list(seen.values()), dtype=np.int64), copies


def _boxes_that_meet(shapes: ShapeArray, where: str) -> tuple[Indices, Indices]:
    """Return pairs (first < second) whose boxes share ground."""
    tree, box = shapely.STRtree(shapes), shapely.bounds(shapes)
    found: list[tuple[Indices, Indices]] = []
    count = 0
    for start in range(0, len(shapes), CHUNK):
        first, second = tree.query(shapes[start : start + CHUNK])
        first = first + start
        ahead = first < second
        first, second = first[ahead], second[ahead]
        width = np.minimum(box[first, 2], box[second, 2]) - np.maximum(box[first, 0], box[second, 0])
        height = np.minimum(box[first, 3], box[second, 3]) - np.maximum(box[first, 1], box[second, 1])
        near = (width > 0) & (height > 0) & (width * height > NOISE_M2)
        found.append((first[near], second[near]))
        count += int(near.sum())
        if count > max(MOST_PAIRS, 20 * len(shapes)):
            raise LayerError(
                f"the yards lie on top of each other: more than {count:,} pairs of different outlines meet",
                where,
                "Give each yard its own outline; units of one building are best one yard",
            )
    first, second = (np.concatenate(part) for part in zip(*found, strict=True))
    order = np.lexsort((second, first))
    return first[order], second[order]


def _piles(count: int, first: Indices, second: Indices) -> list[Indices]:
    """Return the groups of yards that each meet many others of which the same is true."""
    partners = np.bincount(first, minlength=count) + np.bincount(second, minlength=count)
    many = partners > PILED
    inside = many[first] & many[second]
    if not inside.any():
        return []
    first, second = first[inside], second[inside]
    links = coo_array((np.ones(len(first)), (first, second)), shape=(count, count))
    _, group = connected_components(links, directed=False)
    return _grouped(group, np.unique(np.concatenate([first, second])))


def _grouped(label: Indices, members: Indices) -> list[Indices]:
    """Return members by their label, in order."""
    order = members[np.argsort(label[members], kind="stable")]
    return np.split(order, np.flatnonzero(np.diff(label[order])) + 1)


def _not_in_one_pile(near: tuple[Indices, Indices], piles: list[Indices]) -> tuple[Indices, Indices]:
    first, second = near
    if not piles:
        return near
    number = np.full(int(max(first.max(), second.max())) + 1, -1)
    for k, pile in enumerate(piles):
        number[pile] = k
    apart = (number[first] != number[second]) | (number[first] < 0)
    return first[apart], second[apart]


def _interiors_meet(shapes: ShapeArray, first: Indices, second: Indices) -> tuple[Indices, Indices]:
    """Return the pairs that do more than touch."""
    shapely.prepare(shapes)
    inside = shapely.relate_pattern(shapes[first], shapes[second], "T********")
    return first[inside], second[inside]


def _once_and_twice(shapes: list[Any]) -> tuple[Any, Any]:
    """Return the ground in at least one polygon, and that in at least two, by halves."""
    if len(shapes) == 1:
        return shapes[0], shapely.Polygon()
    middle = shapely.get_coordinates(shapely.centroid(shapes))
    axis = int(np.ptp(middle[:, 1]) > np.ptp(middle[:, 0]))
    order = np.argsort(middle[:, axis], kind="stable")
    half = len(shapes) // 2
    one, one_twice = _once_and_twice([shapes[i] for i in order[:half]])
    other, other_twice = _once_and_twice([shapes[i] for i in order[half:]])
    both = shapely.intersection(one, other)
    twice = shapely.union_all([one_twice, other_twice, both])
    return shapely.simplify(shapely.union(one, other), 0.0), shapely.simplify(twice, 0.0)


def _per_yard(
    shapes: ShapeArray,
    pairs: tuple[Indices, Indices, ShapeArray, Areas],
    piles: list[Indices],
    twice: list[Any],
) -> Areas:
    first, second, shared, area = pairs
    out: Areas = np.zeros(len(shapes))
    np.add.at(out, first, area)
    np.add.at(out, second, area)
    either = np.concatenate([first, second])
    pieces: dict[int, list[Any]] = {}
    several = np.bincount(either, minlength=len(shapes)) > 1
    for pile, ground in zip(piles, twice, strict=True):
        shapely.prepare(ground)
        whole = shapely.covers(ground, shapes[pile])
        part = shapely.intersection(shapes[pile[~whole]], ground)
        pieces |= {int(yard): [shapes[yard]] for yard in pile[whole]}
        pieces |= {int(yard): [piece] for yard, piece in zip(pile[~whole], part, strict=True)}
        several[pile] = True
    for yard, piece in zip(either, np.concatenate([shared, shared]), strict=True):
        if several[yard]:
            pieces.setdefault(int(yard), []).append(piece)
    for i, parts in pieces.items():
        out[i] = shapely.union_all(parts).area
    return out


def _ground(shapes: ShapeArray, pairs: tuple[Indices, Indices, Areas], piles: list[Indices]) -> float:
    """Return the area of the union, worked out group by group of polygons that hang together."""
    total = float(shapely.area(shapes).sum())
    chains = [(pile[:-1], pile[1:]) for pile in piles]
    first = np.concatenate([pairs[0], *(a for a, _ in chains)])
    second = np.concatenate([pairs[1], *(b for _, b in chains)])
    if not len(first):
        return total
    links = coo_array((np.ones(len(first)), (first, second)), shape=(len(shapes), len(shapes)))
    _, group = connected_components(links, directed=False)
    for members in _grouped(group, np.unique(np.concatenate([first, second]))):
        total += shapely.union_all(shapes[members]).area - shapely.area(shapes[members]).sum()
    return float(total)


def _with_copies(
    shapes: ShapeArray,
    original: Indices,
    copies: dict[int, list[int]],
    pairs: tuple[Indices, Indices, Areas],
    alone_m2: Areas,
    ground: float,
    piles: list[Indices],
) -> Overlaps:
    """Bring what was found of different polygons back to all: a copy shares all its ground."""
    first, second, area = original[pairs[0]], original[pairs[1]], pairs[2]
    yard_m2 = np.zeros(len(shapes))
    yard_m2[original] = alone_m2
    groups = [original[pile] for pile in piles]
    if copies:
        more = [(i, j) for i, others in copies.items() for j in others]
        ahead, behind = (np.array(side, dtype=np.int64) for side in zip(*more, strict=True))
        whole = shapely.area(shapes[ahead])
        yard_m2[ahead], yard_m2[behind] = whole, whole
        first, second = np.concatenate([first, ahead]), np.concatenate([second, behind])
        area = np.concatenate([area, whole])
        order = np.lexsort((second, first))
        first, second, area = first[order], second[order], area[order]
    return Overlaps(first, second, area, yard_m2, ground, groups)


def stacks(count: int, first: Indices, second: Indices) -> list[Indices]:
    """Return the groups that pairs of ``count`` polygons hang together in, the first members in order.

    Examples
    --------
    >>> stacks(5, np.array([1, 4]), np.array([4, 2]))
    [array([1, 2, 4])]
    """
    if not len(first):
        return []
    links = coo_array((np.ones(len(first)), (first, second)), shape=(count, count))
    _, group = connected_components(links, directed=False)
    found = _grouped(group, np.unique(np.concatenate([first, second])))
    return sorted(found, key=lambda members: int(members[0]))
