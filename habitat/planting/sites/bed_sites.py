"""Where beds could be in a yard: borders along its edges, and spots for single shrubs and trees."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from habitat.knowledge.tables import Knowledge
from habitat.planting.drawing.lattice import count_plants
from habitat.planting.household import Household
from habitat.planting.sites.around import containing, walked
from habitat.planting.sites.borders import BED_LEAST_M2, BedGround, Candidate, choose_beds
from habitat.planting.sites.cells import cell_weights, costliest, known_sun_h, read_cells
from habitat.planting.sites.edges import bed_axis, crown_obstacles, standing_radius_m, usable_ground
from habitat.planting.sites.parting import sides_m, within_reach
from habitat.planting.sites.reach import CLEAR_M, standing_room, stepping_places
from habitat.planting.sites.supports import (
    NEEDS_SUPPORT_M,
    PANEL_M,
    SPREADS_M,
    VINES_MOST,
    vine_place,
)
from habitat.planting.sites.ways import Ways, read_ways
from habitat.planting.sites.woody import (
    PAIR_M,
    RING_HERB_M,
    RING_M,
    SHRUB_TO_TRUNK_M,
    SHRUB_TO_WALL_M,
    SMALL_TREE_M,
    STEM_M,
    TRUNK_CLEAR_M,
    Surroundings,
    TreeSpot,
    shrub_fits,
    tree_fits,
    tree_spots,
)
from habitat.planting.types import BedSite, YardContext
from habitat.site.types import GROWTH_FORM, SiteWindow
from habitat.suitability.types import Fit, Needs

VINE_RADIUS_M = 0.15
"""Radius of the place of a vine's stem: judgement."""

SHRUB_SPOTS = 2
"""Places more than those of trees, for tall shrubs: judgement."""

STEM_INSET_M = 0.1
"""Plants stand at least this far inside the edge of their bed: judgement."""


def make_bed_sites(
    yard: pd.Series,
    open_ground: pd.DataFrame,
    fit: Fit,
    needs: Needs,
    window: SiteWindow,
    *,
    bed_share_max: float,
    knowledge: Knowledge,
    context: YardContext,
    household: Household | None = None,
    trees_max: int = 2,
    large_trees_max: int = 1,
) -> list[BedSite]:
    """Return the places where beds of one yard could be.

    Parameters
    ----------
    yard
        Row of the yards: yard_id, geometry; sprayed, children (bool) if known.
    open_ground
        The yard's rows of ``Site.open_ground``.
    fit, window
        Fit of plants and site factors on one window around the yard.
    needs
        Order of the plants.
    bed_share_max
        Most that the borders take of the yard's open ground (0-1).
    knowledge
        The plant tables.
    context
        Closed ground, limits and standing plants of the yard.
    household
        What it wants and can care for; left out, it said nothing.
    trees_max, large_trees_max
        Most places for trees, and those of them for trees taller than ``SMALL_TREE_M``.

    Returns
    -------
    list of BedSite
        At most three borders and islands first ("herb"; shrubs may stand in them where the shrubs' open
        ground reaches), then "tree" spots for a tree or a tall shrub, beside a bed or with a ring of their
        own. None overlap but crowns of trees over lawn and rings that join a bed. Empty if there is no room.
    """
    household = household or Household()
    ground = usable_ground(open_ground, context, knowledge)
    ways = read_ways(yard["geometry"], context, ground["herb"], keep_lawn=household.play)
    room_m2 = household.bed_room_m2(_open_m2(open_ground), bed_share_max)
    beds = choose_beds(BedGround.of(ground["herb"], ways, room_m2, fit, window.grid))
    around = Surroundings(
        yard["geometry"],
        crown_obstacles(context),
        ways.paving,
        ways.fences,
        _standing(context, knowledge),
        tuple(bed.polygon for bed in beds),
    )
    shady = np.array([0.0, 1.0 if context.latitude_deg >= 0 else -1.0])
    most = trees_max if household.trees else 0
    more = SHRUB_SPOTS if household.shrubs else 0
    trees = tree_spots(ground["tree"], ground["herb"].difference(ways.free), around, shady, most, more)
    kinds = _Kinds.read(needs.plants, knowledge)
    maker = _Maker(yard, fit, kinds, window, context, ground, around, ways)
    borders = [maker.border(k, bed, trees) for k, bed in enumerate(beds)]
    places = [(s, place) for s in borders if household.vines for place in [maker.vine_place(s)] if place]
    places = places[:VINES_MOST]
    vines = {site.site_id: place[0] for site, place in places}
    sites = [maker.measured(site, vines.get(site.site_id)) for site in borders]
    for k in range(len(trees)):
        form = "tree" if k < most else "shrub"
        sites.append(maker.spot(len(sites), trees, k, form, large=k < large_trees_max))
    return sites + [maker.vine(len(sites) + k, site, *place) for k, (site, place) in enumerate(places)]


def make_whole_sites(
    yard: pd.Series,
    open_ground: pd.DataFrame,
    fit: Fit,
    needs: Needs,
    window: SiteWindow,
    *,
    knowledge: Knowledge,
    context: YardContext,
) -> list[BedSite]:
    """Return all of a yard's open ground as beds, for yards where all of it is to be bed.

    Arguments as in ``make_bed_sites``. A piece of ground is one bed, however narrow; one too wide to reach
    into is parted by walks. There are no spots for single trees and shrubs.
    """
    ground = usable_ground(open_ground, context, knowledge)
    ways = read_ways(yard["geometry"], context, ground["herb"])
    parts = sorted(shapely.get_parts(ground["herb"]), key=lambda part: part.bounds)
    beds = tuple(bed for part in parts for bed in within_reach(part))
    standing = _standing(context, knowledge)
    around = Surroundings(
        yard["geometry"], crown_obstacles(context), ways.paving, ways.fences, standing, beds
    )
    kinds = _Kinds.read(needs.plants, knowledge)
    maker = _Maker(yard, fit, kinds, window, context, ground, around, ways)
    return [maker.whole(k, bed) for k, bed in enumerate(beds)]


def make_unplaced_sites(
    yard: pd.Series,
    open_ground: pd.DataFrame,
    fit: Fit,
    needs: Needs,
    window: SiteWindow,
    *,
    bed_share_max: float,
    knowledge: Knowledge,
    context: YardContext,
    household: Household | None = None,
    trees_max: int = 2,
    large_trees_max: int = 1,
) -> list[BedSite]:
    """Return bed sites by area alone, for studies without buildings: nothing may be drawn into them.

    Arguments as in ``make_bed_sites``. One site per growth form: herbs on ``bed_share_max`` of what could be
    open at most, one tree and one shrub where their ground is as large as their crown. Fit and sun are means
    over its largest piece; capacity is area over spacing^2 sqrt(3)/2.
    """
    ground = usable_ground(open_ground, context, knowledge)
    nothing = Polygon()
    around = Surroundings(yard["geometry"], nothing, nothing, nothing, nothing)
    kinds = _Kinds.read(needs.plants, knowledge)
    maker = _Maker(yard, fit, kinds, window, context, ground, around, None)
    household = household or Household()
    room = household.bed_room_m2(_open_m2(open_ground), bed_share_max)
    cell = math.sqrt(0.75) * kinds.spacing_m**2
    sites: list[BedSite] = []
    for form in ("herb", "tree", "shrub"):
        if ground[form].area < BED_LEAST_M2 or (form == "tree" and not (household.trees and trees_max)):
            continue
        crown = math.pi / 4 * kinds.spread_m**2
        many = np.floor(room / cell) if form == "herb" else 1.0 * (crown <= ground[form].area)
        if form == "tree" and not large_trees_max:
            many = np.where(kinds.height_m <= SMALL_TREE_M, many, 0.0)
        fits = (kinds.form == form) | ((form == "herb") & (kinds.form == "shrub"))
        capacity = np.where(fits, many, 0).astype(np.int64)
        largest = max(shapely.get_parts(ground[form]), key=lambda p: (round(p.area, 6), *p.bounds))
        sites.append(maker.site(len(sites), form, largest, capacity, {form: ground[form]}))
        if form == "herb":
            sites[-1] = replace(sites[-1], area_m2=room)
    return sites


def _open_m2(open_ground: pd.DataFrame) -> float:
    herb = open_ground.loc[open_ground["growth_form"] == "herb", "geometry"]
    return float(sum(g.area for g in herb if g is not None))


def _standing(context: YardContext, knowledge: Knowledge) -> BaseGeometry:
    if not len(context.existing):
        return Polygon()
    radius = standing_radius_m(context.existing, knowledge)
    return shapely.union_all(shapely.buffer(context.existing.geometry.to_numpy(), radius, quad_segs=4))


@dataclass(frozen=True, slots=True)
class _Kinds:
    """Growth form, spacing, mature spread and height [m] of the plants, in the order of ``Needs.plants``.

    climber : vines; vine : those of them that need a support.
    """

    form: NDArray[np.str_]
    spacing_m: NDArray[np.float64]
    spread_m: NDArray[np.float64]
    height_m: NDArray[np.float64]
    climber: NDArray[np.bool_]
    vine: NDArray[np.bool_]

    @classmethod
    def read(cls, plants: tuple[str, ...], knowledge: Knowledge) -> _Kinds:
        table = knowledge.plants.loc[list(plants)]
        form = np.array([GROWTH_FORM[str(f)] for f in table["form"]], str)
        spacing, spread, height = (
            table[name].to_numpy(float) for name in ("spacing_m", "spread_m", "height_m")
        )
        climber = table["form"].to_numpy(str) == "vine"
        return cls(form, spacing, spread, height, climber, climber & (height > NEEDS_SUPPORT_M))


@dataclass(frozen=True, slots=True)
class _Maker:
    """Makes bed sites of one yard out of polygons."""

    yard: pd.Series
    fit: Fit
    kinds: _Kinds
    window: SiteWindow
    context: YardContext
    ground: dict[str, BaseGeometry]
    around: Surroundings
    ways: Ways | None
    rooms: dict[tuple[str, float], BaseGeometry] = field(default_factory=dict)

    def _people(self) -> BaseGeometry:
        """Return walks, doors and play ground."""
        if self.ways is None:
            return walked(self.context.closed_ground)
        return shapely.union_all([self.ways.paving, self.ways.doors, self.ways.play])

    def border(self, site_id: int, bed: Candidate, trees: list[TreeSpot]) -> BedSite:
        """Return a border or an island, its plants not counted yet.

        It has stepping places where it is too wide to be reached.
        """
        stones = self._stepping(bed.polygon)
        trunks = shapely.union_all([spot.at for spot in trees if spot.joins == site_id])
        kept = [*shapely.buffer(shapely.points(stones), CLEAR_M), trunks.buffer(TRUNK_CLEAR_M)]
        inner = bed.polygon.buffer(-STEM_INSET_M, join_style="mitre").difference(shapely.union_all(kept))
        woody = inner.intersection(self.ground["shrub"]).difference(trunks.buffer(SHRUB_TO_TRUNK_M))
        ground = {"herb": inner, "shrub": woody}
        back = _towards(bed.polygon, bed.line) if bed.backed else (0.0, 0.0)
        uncounted = np.zeros(len(self.kinds.form), np.int64)
        site = self.site(site_id, "herb", bed.polygon, uncounted, ground, back)
        return replace(site, stepping=stones)

    def whole(self, site_id: int, polygon: Polygon) -> BedSite:
        """Return a bed of a given outline, with stepping places where it is too wide to be reached."""
        stones = self._stepping(polygon)
        kept = shapely.union_all(shapely.buffer(shapely.points(stones), CLEAR_M))
        inset = min(STEM_INSET_M, sides_m(polygon)[1] / 8)
        inner = polygon.buffer(-inset, join_style="mitre").difference(kept)
        ground = {"herb": inner, "shrub": inner.intersection(self.ground["shrub"])}
        site = self.site(site_id, "herb", polygon, self._capacity(ground), ground)
        return replace(site, stepping=stones)

    def _stepping(self, bed: Polygon) -> NDArray[np.float64]:
        if self.ways is None:
            return np.empty((0, 2))
        feet = standing_room(self.ways.feet, shapely.union_all(self.around.beds))
        return stepping_places(bed, feet)

    def spot(self, site_id: int, spots: list[TreeSpot], k: int, form: str, *, large: bool) -> BedSite:
        """Return one of the places for a tree or tall shrub, with the ring of ground around it.

        What of the ring lies in the bed or ring that it joins is planted with that, and is none of its own.
        """
        spot, kinds = spots[k], self.kinds
        ring = spot.at.buffer(RING_M, quad_segs=8)
        has_room = tree_fits if form == "tree" else shrub_fits
        fits = (kinds.form == form) & ~kinds.climber
        fits &= has_room(spot, self.around, kinds.height_m, kinds.spread_m)
        fits &= large | (form == "shrub") | (kinds.height_m <= SMALL_TREE_M)
        if spot.beside is not None or any(other.beside == k for other in spots):
            fits &= kinds.spacing_m <= PAIR_M
        joins, shared = spot.joins, None if spot.joins is None else self.around.beds[spot.joins]
        if spot.beside is not None:
            joins, shared = site_id - k + spot.beside, spots[spot.beside].at.buffer(RING_M, quad_segs=8)
            ring = shapely.union_all([ring, shared]).convex_hull
        low = ring.buffer(-STEM_INSET_M).difference(spot.at.buffer(TRUNK_CLEAR_M))
        if shared is not None:
            low = low.difference(shared)
        ground = {
            form: spot.at.buffer(STEM_M, quad_segs=4),
            "herb": low,
            "ring": ring,
            "around": self.ground["herb"].intersection(ring.buffer(RING_M)),
        }
        around = self._capacity({"herb": low, "shrub": Polygon()})
        capacity = np.where(kinds.form == "herb", around * (kinds.height_m <= RING_HERB_M), fits)
        site = self.site(site_id, form, spot.crown, capacity.astype(np.int64), ground)
        rows, cols, _ = cell_weights(ring, self.window.grid)
        cells = read_cells(self.window.grid, self.window.values, rows, cols)
        return replace(site, joins=joins, cells=cells)

    def vine_place(self, bed: BedSite) -> tuple[Point, float] | None:
        """Return where in a border a vine may stand, near a wall or fence, and its widest spread [m]."""
        hard = shapely.union_all([self.around.walls, self.around.fences, self.yard["geometry"].boundary])
        if bed.back == (0.0, 0.0):
            return None
        rooms = [self._room("shrub", spread) for spread in SPREADS_M]
        ground = bed.ground["shrub"].buffer(-VINE_RADIUS_M)
        along, tall = np.array(bed.along), np.array([0.0, 1.0 if self.context.latitude_deg >= 0 else -1.0])
        along = along if along @ (tall + 0.5 * np.array(bed.back)) <= 0 else -along
        return vine_place(bed.polygon, ground, rooms, hard, along)

    def measured(self, site: BedSite, vine: Point | None) -> BedSite:
        """Return a bed site with its capacity; plants leave room around a vine and its support."""
        ground = site.ground
        if vine is not None:
            ground = {form: shape.difference(vine.buffer(PANEL_M)) for form, shape in ground.items()}
        return replace(site, ground=ground, capacity=self._capacity(ground))

    def vine(self, site_id: int, bed: BedSite, at: Point, spread_m: float) -> BedSite:
        """Return a place for one vine with its support, in a border."""
        fits = self.kinds.vine & (self.kinds.spread_m <= spread_m + 1e-9)
        ground = {
            "shrub": at.buffer(VINE_RADIUS_M, quad_segs=4),
            "herb": at.buffer(PANEL_M, quad_segs=4).intersection(bed.polygon),
            "around": bed.polygon,
        }
        disc = at.buffer(PANEL_M, quad_segs=8)
        site = self.site(site_id, "shrub", disc, fits.astype(np.int64), ground, bed.back)
        return replace(site, joins=bed.site_id)

    def _capacity(self, ground: dict[str, BaseGeometry]) -> NDArray[np.int64]:
        """Return how many plants of each kind fill a border alone; no vines, which climb over the others."""
        form, spacing, spread = self.kinds.form, self.kinds.spacing_m, self.kinds.spread_m
        out = np.zeros(len(form), np.int64)
        for kind in ("herb", "shrub"):
            if ground[kind].is_empty:
                continue
            # Crowns narrower than the way to the yard's edge (and the walls) make no difference to it.
            crown = np.maximum(spread, 2 * self._clearance(kind, ground[kind]))
            for width in np.unique(crown[form == kind]):
                same = (form == kind) & (crown == width) & ~self.kinds.climber
                if not same.any():
                    continue
                region = ground[kind].intersection(self._room(kind, float(spread[same].max())))
                if region.is_empty:
                    break  # wider crowns have no room either
                wanted, where = np.unique(spacing[same], return_inverse=True)
                out[same] = count_plants(region, wanted)[where]
        return out

    def _clearance(self, form: str, ground: BaseGeometry) -> float:
        """Return how far [m] a bed's ground is from what crowns of a growth form stay off."""
        clear = float(shapely.distance(ground, self.yard["geometry"].boundary))
        walls = self.around.walls
        if form == "herb" or walls.is_empty:
            return clear
        return min(clear, float(shapely.distance(ground, walls)))

    def _room(self, form: str, spread_m: float) -> BaseGeometry:
        key = (form, spread_m)
        if key not in self.rooms:
            self.rooms[key] = crown_room(self.yard["geometry"], self.around.walls, form, spread_m)
        return self.rooms[key]

    def site(
        self,
        site_id: int,
        form: str,
        polygon: Polygon,
        capacity: NDArray[np.int64],
        ground: dict[str, BaseGeometry],
        back: tuple[float, float] = (0.0, 0.0),
    ) -> BedSite:
        """Return a bed site with fit, limits and sun worked out for its ground."""
        cells = polygon if form == "herb" else next(iter(ground.values()))
        rows, cols, weight = cell_weights(cells, self.window.grid)
        low = self.fit.low[:, rows, cols].astype(float) / 255.0 @ weight
        sun_h = known_sun_h(self.window, rows, cols, weight)
        closed = self.context.closed_ground
        return BedSite(
            site_id=site_id,
            growth_form=form,
            polygon=polygon,
            area_m2=float(polygon.area),
            sun_h_mean=sun_h,
            fit=low,
            limiting=costliest(self.fit.low[:, rows, cols], self.fit.limiting[:, rows, cols], weight),
            capacity=capacity,
            height_max_m=_height_max(cells, self.context.height_limits),
            closed_to_hosts=_closed_to_hosts(cells, self.yard, self.context.host_limits),
            ground=ground,
            keep_clear=self.around.walls,
            along=bed_axis(polygon),
            back=back,
            cells=read_cells(self.window.grid, self.window.values, rows, cols),
            people=self._people(),
            around=containing(cells, self.ground["herb"], closed, sun_h),
        )


def _towards(polygon: Polygon, line: LineString) -> tuple[float, float]:
    """Return the unit vector from a bed's middle to the line that it follows."""
    at = line.interpolate(line.project(polygon.centroid))
    offset = np.array([at.x - polygon.centroid.x, at.y - polygon.centroid.y])
    back = offset / max(float(np.hypot(*offset)), 1e-9)
    return float(back[0]), float(back[1])


def plant_region(
    ground: BaseGeometry, yard: BaseGeometry, walls: BaseGeometry | None, form: str, spread_m: float
) -> BaseGeometry:
    """Return where in a bed's ground stems may stand so that crowns stay inside the yard and off walls."""
    return ground.intersection(crown_room(yard, walls, form, spread_m))


def crown_room(yard: BaseGeometry, walls: BaseGeometry | None, form: str, spread_m: float) -> BaseGeometry:
    """Return where in a yard a crown of a mature spread [m] has room; herbs may touch walls."""
    # a coarse arc at an inner corner would let crowns out
    room: BaseGeometry = yard.buffer(-spread_m / 2, quad_segs=16)
    if form != "herb" and walls is not None and not walls.is_empty:
        more = SHRUB_TO_WALL_M if form == "shrub" else 0.0
        room = room.difference(walls.buffer(spread_m / 2 + more, quad_segs=16))
    return room


def _height_max(polygon: BaseGeometry, limits: pd.DataFrame) -> float:
    heights = [
        float(h)
        for g, h in zip(limits["geometry"], limits["height_max_m"], strict=True)
        if g is not None and g.intersects(polygon)
    ]
    return min(heights, default=math.inf)


def _closed_to_hosts(polygon: BaseGeometry, yard: pd.Series, limits: pd.DataFrame) -> str:
    if bool(yard.get("sprayed", False)):
        return "the yard is sprayed"
    reasons = [
        str(r)
        for g, r in zip(limits["geometry"], limits["reason"], strict=True)
        if g is not None and g.intersects(polygon)
    ]
    return "; ".join(dict.fromkeys(reasons))
