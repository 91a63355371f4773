"""Direct-sun hours from heights: a shadow line carried over the raster, away from the sun, strip by strip.

For each sun position every row is visited once, starting at the sun's side. A line of shadow heights goes
along: it falls with the sun's ray from row to row, moves sideways with it, and rises to whatever stands
higher. A cell is lit when its ground is not below the line. Suns nearer to east or west are swept along
columns.

Walls: a raster knows a building by cells whose centre lies inside, so that on average its face stands half a
cell beyond the last cell's centre. Where heights fall by more than a wall's worth from one cell to the next,
the shadow therefore starts at the cell's far edge. Smooth ground keeps its centres.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from habitat.arrays import FloatRaster
from habitat.errors import ParameterError
from habitat.sun._kernels import LOW, sweep_flat, sweep_sloped
from habitat.sun.path import SunPath

STRIP = 256
"""Rows swept at a time; any number gives the same counts."""

WALL_M = 1.0
"""Least fall from one cell to the next that can be a wall [m]; it must also be steeper than WALL_SLOPE."""

WALL_SLOPE = 1.2
"""Least fall per distance of a wall: 50 degrees, steeper than ground that stays in place (judgement)."""

ReadWindow = Callable[[slice, slice], FloatRaster]


@dataclass(frozen=True, slots=True)
class Heights:
    """What stands where, read by window, so that nothing needs the whole raster.

    caster, receiver : return float32 heights [m] of a window: what shades, and the ground that is shaded; NaN
    in the caster casts nothing. rise_east, rise_south : the ground's rise per cell in those directions [m],
    None where level. ``receiver`` None means the caster itself.
    """

    shape: tuple[int, int]
    cell_m: float
    caster: ReadWindow
    receiver: ReadWindow | None = None
    rise_east: ReadWindow | None = None
    rise_south: ReadWindow | None = None


def heights_of(
    caster: FloatRaster,
    cell_m: float,
    *,
    receiver: FloatRaster | None = None,
    ground: FloatRaster | None = None,
) -> Heights:
    """Return heights held in memory, as the sweep takes them.

    Parameters
    ----------
    caster
        (rows, cols) what shades [m]; NaN casts nothing.
    cell_m
        Side of a cell [m].
    receiver
        (rows, cols) the ground that is shaded [m]; None for the caster itself.
    ground
        (rows, cols) heights that slopes are taken from [m]; None for level ground.

    Raises
    ------
    ParameterError
        If the receiver is not of the caster's shape.
    """
    if caster.ndim != 2 or (receiver is not None and receiver.shape != caster.shape):
        raise ParameterError(
            "receiver", None if receiver is None else receiver.shape, "of the caster's shape"
        )

    def window(raster: FloatRaster) -> ReadWindow:
        return lambda rows, cols: raster[rows, cols]

    south = None if ground is None else partial(_rise, ground, 0)
    east = None if ground is None else partial(_rise, ground, 1)
    below = None if receiver is None or receiver is caster else window(receiver)
    return Heights((caster.shape[0], caster.shape[1]), cell_m, window(caster), below, east, south)


def _rise(ground: FloatRaster, axis: int, rows: slice, cols: slice) -> FloatRaster:
    """Return the rise of the ground per cell along an axis in a window; 0 where a neighbour is unknown."""
    spans = [rows, cols]
    first, last = max(spans[axis].start - 1, 0), min(spans[axis].stop + 1, ground.shape[axis])
    if last - first < 2:
        return np.zeros((rows.stop - rows.start, cols.stop - cols.start), np.float32)
    lead = spans[axis].start - first
    length = spans[axis].stop - spans[axis].start
    spans[axis] = slice(first, last)
    rise = np.nan_to_num(np.gradient(ground[spans[0], spans[1]], axis=axis)).astype(np.float32)
    return rise[lead : lead + length] if axis == 0 else rise[:, lead : lead + length]


def lit_counts(
    heights: Heights,
    path: SunPath,
    group: NDArray[np.int64],
    *,
    groups: int | None = None,
    strip: int = STRIP,
    workers: int | None = None,
) -> NDArray[np.uint8]:
    """Count the sun positions that light each cell.

    Parameters
    ----------
    heights
        What shades and what is shaded.
    path
        Sun positions; azimuths count from grid north.
    group
        (positions,) group of each position, from 0; groups are counted apart. At most 255 positions in each.
    groups
        How many groups there are; None for as many as there are numbers.
    strip
        Rows (or columns) swept at a time. The result does not depend on it.
    workers
        Threads; None for one per processor. The result does not depend on it.

    Returns
    -------
    NDArray
        uint8 (groups, rows, cols). What lies beyond the raster casts no shadow.
    """
    if groups is None:
        groups = int(group.max()) + 1 if len(group) else 0
    sizes = np.bincount(group, minlength=groups)
    if len(sizes) > groups or sizes.max(initial=0) > 255:
        raise ParameterError(
            "group", (len(sizes), int(sizes.max(initial=0))), "within groups, at most 255 each"
        )
    if strip < 1:
        raise ParameterError("strip", strip, "at least 1 row")
    counts = np.zeros((groups, *heights.shape), np.uint8)
    with ThreadPoolExecutor(workers or os.cpu_count() or 1) as pool:
        for side in _SIDES:
            sweeps = [_Sweep.prepare(side, heights, path, np.flatnonzero(group == g)) for g in range(groups)]
            if not any(len(sweep.shift) for sweep in sweeps):
                continue
            for first, span in side.strips(heights.shape[side.along], strip):
                part = _Strip.read(side, heights, first, span)
                list(pool.map(part.sweep, sweeps, counts))
    return counts


@dataclass(frozen=True, slots=True)
class _Side:
    """A side that the sun stands on: ``along`` rows (0) or columns (1), ``back`` if swept from the end."""

    along: int
    back: bool

    def components(self, path: SunPath) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the sun's bearing towards the side and towards rising columns of the swept raster."""
        north, east = np.cos(path.azimuth), np.sin(path.azimuth)
        if self.along == 0:
            return (-north if self.back else north), east
        return (east if self.back else -east), -north

    def holds(self, path: SunPath) -> NDArray[np.bool_]:
        """Return which positions belong to this side: each to exactly one."""
        toward, _ = self.components(path)
        north, east = np.abs(np.cos(path.azimuth)), np.abs(np.sin(path.azimuth))
        return (toward > 0) & ((north >= east) if self.along == 0 else (north < east))

    def strips(self, length: int, size: int) -> Iterator[tuple[int, slice]]:
        """Yield the sweep's row number and the raster's slice of each strip, from the sun's side on."""
        for first in range(0, length, size):
            last = min(first + size, length)
            yield first, (slice(length - last, length - first) if self.back else slice(first, last))

    def turn(self, raster: NDArray[np.generic]) -> NDArray[np.generic]:
        """Return a window of the raster (last two axes) in the order of the sweep, or the other way round."""
        if self.along == 1:
            raster = raster.swapaxes(-1, -2)
            return raster[..., ::-1, :] if self.back else raster
        return raster[..., ::-1, :] if self.back else raster


_SIDES = (_Side(0, False), _Side(0, True), _Side(1, False), _Side(1, True))


@dataclass(frozen=True, slots=True)
class _Sweep:
    """The positions of one group on one side, with the shadow lines that they carry."""

    shift: NDArray[np.float64]
    drop: NDArray[np.float64]
    base: NDArray[np.int64]
    state: FloatRaster

    @classmethod
    def prepare(cls, side: _Side, heights: Heights, path: SunPath, members: NDArray[np.int64]) -> _Sweep:
        members = members[side.holds(path)[members]]
        toward, across = (part[members] for part in side.components(path))
        shift = -across / toward
        drop = heights.cell_m * np.tan(path.elevation[members]) / toward
        rows, cols = heights.shape if side.along == 0 else heights.shape[::-1]
        # Lines move by at most one column a row; line 0 must find room whichever way it goes.
        room = np.ceil(rows * np.abs(shift)).astype(np.int64) + 1
        base = np.where(shift > 0, room, 1)
        lines = cols + 2 + (int(room.max()) if len(room) else 0)
        return cls(shift, drop, base, np.full((len(shift), lines), LOW, np.float32))


@dataclass(frozen=True, slots=True)
class _Strip:
    """One strip in sweep order: heights with a frame, the slice of the raster it came from."""

    side: _Side
    first: int
    window: tuple[slice, slice]
    caster: FloatRaster
    receiver: FloatRaster
    tilt: FloatRaster | None
    wall: np.float32

    @classmethod
    def read(cls, side: _Side, heights: Heights, first: int, span: slice) -> _Strip:
        rise = heights.rise_east if side.along == 0 else heights.rise_south
        caster = _framed(heights.caster, side, span, heights.shape, first)
        receiver = caster
        if heights.receiver is not None:
            receiver = _framed(heights.receiver, side, span, heights.shape, first)
        tilt = None if rise is None else _framed(rise, side, span, heights.shape, first, fill=np.float32(0))
        window = (span, slice(None)) if side.along == 0 else (slice(None), span)
        wall = np.float32(max(WALL_M, WALL_SLOPE * heights.cell_m))
        return cls(side, first, window, caster, receiver, tilt, wall)

    def sweep(self, sweep: _Sweep, counts: NDArray[np.uint8]) -> None:
        """Sweep the strip for one group and add what is lit to the group's counts (rows, cols)."""
        if not len(sweep.shift):
            return
        lit = np.zeros((self.caster.shape[0] - 1, self.caster.shape[1] - 2), np.uint8)
        rest = (sweep.shift, sweep.drop, self.first, sweep.base, self.wall, sweep.state, lit)
        if self.tilt is None:
            sweep_flat(self.caster, self.receiver, *rest)
        else:
            sweep_sloped(self.caster, self.receiver, self.tilt, *rest)
        back = lit[::-1] if self.side.back else lit
        counts[self.window] += back.T if self.side.along == 1 else back


def _framed(
    read: ReadWindow,
    side: _Side,
    span: slice,
    shape: tuple[int, int],
    first: int,
    *,
    fill: np.float32 = LOW,
) -> FloatRaster:
    """Read a strip in sweep order, with the row before it and a rim; unknown becomes ``fill``."""
    if first > 0:
        span = slice(span.start, span.stop + 1) if side.back else slice(span.start - 1, span.stop)
    window = (span, slice(0, shape[1])) if side.along == 0 else (slice(0, shape[0]), span)
    turned = side.turn(read(*window))
    lead = 0 if first > 0 else 1
    framed = np.full((turned.shape[0] + lead, turned.shape[1] + 2), fill, np.float32)
    framed[lead:, 1:-1] = np.where(np.isnan(turned), fill, turned)
    return framed
