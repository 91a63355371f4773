"""What crossing each kind of ground costs a butterfly, and the raster of it.

Costs are relative: 1 is the ground that hinders flight least,
    4 means that a metre of it takes as much as four.
Few such figures have been measured and none for yards; see the sources. Every value is a judgement unless its
source says otherwise, and a study may bring a table of its own.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from rasterio.features import rasterize

from habitat.arrays import FloatRaster, Shapes
from habitat.errors import LayerError
from habitat.grid import Bounds, Grid
from habitat.remarks import Remark, remark

GROUPS = ("open", "edge", "woodland", "wetland")
"""Groups of butterflies: the column ``habitat`` of the butterflies table."""
TALL_M = 10.0
"""Buildings of this height or more count as tall: judgement."""
JUDGEMENT = "judgement"
FOREST = (
    "judgement; that a dense stand may hinder open-country butterflies several times as much as thicket: "
    "Ricketts 2001, American Naturalist 158:87-99 (from memory)"
)
ROADS = (
    "judgement; that roads hinder some butterflies and stop few: Munguira & Thomas 1992, Journal of Applied "
    "Ecology 29:316-329 (from memory)"
)

CROSSING_COSTS = pd.DataFrame(
    [
        ("garden", 1.0, 1.0, 1.5, 1.5, JUDGEMENT),
        ("grass", 1.0, 1.2, 2.0, 1.2, JUDGEMENT),
        ("scrub", 2.0, 1.0, 1.2, 1.5, JUDGEMENT),
        ("woodland", 4.0, 1.5, 1.0, 3.0, FOREST),
        ("wetland", 1.2, 1.5, 2.0, 1.0, JUDGEMENT),
        ("crops", 1.5, 2.0, 3.0, 2.0, JUDGEMENT),
        ("bare", 1.5, 1.5, 2.0, 2.0, JUDGEMENT),
        ("water", 2.0, 2.0, 2.0, 1.2, JUDGEMENT),
        ("paving", 1.5, 1.5, 2.0, 2.0, JUDGEMENT),
        ("street", 2.0, 2.0, 2.5, 2.5, ROADS),
        ("busy road", 5.0, 5.0, 5.0, 5.0, ROADS),
        ("building", 5.0, 5.0, 5.0, 5.0, JUDGEMENT),
        ("tall building", 20.0, 20.0, 20.0, 20.0, JUDGEMENT),
        ("unknown", 2.0, 2.0, 2.0, 2.0, "judgement; where no layer says what the ground is"),
    ],
    columns=["ground", *GROUPS, "source"],
).set_index("ground")
"""Cost of crossing, by kind of ground and group of butterflies."""

WORDS = {
    "paving": ("pav", "impervious", "asphalt", "concrete", "parking", "developed", "urban"),
    "grass": ("grass", "meadow", "lawn", "pasture", "hay\\b", "prairie", "turf"),
    "woodland": ("wood", "forest", "tree", "canopy", "orchard"),
    "scrub": ("scrub", "shrub", "hedge", "thicket"),
    "wetland": ("wetland", "marsh", "swamp", "fens?\\b", "bog"),
    "crops": ("crop", "arable", "fields?\\b", "cultivated", "farm"),
    "water": ("water", "creek", "pond", "lake", "river", "stream"),
    "building": ("building", "roof", "house", "structure"),
    "street": ("road", "street", "highway"),
    "garden": ("garden", "yard", "residential"),
    "bare": ("bare", "barren", "soil", "rock", "gravel", "sand"),
}
"""Beginnings of words by which a land-cover name is recognised, tried in this order: judgement."""


def crossing_costs(own: pd.DataFrame, where: str = "") -> pd.DataFrame:
    """Return the crossing costs, an own table laid over the shipped one.

    Parameters
    ----------
    own
        ground and a column per group of butterflies: the cost of crossing, more than 0, infinity shuts the
        ground; source, if known.
    where
        What errors call the table, such as its path.

    Raises
    ------
    LayerError
        If a column lacks or a cost is not more than 0.

    Examples
    --------
    >>> own = pd.DataFrame({"ground": ["grass"], "open": [3.0], "edge": 1.0, "woodland": 1.0, "wetland": 1.0})
    >>> crossing_costs(own).loc[["grass", "water"], "open"].tolist()
    [3.0, 2.0]
    """
    lacking = [c for c in ("ground", *GROUPS) if c not in own]
    if lacking:
        raise LayerError(f"no column {', '.join(lacking)}", where, "Columns: ground, " + ", ".join(GROUPS))
    table = own.copy()
    for group in GROUPS:
        costs = pd.to_numeric(table[group], errors="coerce")
        wrong = np.flatnonzero(~(costs > 0.0))
        if len(wrong):
            raise LayerError(
                f"row {wrong[0] + 2}, column {group}: {table[group].iloc[wrong[0]]!r} is not a cost",
                where,
                "Costs are numbers of more than 0; inf shuts the ground",
            )
        table[group] = costs
    if "source" not in table:
        table["source"] = "the study's own table"
    table = table.set_index("ground")[[*GROUPS, "source"]]
    return pd.concat([table, CROSSING_COSTS[~CROSSING_COSTS.index.isin(table.index)]])


@dataclass(frozen=True, slots=True)
class Ground:
    """Kinds of ground on a grid: ``kind`` (rows, cols) indexes ``names``."""

    grid: Grid
    kind: NDArray[np.uint8]
    names: tuple[str, ...]
    notes: tuple[Remark, ...]

    def cost(self, costs: pd.DataFrame, group: str) -> NDArray[np.float64]:
        """Return the cost of crossing each cell for a group of butterflies."""
        if group not in GROUPS:
            raise LayerError(
                f"{group!r} is not a group of butterflies", "butterflies.habitat", f"Use {GROUPS}"
            )
        value = (
            costs[group]
            .reindex(list(self.names))
            .fillna(float(str(costs.loc["unknown", group])))
            .to_numpy(float)
        )
        return np.ascontiguousarray(value[self.kind])


@dataclass(frozen=True, slots=True)
class GroundMaps:
    """Maps that say what the ground is, in one metric CRS; None or empty where there is none.

    Parameters
    ----------
    yards, paving
        geometry.
    streets, busy_roads
        Polygons of their ground.
    water, trees
        Polygons, or points and lines with width_m or crown_m [m] (2 m and 6 m where they are not given).
    buildings
        geometry, height_m [m]: of 10 m or more they are tall.
    cover
        geometry, cover: land cover in words.
    cover_code, cover_names
        (rows, cols) codes of a land-cover raster on the grid that is made, NaN where unknown, and the name of
        each code.
    """

    yards: gpd.GeoDataFrame | None = None
    paving: gpd.GeoDataFrame | None = None
    streets: Shapes | None = None
    busy_roads: Shapes | None = None
    water: gpd.GeoDataFrame | None = None
    trees: gpd.GeoDataFrame | None = None
    buildings: gpd.GeoDataFrame | None = None
    cover: gpd.GeoDataFrame | None = None
    cover_code: FloatRaster | None = None
    cover_names: dict[int, str] = field(default_factory=dict)


def ground_of(maps: GroundMaps, grid: Grid, costs: pd.DataFrame = CROSSING_COSTS) -> Ground:
    """Return what the ground is: yards, cover, paving, streets, water, trees, buildings; the last counts.

    Parameters
    ----------
    maps
        What says it; ground that no map covers is "unknown".
    grid
        Which cells.
    costs
        The crossing costs; their names of ground are known beside the shipped ones.

    Examples
    --------
    >>> import shapely
    >>> lawn = gpd.GeoDataFrame({"cover": ["mown lawn"]}, geometry=[shapely.box(0, 0, 2, 2)], crs=32617)
    >>> ground = ground_of(GroundMaps(cover=lawn), Grid.from_bounds((0, 0, 2, 2), 1.0, lawn.crs))
    >>> ground.cost(CROSSING_COSTS, "woodland").tolist()
    [[2.0, 2.0], [2.0, 2.0]]
    """
    names = tuple(dict.fromkeys([*CROSSING_COSTS.index, *costs.index]))
    code = {name: k for k, name in enumerate(names)}
    kind = np.full(grid.shape, code["unknown"], np.uint8)
    _burn(kind, grid, {"garden": _shapes(maps.yards)}, code)
    notes = _burn_cover(kind, grid, maps, code)
    _burn(kind, grid, {"paving": _shapes(maps.paving)}, code)
    _burn(kind, grid, {"street": _all(maps.streets), "busy road": _all(maps.busy_roads)}, code)
    _burn(kind, grid, {"water": _wide(maps.water, "width_m", 2.0)}, code)
    _burn(kind, grid, {"woodland": _wide(maps.trees, "crown_m", 6.0)}, code)
    buildings = maps.buildings
    if isinstance(buildings, gpd.GeoDataFrame) and len(buildings):
        tall = _numbers(buildings, "height_m") >= TALL_M
        _burn(kind, grid, {"building": _shapes(buildings), "tall building": _shapes(buildings[tall])}, code)
    share = float((kind == code["unknown"]).mean())
    if share > 0.5:
        notes.append(remark("ground_unknown", unknown_share=share))
    return Ground(grid, kind, names, tuple(notes))


def _all(shapes: Shapes | None) -> list[object]:
    return [] if shapes is None else list(shapes)


def _numbers(frame: gpd.GeoDataFrame, column: str) -> NDArray[np.float64]:
    if column not in frame:
        return np.full(len(frame), np.nan)
    return pd.to_numeric(frame[column], errors="coerce").to_numpy(float)


def _shapes(frame: gpd.GeoDataFrame | pd.DataFrame | None) -> list[object]:
    if not isinstance(frame, gpd.GeoDataFrame) or not len(frame):
        return []
    return [g for g in frame.geometry if g is not None and not g.is_empty]


def _wide(frame: gpd.GeoDataFrame | pd.DataFrame | None, column: str, assumed_m: float) -> list[object]:
    """Return polygons as they are and points and lines widened to their width [m]."""
    if not isinstance(frame, gpd.GeoDataFrame) or not len(frame):
        return []
    width = np.nan_to_num(_numbers(frame, column), nan=assumed_m)
    return [
        g if "Polygon" in g.geom_type else g.buffer(max(w, 0.1) / 2.0)
        for g, w in zip(frame.geometry, width, strict=True)
        if g is not None and not g.is_empty
    ]


def _burn(kind: NDArray[np.uint8], grid: Grid, what: dict[str, list[object]], code: dict[str, int]) -> None:
    for name, shapes in what.items():
        if shapes:
            rasterize(((g, code[name]) for g in shapes), out=kind, transform=grid.transform)


def _burn_cover(kind: NDArray[np.uint8], grid: Grid, maps: GroundMaps, code: dict[str, int]) -> list[Remark]:
    """Lay the land cover down, raster first, then polygons; return which of its names are not known."""
    strange: set[str] = set()
    values = maps.cover_code
    if values is not None:
        for value in np.unique(values[np.isfinite(values)]):
            word = str(maps.cover_names.get(int(value), f"class {value:g}"))
            known = ground_word(word, code)
            strange |= {word} if known is None else set()
            kind[values == value] = code[known or "unknown"]
    cover = maps.cover
    if isinstance(cover, gpd.GeoDataFrame) and len(cover):
        words = cover["cover"].astype(str) if "cover" in cover else pd.Series("", index=cover.index)
        for word, part in cover.groupby(words):
            known = ground_word(str(word), code)
            strange |= {str(word)} if known is None else set()
            _burn(kind, grid, {known or "unknown": _shapes(part)}, code)
    return [remark("land_cover_unknown", names=tuple(sorted(strange, key=repr)))] if strange else []


def ground_word(word: str, known: dict[str, int]) -> str | None:
    """Return the kind of ground that a land-cover name means, None if it is not known.

    Examples
    --------
    >>> ground_word("Deciduous Forest", {}), ground_word("Mown lawn", {}), ground_word("xyz", {})
    ('woodland', 'grass', None)
    """
    name = word.strip().lower()
    if name in known:
        return name
    return next((k for k, parts in WORDS.items() if any(re.search(rf"\b{p}", name) for p in parts)), None)


def coarsest(bounds: Bounds, cell_m: float, most: int = 25_000_000) -> float:
    """Return the cell size [m], made coarser until the raster has at most ``most`` cells."""
    west, south, east, north = bounds
    return max(cell_m, math.sqrt((east - west) * (north - south) / most))
