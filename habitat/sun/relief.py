"""The heights that shadows come from: ground, walls and roofs, crowns; and the slope of the ground."""

from __future__ import annotations

from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import ndimage

from habitat.arrays import FloatRaster
from habitat.cells import rasterize_index
from habitat.errors import ParameterError
from habitat.grid import Grid
from habitat.remarks import Remark, Subject, remark
from habitat.settings.site import SiteSettings
from habitat.sun.trees import Trees, read_trees


def gradient(height_m: FloatRaster, cell_m: float) -> tuple[FloatRaster, FloatRaster]:
    """Return the rise per metre eastward and northward, over the eight neighbours.

    Parameters
    ----------
    height_m
        (rows, cols), north up.
    cell_m
        Side of a cell [m].

    Returns
    -------
    Two float32 rasters; NaN where a neighbour is unknown. Rim cells take their own height beyond the rim.

    References
    ----------
    Horn (1981), Hill shading and the reflectance map, Proceedings of the IEEE 69:14-47.
    """
    z = np.pad(np.asarray(height_m, np.float64), 1, mode="edge")
    across = z[:-2, 1:-1], z[1:-1, :-2], z[1:-1, 2:], z[2:, 1:-1]
    north, west, east, south = across
    nw, ne, sw, se = z[:-2, :-2], z[:-2, 2:], z[2:, :-2], z[2:, 2:]
    rise_east = ((ne + 2 * east + se) - (nw + 2 * west + sw)) / (8 * cell_m)
    rise_north = ((nw + 2 * north + ne) - (sw + 2 * south + se)) / (8 * cell_m)
    return rise_east.astype(np.float32), rise_north.astype(np.float32)


def slope_deg(height_m: FloatRaster, cell_m: float) -> FloatRaster:
    """Return the slope of the ground [degrees], NaN where a neighbour is unknown; see ``gradient``.

    Parameters
    ----------
    height_m
        (rows, cols), north up.
    cell_m
        Side of a cell [m].

    Examples
    --------
    >>> plane = np.add.outer(-0.2 * np.arange(5), 0.3 * np.arange(5)).astype("float32")
    >>> round(float(slope_deg(plane, 1.0)[2, 2]), 3)
    19.827
    """
    rise_east, rise_north = gradient(height_m, cell_m)
    return np.degrees(np.arctan(np.hypot(rise_east, rise_north))).astype(np.float32)


# The heights that shadows come from: ground, walls and roofs, crowns; from rasters, footprints and trees.

OBJECT_M = 2.0
"""What stands higher than this above the ground of a surface raster is a roof or a crown (judgement)."""

OPENING_M = 31.0
"""Width of the widest roof or crown that is told from ground by its heights alone [m] (judgement)."""

LEVEL_RISE = 0.01
"""Ground that nowhere rises more than this per metre counts as level."""


SURFACE = "surface heights"
"""Source of heights that show roofs and crowns alike."""


@dataclass(frozen=True, slots=True)
class Relief:
    """Heights on a grid [m]; all rasters float32 or bool, (rows, cols).

    ground : the ground that plants stand on, also under roofs and crowns; NaN where unknown. in_leaf : the
    top of whatever stands there, all crowns in leaf. bare : month -> the same without the crowns that stand
    without leaves then; months in which all are in leaf are left out. roof : cells with no ground to plant.
    unseen : cells under something whose ground nobody saw; their sun is unknown. sloped : whether the
    ground's slope matters. source : words for where the heights came from.
    """

    grid: Grid
    ground: FloatRaster
    in_leaf: FloatRaster
    bare: dict[int, FloatRaster]
    roof: NDArray[np.bool_]
    unseen: NDArray[np.bool_]
    sloped: bool
    source: str

    def with_trees(self, trees: Trees) -> Relief:
        """Return the relief with more trees standing on it, in leaf and bare as their months have it.

        Parameters
        ----------
        trees
            As ``read_trees`` makes them; where something higher stands already, it stays.
        """
        in_leaf = self.in_leaf.copy()
        trees.raise_on(in_leaf, self.ground, self.grid)
        bare: dict[int, FloatRaster] = {}
        made: dict[tuple[int, bytes], FloatRaster] = {}
        for month in range(1, 13):
            leafless = trees.bare_in(month)
            if month not in self.bare and not leafless.any():
                continue
            base = self.bare.get(month, self.in_leaf)
            key = (id(base), leafless.tobytes())
            if key not in made:
                made[key] = base.copy()
                trees.only(~leafless).raise_on(made[key], self.ground, self.grid)
            bare[month] = made[key]
        return replace(self, in_leaf=in_leaf, bare=bare)

    def barest(self) -> FloatRaster:
        """Return the tops once every crown that ever stands without leaves does."""
        distinct = {id(raster): raster for raster in self.bare.values()}
        return np.minimum.reduce([self.in_leaf, *distinct.values()])


def relief_of_heights(tops_m: FloatRaster, grid: Grid, *, ground_m: FloatRaster | None = None) -> Relief:
    """Return the relief of plain heights, where everything that stands is opaque all year.

    Parameters
    ----------
    tops_m
        (rows, cols) height of whatever stands there, or of the ground where nothing does [m]; NaN where
        unknown.
    grid
        The grid of the heights.
    ground_m
        (rows, cols) height of the ground [m]; None for level ground at 0. Where ``tops_m`` is higher, the
        ground lies in shade all day.

    Raises
    ------
    ParameterError
        If a raster is not of the grid's shape.

    Examples
    --------
    >>> grid = Grid.from_bounds((337_000, 4_418_000, 337_004, 4_418_002), 1.0, "EPSG:32617")
    >>> relief = relief_of_heights(np.array([[0, 0, 3, np.nan], [0, 0, 3, 0]]), grid)
    >>> int(relief.unseen.sum()), float(relief.in_leaf[0, 2])
    (1, 3.0)
    """
    tops = np.asarray(tops_m, np.float32)
    level = np.where(np.isnan(tops), tops, np.float32(0))
    ground = level if ground_m is None else np.asarray(ground_m, np.float32)
    for name, raster in (("tops_m", tops), ("ground_m", ground)):
        if raster.shape != grid.shape:
            raise ParameterError(name, raster.shape, f"of the grid's shape {grid.shape}")
    roof, unseen = np.zeros(grid.shape, bool), np.isnan(tops) | np.isnan(ground)
    return Relief(grid, ground, tops, {}, roof, unseen, _sloped(ground, grid.cell_m), "heights")


def build_relief(
    grid: Grid,
    settings: SiteSettings,
    *,
    buildings: gpd.GeoDataFrame | None = None,
    trees: gpd.GeoDataFrame | None = None,
    terrain_m: FloatRaster | None = None,
    surface_m: FloatRaster | None = None,
) -> tuple[Relief | None, list[Remark]]:
    """Return the heights of a place, or None without heights, buildings and trees.

    A surface raster wins over footprints and tree heights, since it was measured; footprints then tell roofs,
    and trees tell what the crowns in it stand on and which of them lose their leaves.

    Parameters
    ----------
    grid
        The grid of the rasters.
    settings
        What is assumed of buildings and trees without measures.
    buildings
        Footprints; height_m [m] or storeys.
    trees
        As ``read_trees`` takes them.
    terrain_m, surface_m
        (rows, cols) height of the bare ground, and of whatever is on top [m]; NaN where unknown.

    Returns
    -------
    tuple
        The relief, and what had to be assumed.
    """
    roofs, roof_notes = roofs_of(buildings, settings)
    standing, tree_notes = read_trees(trees, settings)
    if surface_m is not None:
        return _from_surface(grid, surface_m, terrain_m, roofs, standing), []
    if roofs is None and standing is None and terrain_m is None:
        return None, []
    relief, notes = _from_shapes(grid, terrain_m, roofs, standing)
    return relief, [*notes, *roof_notes, *tree_notes]


def _sloped(ground: FloatRaster, cell_m: float) -> bool:
    rises = [np.abs(np.diff(ground, axis=axis)) for axis in (0, 1)]
    return any(bool((rise[~np.isnan(rise)] > LEVEL_RISE * cell_m).any()) for rise in rises)


# Footprints ------------------------------------------------------------------------------------------------


def roofs_of(
    frame: gpd.GeoDataFrame | None, settings: SiteSettings
) -> tuple[tuple[gpd.GeoSeries, FloatRaster] | None, list[Remark]]:
    """Return footprints and heights of buildings, lowest first, with what had to be assumed.

    Parameters
    ----------
    frame
        Footprints; height_m [m], or storeys where that is missing. None for no layer.
    settings
        Height of a storey, and of buildings with neither.

    Returns
    -------
    tuple
        Footprints with their heights [m] (None without buildings), and remarks.
    """
    if frame is None or not len(frame):
        return None, []
    height = _numbers(frame, "height_m")
    by_storeys = np.isnan(height)
    height = np.where(by_storeys, _numbers(frame, "storeys") * settings.storey_m, height)
    missing = ~(height > 0)
    height = np.where(missing, settings.building_height_m, height)
    notes = []
    if missing.any():
        notes.append(
            remark(
                "buildings_without_height",
                Subject(layers=("buildings",)),
                count=int(missing.sum()),
                of=len(frame),
                assumed_height_m=float(settings.building_height_m),
            )
        )
    order = np.argsort(height, kind="stable")
    return (frame.geometry.iloc[order], height[order].astype(np.float32)), notes


def _numbers(frame: gpd.GeoDataFrame, column: str) -> NDArray[np.float64]:
    if column not in frame.columns:
        return np.full(len(frame), np.nan)
    return pd.to_numeric(frame[column], errors="coerce").to_numpy(float)


def _from_shapes(
    grid: Grid,
    terrain: FloatRaster | None,
    roofs: tuple[gpd.GeoSeries, FloatRaster] | None,
    trees: Trees | None,
) -> tuple[Relief, list[Remark]]:
    """Return heights drawn from footprints and trees on the terrain, or on level ground."""
    ground = np.zeros(grid.shape, np.float32) if terrain is None else terrain
    solid, roof = ground.copy(), np.zeros(grid.shape, bool)
    if roofs is not None:
        index = rasterize_index(roofs[0], grid)
        roof = index >= 0
        with np.errstate(invalid="ignore"):  # a footprint without a cell of its own has no ground
            feet = ndimage.mean(np.nan_to_num(ground), np.where(roof, index, -1), np.arange(len(roofs[1])))
        tops = (np.nan_to_num(np.asarray(feet)) + roofs[1]).astype(np.float32)
        solid[roof] = np.fmax(tops[index[roof]], solid[roof])
    source, notes = _shape_words(terrain is not None, roofs is not None, trees is not None)
    unseen = np.isnan(ground)
    relief = Relief(grid, ground, solid, {}, roof, unseen, _sloped(ground, grid.cell_m), source)
    return (relief if trees is None else relief.with_trees(trees)), notes


def _shape_words(terrain: bool, roofs: bool, trees: bool) -> tuple[str, list[Remark]]:
    have = [
        word for word, is_there in (("terrain", terrain), ("buildings", roofs), ("trees", trees)) if is_there
    ]
    notes = []
    if not terrain:
        notes.append(remark("ground_taken_as_level"))
    if not roofs:
        notes.append(remark("no_building_shadows", Subject(layers=("buildings",))))
    if not trees:
        notes.append(remark("no_tree_shadows", Subject(layers=("trees",))))
    return " and ".join(have), notes


# Surface raster --------------------------------------------------------------------------------------------


def _from_surface(
    grid: Grid,
    surface: FloatRaster,
    terrain: FloatRaster | None,
    roofs: tuple[gpd.GeoSeries, FloatRaster] | None,
    trees: Trees | None,
) -> Relief:
    """Return heights from a surface raster: what it shows shades; the ground below is worked out."""
    roof = np.zeros(grid.shape, bool) if roofs is None else rasterize_index(roofs[0], grid) >= 0
    near_roof = ndimage.binary_dilation(roof, iterations=max(1, round(1.0 / grid.cell_m)))
    bare = terrain if terrain is not None else _opened(surface, grid.cell_m)
    stands = surface - bare > OBJECT_M
    ground = np.where(stands | roof, np.nan, surface)
    ground = np.where(np.isnan(ground) & ~np.isnan(surface), _filled(ground, bare, terrain), ground)
    known = np.zeros(grid.shape, bool)
    if trees is not None:
        known = _reached(stands & ~near_roof, trees.discs(grid, 1.5)) | (stands & trees.discs(grid, 0))
    unseen = (stands & ~roof & ~known) | np.isnan(surface)
    ground = ground.astype(np.float32)
    leafless = {} if trees is None else _bare_surfaces(surface, ground, known, trees, grid)
    sloped = _sloped(ground, grid.cell_m)
    return Relief(grid, ground, surface, leafless, roof, unseen, sloped, SURFACE)


def _bare_surfaces(
    surface: FloatRaster, ground: FloatRaster, known: NDArray[np.bool_], trees: Trees, grid: Grid
) -> dict[int, FloatRaster]:
    """Return month -> the surface with the ground in place of crowns that stand without leaves then."""
    out: dict[int, FloatRaster] = {}
    made: dict[bytes, FloatRaster] = {}
    for month in range(1, 13):
        leafless = trees.bare_in(month)
        if not leafless.any():
            continue
        key = leafless.tobytes()
        if key not in made:
            crowns = known & trees.only(leafless).discs(grid, 1.5) & ~trees.only(~leafless).discs(grid, 0)
            made[key] = np.where(crowns, ground, surface).astype(np.float32)
        out[month] = made[key]
    return out


def _opened(surface: FloatRaster, cell_m: float) -> FloatRaster:
    """Return the surface without what is narrower than OPENING_M: a grey opening, the slope taken out."""
    size = 2 * int(OPENING_M / cell_m / 2) + 1
    plane = _general_slope(surface)
    low = np.where(np.isnan(surface), np.inf, surface - plane)
    eroded = ndimage.minimum_filter(low, size=size)
    eroded = np.where(np.isinf(eroded), -np.inf, eroded)
    return np.asarray(ndimage.maximum_filter(eroded, size=size) + plane, np.float32)


def _general_slope(surface: FloatRaster) -> FloatRaster:
    """Return the plane nearest to the surface: without it a rim on a slope looks like a drop."""
    known = ~np.isnan(surface)
    if known.sum() < 3:
        return np.zeros_like(surface)
    row, col = np.mgrid[: surface.shape[0], : surface.shape[1]]
    terms = np.column_stack([np.ones(int(known.sum())), row[known], col[known]])
    fitted = np.asarray(np.linalg.lstsq(terms, surface[known].astype(float), rcond=None)[0], float)
    return np.asarray(fitted[0] + fitted[1] * row + fitted[2] * col, np.float32)


def _filled(ground: FloatRaster, bare: FloatRaster, terrain: FloatRaster | None) -> FloatRaster:
    """Return ground heights everywhere: the terrain, or the nearest open ground smoothed, never above it."""
    if terrain is not None:
        return terrain
    blank = np.isnan(ground)
    if blank.all():
        return bare
    nearest = ndimage.distance_transform_edt(blank, return_distances=False, return_indices=True)
    filled = ground[tuple(nearest)]
    return np.asarray(ndimage.uniform_filter(filled, size=5, mode="nearest"), np.float32)


def _reached(stands: NDArray[np.bool_], seeds: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the connected pieces of ``stands`` that touch a seed."""
    pieces, count = ndimage.label(stands, structure=np.ones((3, 3), int))
    touched = np.zeros(count + 1, bool)
    touched[np.unique(pieces[seeds & stands])] = True
    touched[0] = False
    return np.asarray(touched[pieces], bool)
