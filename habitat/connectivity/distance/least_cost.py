"""Distance by ground: the cheapest way between many pairs of patches, in metres of the easiest ground."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from queue import SimpleQueue

import numba
import numpy as np
import shapely
from numpy.typing import NDArray

from habitat.arrays import Floats, Ints, Shapes
from habitat.connectivity.distance import _kernels as _distance_kernels
from habitat.connectivity.distance import _least_cost_kernels as kernels
from habitat.connectivity.distance._least_cost_kernels import Room
from habitat.connectivity.distance.links import Links, links_between, polygons_of, straight_links
from habitat.errors import ParameterError
from habitat.grid import Grid

Rooms = SimpleQueue[Room]
BLOCK = 512
"""Patches whose searches go on at a time; their borders are kept until their partners are done: judgement."""
BLOCK_SIDE = 8
"""Cells along a side of the blocks on which distances are estimated first: judgement."""
SMALL_WORK = 1e6
"""Cells to settle below which more threads, or an estimate before, are not worth their time: judgement."""
SURE = 0.7
"""Share of a radius within which a patch is all but sure to be met, the radius being estimated: judgement."""
ROUNDS = 30
"""Rounds of balancing radii; what is left to balance costs less than the rounds: judgement."""


@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairs of patches whose least cost is asked for; all lengths in cells.

    i, j, straight : (pairs,) nodes and the straight distance between them. start, cells : (patches + 1,)
        stretches of the flat cells of each patch. limit : greatest cost that counts.
    """

    i: Ints
    j: Ints
    straight: Floats
    start: Ints
    cells: Ints
    limit: float

    def of(self, patch: int) -> Ints:
        """Return the flat cells of a patch."""
        return self.cells[self.start[patch] : self.start[patch + 1]]


def least_costs(cost: Floats, pairs: Pairs) -> Floats:
    """Return (pairs,) the least cost between the patches of each pair, infinity if it is beyond the limit.

    Parameters
    ----------
    cost
        (rows, cols) crossing cost per cell, more than 0; infinity shuts a cell.
    pairs
        Which pairs, and where the patches lie.

    Notes
    -----
    Each patch searches about half the way; a pair is settled once both searches together have gone as far
    as the least sum over a cell that both have met, so the answer is exact however far each of them went
    (Pohl 1971, Bi-directional search, Machine Intelligence 6: 127-140). How far they go is estimated on
    blocks of cells. Patches that search at the same time have no pair together, or are so near that they meet
    each other, so the answer is the same to the bit with any number of threads. Memory: the tiles that a
    search meets per thread (64 KiB each), and 12 bytes per cell on the borders of the patches of a block and
    their partners.
    """
    least, most, _ = kernels.extremes(cost)
    if not len(pairs.i) or least == np.inf:
        return np.full(len(pairs.i), np.inf)
    typical, count = _typical(cost), len(pairs.start) - 1
    expected = np.minimum(pairs.straight * typical, pairs.limit)
    radius = kernels.radii(count, pairs.i, pairs.j, expected, ROUNDS)
    work = _discs(radius / typical)
    if work > max(SMALL_WORK, cost.size) and cost.size > BLOCK_SIDE**4:
        expected = np.minimum(_by_blocks(cost, pairs), pairs.limit)
        expected[~np.isfinite(expected)] = 0.0
        radius = kernels.radii(count, pairs.i, pairs.j, expected, ROUNDS)
    threads = numba.get_num_threads() if work > SMALL_WORK else 1
    rooms: Rooms = SimpleQueue()
    for _ in range(threads):
        rooms.put(kernels.room_for(cost, least, most))
    return _BidirectionalSearch(cost, least, pairs, expected, radius, rooms).run(threads)


def _typical(cost: Floats) -> float:
    """Return the median cost of some open cells."""
    rows, cols = (max(1, n // 64) for n in cost.shape)
    some = cost[rows // 2 :: rows, cols // 2 :: cols]
    some = some[np.isfinite(some)]
    return float(np.median(some)) if len(some) else 1.0


def _discs(radius: Floats) -> float:
    """Return the cells of discs [cells]."""
    return math.pi * float(radius @ radius)


def _by_blocks(cost: Floats, pairs: Pairs) -> Floats:
    """Return (pairs,) the least costs over blocks of cells, about a tenth from those over cells."""
    blocks = kernels.coarser(cost, BLOCK_SIDE)
    row, col = pairs.cells // cost.shape[1] // BLOCK_SIDE, pairs.cells % cost.shape[1] // BLOCK_SIDE
    owner = np.repeat(np.arange(len(pairs.start) - 1), np.diff(pairs.start))
    key = np.unique(owner * blocks.size + row * blocks.shape[1] + col)
    start = np.searchsorted(key, np.arange(len(pairs.start)) * blocks.size)
    straight, limit = pairs.straight / BLOCK_SIDE, pairs.limit / BLOCK_SIDE
    return (
        least_costs(blocks, Pairs(pairs.i, pairs.j, straight, start, key % blocks.size, limit)) * BLOCK_SIDE
    )


@dataclass(frozen=True, slots=True)
class Found:
    """What a search found: best costs of pairs, its reach, places on its border and what it takes there."""

    pair: Ints
    best: Floats
    reach: float
    places: NDArray[np.int32]
    values: Floats


class Borders:
    """Borders of all searches, one after the other; a patch that has not searched has its own cells, at 0.

    places, values : place and what it takes to get there. first, last : (patches,) stretch of each.
    """

    def __init__(self, pairs: Pairs, cols: int) -> None:
        self.places = kernels.places_of(pairs.cells, cols)
        self.values, self.size = np.zeros(len(self.places)), len(self.places)
        self.first, self.last = pairs.start[:-1].copy(), pairs.start[1:].copy()

    def of(self, patch: int) -> tuple[NDArray[np.int32], Floats]:
        """Return places and values of a patch."""
        own = slice(self.first[patch], self.last[patch])
        return self.places[own], self.values[own]

    def put(self, patch: int, found: Found) -> None:
        """Put the border of a search in the place of what the patch had."""
        size = self.size + len(found.places)
        if size > len(self.places):
            more = max(size, 2 * len(self.places)) - len(self.places)
            self.places = np.concatenate([self.places, np.empty(more, np.int32)])
            self.values = np.concatenate([self.values, np.empty(more)])
        self.places[self.size : size], self.values[self.size : size] = found.places, found.values
        self.first[patch], self.last[patch], self.size = self.size, size, size

    def drop(self, patches: Ints) -> None:
        """Let go of borders that no partner needs any more; close the gaps once they are half of all."""
        self.first[patches] = self.last[patches] = 0
        held = np.flatnonzero(self.last > self.first)
        length = (self.last - self.first)[held]
        if 2 * length.sum() < self.size:
            at = np.repeat(self.first[held] - np.cumsum(length) + length, length) + np.arange(length.sum())
            self.places, self.values, self.size = self.places[at], self.values[at], len(at)
            self.last[held] = np.cumsum(length)
            self.first[held] = self.last[held] - length


class _BidirectionalSearch:
    """Searches under way: what each has reached, and what is known of each pair."""

    def __init__(
        self, cost: Floats, least: float, pairs: Pairs, expected: Floats, radius: Floats, rooms: Rooms
    ) -> None:
        count, every = len(radius), len(pairs.i)
        ends = np.concatenate([pairs.i, pairs.j])
        order = np.argsort(ends, kind="stable")
        self.cost, self.least, self.pairs, self.expected = cost, least, pairs, expected
        self.radius, self.rooms, self.borders = radius, rooms, Borders(pairs, cost.shape[1])
        self.first = np.concatenate([[0], np.cumsum(np.bincount(ends, minlength=count))]).astype(np.int64)
        self.pair, self.other = order % every, np.concatenate([pairs.j, pairs.i])[order]
        self.best, self.reach, self.done = np.full(every, np.inf), np.zeros(count), np.zeros(count, np.bool_)

    def run(self, threads: int) -> Floats:
        """Search from every patch, step by step; return (pairs,) the least costs."""
        step = self._steps()
        last = step.copy()
        np.maximum.at(last, self.pairs.i, step[self.pairs.j])
        np.maximum.at(last, self.pairs.j, step[self.pairs.i])
        together = np.flatnonzero(step[self.pairs.i] == step[self.pairs.j])
        with ThreadPoolExecutor(threads) as pool:
            each = pool.map if threads > 1 else map
            for now in range(int(step.max()) + 1):
                patches = np.flatnonzero(step == now)
                patches = patches[np.argsort(-self.radius[patches], kind="stable")]
                for patch, found in zip(
                    patches.tolist(), list(each(self._first, patches.tolist())), strict=True
                ):
                    self._note(found)
                    self.reach[patch] = found.reach
                    self.borders.put(patch, found)
                self.done[patches] = True
                left = self._unmet(together[step[self.pairs.i[together]] == now])
                for found in list(each(self._again, left)):
                    self._note(found)
                self.borders.drop(np.flatnonzero(last == now))
        return self.best

    def _steps(self) -> Ints:
        """Return when each patch searches: block by block from north to south, in a block class by class."""
        near = self.expected <= SURE * np.maximum(self.radius[self.pairs.i], self.radius[self.pairs.j])
        order = np.argsort(-self.radius, kind="stable")
        kind = kernels.classes(self.first, self.other, ~near[self.pair], order)
        has = self.pairs.start[:-1] < self.pairs.start[1:]
        spot = np.where(has, self.pairs.cells[np.where(has, self.pairs.start[:-1], 0)], 0)
        block = np.empty(len(kind), np.int64)
        block[np.argsort(spot, kind="stable")] = np.arange(len(kind)) // BLOCK
        return np.unique(block * (int(kind.max()) + 1) + kind, return_inverse=True)[1]

    def _first(self, patch: int) -> Found:
        """Search from a patch as far as it must for partners that are done, and its radius for others."""
        own = slice(self.first[patch], self.first[patch + 1])
        pair, partner = self.pair[own], self.other[own]
        open_ = np.minimum(self.best[pair], self.pairs.limit) > self.reach[partner]
        pair, partner = pair[open_], partner[open_]
        later = ~self.done[partner]
        until = (self.expected[pair] - self.reach[partner])[~later].max(initial=0.0)
        until = max(until, self.radius[patch]) if later.any() else until
        if not len(pair) or (until == 0.0 and later.all()):
            return Found(pair, self.best[pair], 0.0, *self.borders.of(patch))
        return self._search(patch, pair, partner, later, float(until))

    def _unmet(self, pairs: Ints) -> list[Ints]:
        """Return those of a step's own pairs that neither of the two searches has settled, by their i."""
        ends = np.maximum(self.reach[self.pairs.i[pairs]], self.reach[self.pairs.j[pairs]])
        pairs = pairs[np.minimum(self.best[pairs], self.pairs.limit) > ends]
        return [pairs[self.pairs.i[pairs] == i] for i in np.unique(self.pairs.i[pairs])]

    def _again(self, pair: Ints) -> Found:
        """Search from a patch once more, for partners that searched at the same time and were not met."""
        patch, partner = int(self.pairs.i[pair[0]]), self.pairs.j[pair]
        until = (self.expected[pair] - self.reach[partner]).max()
        return self._search(patch, pair, partner, np.zeros(len(pair), np.bool_), float(until))

    def _search(self, patch: int, pair: Ints, partner: Ints, later: NDArray[np.bool_], until: float) -> Found:
        best, room, borders = self.best[pair], self.rooms.get(), self.borders
        reach, places, values = kernels.meet(
            self.pairs.of(patch), until, self.cost, self.least, self.pairs.limit, borders.places,
            borders.values, borders.first[partner], borders.last[partner], self.reach[partner], later, best,
            room,
        )  # fmt: skip
        self.rooms.put(room)
        return Found(pair, best, reach, places, values)

    def _note(self, found: Found) -> None:
        """Note what a search knows of its pairs."""
        self.best[found.pair] = np.minimum(self.best[found.pair], found.best)


# Distance by ground: what the cheapest way between two patches costs, in metres of the easiest ground.


def cells_of(shapes: Shapes, grid: Grid) -> tuple[Ints, Ints]:
    """Return (patches + 1,) limits and the flat cells that each patch has ground in; none off the grid.

    Points and lines count as ground of 0.1 m around them, as in straight distances.
    """
    parts, owner = shapely.get_parts(polygons_of(shapes), return_index=True)
    rings, part = shapely.get_rings(parts, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    x, y = (xy[:, 0] - grid.bounds[0]) / grid.cell_m, (grid.bounds[3] - xy[:, 1]) / grid.cell_m
    inner = ring[1:] == ring[:-1]
    seg = np.column_stack([x[:-1], y[:-1], x[1:], y[1:]])[inner]
    first = np.concatenate(
        [[0], np.cumsum(np.bincount(owner[part[ring[:-1][inner]]], minlength=len(shapes)))]
    )
    return _distance_kernels.touched(seg, first.astype(np.int64), *grid.shape)


def least_cost_links(shapes: Shapes, longest_m: float, cost: Floats, grid: Grid) -> Links:
    """Return all links whose cheapest way costs at most ``longest_m``.

    Parameters
    ----------
    shapes
        (patches,) breeding ground.
    longest_m
        Longest link, in metres of ground of cost 1.
    cost
        (rows, cols) cost of crossing each cell, more than 0; infinity shuts it.
    grid
        Where the cells lie.

    Returns
    -------
    Links
        ``distance_m`` is the least sum of length x mean cost of the two cells of each step, over steps to the
        8 neighbours between cell centres: exact on the grid, up to 8 % more than the straight line on even
        ground. Touching and overlapping patches have distance 0.

    Raises
    ------
    ParameterError
        If a cost is not more than 0.
    """
    near = straight_links(shapes, _reach(longest_m, cost, grid))
    return links_by_cost(shapes, near, longest_m, cost, grid)


def least_cost_links_between(new: Shapes, old: Shapes, longest_m: float, cost: Floats, grid: Grid) -> Links:
    """Return the links from new shapes (i) to old ones (j) by ground; see ``least_cost_links``."""
    near = links_between(new, old, _reach(longest_m, cost, grid))
    both = np.concatenate([new, old])
    found = links_by_cost(both, Links(near.i, near.j + len(new), near.distance_m), longest_m, cost, grid)
    return Links(found.i, found.j - len(new), found.distance_m)


def _reach(longest_m: float, cost: Floats, grid: Grid) -> float:
    """Return how far apart in a straight line patches within a link can be [m]."""
    least, _, wrong = kernels.extremes(cost)
    if not wrong > 0.0:
        raise ParameterError("cost", wrong, "more than 0 (infinity shuts a cell)")
    west, south, east, north = grid.bounds
    across = math.hypot(east - west, north - south)
    return min(longest_m / least + 3.0 * grid.cell_m, across) if math.isfinite(least) else 0.0


def links_by_cost(shapes: Shapes, near: Links, longest_m: float, cost: Floats, grid: Grid) -> Links:
    """Return the links among some pairs whose cheapest way costs at most ``longest_m``."""
    start, cells = cells_of(shapes, grid)
    limit = longest_m / grid.cell_m * (1.0 + 1e-12)
    pairs = Pairs(near.i, near.j, near.distance_m / grid.cell_m, start, cells, limit)
    distance = np.where(near.distance_m <= 0.0, 0.0, least_costs(cost, pairs) * grid.cell_m)
    keep = distance <= longest_m
    return Links(near.i[keep], near.j[keep], distance[keep])


def least_cost_path(one: object, two: object, cost: Floats, grid: Grid) -> shapely.LineString | None:
    """Return the cheapest way between two shapes, None if they share a cell or none leads."""
    start, cells = cells_of(np.array([one, two], object), grid)
    first, second = cells[: start[1]], cells[start[1] :]
    least, most, _ = kernels.extremes(cost)
    if not len(first) or not len(second) or not math.isfinite(least):
        return None
    way = kernels.cheapest_way(
        np.ascontiguousarray(cost), first, second, kernels.places_of(second, grid.shape[1]), least,
        kernels.room_for(cost, least, most),
    )[::-1]  # fmt: skip
    if len(way) < 2:
        return None
    return shapely.LineString(np.column_stack([grid.x[way % grid.shape[1]], grid.y[way // grid.shape[1]]]))
