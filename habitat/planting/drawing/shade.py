"""The plan's own trees and tall shrubs: chosen first, then grown, and the light that they leave to the rest.

A first choice among all plants says which trees and tall shrubs come, and where. The sun is worked out once
more with them at mature size. They then stand for good, and the rest is chosen in the light that is left. A
plant whose class falls in their shade is kept out of that place, unless the settings allow it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from pyproj import CRS
from shapely.geometry.base import BaseGeometry

from habitat.arrays import Flags
from habitat.factors import FACTORS
from habitat.knowledge import Knowledge
from habitat.planting.drawing.judged import uncovered
from habitat.planting.sites.cells import cell_weights, costliest, read_cells
from habitat.planting.sites.woody import TALL_SHRUB_M
from habitat.planting.tables import YardPlan
from habitat.planting.types import Allocation, BedSite, Cells, Grown
from habitat.remarks import Remark, remark
from habitat.site.planned import rasters_with_trees, standing_on
from habitat.site.types import Site
from habitat.suitability import fit
from habitat.suitability.classes import class_number
from habitat.suitability.types import Fit, Needs

RING_SUN_H = 4.0
"""Low plants around a new trunk do well with this much sun [h a day] or less: part shade begins at four hours
(common practice)."""

LEAF_MONTHS = ("leaf_start_month", "leaf_end_month")
"""Columns of the plants table; evergreens are in leaf from 1 to 12."""

Rasters = dict[str, NDArray[np.float32]]


def tall_plants(knowledge: Knowledge) -> frozenset[str]:
    """Return trees, and shrubs taller than ``TALL_SHRUB_M``; vines have no crown of their own."""
    table = knowledge.plants
    tall = (table["form"] == "tree") | ((table["form"] == "shrub") & (table["height_m"] > TALL_SHRUB_M))
    return frozenset(table.index[tall])


def trees_come_first(site: Site, bed_sites: Iterable[Sequence[BedSite]]) -> bool:
    """Return whether trees are still to be chosen, and whether there are heights to cast their shade.

    Parameters
    ----------
    site
        What each place offers.
    bed_sites
        Places for beds, yard by yard.
    """
    chosen = any(bed.grown is not None for beds in bed_sites for bed in beds)
    return site.placeable and site.relief is not None and not chosen


def let_trees_grow(
    plans: Sequence[YardPlan],
    site: Site,
    needs: Needs,
    knowledge: Knowledge,
    *,
    allow_falling_class: bool = False,
    others: gpd.GeoDataFrame | None = None,
    members: Collection[str] | None = None,
) -> list[list[BedSite]]:
    """Return each plan's bed sites with the trees and tall shrubs standing and grown.

    Parameters
    ----------
    plans
        A first choice among all plants.
    site
        What each place offers, with the heights that its sun was worked out from.
    needs, knowledge
        Needs of the plants planned with, and the plant tables.
    allow_falling_class
        Whether a plant may stand where the trees' shade lowers its class.
    others
        ``plant_points`` of plans that stay as they are, whose trees shade too.
    members
        Yards whose trees are planted for sure: these alone shade each other. Left out, all.

    Returns
    -------
    list
        Bed sites per plan.
    """
    sure = [plan for plan in plans if members is None or plan.choice.yard_id in members]
    groups = {len(some): some for some in (sure, plans)}  # one where all are sure
    lights = {
        n: _light(some, site, needs, knowledge, others, allow_falling_class) for n, some in groups.items()
    }
    out = []
    for plan in plans:
        light = lights[len(sure if members is None or plan.choice.yard_id in members else plans)]
        out.append([light.regrown(bed, plan) for bed in plan.sites])
    return out


def _light(
    plans: Sequence[YardPlan],
    site: Site,
    needs: Needs,
    knowledge: Knowledge,
    others: gpd.GeoDataFrame | None,
    allow_falling_class: bool,
) -> _Light:
    """Return what places offer before and after the trees of some plans have grown."""
    tall = tall_plants(knowledge)
    trees = _trees(plans, tall, knowledge, site.grid.crs)
    if others is not None and len(others):
        trees = pd.concat([trees, _tall_of(others, tall, knowledge)], ignore_index=True)
    grown = rasters_with_trees(site, trees) if len(trees) else site.rasters
    return _Light(
        site,
        needs,
        grown,
        {str(plant): float(m) for plant, m in knowledge.plants["spread_m"].items()},
        np.isin(needs.plants, sorted(tall)),
        {p: k for k, p in enumerate(needs.plants)},
        allow_falling_class,
    )


def with_plan_trees(site: Site, points: gpd.GeoDataFrame, knowledge: Knowledge) -> Site:
    """Return a site whose heights, and nothing else, hold a plan's trees and tall shrubs as grown.

    ``points`` are ``plant_points`` of the plan.
    """
    return standing_on(site, _tall_of(points, tall_plants(knowledge), knowledge))


def _tall_of(points: gpd.GeoDataFrame, tall: frozenset[str], knowledge: Knowledge) -> gpd.GeoDataFrame:
    """Return the trees and tall shrubs among ``plant_points``, as the sun takes them."""
    mine = points[points["plant"].isin(tall)]
    leaves = {c: mine["plant"].map(knowledge.plants[c]).astype(int) for c in LEAF_MONTHS}
    return mine[["height_m", "crown_m", "geometry"]].assign(**leaves)


def _trees(
    plans: Sequence[YardPlan], tall: frozenset[str], knowledge: Knowledge, crs: CRS
) -> gpd.GeoDataFrame:
    """Return the trees and tall shrubs of the plans at mature size, as the sun takes them."""
    blocks = [block for plan in plans for block in plan.drawing.points if block.plant in tall]
    leaves = {c: knowledge.plants[c].astype(int).to_dict() for c in LEAF_MONTHS}
    count = [len(block.xy) for block in blocks]
    columns = {
        "height_m": np.repeat([block.height_m for block in blocks], count),
        "crown_m": np.repeat([block.crown_m for block in blocks], count),
        **{c: np.repeat([leaves[c][block.plant] for block in blocks], count) for c in LEAF_MONTHS},
    }
    places = shapely.points(np.vstack([np.empty((0, 2)), *(block.xy for block in blocks)]))
    return gpd.GeoDataFrame(columns, geometry=places, crs=crs)


@dataclass(frozen=True, slots=True)
class _Light:
    """What places offer before and after the trees have grown, and which of the plants (P,) are tall.

    spread_m : plant -> mature spread. order : plant -> its place in ``Needs.plants``.
    """

    site: Site
    needs: Needs
    after: Rasters
    spread_m: dict[str, float]
    tall: NDArray[np.bool_]
    order: dict[str, int]
    allow_falling_class: bool

    def regrown(self, site: BedSite, plan: YardPlan) -> BedSite:
        """Return a bed site in the light that the trees leave; what stands in it keeps its own fit."""
        needs = self.needs.exactly(self.site.tested_in(plan.choice.yard_id))
        chosen = [a for a in plan.choice.allocations if a.site_id == site.site_id]
        at = {a.plant: _places(site, a, plan) for a in chosen if self.tall[self.order[a.plant]]}
        at = {plant: xy for plant, xy in at.items() if len(xy)}
        fixed = tuple(_as_drawn(a, len(at[a.plant])) for a in chosen if a.plant in at)
        today_h = site.sun_h_mean
        rows, cols, weight = cell_weights(_rest(site, at, self.spread_m), self.site.grid)
        lit: Rasters = {name: raster[rows, cols][None, :] for name, raster in self.after.items()}
        was: Rasters = {name: raster[rows, cols][None, :] for name, raster in self.site.rasters.items()}
        same = all(np.array_equal(lit[name], was[name], equal_nan=True) for name in lit)
        # A ring is planted for today's light, with herbs that bear the shade its tree takes years to cast.
        same |= site.ringed and bool(fixed)
        before = class_after = class_number(site.fit, needs.class_limits)
        if not same:
            scores = fit(needs, lit, shape=(1, len(rows)))
            old = _mean(fit(needs, was, shape=(1, len(rows))), weight)
            before = class_number(old, needs.class_limits)
            new = _mean(scores, weight)
            class_after = class_number(new, needs.class_limits)
            limiting = costliest(scores.low[:, 0, :], scores.limiting[:, 0, :], weight)
            own = [self.order[a.plant] for a in fixed]
            new[own], limiting[own] = site.fit[own], site.limiting[own]
            site = replace(site, fit=new, limiting=limiting, sun_h_mean=_sun(lit, weight))
        falls = (class_after > before) & ~self.tall
        grown = Grown(
            fixed=fixed,
            at=at,
            class_before=before,
            class_after=class_after,
            falls=falls,
            kept_out=self.tall
            | (falls & (not self.allow_falling_class))
            | (self.needs_sun() & (site.ringed and bool(fixed))),
            first=frozenset(a.plant for a in chosen if a.plant not in at and not site.ringed),
            sun_before_h=today_h,
            cells_before=site.cells,
        )
        return replace(
            site, grown=grown, cells=site.cells if site.ringed and fixed else self._lit(site.cells)
        )

    def needs_sun(self) -> Flags:
        """Return which plants (P,) do well only with more sun than ``RING_SUN_H``."""
        ranges = self.needs.tables["ranges"][:, FACTORS.names.index("sun_h")]
        return np.asarray(ranges[:, 1] > RING_SUN_H, bool)

    def _lit(self, cells: Cells | None) -> Cells | None:
        """Return what cells offer once the trees have grown."""
        if cells is None:
            return None
        rows, cols = self.site.grid.rowcol(cells.x, cells.y)
        return read_cells(self.site.grid, self.after, rows, cols)


def _places(site: BedSite, allocation: Allocation, plan: YardPlan) -> NDArray[np.float64]:
    """Return the points (n, 2) of one allocation as drawn."""
    mine = [block.xy for block in plan.drawing.points if block.plant == allocation.plant]
    xy = np.vstack([np.empty((0, 2)), *mine])
    ground = site.polygon if site.growth_form == "herb" else site.ground[site.growth_form]
    return np.asarray(xy[shapely.dwithin(shapely.points(xy), ground, 1e-6)], float)


def _as_drawn(allocation: Allocation, count: int) -> Allocation:
    return replace(allocation, count=count, cost=round(allocation.cost * count / allocation.count, 2))


def _rest(site: BedSite, at: dict[str, NDArray[np.float64]], spread_m: dict[str, float]) -> BaseGeometry:
    """Return the ground whose light counts: of a bed, what its own tall shrubs leave uncovered."""
    if site.growth_form != "herb":
        return site.ground[site.growth_form]
    return uncovered(site.polygon, at, spread_m)


def _mean(scores: Fit, weight: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(scores.low[:, 0, :].astype(float) / 255.0 @ weight, float)


def _sun(values: Rasters, weight: NDArray[np.float64]) -> float:
    if "sun_h" not in values:
        return float("nan")
    sun = values["sun_h"][0].astype(float)
    known = ~np.isnan(sun)
    return float(np.average(sun[known], weights=weight[known])) if known.any() else float("nan")


def shade_notes(
    plans: Sequence[YardPlan],
    knowledge: Knowledge,
    others: gpd.GeoDataFrame | None = None,
    told: Iterable[Remark] = (),
) -> tuple[Remark, ...]:
    """Return what the plan's own trees do to the rest, or that nobody worked it out.

    ``others`` are ``plant_points`` of plans that stay as they are, and ``told`` what these yards were told.
    """
    tall = tall_plants(knowledge)
    woody = sum(a.count for plan in plans for a in plan.choice.allocations if a.plant in tall)
    woody += 0 if others is None else int(others["plant"].isin(tall).sum())
    if not woody or not plans:  # of plans that stay, it was told when they were made
        return ()
    if not any(site.grown is not None for plan in plans for site in plan.sites):
        return (remark("own_shade_unknown", count=woody),)
    said = [*told, *(line for plan in plans for line in plan.choice.relaxed)]
    out = sum(line.kind == "shaded_out" for line in said)
    return (remark("own_shade_counted", count=woody, kept_out=out),)
