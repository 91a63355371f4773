"""One yard's share of the work, cut out of the layers so that any process can do it alone."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import geopandas as gpd
import pandas as pd
from pyproj import Transformer

from habitat.knowledge.tables import Knowledge
from habitat.planting.bed_sites import make_bed_sites, make_unplaced_sites
from habitat.planting.draw import DrawingBoard, draw_choice, undrawn_choice
from habitat.planting.facts import Facts, month_bits
from habitat.planting.grown import standing_fit
from habitat.planting.problem import Standing, YardProblem, YardWishes, make_problem
from habitat.planting.standing import StandingFacts, standing_plants
from habitat.planting.types import BedSite, Choice, Drawn, PlantingRequest, YardContext
from habitat.site.types import SiteWindow
from habitat.study import Study
from habitat.suitability import fit
from habitat.suitability.types import Needs

MARGIN_M = 2.0
"""Window around a yard, so that cells cut by its edge are there."""


@dataclass(frozen=True, slots=True)
class YardJob:
    """What planning one yard takes beside what all yards share; ``sites`` if they are known already."""

    yard: pd.Series
    open_ground: gpd.GeoDataFrame
    window: SiteWindow
    context: YardContext
    wishes: YardWishes
    sites: list[BedSite] | None = None


@dataclass(frozen=True, slots=True)
class Shared:
    """What all yards share; sent to each process once."""

    study: Study
    knowledge: Knowledge
    needs: Needs
    facts: Facts
    standing: StandingFacts
    placeable: bool


@dataclass(frozen=True, slots=True)
class PreparedYard:
    """A yard whose bed sites are found: ready to choose for, any number of times."""

    job: YardJob
    sites: list[BedSite]
    standing: Standing


def yard_jobs(request: PlantingRequest) -> Iterator[YardJob]:
    """Yield the jobs of a request, in the order of its yards."""
    layers, site = request.layers, request.site
    yards = layers.yards.set_index("yard_id", drop=False)
    names = ("open_ground", "closed_ground", "height_limits", "host_limits")
    tables = {name: _by_yard(getattr(site, name)) for name in names}
    existing = request.existing.assign(fit=standing_fit(request.existing, site, request.needs))
    tables["existing"] = _by_yard(existing)
    empty = {name: getattr(site, name).iloc[:0] for name in names} | {"existing": existing.iloc[:0]}
    latitude, keep = _latitude_deg(layers.yards), layers.frame("keep")
    for yard_id in request.yard_ids:
        yard = yards.loc[yard_id]
        rows = {name: table.get(yard_id, empty[name]) for name, table in tables.items()}
        bounds = yard["geometry"].buffer(MARGIN_M).bounds
        context = YardContext(
            latitude_deg=latitude,
            closed_ground=rows["closed_ground"],
            height_limits=rows["height_limits"],
            host_limits=rows["host_limits"],
            existing=rows["existing"],
            keep=None if keep is None else keep[keep.intersects(yard["geometry"])],
        )
        sites = request.bed_sites.get(yard_id)
        yield YardJob(yard, rows["open_ground"], site.window(bounds), context, _wishes(request, yard), sites)


def _by_yard(table: gpd.GeoDataFrame) -> dict[str, gpd.GeoDataFrame]:
    if not len(table):
        return {}
    return {str(yard_id): rows for yard_id, rows in table.groupby("yard_id", sort=False)}


def _latitude_deg(yards: gpd.GeoDataFrame) -> float:
    west, south, east, north = yards.total_bounds
    to_degrees = Transformer.from_crs(yards.crs, 4326, always_xy=True)
    return float(to_degrees.transform((west + east) / 2, (south + north) / 2)[1])


def _wishes(request: PlantingRequest, yard: pd.Series) -> YardWishes:
    settings, yard_id = request.study.planting, str(yard["yard_id"])
    return YardWishes(
        yard_id=yard_id,
        budget=_number(yard, "budget", settings.budget) * phase_share(settings.phases),
        max_height_m=_number(yard, "max_height_m", math.inf),
        children=bool(yard.get("children", False)),
        pets=bool(yard.get("pets", False)),
        sprayed=bool(yard.get("sprayed", False)),
        weights={b: request.weights[yard_id, b] for b in request.wishes if (yard_id, b) in request.weights},
        neighbour_months=month_bits(request.neighbour_nectar.get(yard_id, frozenset())),
    )


def _number(yard: pd.Series, column: str, default: float) -> float:
    value = yard.get(column)
    return default if value is None or pd.isna(value) else float(value)


def phase_share(phases: list[float]) -> float:
    """Return the share of the money that the phases spend in all; 1 without phases."""
    return min(1.0, math.fsum(phases)) if phases else 1.0


def prepare_yard(job: YardJob, shared: Shared) -> PreparedYard:
    """Find the bed sites of a yard, unless they are known, and what stands in it."""
    standing = standing_plants(job.context.existing, shared.standing, sprayed=job.wishes.sprayed)
    if job.sites is not None:
        return PreparedYard(job, job.sites, standing)
    scores = fit(shared.needs, job.window.values, shape=job.window.grid.shape)
    find = make_bed_sites if shared.placeable else make_unplaced_sites
    sites = find(
        job.yard,
        job.open_ground,
        scores,
        shared.needs,
        job.window,
        study=shared.study,
        knowledge=shared.knowledge,
        context=job.context,
    )
    return PreparedYard(job, sites, standing)


def problem_of(prepared: PreparedYard, shared: Shared) -> YardProblem:
    """Return the program of a prepared yard."""
    return make_problem(
        prepared.job.wishes,
        prepared.sites,
        shared.facts,
        shared.study.planting,
        shared.needs.class_limits[2],
        standing=prepared.standing,
    )


def draw_yard(prepared: PreparedYard, choice: Choice, shared: Shared) -> Drawn:
    """Draw a choice, or list it without places where the study has no buildings."""
    job = prepared.job
    board = DrawingBoard(
        job.yard, shared.needs.plants, shared.knowledge, job.open_ground.crs, job.context.latitude_deg
    )
    draw = draw_choice if shared.placeable else undrawn_choice
    return draw(board, prepared.sites, choice)
