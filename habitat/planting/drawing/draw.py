"""A choice drawn on the ground: bed polygons, and a point for every hole."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from itertools import chain
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from pyproj import CRS
from shapely.geometry import MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from habitat.knowledge.tables import Knowledge
from habitat.planting.choice.reasons import place_words
from habitat.planting.drawing.drifts import NOTHING_PLACED, Drift, Placed, arrange, frame_of
from habitat.planting.drawing.judged import judge, sun_on, uncovered
from habitat.planting.sites.around import calm
from habitat.planting.sites.bed_sites import plant_region
from habitat.planting.sites.heights import front_of
from habitat.planting.types import Allocation, BedSite, Choice, Drawn
from habitat.settings.suitability import SuitabilitySettings
from habitat.site.types import GROWTH_FORM
from habitat.suitability.types import Needs

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
    "height_m", "fit", "limiting_need", "butterflies", "bloom_months", "cost", "year", "layer", "group_size",
    "why", "geometry",
]  # fmt: skip
POINT_COLUMNS = [
    "point_id", "planting_id", "bed_id", "yard_id", "plant", "key_number", "crown_m", "height_m", "geometry",
]  # fmt: skip


NOOK_M = 0.8
"""Nooks between a bed and a ring that it takes in are rounded to this radius, so that a mower can follow."""

JOIN_LEAST_M2 = 0.3
"""A ring and a bed that share less ground are two beds: judgement."""


@dataclass(frozen=True, slots=True)
class Kind:
    """What drawing takes of a plant; ``number`` is its place in ``Needs.plants``."""

    number: int
    common_name: str
    growth: str
    spacing_m: float
    spread_m: float
    height_m: float
    bloom_months: str


def read_kinds(
    plants: tuple[str, ...], knowledge: Knowledge, spacing_m: NDArray[np.float64] | None = None
) -> dict[str, Kind]:
    """Return ``Needs.plants`` by name; ``spacing_m`` (P,) is how they are set in beds."""
    table = knowledge.plants.loc[list(plants)]
    return {
        name: Kind(
            number,
            str(row["common_name"]),
            GROWTH_FORM[str(row["form"])],
            float(row["spacing_m"] if spacing_m is None else spacing_m[number]),
            float(row["spread_m"]),
            float(row["height_m"]),
            _bloom_text(row),
        )
        for number, (name, row) in enumerate(zip(plants, table.to_dict("records"), strict=True))
    }


def _bloom_text(row: dict[Any, Any]) -> str:
    if not row["nectar_value"] > 0:
        return ""
    first, last = int(row["bloom_start_month"]), int(row["bloom_end_month"])
    return f"{first}-{last}" if last != first else f"{first}"


@dataclass(frozen=True, slots=True)
class DrawingBoard:
    """What drawing the beds of one yard takes.

    yard : row of the yards. kinds : as ``read_kinds`` returns them. latitude_deg : its sign says where
    the shady side is. front_max_m : greatest height at the front of a bed. assessed : what of sun and soil
    was assessed here; without any, plantings have no fit. needs : of the plants; None where plants are not
    judged at their places, but by the means of their bed site. away_m : how far [m] poisonous plants stand
    from people, by name.
    """

    yard: pd.Series
    kinds: dict[str, Kind]
    latitude_deg: float
    front_max_m: float = math.inf
    assessed: frozenset[str] = frozenset({"sun_h"})
    needs: Needs | None = None
    away_m: Mapping[str, float] = field(default_factory=dict)

    @property
    def yard_id(self) -> str:
        """Id of the yard."""
        return str(self.yard["yard_id"])


@dataclass(frozen=True, slots=True)
class PointBlock:
    """The plants of one planting: places (n, 2), and what is the same for all of them."""

    planting_id: str
    bed_id: str
    yard_id: str
    plant: str
    key_number: int
    crown_m: float
    height_m: float
    xy: NDArray[np.float64]


@dataclass(slots=True)
class Drawing:
    """One yard's choice on the ground: rows of ``beds`` and ``plantings``, and blocks of points.

    ``dropped`` says, in words, which plants the program chose and the ground did not hold, and ``short`` how
    many by bed site and plant. ``fits`` is the fit [0-1] of what stands at its places, and ``rows`` the id of
    its planting, by bed site and plant.
    """

    beds: list[dict[str, object]] = field(default_factory=list)
    plantings: list[dict[str, object]] = field(default_factory=list)
    points: list[PointBlock] = field(default_factory=list)
    dropped: list[str] = field(default_factory=list)
    short: dict[tuple[int, str], int] = field(default_factory=dict)
    fits: dict[tuple[int, str], float] = field(default_factory=dict)
    rows: dict[tuple[int, str], str] = field(default_factory=dict)
    keys: dict[str, int] = field(default_factory=dict)
    taken_m2: dict[int, float] = field(default_factory=dict)

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
        facts = _facts(board, site, allocation, count, xy)
        if board.assessed and board.needs is not None:
            self.fits[site.site_id, allocation.plant] = float(str(facts["fit"]))
        self.rows[site.site_id, allocation.plant] = planting_id
        head = {"planting_id": planting_id, "yard_id": board.yard_id, "bed_id": bed_id}
        self.plantings.append({**head, **facts, "geometry": place})
        return planting_id

    def add(
        self, board: DrawingBoard, site: BedSite, allocation: Allocation, bed_id: str, xy: NDArray[np.float64]
    ) -> None:
        """Add a planting and its plants, numbered from the bed's west end."""
        xy = xy[np.lexsort((np.round(xy[:, 1], 6), np.round(xy[:, 0], 6)))]
        planting_id = self.add_row(board, site, allocation, bed_id, xy)
        kind, plant = board.kinds[allocation.plant], allocation.plant
        key = self.keys.setdefault(plant, len(self.keys) + 1)
        self.points.append(
            PointBlock(planting_id, bed_id, board.yard_id, plant, key, kind.spread_m, kind.height_m, xy)
        )

    def widen(self, number: int, ring: BaseGeometry, around: BaseGeometry) -> str:
        """Let a bed take in a ring that touches it, and return the bed's id; "" where the ring lies apart."""
        row = self.beds[number]
        whole = with_ring(row["geometry"], ring, around)
        if whole is None:
            return ""
        row |= {"geometry": whole, "area_m2": float(whole.area), "edge_m": float(whole.length)}
        return str(row["bed_id"])

    def without(self, fallen: Collection[tuple[int, str]]) -> Drawing:
        """Return the drawing without some plantings, by bed site and plant; beds stay as they are."""
        gone = {self.rows[at] for at in fallen}
        return replace(
            self,
            plantings=[row for row in self.plantings if row["planting_id"] not in gone],
            points=[block for block in self.points if block.planting_id not in gone],
        )


def with_ring(bed: Any, ring: BaseGeometry, around: BaseGeometry) -> Polygon | None:
    """Return a bed with a ring that it touches, nooks between them filled; None where the ring lies apart.

    Parameters
    ----------
    bed, ring
        Polygons; a ring shares at least ``JOIN_LEAST_M2`` with its bed.
    around
        Ground of which nooks may be filled.

    Examples
    --------
    >>> bed, lawn = shapely.box(0, 0, 6, 2), shapely.box(0, 0, 6, 9)
    >>> round(with_ring(bed, shapely.Point(3, 2.5).buffer(1.2), lawn).area, 1)
    15.7
    >>> with_ring(bed, shapely.Point(3, 9).buffer(1.2), lawn) is None
    True
    """
    whole = shapely.union_all([bed, ring])
    if whole.geom_type != "Polygon" or shapely.intersection(bed, ring).area < JOIN_LEAST_M2:
        return None
    filled = whole.buffer(NOOK_M, quad_segs=8).buffer(-NOOK_M, quad_segs=8).intersection(around)
    out = shapely.union_all([whole, filled])
    return Polygon(out.exterior, out.interiors) if out.geom_type == "Polygon" else None


def draw_choice(board: DrawingBoard, sites: list[BedSite], choice: Choice) -> Drawing:
    """Draw one yard's choice: beds no larger than needed, drifts, points; what is dropped is named.

    Parameters
    ----------
    board
        The yard, the plants, and latitude.
    sites, choice
        Bed sites of the yard, and what was chosen for them.

    Returns
    -------
    Drawing
        Every point inside its bed, every bed inside its site. Plants of one kind stand at least their spacing
        apart, plants of two kinds at least the mean of both, in one bed and in two; herbs come nearer to
        trees and vines, which have places of their own.
    """
    by_id = {site.site_id: site for site in sites}
    wanted: dict[int, list[Allocation]] = {a.site_id: [] for a in choice.allocations}
    for allocation in choice.allocations:
        wanted[allocation.site_id] += [allocation] if allocation.count > 0 else []
    drawing, row_of = Drawing(), dict[int, int]()
    drawn = _draw_beds(board, by_id, wanted)
    for site_id, chosen in sorted(wanted.items()):
        site = by_id[site_id]
        bed, placed = drawn[site_id]
        drawing.dropped += _dropped(chosen, placed, board)
        drawing.short |= {
            (site_id, a.plant): a.count - len(xy)
            for a, xy in zip(chosen, placed, strict=True)
            if len(xy) < a.count
        }
        if bed.is_empty:
            continue
        if site.growth_form == "herb":
            drawing.taken_m2[site_id] = float(bed.area)
        host = row_of.get(-1 if site.joins is None else site.joins)
        bed_id = "" if host is None else drawing.widen(host, bed, site.ground["around"])
        if bed_id and host is not None:
            row_of[site_id] = host
        else:
            row_of[site_id] = len(drawing.beds)
            bed_id = f"{board.yard_id}-b{len(drawing.beds) + 1}"
            sun_h = bed_sun_h(site, bed, chosen, board.kinds)
            drawing.beds.append(_bed_row(board.yard_id, bed_id, len(drawing.beds) + 1, site, bed, sun_h))
        for allocation, xy in zip(chosen, placed, strict=True):
            if len(xy):
                drawing.add(board, site, allocation, bed_id, xy)
    return drawing


def undrawn_choice(board: DrawingBoard, sites: list[BedSite], choice: Choice) -> Drawing:
    """Return a choice as plantings without places: no beds, no points, for studies without buildings."""
    by_id = {site.site_id: site for site in sites}
    drawing = Drawing()
    for allocation in choice.allocations:
        if allocation.count > 0:
            bed_id = f"{board.yard_id}-b{allocation.site_id + 1}"
            drawing.add_row(board, by_id[allocation.site_id], allocation, bed_id, None)
    return drawing


def drawn_tables(drawings: list[Drawing], crs: CRS) -> Drawn:
    """Return the drawings of some yards as the tables ``beds``, ``plantings`` and ``plant_points``."""
    return Drawn(
        _frame([row for one in drawings for row in one.beds], BED_COLUMNS, crs),
        _frame([row for one in drawings for row in one.plantings], PLANTING_COLUMNS, crs),
        _point_frame([block for one in drawings for block in one.points], crs),
        tuple(chain.from_iterable(one.dropped for one in drawings)),
    )


def _frame(rows: list[dict[str, object]], columns: list[str], crs: CRS) -> gpd.GeoDataFrame:
    data = {c: [row[c] for row in rows] for c in columns if c != "geometry"}
    return gpd.GeoDataFrame(data, geometry=[row["geometry"] for row in rows], crs=crs)


def _point_frame(blocks: list[PointBlock], crs: CRS) -> gpd.GeoDataFrame:
    sizes = [len(block.xy) for block in blocks]
    data: dict[str, Any] = {
        "point_id": [f"{b.planting_id}-{k:03d}" for b in blocks for k in range(1, len(b.xy) + 1)]
    }
    for column in POINT_COLUMNS[1:-1]:
        values = np.array([getattr(block, column) for block in blocks])
        data[column] = np.repeat(values, sizes) if blocks else []
    places = np.vstack([block.xy for block in blocks]) if blocks else np.empty((0, 2))
    return gpd.GeoDataFrame(data, geometry=shapely.points(places), crs=crs)


def _facts(
    board: DrawingBoard,
    site: BedSite,
    allocation: Allocation,
    count: int,
    xy: NDArray[np.float64] | None,
) -> dict[str, object]:
    kind = board.kinds[allocation.plant]
    judged = judge(site, board.needs, kind.number, allocation.plant, xy)
    limits = USUAL_LIMITS if board.needs is None else board.needs.class_limits
    here = place_words(judged.held, judged.sun_h, board.assessed, limits)
    return {
        "plant": allocation.plant,
        "common_name": kind.common_name,
        "purpose": allocation.purpose,
        "form": allocation.form,
        "count": count,
        "spacing_m": kind.spacing_m,
        "height_m": kind.height_m,
        "fit": judged.held.fit if board.assessed else math.nan,
        "limiting_need": judged.held.need,
        "butterflies": "; ".join(allocation.butterflies),
        "bloom_months": kind.bloom_months,
        "cost": allocation.cost * count / allocation.count,
        "year": allocation.year,
        "layer": allocation.layer,
        "group_size": min(count, max(allocation.groups, default=count)),
        "why": "; ".join(part for part in (allocation.why, here) if part) + ".",
    }


def bed_sun_h(site: BedSite, bed: BaseGeometry, chosen: list[Allocation], kinds: Mapping[str, Kind]) -> float:
    """Return the sun on a bed as drawn; trees and tall shrubs stand above the shade that they cast."""
    grown = site.grown
    alone = grown is not None and all(a in grown.fixed for a in chosen)
    cells = grown.cells_before if grown is not None and alone else site.cells
    if cells is None:
        return grown.sun_before_h if grown is not None and alone else site.sun_h_mean
    spread = {plant: kinds[plant].spread_m for plant in grown.at} if grown is not None else {}
    return sun_on(cells, bed if grown is None or alone else uncovered(bed, grown.at, spread))


def _bed_row(
    yard_id: str, bed_id: str, number: int, site: BedSite, bed: BaseGeometry, sun_h: float
) -> dict[str, object]:
    return {
        "bed_id": bed_id,
        "yard_id": yard_id,
        "bed_number": number,
        "growth_form": site.growth_form,
        "area_m2": float(bed.area),
        "edge_m": float(bed.length),
        "sun_h_mean": sun_h,
        "geometry": bed,
    }


def _draw_beds(
    board: DrawingBoard, sites: Mapping[int, BedSite], wanted: Mapping[int, list[Allocation]]
) -> dict[int, tuple[BaseGeometry, list[NDArray[np.float64]]]]:
    """Return each bed and the points (n, 2) of its allocations, by site: lone trees and shrubs first.

    What stands for good in any bed has its place before others are drawn.
    """
    order = sorted(wanted, key=lambda i: (sites[i].growth_form == "herb", i))
    fixed = {i: grown.at if (grown := sites[i].grown) else {} for i in order}
    done: dict[int, tuple[BaseGeometry, list[NDArray[np.float64]]]] = {}
    for i in order:
        near = NOTHING_PLACED
        for j in order:
            xy = done[j][1] if j in done else [fixed[j].get(a.plant, np.empty((0, 2))) for a in wanted[j]]
            spacing = [_kept_off_m(board.kinds[a.plant], sites[j]) for a in wanted[j]]
            near = near if j == i else near.beside(xy, spacing)
        done[i] = _draw_bed(board, sites[i], wanted[i], near)
    return done


def _kept_off_m(kind: Kind, site: BedSite) -> float:
    """Return the spacing by which other beds keep off; herbs grow up to near a trunk in a place of its own.

    Ground of beds already leaves room around a vine that stands in one.
    """
    if site.growth_form == "shrub" and not site.ringed:
        return 0.0
    trunk = site.ringed and kind.growth != "herb"
    return min(kind.spacing_m, 2 * TRUNK_CLEAR_M) if trunk else kind.spacing_m


def _draw_bed(
    board: DrawingBoard, site: BedSite, chosen: list[Allocation], near: Placed
) -> tuple[BaseGeometry, list[NDArray[np.float64]]]:
    """Return the bed and the points (n, 2) of each allocation, clear of what is placed near it."""
    if site.growth_form != "herb":
        return _draw_spot(board, site, chosen, near)
    frame, layered = frame_of(site.polygon, site.along, site.back, board.latitude_deg)
    drifts, owner = [], []
    for k, allocation in enumerate(chosen):
        kind = board.kinds[allocation.plant]
        ground = site.ground.get(kind.growth, Polygon())
        region = plant_region(ground, board.yard["geometry"], site.keep_clear, kind.growth, kind.spread_m)
        region = calm(region, site.people, board.away_m.get(allocation.plant, 0.0))
        if kind.height_m > board.front_max_m:
            region = region.difference(front_of(site.polygon, frame))
        at = site.grown.at.get(allocation.plant) if site.grown else None
        groups = (allocation.count,) if at is not None or not allocation.groups else allocation.groups
        for turn, count in enumerate(groups):
            drifts.append(Drift(count, kind.spacing_m, kind.height_m, region, at, turn))
            owner.append(k)
    bed, placed = arrange(site.polygon, drifts, frame, layered=layered, near=near)
    mine = [[xy for xy, of in zip(placed, owner, strict=True) if of == k] for k in range(len(chosen))]
    return bed, [np.vstack(parts) for parts in mine]


def _draw_spot(
    board: DrawingBoard, site: BedSite, chosen: list[Allocation], near: Placed
) -> tuple[BaseGeometry, list[NDArray[np.float64]]]:
    """Return the ring of a tree, tall shrub or vine with it in the middle, and its ground layer around it."""
    if not chosen:
        return Polygon(), []
    ring = site.ground.get("ring", site.ground["herb"])
    whole = shapely.union_all([site.ground[site.growth_form], ring]).convex_hull
    woody = [k for k, a in enumerate(chosen) if board.kinds[a.plant].growth != "herb"]
    low = [k for k in range(len(chosen)) if k not in woody]
    placed = [np.empty((0, 2)) for _ in chosen]
    for k in woody[:1]:
        placed[k] = shapely.get_coordinates(site.polygon.centroid)
    if low:
        drifts = [_ring_drift(board, chosen[k], site) for k in low]
        frame, _ = frame_of(Polygon(ring.exterior), site.along, site.back, board.latitude_deg)
        _, points = arrange(ring, drifts, frame, layered=False, near=near)
        for k, xy in zip(low, points, strict=True):
            placed[k] = xy
    return whole, placed


def _ring_drift(board: DrawingBoard, allocation: Allocation, site: BedSite) -> Drift:
    kind = board.kinds[allocation.plant]
    region = calm(site.ground["herb"], site.people, board.away_m.get(allocation.plant, 0.0))
    return Drift(allocation.count, kind.spacing_m, kind.height_m, region)


def _dropped(chosen: list[Allocation], placed: list[NDArray[np.float64]], board: DrawingBoard) -> list[str]:
    return [
        f"{board.kinds[a.plant].common_name}: {a.count} chosen, {len(xy)} fit into the bed as drawn"
        for a, xy in zip(chosen, placed, strict=True)
        if len(xy) < a.count
    ]


TRUNK_CLEAR_M = 0.5
"""Ground around the trunk of a new tree that plants of other beds leave free, half their spacing apart:
judgement; its mulch ring."""

USUAL_LIMITS = SuitabilitySettings().class_limits
"""Lower limits of the classes where plants are drawn without needs."""
