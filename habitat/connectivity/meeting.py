"""Least cost of many pairs of patches at once: searches that meet half way, side by side in threads."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from queue import SimpleQueue

import numba
import numpy as np
from numpy.typing import NDArray

from habitat.connectivity import _ground_kernels, _meeting_kernels
from habitat.connectivity._ground_kernels import Room

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Border = tuple[NDArray[np.int32], Floats]
"""Places that a search has reached and not settled, and what it takes to get there."""
BLOCK = 512
"""Patches whose searches go on at a time; their borders are kept until their partners are done: judgement."""
BLOCK_SIDE = 8
"""Cells along a side of the blocks on which distances are estimated first: judgement."""
SMALL_WORK = 1e6
"""Cells to settle below which more threads, or an estimate before, are not worth their time: judgement."""
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
    blocks of cells. Patches of one class have no pair together and search at the same time, so that the
    answer is the same to the bit with any number of threads. Memory: the tiles that a search meets per thread
    (64 KiB each), and 12 bytes per cell on the borders of the patches of a block and their partners.
    """
    least, most, _ = _meeting_kernels.extremes(cost)
    if not len(pairs.i) or least == np.inf:
        return np.full(len(pairs.i), np.inf)
    typical, count = _typical(cost), len(pairs.start) - 1
    expected = np.minimum(pairs.straight * typical, pairs.limit)
    radius = _meeting_kernels.radii(count, pairs.i, pairs.j, expected, ROUNDS)
    work = _discs(radius / typical)
    if work > max(SMALL_WORK, cost.size) and cost.size > BLOCK_SIDE**4:
        expected = np.minimum(_by_blocks(cost, pairs), pairs.limit)
        expected[~np.isfinite(expected)] = 0.0
        radius = _meeting_kernels.radii(count, pairs.i, pairs.j, expected, ROUNDS)
    threads = numba.get_num_threads() if work > SMALL_WORK else 1
    rooms: SimpleQueue[Room] = SimpleQueue()
    for _ in range(threads):
        rooms.put(_ground_kernels.room_for(cost, least, most))
    return _Meeting(cost, least, pairs, expected, radius, rooms).run(threads)


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
    blocks = _meeting_kernels.coarser(cost, BLOCK_SIDE)
    row, col = pairs.cells // cost.shape[1] // BLOCK_SIDE, pairs.cells % cost.shape[1] // BLOCK_SIDE
    owner = np.repeat(np.arange(len(pairs.start) - 1), np.diff(pairs.start))
    key = np.unique(owner * blocks.size + row * blocks.shape[1] + col)
    start = np.searchsorted(key, np.arange(len(pairs.start)) * blocks.size)
    straight, limit = pairs.straight / BLOCK_SIDE, pairs.limit / BLOCK_SIDE
    return (
        least_costs(blocks, Pairs(pairs.i, pairs.j, straight, start, key % blocks.size, limit)) * BLOCK_SIDE
    )


class _Meeting:
    """Searches under way: what each has reached, and what is known of each pair."""

    def __init__(
        self,
        cost: Floats,
        least: float,
        pairs: Pairs,
        expected: Floats,
        radius: Floats,
        rooms: SimpleQueue[Room],
    ) -> None:
        count, every = len(radius), len(pairs.i)
        ends = np.concatenate([pairs.i, pairs.j])
        order = np.argsort(ends, kind="stable")
        self.cost, self.least, self.pairs, self.expected = cost, least, pairs, expected
        self.radius, self.rooms = radius, rooms
        self.first = np.concatenate([[0], np.cumsum(np.bincount(ends, minlength=count))]).astype(np.int64)
        self.pair, self.other = order % every, np.concatenate([pairs.j, pairs.i])[order]
        self.best, self.reach, self.done = np.full(every, np.inf), np.zeros(count), np.zeros(count, np.bool_)
        self.places = _ground_kernels.places_of(pairs.cells, cost.shape[1])
        self.borders: dict[int, tuple[NDArray[np.int32], Floats]] = {}

    def run(self, threads: int) -> Floats:
        """Search from every patch, class by class; return (pairs,) the least costs."""
        step = self._steps()
        last = step.copy()
        np.maximum.at(last, self.pairs.i, step[self.pairs.j])
        np.maximum.at(last, self.pairs.j, step[self.pairs.i])
        with ThreadPoolExecutor(threads) as pool:
            each = pool.map if threads > 1 else map
            for now in range(int(step.max()) + 1):
                patches = np.flatnonzero(step == now)
                patches = patches[np.argsort(-self.radius[patches], kind="stable")]
                for patch, found in zip(patches.tolist(), each(self._search, patches.tolist()), strict=True):
                    self.reach[patch], self.borders[patch] = found
                    self.done[patch] = True
                for patch in np.flatnonzero(last == now).tolist():
                    del self.borders[patch]
        return self.best

    def _steps(self) -> Ints:
        """Return when each patch searches: block by block from north to south, in a block class by class."""
        order = np.argsort(-self.radius, kind="stable")
        kind = _meeting_kernels.classes(self.first, self.other, order)
        has = self.pairs.start[:-1] < self.pairs.start[1:]
        spot = np.where(has, self.pairs.cells[np.where(has, self.pairs.start[:-1], 0)], 0)
        block = np.empty(len(kind), np.int64)
        block[np.argsort(spot, kind="stable")] = np.arange(len(kind)) // BLOCK
        return np.unique(block * (int(kind.max()) + 1) + kind, return_inverse=True)[1]

    def _search(self, patch: int) -> tuple[float, Border]:
        """Search from a patch as far as it must; return its reach and its border."""
        own = slice(self.first[patch], self.first[patch + 1])
        pair, partner = self.pair[own], self.other[own]
        unsettled = np.minimum(self.best[pair], self.pairs.limit) > self.reach[partner]
        pair, partner = pair[unsettled], partner[unsettled]
        later = ~self.done[partner]
        until = (self.expected[pair] - self.reach[partner])[~later].max(initial=0.0)
        if later.any():
            until = max(until, self.radius[patch])
        if not len(pair) or (until == 0.0 and later.all()):
            return 0.0, self._border(patch)
        borders = [self._border(p) for p in partner.tolist()]
        first = np.concatenate([[0], np.cumsum([len(places) for places, _ in borders])]).astype(np.int64)
        best, room = self.best[pair], self.rooms.get()
        places, values = (np.concatenate(part) for part in zip(*borders, strict=True))
        reach, *border = _meeting_kernels.meet(
            self.pairs.of(patch), float(until), self.cost, self.least, self.pairs.limit, first, places,
            values, self.reach[partner], later, best, room,
        )  # fmt: skip
        self.rooms.put(room)
        self.best[pair] = best
        return reach, tuple(border)

    def _border(self, patch: int) -> Border:
        """Return the border of a patch's search, its own cells at no cost if it has not searched."""
        if patch in self.borders:
            return self.borders[patch]
        places = self.places[self.pairs.start[patch] : self.pairs.start[patch + 1]]
        return places, np.zeros(len(places))
