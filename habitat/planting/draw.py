"""A choice drawn on the ground: bed polygons, and a point for every hole to dig."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, cast

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from pyproj import CRS
from shapely.geometry import MultiPoint, Point, Polygon
from shapely.geometry.base import BaseGeometry

from habitat.knowledge.tables import Knowledge
from habitat.planting.bed_sites import plant_region
from habitat.planting.drifts import Drift, arrange, frame_of
from habitat.planting.types import Allocation, BedSite, Choice, Drawn
from habitat.site.types import GROWTH_FORM
from habitat.suitability.types import NEEDS, NO_LIMIT

BED_COLUMNS = [
    "bed_id",
    "yard_id",
    "bed_number",
    "growth_form",
    "area_m2",
    "edge_m",
    "sun_h_mean",
    "geometry",
]
PLANTING_COLUMNS = [
    "planting_id", "yard_id", "bed_id", "plant", "common_name", "purpose", "form", "count", "spacing_m",
    "height_m", "fit", "limiting_need", "butterflies", "bloom_months", "cost", "year", "why", "geometry",
]  # fmt: skip
POINT_COLUMNS = [
    "point_id", "planting_id", "bed_id", "yard_id", "plant", "key_number", "crown_m", "height_m", "geometry",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class DrawingBoard:
    """What drawing the beds of one yard takes.

    yard : row of ``Layers.yards``. plants : order of ``BedSite.fit``, as ``Needs.plants``. crs : the study's.
    latitude_deg : its sign says where the shady side is.
    """

    yard: pd.Series
    plants: tuple[str, ...]
    knowledge: Knowledge
    crs: CRS
    latitude_deg: float

    @property
    def yard_id(self) -> str:
        """Id of the yard."""
        return str(self.yard["yard_id"])


def draw_choice(board: DrawingBoard, sites: list[BedSite], choice: Choice) -> Drawn:
    """Draw one yard's choice: beds no larger than needed, drifts, points; what is dropped is told.

    Parameters
    ----------
    board
        The yard, the plants' order and tables, CRS and latitude.
    sites, choice
        Bed sites of the yard, and what was chosen for them.

    Returns
    -------
    Drawn
        Every point inside its bed, every bed inside its site. Plants of one kind stand at least their spacing
        apart, plants of two kinds at least the mean of both.
    """
    by_id = {site.site_id: site for site in sites}
    table = _Tables()
    for site_id in sorted({a.site_id for a in choice.allocations}):
        site = by_id[site_id]
        chosen = [a for a in choice.allocations if a.site_id == site_id and a.count > 0]
        bed, placed = _draw_bed(board, site, chosen)
        table.dropped += _told(chosen, placed, board.knowledge)
        if bed.is_empty:
            continue
        bed_id = f"{board.yard_id}-b{len(table.beds) + 1}"
        table.beds.append(_bed_row(board.yard_id, bed_id, len(table.beds) + 1, site, bed))
        for allocation, xy in zip(chosen, placed, strict=True):
            if len(xy):
                table.add(board, site, allocation, bed_id, xy)
    return table.drawn(board.crs)


def undrawn_choice(board: DrawingBoard, sites: list[BedSite], choice: Choice) -> Drawn:
    """Return a choice as plantings without places: no beds, no points, for studies without buildings."""
    by_id = {site.site_id: site for site in sites}
    table = _Tables()
    for allocation in choice.allocations:
        if allocation.count > 0:
            bed_id = f"{board.yard_id}-b{allocation.site_id + 1}"
            table.add_row(board, by_id[allocation.site_id], allocation, bed_id, None)
    return table.drawn(board.crs)


@dataclass(slots=True)
class _Tables:
    """Rows collected while drawing one yard."""

    beds: list[dict[str, object]] = field(default_factory=list)
    plantings: list[dict[str, object]] = field(default_factory=list)
    points: list[dict[str, object]] = field(default_factory=list)
    dropped: list[str] = field(default_factory=list)
    keys: dict[str, int] = field(default_factory=dict)

    def add_row(
        self,
        board: DrawingBoard,
        site: BedSite,
        allocation: Allocation,
        bed_id: str,
        xy: NDArray[np.float64] | None,
    ) -> str:
        """Add a row to the plantings, and return its id."""
        planting_id = f"{board.yard_id}-p{len(self.plantings) + 1:02d}"
        count = allocation.count if xy is None else len(xy)
        place = MultiPoint() if xy is None else MultiPoint(xy)
        facts = _facts(board, site, allocation, count)
        head = {"planting_id": planting_id, "yard_id": board.yard_id, "bed_id": bed_id}
        self.plantings.append({**head, **facts, "geometry": place})
        return planting_id

    def add(
        self, board: DrawingBoard, site: BedSite, allocation: Allocation, bed_id: str, xy: NDArray[np.float64]
    ) -> None:
        """Add a planting and a row per plant, numbered from the bed's west end."""
        xy = xy[np.lexsort((np.round(xy[:, 1], 6), np.round(xy[:, 0], 6)))]
        planting_id = self.add_row(board, site, allocation, bed_id, xy)
        row = _plant(board.knowledge, allocation.plant)
        key = self.keys.setdefault(allocation.plant, len(self.keys) + 1)
        for k, place in enumerate(xy, 1):
            self.points.append(
                {
                    "point_id": f"{planting_id}-{k:03d}",
                    "planting_id": planting_id,
                    "bed_id": bed_id,
                    "yard_id": board.yard_id,
                    "plant": allocation.plant,
                    "key_number": key,
                    "crown_m": float(row["spread_m"]),
                    "height_m": float(row["height_m"]),
                    "geometry": Point(place),
                }
            )

    def drawn(self, crs: CRS) -> Drawn:
        """Return the rows as tables."""
        return Drawn(
            _frame(self.beds, BED_COLUMNS, crs),
            _frame(self.plantings, PLANTING_COLUMNS, crs),
            _frame(self.points, POINT_COLUMNS, crs),
            tuple(self.dropped),
        )


def _plant(knowledge: Knowledge, plant: str) -> dict[str, Any]:
    return cast("dict[str, Any]", knowledge.plants.loc[plant].to_dict())


def _frame(rows: list[dict[str, object]], columns: list[str], crs: CRS) -> gpd.GeoDataFrame:
    data = {c: [row[c] for row in rows] for c in columns if c != "geometry"}
    return gpd.GeoDataFrame(data, geometry=[row["geometry"] for row in rows], crs=crs)


def _facts(board: DrawingBoard, site: BedSite, allocation: Allocation, count: int) -> dict[str, object]:
    row = _plant(board.knowledge, allocation.plant)
    k = board.plants.index(allocation.plant)
    limit = int(site.limiting[k])
    first, last = int(row["bloom_start_month"]), int(row["bloom_end_month"])
    blooms = row["nectar_value"] > 0
    return {
        "plant": allocation.plant,
        "common_name": row["common_name"],
        "purpose": allocation.purpose,
        "form": allocation.form,
        "count": count,
        "spacing_m": float(row["spacing_m"]),
        "height_m": float(row["height_m"]),
        "fit": float(site.fit[k]),
        "limiting_need": "" if limit == NO_LIMIT else NEEDS[limit],
        "butterflies": "; ".join(allocation.butterflies),
        "bloom_months": (f"{first}-{last}" if last != first else f"{first}") if blooms else "",
        "cost": allocation.cost * count / allocation.count,
        "year": allocation.year,
        "why": allocation.why,
    }


def _bed_row(yard_id: str, bed_id: str, number: int, site: BedSite, bed: BaseGeometry) -> dict[str, object]:
    return {
        "bed_id": bed_id,
        "yard_id": yard_id,
        "bed_number": number,
        "growth_form": site.growth_form,
        "area_m2": float(bed.area),
        "edge_m": float(bed.length),
        "sun_h_mean": site.sun_h_mean,
        "geometry": bed,
    }


def _draw_bed(
    board: DrawingBoard, site: BedSite, chosen: list[Allocation]
) -> tuple[BaseGeometry, list[NDArray[np.float64]]]:
    """Return the bed and the points (n, 2) of each allocation."""
    if site.growth_form != "herb":
        ring = site.ground[site.growth_form]
        centre = shapely.get_coordinates(site.polygon.centroid)
        placed = [centre[: 1 if k == 0 else 0] for k in range(len(chosen))]
        return (ring if chosen else Polygon()), placed
    drifts = []
    for allocation in chosen:
        row = _plant(board.knowledge, allocation.plant)
        form = GROWTH_FORM[str(row["form"])]
        ground = site.ground.get(form, Polygon())
        region = plant_region(ground, board.yard["geometry"], site.keep_clear, form, float(row["spread_m"]))
        drifts.append(Drift(allocation.count, float(row["spacing_m"]), float(row["height_m"]), region))
    frame, layered = frame_of(site.polygon, site.along, site.back, board.latitude_deg)
    return arrange(site.polygon, drifts, frame, layered=layered)


def _told(chosen: list[Allocation], placed: list[NDArray[np.float64]], knowledge: Knowledge) -> list[str]:
    return [
        f"{_plant(knowledge, a.plant)['common_name']}: {a.count} chosen, {len(xy)} fit into the bed as drawn"
        for a, xy in zip(chosen, placed, strict=True)
        if len(xy) < a.count
    ]
