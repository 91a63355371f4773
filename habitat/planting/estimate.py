"""Habitat that plans would bring, estimated for many yards: the yard's own program over typical beds.

No place for a bed is looked for, nothing is drawn, and the shade of new trees is left out. What counts beside
the money, the growers' stock, what stands there and what the yard is fond of, is how well plants fit at its
lighter and its darker ground; by that the beds differ.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely.geometry import Point, Polygon, box

from habitat.arrays import Flags, Floats
from habitat.executor import Executor
from habitat.knowledge.tables import Knowledge
from habitat.planting.choice.problem import (
    Standing,
    YardWishes,
    make_problem,
    read_standing_facts,
)
from habitat.planting.communities.choose import estimated_habitat_m2
from habitat.planting.communities.habits import GROUND, share_ground
from habitat.planting.communities.rules import rules_of
from habitat.planting.plan_yards import read_shared
from habitat.planting.sites.bed_sites import SHRUB_SPOTS
from habitat.planting.sites.borders import BED_LEAST_M2, BED_WISHED_M2, BEDS_MOST, DEPTHS_M
from habitat.planting.sites.edges import BED_LENGTH_M
from habitat.planting.sites.woody import SMALL_TREE_M
from habitat.planting.standing import standing_fit
from habitat.planting.types import BedSite
from habitat.planting.yard_jobs import Shared, standing_by_yard, yard_wishes
from habitat.settings.planting import PlantingSettings
from habitat.site.types import Site
from habitat.suitability import fit
from habitat.suitability.types import Needs

SPOTS_A_YARD = 200
"""Places of a yard's open ground at which the fit is looked up."""
LIGHTS = 8
"""Parts of a yard's open ground by its sun, alike in size."""
LIGHT = 5
"""The part, counted from the darkest, whose light trees and tall shrubs get."""
FILLED = 0.9
"""Share of a bed that plants stand on, inside its edge: judgement."""
RING_M2 = 3.1
"""Ground for low plants around a new tree or tall shrub in a place of its own: judgement."""
UNLIKE = 0.2
"""How far the sizes of a yard's beds lie from their mean, so that less money buys part of one: judgement."""
TREE_GROUND_M2 = (6.0, 20.0, 90.0, 150.0)
"""Open ground of trees from which a yard has a place for one tree, for two, for a tall shrub beside them, for
two: judgement, by places found in random yards."""
AROUND = ("mown_edge", "mowing", "lawn", "sun")
"""What lies around a bed of most yards, and holds plants that spread: judgement."""


@dataclass(frozen=True, slots=True)
class EstimateJob:
    """One yard: what it brings, what stands there, its open ground [m2], and the fit (P,) by its light.

    open_m2, tree_m2 : open ground of herbs, and of trees, which have wider setbacks.
    fits : of parts of the open ground alike in size, from the darkest to the lightest; none without any.
    """

    wishes: YardWishes
    standing: Standing
    open_m2: float
    tree_m2: float
    fits: tuple[Floats, ...]


def estimate_habitat(
    yards: gpd.GeoDataFrame,
    site: Site,
    existing: gpd.GeoDataFrame,
    *,
    knowledge: Knowledge,
    needs: Needs,
    settings: PlantingSettings,
    wishes: Sequence[str],
    season: tuple[int, int],
    seed: int = 0,
    yard_ids: Sequence[str],
    growers: pd.DataFrame | None = None,
    settings_file: str = "",
    executor: Executor | None = None,
) -> pd.DataFrame:
    """Return the habitat [m2] that a plan of each yard would bring, what stands there included.

    Parameters
    ----------
    yards, site, existing, knowledge, needs, settings, wishes, season, seed, growers, settings_file
        As ``plan_yards`` takes them. Each yard chooses as if all the growers' stock were its own.
    yard_ids
        Whom to estimate.
    executor
        Who does the work of single yards; left out, this process does.

    Returns
    -------
    DataFrame
        Indexed by yard, a column per butterfly of ``wishes``. Equal for equal input and any number of
        processes.
    """
    shared, _ = read_shared(
        knowledge,
        needs,
        settings,
        wishes,
        season,
        growers=growers,
        settings_file=settings_file,
        seed=seed,
        placeable=site.placeable,
        latitude_deg=0.0,
    )
    jobs = _jobs(yards, site, existing.assign(fit=standing_fit(existing, site, needs)), yard_ids, shared)
    rows = list((executor or Executor()).map(estimate_for, jobs, shared))
    return pd.DataFrame(
        rows, index=pd.Index(list(yard_ids), name="yard_id"), columns=list(wishes), dtype=float
    )


def _jobs(
    yards: gpd.GeoDataFrame,
    site: Site,
    existing: gpd.GeoDataFrame,
    yard_ids: Sequence[str],
    shared: Shared,
) -> Iterator[EstimateJob]:
    """Yield what estimating each yard takes."""
    facts = shared.facts
    stock = {p: o.stock for p, o in zip(facts.plants, facts.offers, strict=True) if math.isfinite(o.stock)}
    standing = standing_by_yard(yard_ids, yards, existing, read_standing_facts(shared.knowledge, facts))
    herb, tree = (site.open_ground[site.open_ground["growth_form"] == form] for form in ("herb", "tree"))
    ground = dict(zip(herb["yard_id"], herb.geometry, strict=True))
    trees = dict(zip(tree["yard_id"], tree.geometry.area, strict=True))
    rows = yards.set_index("yard_id", drop=False)
    for yard_id in yard_ids:
        shape = ground.get(yard_id)
        tested = site.tested_in(str(yard_id))
        brought = yard_wishes(rows.loc[yard_id], shared.settings, weights={}, stock=stock, tested=tested)
        area = 0.0 if shape is None else float(shape.area)
        fits = fits_by_light(shape, site, shared.needs.exactly(tested))
        yield EstimateJob(brought, standing[yard_id], area, float(trees.get(yard_id, 0.0)), fits)


def fits_by_light(ground: Polygon | None, site: Site, needs: Needs) -> tuple[Floats, ...]:
    """Return the mean fit (P,) of parts of a yard's open ground, the darkest first; () where there is none.

    Parameters
    ----------
    ground
        Open ground of herbs [m]; may be empty.
    site, needs
        What each place offers, and the needs of the plants.
    """
    if ground is None or ground.is_empty:
        return ()
    west, south, east, north = ground.bounds
    step = max(site.grid.cell_m, math.sqrt(ground.area / SPOTS_A_YARD))
    x, y = np.meshgrid(np.arange(west + step / 2, east, step), np.arange(south + step / 2, north, step))
    inside = shapely.contains_xy(ground, x.ravel(), y.ravel())
    x, y = (v.ravel()[inside] for v in (x, y))
    if not len(x):
        point = ground.representative_point()
        x, y = np.array([point.x]), np.array([point.y])
    rows, cols = site.grid.rowcol(x, y)
    rows, cols = (np.clip(v, 0, n - 1) for v, n in zip((rows, cols), site.grid.shape, strict=True))
    values = {name: site.rasters[name][rows, cols][None, :] for name in needs.assessed}
    low = fit(needs, values, shape=(1, len(x))).low[:, 0, :].astype(float) / 255.0
    by_sun = np.argsort(values["sun_h"][0], kind="stable") if "sun_h" in values else np.arange(len(x))
    parts = [part for part in np.array_split(by_sun, LIGHTS) if len(part)]
    return tuple(low[:, part].mean(axis=1) for part in parts)


def estimate_for(job: EstimateJob, shared: Shared) -> dict[str, float]:
    """Return the habitat [m2] by butterfly that a yard's plan is estimated to give."""
    least, settings = shared.needs.class_limits[2], shared.settings
    sites = typical_sites(job, shared)
    return estimated_habitat_m2(
        make_problem(job.wishes, sites, shared.facts, settings, least, standing=job.standing),
        shared.habits,
        rules_of(settings, job.wishes.household.look),
        class_limit=least,
        seed=shared.seed,
        together=share_ground(shared.needs, shared.facts.assessed_with(job.wishes.tested)),
    )


def typical_sites(job: EstimateJob, shared: Shared) -> list[BedSite]:
    """Return typical bed sites of a yard: borders where most grows well, a tree, a shrub, and vines.

    Their sizes follow from the rules for real ones.
    """
    if not job.fits:
        return []
    facts, household, settings = shared.facts, job.wishes.household, shared.settings
    room = household.bed_room_m2(job.open_m2, settings.bed_share_max)
    number = int(np.clip(room // BED_WISHED_M2, 1, BEDS_MOST)) if room >= BED_LEAST_M2 else 0
    each = min(room / max(number, 1), DEPTHS_M[0] * BED_LENGTH_M[1])
    light = job.fits[LIGHT * len(job.fits) // LIGHTS]
    growth, vine = np.array(facts.growth), facts.vine.astype(bool)
    held, sizes = (
        FILLED / facts.cell_m2 * each,
        np.linspace(1.0 + UNLIKE, 1.0 - UNLIKE, number) if number > 1 else [1.0] * number,
    )
    low = (growth == "herb") & (shared.habits.layer == GROUND)
    ring = np.where(low, np.floor(FILLED * RING_M2 / facts.cell_m2), 0.0)
    shrub = (growth == "shrub") & ~vine
    beds = [
        _bed(k, each * of_mean, best, np.where((growth == "herb") | shrub, np.floor(held * of_mean), 0.0))
        for k, (best, of_mean) in enumerate(zip(_worthiest(job.fits, number), sizes, strict=True))
    ]
    alone = [
        _spot(number + k, form, light, np.where(may, 1.0, ring))
        for k, (form, may) in enumerate(_spots(job, shared, shrub))
    ]
    climbers = range(min(number, 2) if household.vines and vine.any() else 0)
    return [*beds, *alone, *(_vine(number + len(alone) + k, light, vine) for k in climbers)]


def _spots(job: EstimateJob, shared: Shared, shrub: Flags) -> list[tuple[str, Flags]]:
    """Return the places for single trees and tall shrubs, as (form, plants that may stand there (P,)).

    One large tree has room at most; what is larger than the open ground has none.
    """
    household, settings = job.wishes.household, shared.settings
    table = shared.knowledge.plants.loc[list(shared.facts.plants)]
    tree = np.array(shared.facts.growth) == "tree"
    tree &= math.pi / 4 * table["spread_m"].to_numpy(float) ** 2 <= job.open_m2
    trees = [tree, tree & (table["height_m"].to_numpy(float) <= SMALL_TREE_M)][: settings.trees_max]
    forms = [("tree", may) for may in trees] if household.trees else []
    forms += [("shrub", shrub)] * SHRUB_SPOTS if household.shrubs else []
    return forms[: sum(job.tree_m2 >= least for least in TREE_GROUND_M2)]


def _worthiest(fits: tuple[Floats, ...], number: int) -> list[Floats]:
    """Return the fit at places for beds: what grows well there, and better than in those chosen before."""
    quarters = [np.mean(fits[k : k + 2], axis=0) for k in range(0, len(fits), 2)]
    best, out = np.zeros(len(fits[0])), list[Floats]()
    for _ in range(number):
        worth = [np.sort(f)[:-11:-1].mean() + np.maximum(f - best, 0.0).mean() for f in quarters]
        out.append(quarters[int(np.argmax(np.round(worth, 9)))])
        best = np.maximum(best, out[-1])
    return out


def _bed(number: int, area_m2: float, fits: Floats, capacity: Floats) -> BedSite:
    shape = box(0.0, 0.0, area_m2 / DEPTHS_M[0], DEPTHS_M[0])
    ground = {"herb": shape, "shrub": shape}
    return _site(number, "herb", shape, area_m2, fits, capacity, ground, (0.0, 1.0))


def _spot(number: int, form: str, fits: Floats, capacity: Floats) -> BedSite:
    stem, ring = Point(0.0, 0.0).buffer(0.25), Point(0.0, 0.0).buffer(math.sqrt(RING_M2 / math.pi))
    ground = {"tree": stem, "shrub": stem, "herb": ring, "ring": ring}
    return _site(number, form, stem, math.pi, fits, capacity, ground)


def _vine(number: int, fits: Floats, vine: Flags) -> BedSite:
    stem = Point(0.0, 0.0).buffer(0.15)
    return _site(number, "shrub", stem, stem.area, fits, vine.astype(float), {"shrub": stem})


def _site(
    number: int,
    form: str,
    shape: Polygon,
    area_m2: float,
    fits: Floats,
    capacity: Floats,
    ground: dict[str, Polygon],
    back: tuple[float, float] = (0.0, 0.0),
) -> BedSite:
    none = np.zeros(len(fits), np.uint8)
    counts = capacity.astype(np.int64)
    return BedSite(
        number,
        form,
        shape,
        area_m2,
        math.nan,
        fits,
        none,
        counts,
        ground=dict(ground),
        back=back,
        around=AROUND,
    )
