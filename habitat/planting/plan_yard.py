"""One yard planned from its polygons: by the engine that plans whole neighbourhoods."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TypeAlias

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray
from pyproj import CRS
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from habitat.arrays import FloatRaster
from habitat.errors import ParameterError
from habitat.factors import FACTORS
from habitat.grid import Grid
from habitat.ground.open_ground import open_and_closed
from habitat.knowledge.tables import Knowledge
from habitat.planting.plan_yards import plan_yards
from habitat.planting.standing import existing_plants
from habitat.planting.types import Planting
from habitat.planting.yard_jobs import MARGIN_M
from habitat.settings.planting import PlantingSettings
from habitat.settings.site import SiteSettings
from habitat.site.types import Site
from habitat.suitability.types import Needs

CELL_M = 1.0
"""Cells [m] where no grid is given: judgement, as fine as sun and soil are known in a yard."""

Things: TypeAlias = "gpd.GeoDataFrame | Iterable[BaseGeometry]"
"""Shapes with their columns, or shapes alone."""


def plan_yard(
    yard: Polygon,
    values: Mapping[str, float | NDArray[np.floating]],
    *,
    knowledge: Knowledge,
    needs: Needs,
    wishes: Sequence[str],
    buildings: Things = (),
    surroundings: Mapping[str, Things] | None = None,
    household: Mapping[str, object] | None = None,
    plants: gpd.GeoDataFrame | None = None,
    settings: PlantingSettings | None = None,
    site_settings: SiteSettings | None = None,
    season: tuple[int, int] = (4, 10),
    seed: int = 0,
    grid: Grid | None = None,
    crs: CRS | None = None,
    latitude_deg: float | None = None,
) -> Planting:
    """Plan one yard from its polygons: beds, plants, a point for every hole.

    Parameters
    ----------
    yard
        The yard [m, x to the east, y to the north].
    values
        What the place offers, by factor: one number for all of the yard, or a raster on ``grid`` with NaN
        where it is not known. Names and units as in ``needs.assessed``.
    knowledge, needs
        The tables, and the needs of the plants that may be chosen.
    wishes
        Butterflies to plan for, scientific names in order.
    buildings
        Outlines of houses and sheds; none says that there are none.
    surroundings
        What else is there, by the names that ``open_and_closed`` takes: paving, trees, wires, streets, keep.
    household
        budget [money], max_height_m, children, pets, sprayed, septic (bool), yard_id, role.
    plants
        What grows there already: plant (name), geometry; count and crown_m [m] where known.
    settings, site_settings
        Effort, money, heights, hazards; setbacks that differ from the table's. None for the defaults.
    season
        First and last month [1-12] in which bloom and flight count.
    seed
        Start of the random numbers: equal input and seed, equal plan.
    grid
        Cells of the rasters among ``values``; left out, cells of 1 m around the yard.
    crs
        A projected CRS in metres; left out, a local one about ``latitude_deg``.
    latitude_deg
        Degrees north, which say where the sunny side is; from ``crs`` if left out.

    Returns
    -------
    Planting
        As of ``plan_yards`` for this yard alone; without a corridor all butterflies weigh the same.

    Raises
    ------
    ParameterError
        If the yard is no polygon with area, place or grid is missing or does not fit, or a factor of
        ``needs`` has no value.

    Examples
    --------
    >>> import habitat
    >>> from shapely import box
    >>> tables, yard, house = habitat.knowledge.load_knowledge(), box(0, 0, 20, 30), box(5, 18, 15, 28)
    >>> needs = habitat.suitability.compile_needs(tables, assessed=["sun_h"])
    >>> known = {"knowledge": tables, "needs": needs, "buildings": [house], "latitude_deg": 39.9}
    >>> wished = {"wishes": ["Danaus plexippus"], "household": {"budget": 120.0}}
    >>> plan = plan_yard(yard, {"sun_h": 7.0}, **known, **wished)
    >>> bool(plan.plantings["cost"].sum() <= 120.0), bool(plan.beds.within(yard.difference(house)).all())
    (True, True)
    """
    if not isinstance(yard, Polygon) or yard.is_empty or not yard.is_valid:
        raise ParameterError("yard", getattr(yard, "wkt", yard), "a valid polygon with an area")
    crs = _place(crs, latitude_deg)
    cells = grid or Grid.from_bounds(yard.buffer(MARGIN_M).bounds, CELL_M, crs)
    row = {"yard_id": "yard", "role": "member", **(household or {})}
    yards = gpd.GeoDataFrame([row], geometry=[yard], crs=crs)
    around = {"buildings": buildings, **(surroundings or {})}
    frames = {name: _frame(things, crs) for name, things in around.items()}
    site = _site(yards, frames, _rasters(values, needs, cells), cells, site_settings)
    keep = frames.get("keep")
    existing, notes = existing_plants(yards, knowledge, plants=plants, trees=frames.get("trees"), keep=keep)
    planting = plan_yards(
        yards,
        site,
        existing,
        knowledge=knowledge,
        needs=needs,
        settings=settings or PlantingSettings(),
        wishes=wishes,
        season=season,
        seed=seed,
        yard_ids=tuple(yards["yard_id"]),
        keep=keep,
        latitude_deg=latitude_deg,
    )
    return replace(planting, notes=(*site.notes, *notes, *planting.notes))


def _place(crs: CRS | None, latitude_deg: float | None) -> CRS:
    """Return the CRS, or a local one in metres where only the latitude is known."""
    if latitude_deg is not None and not -90.0 < latitude_deg < 90.0:
        raise ParameterError("latitude_deg", latitude_deg, "between -90 and 90 degrees")
    if crs is not None:
        return crs
    if latitude_deg is None:
        raise ParameterError(
            "latitude_deg", None, "given where there is no crs: it says where the sun stands"
        )
    return CRS.from_proj4(f"+proj=tmerc +lat_0={latitude_deg} +lon_0=0 +datum=WGS84 +units=m")


def _frame(things: Things, crs: CRS) -> gpd.GeoDataFrame:
    if isinstance(things, gpd.GeoDataFrame):
        return things
    return gpd.GeoDataFrame(geometry=list(things), crs=crs)


def _rasters(
    values: Mapping[str, float | NDArray[np.floating]], needs: Needs, grid: Grid
) -> dict[str, FloatRaster]:
    """Return the factors as rasters on the grid."""
    strange = sorted(set(values) - set(FACTORS))
    if strange:
        raise ParameterError("values", strange, f"of {', '.join(FACTORS)}")
    missing = [name for name in needs.assessed if name not in values]
    if missing:
        raise ParameterError("values", sorted(values), f"with a value for {', '.join(missing)} too")
    out = {name: np.asarray(value, np.float32) for name, value in values.items()}
    for name, raster in out.items():
        if raster.ndim and raster.shape != grid.shape:
            raise ParameterError(
                f"values[{name!r}]", raster.shape, f"one number, or of the grid's {grid.shape}"
            )
    return {name: np.broadcast_to(raster, grid.shape).copy() for name, raster in out.items()}


def _site(
    yards: gpd.GeoDataFrame,
    surroundings: Mapping[str, gpd.GeoDataFrame],
    rasters: dict[str, FloatRaster],
    grid: Grid,
    settings: SiteSettings | None,
) -> Site:
    """Return what the place offers."""
    ground = open_and_closed(yards, surroundings, settings)
    return Site(
        grid=grid,
        rasters=rasters,
        sun_by_month={},
        open_ground=ground.open_ground,
        closed_ground=ground.closed_ground,
        yards=yards,
        placeable=ground.placeable,
        notes=tuple(ground.notes),
        height_limits=ground.height_limits,
        host_limits=ground.host_limits,
    )
