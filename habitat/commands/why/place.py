"""One yard for the answer of ``habitat why``: its cells, its ground, and where on it a plant has room."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from rasterio.features import geometry_mask
from shapely import union_all
from shapely.geometry.base import BaseGeometry

from habitat.knowledge import Knowledge
from habitat.layers.types import Layers
from habitat.planting.sites.bed_sites import crown_room
from habitat.site.types import GROWTH_FORM, Site, SiteWindow

LEAST_M2 = 0.5
"""Ground below this is not told."""


@dataclass(frozen=True, slots=True)
class YardPlace:
    """A yard and its cells: its row of ``Layers.yards``, the window, ground by growth form, what closes it.

    ``placeable`` is False without a buildings layer: then the whole yard counts, what is built on too.
    ``tested`` are the factors that a soil test tells here.
    """

    yard: pd.Series
    window: SiteWindow
    ground: dict[str, BaseGeometry]
    walls: BaseGeometry
    closed: pd.DataFrame
    limits: dict[str, pd.DataFrame]
    placeable: bool = True
    tested: tuple[str, ...] = ()

    def cells(self, growth: str) -> NDArray[np.bool_]:
        """Return the cells that are open to a growth form, narrow strips too."""
        return self._mask(self.ground[growth])

    def room(self, plant: pd.Series) -> BaseGeometry:
        """Return the open ground of a plant where its grown crown stays clear of walls and in the yard."""
        growth = GROWTH_FORM[str(plant["form"])]
        if growth == "herb" or not self.placeable:
            return self.ground[growth]
        reach = crown_room(self.yard["geometry"], self.walls, growth, float(plant["spread_m"]))
        return self.ground[growth].intersection(reach)

    def room_cells(self, plant: pd.Series) -> NDArray[np.bool_]:
        """Return the cells of ``room``."""
        return self._mask(self.room(plant))

    def _mask(self, ground: BaseGeometry) -> NDArray[np.bool_]:
        shape, transform = self.window.grid.shape, self.window.grid.transform
        if ground.is_empty:
            return np.zeros(shape, bool)
        cells = geometry_mask([ground], shape, transform, invert=True)
        return (
            cells if cells.any() else geometry_mask([ground], shape, transform, all_touched=True, invert=True)
        )


def yard_place(site: Site, layers: Layers, yard_id: str) -> YardPlace:
    """Return a yard with its ground, walls and limits."""
    yard = layers.yards.set_index("yard_id", drop=False).loc[yard_id]
    shape = yard["geometry"]
    mine = {
        name: table[table["yard_id"] == yard_id]
        for name, table in (
            ("open", site.open_ground),
            ("closed", site.closed_ground),
            ("height", site.height_limits),
            ("hosts", site.host_limits),
        )
    }
    ground = {
        growth: union_all(mine["open"].loc[mine["open"]["growth_form"] == growth, "geometry"].to_numpy())
        if site.placeable
        else shape
        for growth in set(GROWTH_FORM.values())
    }
    buildings = layers.frame("buildings")
    near = (
        [] if buildings is None else [g for g in buildings.geometry if g is not None and g.intersects(shape)]
    )
    return YardPlace(
        yard,
        site.window(shape.bounds),
        ground,
        union_all(near),
        mine["closed"],
        {name: mine[name] for name in ("height", "hosts")},
        site.placeable,
        site.tested_in(yard_id),
    )


def ground_limits(name: str, place: YardPlace, knowledge: Knowledge) -> list[str]:
    """Return where on the open ground hosts, or plants as tall as this one, may not stand."""
    plant = knowledge.plants.loc[[name]].iloc[0]
    ground, lines = place.ground[GROWTH_FORM[str(plant["form"])]], []
    hosts = place.limits["hosts"]
    if name in set(knowledge.host_plants["plant"]):
        for reason, rows in hosts[hosts["reason"] != "sprayed yard"].groupby("reason"):
            m2 = ground.intersection(union_all(rows.geometry.to_numpy())).area
            if m2 >= LEAST_M2:
                lines.append(f"On {m2:.0f} m2 of it no caterpillar host may stand: {reason}.")
    low, height_m = place.limits["height"], float(plant["height_m"])
    for reason, rows in low[low["height_max_m"] < height_m].groupby("reason"):
        m2 = ground.intersection(union_all(rows.geometry.to_numpy())).area
        top = float(rows["height_max_m"].min())
        if m2 >= LEAST_M2:
            lines.append(
                f"On {m2:.0f} m2 of it plants must stay below {top:g} m, and it grows to "
                f"{height_m:g} m: {reason}."
            )
    return lines
