"""Why a spot is dark: what stands around it, as azimuth against height, with the sun's paths over it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.arrays import Floats
from habitat.errors import ParameterError
from habitat.grid import Grid
from habitat.sun.hours import SunTerms
from habitat.sun.path import place_of, sun_path
from habitat.sun.relief import Relief

STEP_DEG = 1.0


@dataclass(frozen=True, slots=True)
class SunTrack:
    """The sun's way over one mid-month day, in order of time; all (positions,).

    azimuth_deg : clockwise from true north. elevation_deg : above the level. solar_hour : 12 at the highest
    stand. light : share of its direct light that arrives, 1 where it stands above all that is around, the
    ``SunTerms.leafless_light`` where only crowns without leaves stand before it, else 0. hours : their sum.
    """

    azimuth_deg: Floats
    elevation_deg: Floats
    solar_hour: Floats
    light: Floats
    hours: float


@dataclass(frozen=True, slots=True)
class HorizonView:
    """What a spot sees of the sky.

    x, y : the spot [m]. azimuth_deg : (360,) clockwise from true north. horizon_deg : (360,) height of what
    stands there, 0 or more above the level, with leaves on. bare_deg : (360,) the same once deciduous trees
    are leafless. distance_m : (360,) how far away the highest thing is, NaN where the view is free. tracks :
    month -> the sun's way, with leaves on or off as the month has them. under_cover : whether a crown
    or roof stands right over it.
    """

    x: float
    y: float
    azimuth_deg: Floats
    horizon_deg: Floats
    bare_deg: Floats
    distance_m: Floats
    tracks: dict[int, SunTrack]
    under_cover: bool


def horizon_view(relief: Relief, terms: SunTerms, x: float, y: float) -> HorizonView:
    """Return what stands around a spot, and when the sun gets past it.

    Parameters
    ----------
    relief
        Heights of the ground and of what stands on it.
    terms
        The months of the sun's ways, and how leafless crowns count.
    x, y
        The spot [m, the grid's CRS], inside the grid.

    Raises
    ------
    ParameterError
        If the spot is off the grid, or its ground is unknown.

    Notes
    -----
    Rays are followed cell by cell to the grid's edge; a wall counts from its face, half a cell nearer than
    its cell's centre, as in the sums of the sun hours.
    """
    grid = relief.grid
    row, col = (int(v) for v in grid.rowcol(x, y))
    if not (0 <= row < grid.shape[0] and 0 <= col < grid.shape[1]):
        raise ParameterError("x, y", (x, y), f"inside the grid {grid.bounds}")
    if np.isnan(relief.ground[row, col]):
        raise ParameterError("x, y", (x, y), "where the height of the ground is known")
    turn = place_of(grid).convergence_deg
    azimuth = np.arange(0.0, 360.0, STEP_DEG)
    horizon, distance = _horizon(relief.in_leaf, relief.ground, (row, col), azimuth - turn, grid.cell_m)
    bare, _ = _horizon(relief.barest(), relief.ground, (row, col), azimuth - turn, grid.cell_m)

    def covered(tops: NDArray[np.float32]) -> bool:
        return bool(tops[row, col] > relief.ground[row, col] + 1e-3)

    full = _Outline(horizon, covered(relief.in_leaf))
    outlines = {id(relief.in_leaf): full}
    tracks = {}
    for month in terms.season:
        tops = relief.bare.get(month, relief.in_leaf)
        if id(tops) not in outlines:
            heights, _ = _horizon(tops, relief.ground, (row, col), azimuth - turn, grid.cell_m)
            outlines[id(tops)] = _Outline(heights, covered(tops))
        tracks[month] = _track(grid, month, (full, outlines[id(tops)]), turn, terms.leafless_light)
    return HorizonView(x, y, azimuth, horizon, bare, distance, tracks, full.under)


@dataclass(frozen=True, slots=True)
class _Outline:
    """Height [degrees] of what stands around, by azimuth, and whether something stands right over."""

    heights: Floats
    under: bool

    def lets_in(self, azimuth: Floats, elevation: Floats) -> NDArray[np.bool_]:
        """Return whether the sun stands above it."""
        around = self.heights[np.floor(azimuth / STEP_DEG + 0.5).astype(int) % len(self.heights)]
        return np.asarray((elevation >= around) & (not self.under), bool)


def _track(
    grid: Grid, month: int, outlines: tuple[_Outline, _Outline], turn: float, leafless_light: float
) -> SunTrack:
    """Return the sun's way past what stands around in leaf, and past what is left of it in that month."""
    path = sun_path(place_of(grid), [month])
    azimuth = (np.degrees(path.azimuth) + turn) % 360
    elevation = np.degrees(path.elevation)
    free, through = (outline.lets_in(azimuth, elevation) for outline in outlines)
    light = np.where(free, 1.0, np.where(through, leafless_light, 0.0))
    return SunTrack(azimuth, elevation, path.solar_hour, light, float(light.sum()) * path.step_h)


def _horizon(
    caster: NDArray[np.float32],
    ground: NDArray[np.float32],
    spot: tuple[int, int],
    azimuth_deg: Floats,
    cell_m: float,
) -> tuple[Floats, Floats]:
    """Return height [degrees] and distance [m] of the highest thing towards azimuths from grid north."""
    rows, cols = caster.shape
    eye = float(ground[spot])
    steps = np.arange(1, max(rows, cols) + 1, dtype=float)
    heights, distances = np.zeros(len(azimuth_deg)), np.full(len(azimuth_deg), np.nan)
    for k, azimuth in enumerate(np.radians(azimuth_deg)):
        longest = max(abs(np.sin(azimuth)), abs(np.cos(azimuth)))
        r = np.floor(spot[0] + 0.5 - np.cos(azimuth) / longest * steps).astype(int)
        c = np.floor(spot[1] + 0.5 + np.sin(azimuth) / longest * steps).astype(int)
        inside = (r >= 0) & (r < rows) & (c >= 0) & (c < cols)
        away = steps[inside] / longest * cell_m
        rise = np.nan_to_num(caster[r[inside], c[inside]] - eye, nan=-1.0)
        before = np.concatenate([[0.0], rise[:-1]])
        face = np.where(rise - before > max(1.0, 1.2 * cell_m), away - cell_m / longest / 2, away)
        slope = rise / face
        if len(slope) and slope.max() > 0:
            best = int(np.argmax(slope))
            heights[k], distances[k] = np.degrees(np.arctan(slope[best])), face[best]
    return heights, distances
