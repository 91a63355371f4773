"""Where beds could be in a yard: borders along its edges, and spots for single shrubs and trees."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from habitat.grid import Grid
from habitat.knowledge.tables import Knowledge
from habitat.planting.drawing.lattice import count_plants
from habitat.planting.sites import edges as strips
from habitat.planting.sites.edges import (
    RING_M,
    Surroundings,
    crown_obstacles,
    shrub_spots,
    standing_radius_m,
    tree_spots,
    usable_ground,
)
from habitat.planting.types import BedSite, YardContext
from habitat.site.types import GROWTH_FORM, SiteWindow
from habitat.suitability.types import NO_LIMIT, Fit, Needs

STEM_INSET_M = 0.1
"""Plants stand at least this far inside the edge of their bed: judgement."""

BED_MIN_M2 = 3.0
"""A smaller bed is not worth digging: judgement."""

BEDS_MAX = 4
"""Most borders offered in one yard, so that a household digs few beds, not many small ones: judgement; spots
for single shrubs and trees come on top."""

BED_GOOD_M2 = 8.0
"""A border this large holds host, nectar and shelter together (common practice asks for 10 m2 in all)."""

BED_GAP_M = 0.5
"""Path between two borders on one side."""


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A stretch of a side that could become a border, and its mean fit (plants,)."""

    polygon: Polygon
    line: LineString
    fit: NDArray[np.float64]


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
) -> list[BedSite]:
    """Return the places where beds of one yard could be.

    Parameters
    ----------
    yard
        Row of the yards: yard_id, geometry; sprayed (bool) if known.
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

    Returns
    -------
    list of BedSite
        Borders along the edges first ("herb"; shrubs may stand in them where the shrubs' open ground
        reaches), then "tree" and "shrub" spots; none overlap but crowns of trees over lawn. Empty if there is
        no room.
    """
    ground = usable_ground(open_ground, context, knowledge)
    borders = _borders(ground["herb"], fit, window.grid, bed_share_max, _open_m2(open_ground))
    beds = shapely.union_all([c.polygon for c in borders])
    around = Surroundings(yard["geometry"], crown_obstacles(context), _standing(context, knowledge), beds)
    shady = np.array([0.0, 1.0 if context.latitude_deg >= 0 else -1.0])
    trees = tree_spots(ground["tree"], around, shady)
    shrubs = shrub_spots(ground["shrub"], around, trees)
    kinds = _Kinds.read(needs.plants, knowledge)
    maker = _Maker(yard, fit, kinds, window, context, ground, around)
    sites = [maker.border(k, c) for k, c in enumerate(borders)]
    spots = [("tree", disc) for disc in trees] + [("shrub", disc) for disc in shrubs]
    return sites + [maker.spot(len(sites) + k, form, disc) for k, (form, disc) in enumerate(spots)]


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
) -> list[BedSite]:
    """Return bed sites by area alone, for studies without buildings: nothing may be drawn into them.

    Arguments as in ``make_bed_sites``. One site per growth form: herbs on ``bed_share_max`` of what could be
    open at most, one tree and one shrub where their ground is as large as their crown. Fit and sun are means
    over its largest piece; capacity is area over spacing^2 sqrt(3)/2.
    """
    ground = usable_ground(open_ground, context, knowledge)
    around = Surroundings(yard["geometry"], Polygon(), Polygon(), Polygon())
    kinds = _Kinds.read(needs.plants, knowledge)
    maker = _Maker(yard, fit, kinds, window, context, ground, around)
    room = bed_share_max * _open_m2(open_ground)
    cell = math.sqrt(0.75) * kinds.spacing_m**2
    sites: list[BedSite] = []
    for form in ("herb", "tree", "shrub"):
        if ground[form].area < BED_MIN_M2:
            continue
        crown = math.pi / 4 * kinds.spread_m**2
        many = np.floor(room / cell) if form == "herb" else 1.0 * (crown <= ground[form].area)
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


def _borders(ground: BaseGeometry, fit: Fit, grid: Grid, share: float, open_m2: float) -> list[_Candidate]:
    """Return borders, best first, whose area adds up to at most a share of the open ground."""
    room = share * open_m2
    depth = strips.BED_DEPTH_M if room >= BED_MIN_M2 * 2 else strips.BED_WIDTH_MIN_M
    found: list[_Candidate] = []
    used: BaseGeometry = Polygon()
    for part in shapely.get_parts(ground):
        if part.area < BED_MIN_M2 or part.buffer(-strips.BED_WIDTH_MIN_M / 2 + 1e-3).is_empty:
            continue
        for line in strips.sides(part):
            for candidate in _stretches(line, part, used, fit, grid, depth):
                found.append(candidate)
                used = used.union(candidate.polygon.buffer(BED_GAP_M, join_style="mitre"))
    return _choose(found, room)


def _stretches(
    line: LineString, part: Polygon, used: BaseGeometry, fit: Fit, grid: Grid, depth: float
) -> list[_Candidate]:
    points = strips.sample_points(line, depth)
    rows, cols = grid.rowcol(points[..., 0], points[..., 1])
    rows, cols = np.clip(rows, 0, grid.shape[0] - 1), np.clip(cols, 0, grid.shape[1] - 1)
    features = fit.low[:, rows, cols].mean(axis=2).T / 255.0
    out = []
    step = line.length / len(features)
    for start, stop in strips.cut_even(features, line.length):
        end_gap = BED_GAP_M / 2
        shape = strips.strip(
            line, start + end_gap * (start > 0), stop - end_gap * (stop < line.length - 1e-6), depth
        )
        free = shape.difference(used)
        polygon = strips.tidy(free, part) if free.area >= BED_MIN_M2 else Polygon()
        if polygon.area >= BED_MIN_M2:
            mean = features[round(start / step) : max(round(stop / step), round(start / step) + 1)].mean(
                axis=0
            )
            out.append(_Candidate(polygon, line, mean))
    return out


def _choose(found: list[_Candidate], room: float) -> list[_Candidate]:
    """Pick candidates one by one: what grows well there, and what grows there better than in those picked."""
    if not found or not len(found[0].fit):
        return []
    fits = np.stack([c.fit for c in found])
    top = np.sort(fits, axis=1)[:, :-11:-1].mean(axis=1)
    size = np.minimum(1.0, np.sqrt(np.array([c.polygon.area for c in found]) / BED_GOOD_M2))
    best = np.zeros(fits.shape[1])
    left, picked = list(range(len(found))), list[_Candidate]()
    while left and len(picked) < BEDS_MAX and room >= BED_MIN_M2:
        worth = (top[left] + np.maximum(fits[left] - best, 0.0).mean(axis=1)) * size[left]
        take = found[left.pop(int(np.argmax(np.round(worth, 6))))]
        if take.polygon.area > room:
            take = _shortened(take, room)
        if take.polygon.area < BED_MIN_M2 or take.polygon.area > room + 1e-9:
            continue
        picked.append(take)
        best = np.maximum(best, take.fit)
        room -= take.polygon.area
    return picked


def _shortened(candidate: _Candidate, room: float) -> _Candidate:
    """Return the candidate cut to an area: from the end of its side that is nearer to a corner."""
    start = min(candidate.line.project(p) for p in map(shapely.Point, candidate.polygon.exterior.coords))
    stop = max(candidate.line.project(p) for p in map(shapely.Point, candidate.polygon.exterior.coords))
    low, high = start, stop
    for _ in range(24):
        middle = (low + high) / 2
        piece = strips.strip(candidate.line, start, middle, 2 * strips.BED_DEPTH_M).intersection(
            candidate.polygon
        )
        low, high = (middle, high) if piece.area <= room else (low, middle)
    shape = strips.strip(candidate.line, start, max(low, start + 1e-3), 2 * strips.BED_DEPTH_M)
    return _Candidate(strips.tidy(shape, candidate.polygon), candidate.line, candidate.fit)


@dataclass(frozen=True, slots=True)
class _Kinds:
    """Growth form, spacing and mature spread [m] of the plants, in the order of ``Needs.plants``."""

    form: NDArray[np.str_]
    spacing_m: NDArray[np.float64]
    spread_m: NDArray[np.float64]

    @classmethod
    def read(cls, plants: tuple[str, ...], knowledge: Knowledge) -> _Kinds:
        table = knowledge.plants.loc[list(plants)]
        form = np.array([GROWTH_FORM[str(f)] for f in table["form"]], str)
        return cls(form, table["spacing_m"].to_numpy(float), table["spread_m"].to_numpy(float))


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
    rooms: dict[tuple[str, float], BaseGeometry] = field(default_factory=dict)

    def border(self, site_id: int, candidate: _Candidate) -> BedSite:
        inner = candidate.polygon.buffer(-STEM_INSET_M, join_style="mitre")
        ground = {"herb": inner, "shrub": inner.intersection(self.ground["shrub"])}
        at = candidate.line.interpolate(candidate.line.project(candidate.polygon.centroid))
        offset = np.array([at.x - candidate.polygon.centroid.x, at.y - candidate.polygon.centroid.y])
        back = offset / max(float(np.hypot(*offset)), 1e-9)
        capacity = self._capacity(ground)
        return self.site(
            site_id, "herb", candidate.polygon, capacity, ground, (float(back[0]), float(back[1]))
        )

    def spot(self, site_id: int, form: str, disc: Polygon) -> BedSite:
        radius = math.sqrt(disc.area / math.pi) + 1e-2
        capacity = ((self.kinds.form == form) & (self.kinds.spread_m / 2 <= radius)).astype(np.int64)
        ring = disc.centroid.buffer(RING_M, quad_segs=8)
        return self.site(site_id, form, disc, capacity, {form: ring})

    def _capacity(self, ground: dict[str, BaseGeometry]) -> NDArray[np.int64]:
        """Return how many plants of each kind fill a border alone."""
        form, spacing, spread = self.kinds.form, self.kinds.spacing_m, self.kinds.spread_m
        out = np.zeros(len(form), np.int64)
        for kind in ("herb", "shrub"):
            if ground[kind].is_empty:
                continue
            # Crowns narrower than the way to the yard's edge (and the walls) make no difference to it.
            crown = np.maximum(spread, 2 * self._clearance(kind, ground[kind]))
            for width in np.unique(crown[form == kind]):
                same = (form == kind) & (crown == width)
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
        return BedSite(
            site_id=site_id,
            growth_form=form,
            polygon=polygon,
            area_m2=float(polygon.area),
            sun_h_mean=_known_mean(self.window, rows, cols, weight),
            fit=low,
            limiting=limiting_mode(self.fit.limiting[:, rows, cols], weight),
            capacity=capacity,
            height_max_m=_height_max(cells, self.context.height_limits),
            closed_to_hosts=_closed_to_hosts(cells, self.yard, self.context.host_limits),
            ground=ground,
            keep_clear=self.around.walls,
            along=long_axis(polygon),
            back=back,
        )


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
        room = room.difference(walls.buffer(spread_m / 2, quad_segs=4))
    return room


def cell_weights(
    polygon: BaseGeometry, grid: Grid
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
    """Return rows, columns and weights of the cells under a polygon, by 4 x 4 samples a cell; sum 1."""
    rows, cols = grid.window(polygon.bounds)
    part = grid.crop(rows, cols)
    offsets = (np.arange(4) - 1.5) / 4 * grid.cell_m
    x = (part.x[:, None] + offsets).ravel()
    y = (part.y[:, None] - offsets).ravel()
    xx, yy = np.meshgrid(x, y)
    shapely.prepare(polygon)
    inside = shapely.contains_xy(polygon, xx, yy).reshape(len(part.y), 4, len(part.x), 4).sum(axis=(1, 3))
    r, c = np.nonzero(inside)
    if not len(r):
        row, col = grid.rowcol([polygon.centroid.x], [polygon.centroid.y])
        limit = (grid.shape[0] - 1, grid.shape[1] - 1)
        return np.clip(row, 0, limit[0]), np.clip(col, 0, limit[1]), np.ones(1)
    return r + rows.start, c + cols.start, inside[r, c] / inside.sum()


def long_axis(polygon: Polygon) -> tuple[float, float]:
    """Return the unit vector, pointing east, along the longer side of the smallest rectangle around."""
    corners = shapely.get_coordinates(shapely.oriented_envelope(polygon))
    edges = np.diff(corners[:3], axis=0)
    edge = edges[int(np.argmax(np.round(np.hypot(edges[:, 0], edges[:, 1]), 6)))]
    edge = edge / max(float(np.hypot(*edge)), 1e-12)
    if edge[0] < -1e-9 or (abs(edge[0]) <= 1e-9 and edge[1] < 0):
        edge = -edge
    return float(edge[0]), float(edge[1])


def _known_mean(
    window: SiteWindow, rows: NDArray[np.int64], cols: NDArray[np.int64], weight: NDArray[np.float64]
) -> float:
    if "sun_h" not in window.values:
        return math.nan
    sun = window.values["sun_h"][rows, cols].astype(float)
    known = ~np.isnan(sun)
    return float(np.average(sun[known], weights=weight[known])) if known.any() else math.nan


def limiting_mode(codes: NDArray[np.uint8], weight: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Return per plant the code that limits most of the area, ties to the first in the order of NEEDS."""
    kinds = np.unique(codes)
    if not len(kinds):
        return np.full(len(codes), NO_LIMIT, np.uint8)
    share = np.stack([(codes == kind) @ weight for kind in kinds], axis=1)
    return kinds[np.argmax(np.round(share, 9), axis=1)].astype(np.uint8)


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
