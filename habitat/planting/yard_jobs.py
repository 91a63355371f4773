"""One yard's share of the work, cut out of the tables so that any process can do it alone."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import Transformer
from shapely.geometry.base import BaseGeometry

from habitat.arrays import Flags
from habitat.knowledge.tables import Knowledge
from habitat.planting.choice.facts import Facts, month_bits
from habitat.planting.choice.fixed import (
    left_of,
    money_left,
    tell_fallen,
    whole_choice,
    with_fixed,
    without,
)
from habitat.planting.choice.money import MoneyCurve, money_curve
from habitat.planting.choice.problem import (
    Standing,
    StandingFacts,
    YardProblem,
    YardWishes,
    make_problem,
    standing_plants,
)
from habitat.planting.communities.choose import Memo, choose_communities, wants_many_kinds, yard_program
from habitat.planting.communities.habits import Habits, share_ground
from habitat.planting.communities.rules import BedRules, rules_of
from habitat.planting.drawing.draw import (
    Drawing,
    DrawingBoard,
    Kind,
    draw_choice,
    undrawn_choice,
)
from habitat.planting.drawing.observed import ObservedCapacity
from habitat.planting.drawing.shade import tall_plants
from habitat.planting.household import read_household
from habitat.planting.sites.bed_sites import make_bed_sites, make_unplaced_sites, make_whole_sites
from habitat.planting.sites.heights import front_limit_m, with_height_limits
from habitat.planting.types import BedSite, Choice, YardContext
from habitat.settings.planting import PlantingSettings
from habitat.site.types import Site, SiteWindow
from habitat.suitability import fit
from habitat.suitability.types import Needs
from habitat.terms import household_answer

CHOOSE_MOST = 6
"""How often a yard chooses at most, each time with less room in beds that were drawn too full; most yards
choose once."""

MARGIN_M = 2.0
"""Window around a yard, so that cells cut by its edge are there."""


COMPANY_M = 0.6
"""So near, roots of plants side by side meet: judgement; what lives on others stands no further off."""

STREET_REACH_M = 40.0
"""A street further from a yard does not tell where the front of its house is: judgement."""


@dataclass(frozen=True, slots=True)
class YardJob:
    """What finding the bed sites of one yard takes beside what all yards share."""

    yard: pd.Series
    open_ground: gpd.GeoDataFrame
    window: SiteWindow
    context: YardContext
    tested: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Shared:
    """What all yards share; sent to each process once. ``seed`` starts the random numbers."""

    settings: PlantingSettings
    seed: int
    knowledge: Knowledge
    needs: Needs
    facts: Facts
    kinds: dict[str, Kind]
    habits: Habits
    rules: BedRules
    placeable: bool
    latitude_deg: float


@dataclass(frozen=True, slots=True)
class ChoiceJob:
    """One yard to choose for: its row, what it brings, its bed sites, and what stands there."""

    yard: pd.Series
    wishes: YardWishes
    sites: list[BedSite]
    standing: Standing


def yard_jobs(
    yard_ids: Sequence[str],
    yards: gpd.GeoDataFrame,
    site: Site,
    existing: gpd.GeoDataFrame,
    keep: gpd.GeoDataFrame | None,
    latitude_deg: float,
    streets: gpd.GeoDataFrame | None = None,
) -> Iterator[YardJob]:
    """Yield what finding bed sites takes for some yards, in their order.

    Parameters
    ----------
    yard_ids, yards
        Which yards, and the table of all of them: yard_id, geometry.
    site, existing, keep
        What each place offers, the table ``existing_plants``, and shapes that stay as they are.
    latitude_deg
        Of all yards [degrees north].
    streets
        Lines or polygons; they tell where the front of a house is.
    """
    rows_of = yards.set_index("yard_id", drop=False)
    names = ("open_ground", "closed_ground", "height_limits", "host_limits")
    whole = {name: getattr(site, name) for name in names} | {"existing": existing}
    tables = {name: by_yard(table, yard_ids) for name, table in whole.items()}
    paved = bool((site.closed_ground["what"] == "paving").any())
    for yard_id in yard_ids:
        yard = rows_of.loc[yard_id]
        rows = {name: table.get(yard_id, whole[name].iloc[:0]) for name, table in tables.items()}
        bounds = yard["geometry"].buffer(MARGIN_M).bounds
        context = YardContext(
            latitude_deg=latitude_deg,
            closed_ground=rows["closed_ground"],
            height_limits=rows["height_limits"],
            host_limits=rows["host_limits"],
            existing=rows["existing"],
            keep=None if keep is None else keep[keep.intersects(yard["geometry"])],
            street=_street_near(yard["geometry"], streets),
            paving_known=(paved and str(yard_id) not in site.unpaved)
            or "paving" in site.walked.get(str(yard_id), ()),
        )
        tested = site.tested_in(str(yard_id))
        yield YardJob(yard, rows["open_ground"], site.window(bounds), context, tested)


def _street_near(yard: BaseGeometry, streets: gpd.GeoDataFrame | None) -> BaseGeometry | None:
    """Return the piece of street near a yard; None where no street is near."""
    if streets is None or not len(streets):
        return None
    near = streets.geometry[streets.geometry.notna() & streets.intersects(yard.buffer(STREET_REACH_M))]
    piece = shapely.force_2d(shapely.union_all(near.to_numpy())).intersection(yard.buffer(STREET_REACH_M))
    return None if piece.is_empty else piece


def by_yard(table: pd.DataFrame, yard_ids: Sequence[str]) -> dict[str, pd.DataFrame]:
    """Return the rows of each of some yards."""
    table = table[table["yard_id"].isin(yard_ids)]
    if not len(table):
        return {}
    return {str(yard_id): rows for yard_id, rows in table.groupby("yard_id", sort=False)}


def mean_latitude_deg(yards: gpd.GeoDataFrame) -> float:
    """Return the latitude [degrees north] of the middle of the yards."""
    west, south, east, north = yards.total_bounds
    to_degrees = Transformer.from_crs(yards.crs, 4326, always_xy=True)
    return float(to_degrees.transform((west + east) / 2, (south + north) / 2)[1])


def standing_by_yard(
    yard_ids: Sequence[str], yards: gpd.GeoDataFrame, existing: gpd.GeoDataFrame, facts: StandingFacts
) -> dict[str, Standing]:
    """Return what grows already in each of some yards.

    ``existing`` is the table ``existing_plants`` with a column ``fit`` [0-1].
    """
    rows, none = by_yard(existing, yard_ids), existing.iloc[:0]
    sprayed, trees = (
        dict(zip(yards["yard_id"], yards.get(column, [False] * len(yards)), strict=True))
        for column in ("sprayed", "tree_stands")
    )
    return {
        i: standing_plants(rows.get(i, none), facts, sprayed=bool(sprayed[i]), tree_stands=bool(trees[i]))
        for i in yard_ids
    }


def yard_wishes(
    yard: pd.Series,
    settings: PlantingSettings,
    *,
    weights: Mapping[str, float],
    neighbour_months: Iterable[int] = (),
    stock: Mapping[str, float],
    tested: tuple[str, ...] = (),
) -> YardWishes:
    """Return what a yard brings.

    Parameters
    ----------
    yard
        Row of the yards: yard_id; budget [money], max_height_m, children, pets, poisonous, sprayed where they
        are known.
    settings
        What holds where the yard says nothing.
    weights
        Butterfly -> worth of a square metre of habitat here relative to 1.
    neighbour_months
        Months [1-12] with bloom within reach outside the yard.
    stock
        What growers have of plants in limited number.
    tested
        Factors that a soil test tells here.
    """
    return YardWishes(
        yard_id=str(yard["yard_id"]),
        budget=_number(yard, "budget", settings.budget) * phase_share(settings.phases),
        max_height_m=_number(yard, "max_height_m", math.inf),
        children=bool(yard.get("children", False)),
        pets=bool(yard.get("pets", False)),
        poisonous=household_answer(yard.get("poisonous")),
        sprayed=bool(yard.get("sprayed", False)),
        weights=dict(weights),
        neighbour_months=month_bits(frozenset(neighbour_months)),
        stock=dict(stock),
        tested=tested,
        household=read_household(yard, settings),
    )


def _number(yard: pd.Series, column: str, default: float) -> float:
    value = yard.get(column)
    return default if value is None or pd.isna(value) else float(value)


def phase_share(phases: list[float]) -> float:
    """Return the share of the money that the phases spend in all; 1 without phases."""
    return min(1.0, math.fsum(phases)) if phases else 1.0


def find_sites(job: YardJob, shared: Shared) -> list[BedSite]:
    """Return the places where beds of a yard could be."""
    scores = fit(shared.needs.exactly(job.tested), job.window.values, shape=job.window.grid.shape)
    settings = shared.settings
    find = partial(
        make_bed_sites if shared.placeable else make_unplaced_sites,
        bed_share_max=settings.bed_share_max,
        household=read_household(job.yard, settings),
        trees_max=settings.trees_max,
        large_trees_max=settings.large_trees_max,
    )
    if shared.placeable and settings.bed_share_max >= 1.0:
        find = partial(make_whole_sites)
    sites = find(
        job.yard,
        job.open_ground,
        scores,
        shared.needs,
        job.window,
        knowledge=shared.knowledge,
        context=job.context,
    )
    return [with_height_limits(site, shared.facts.height_m, shared.settings) for site in sites]


def problem_of(job: ChoiceJob, shared: Shared, observed: ObservedCapacity | None = None) -> YardProblem:
    """Return the program of a yard; ``observed`` is what drawings could fill of its beds."""
    settings, least = shared.settings, shared.needs.class_limits[2]
    standing = with_fixed(job.standing, job.sites, shared.facts)
    wishes, sites = money_left(job.wishes, job.sites), left_of(job.sites, shared.facts)
    if observed is not None:
        sites = [observed.limit(site, shared.facts) for site in sites]
    return make_problem(wishes, sites, shared.facts, settings, least, standing=standing)


def _rules(job: ChoiceJob, shared: Shared) -> BedRules:
    """Return the rules of the look that a household wants."""
    return rules_of(shared.settings, job.wishes.household.look)


def curve_of(job: ChoiceJob, shared: Shared) -> MoneyCurve:
    """Return what money is worth in a yard."""
    problem = problem_of(job, shared)
    program = yard_program(
        problem,
        shared.habits,
        _rules(job, shared),
        class_limit=shared.needs.class_limits[2],
        seed=shared.seed,
        together=_together(job, shared),
    )
    return money_curve(problem.yard.yard_id, problem.yard.budget, program.program, program.money_row)


def choice_for(job: ChoiceJob, shared: Shared) -> Choice:
    """Choose plants for a yard beside the trees that are chosen already; nothing is drawn."""
    return _choose(job, shared, ObservedCapacity())


def plan_for(job: ChoiceJob, shared: Shared) -> tuple[Choice, Drawing]:
    """Choose plants for a yard beside the trees that are chosen already, and draw what was chosen.

    Where a bed as drawn does not hold all that was chosen for it, a planting falls below the least class at
    its own places, or a bed counted as small turns out large and mostly of one kind, the yard chooses again
    with what the drawing observed, so that what is chosen is what is drawn. The bound stays as without.
    """
    return _planned(job, shared, frozenset(shared.facts.plants))


def trees_for(job: ChoiceJob, shared: Shared) -> tuple[Choice, Drawing]:
    """Choose plants for a yard as ``plan_for`` does, and draw only the beds with trees or tall shrubs.

    The rest is chosen and drawn once these have grown.
    """
    return _planned(job, shared, tall_plants(shared.knowledge))


def _planned(job: ChoiceJob, shared: Shared, drawn: frozenset[str]) -> tuple[Choice, Drawing]:
    """Return a choice, and the drawing of the beds that hold any of some plants."""
    board = _board(job, shared)
    draw = draw_choice if shared.placeable else undrawn_choice
    observed, first, rules = ObservedCapacity(), None, _rules(job, shared)
    rich = wants_many_kinds(problem_of(job, shared), rules)  # aims stay, whatever the drawing finds
    memo: Memo = {}
    for turn in range(CHOOSE_MOST):
        choice = _choose(job, shared, observed, memo, rich)
        if lonely := without_company(choice, shared.facts):
            job = replace(job, sites=closed_to(job.sites, lonely, shared.facts))
            choice = _choose(job, shared, observed, memo, rich)
        first = first or choice
        choice = whole_choice(replace(choice, bound=max(first.bound, choice.worth)), job.sites, shared.facts)
        drawing = draw(board, job.sites, _in_beds_of(choice, drawn))
        fallen = _fallen(drawing, job.sites, shared.needs.class_limits[2])
        times = _outgrown(choice, drawing, rules, shared.facts)
        times = {i: n for i, n in times.items() if i not in observed.times}
        if not (drawing.short or fallen or times) or turn == CHOOSE_MOST - 1:
            break
        left = left_of(job.sites, shared.facts)
        observed = observed.after(choice, drawing.short, left, shared.facts, fallen, times)
    if strayed := far_from_company(drawing, shared.facts):
        return _planned(replace(job, sites=closed_to(job.sites, strayed, shared.facts)), shared, drawn)
    if fallen:
        choice, drawing = without(choice, fallen), drawing.without(fallen)
    return tell_fallen(choice, {**observed.fit, **fallen}, shared.facts), drawing


def _in_beds_of(choice: Choice, plants: frozenset[str]) -> Choice:
    """Return a choice with the allocations of the sites that hold any of some plants."""
    sites = {a.site_id for a in choice.allocations if a.plant in plants}
    return replace(choice, allocations=tuple(a for a in choice.allocations if a.site_id in sites))


def _board(job: ChoiceJob, shared: Shared) -> DrawingBoard:
    """Return what drawing a yard's beds takes; what a soil test gave is not doubted there."""
    return DrawingBoard(
        job.yard,
        shared.kinds,
        shared.latitude_deg,
        front_limit_m(shared.settings),
        frozenset(shared.facts.assessed_with(job.wishes.tested)),
        shared.needs.exactly(job.wishes.tested),
        {p: float(m) for p, m in zip(shared.facts.plants, job.wishes.away_m(shared.facts), strict=True) if m},
    )


def _fallen(drawing: Drawing, sites: Sequence[BedSite], least: float) -> dict[tuple[int, str], float]:
    """Return what falls below the least class where it is drawn, with its fit; what stands for good stays."""
    good = {(s.site_id, a.plant) for s in sites if s.grown is not None for a in s.grown.fixed}
    return {at: fit for at, fit in drawing.fits.items() if fit < least - 1e-9 and at not in good}


def _outgrown(choice: Choice, drawing: Drawing, rules: BedRules, facts: Facts) -> dict[int, float]:
    """Return small beds that are large as drawn, and hold more of one kind than large ones may.

    Returns
    -------
    dict
        Bed site -> the ground that it takes as drawn over the ground counted, at least 1.
    """
    cell = dict(zip(facts.plants, facts.cell_m2, strict=True))
    ground: dict[int, list[float]] = {}
    for one in choice.allocations:
        ground.setdefault(one.site_id, []).append(one.count * float(cell[one.plant]))
    out = {}
    for site_id, kinds in ground.items():
        counted, drawn = sum(kinds), drawing.taken_m2.get(site_id, 0.0)
        if max(kinds) > rules.brood_share_max * counted and counted < rules.share_from_m2 <= drawn:
            out[site_id] = drawn / counted
    return out


def without_company(choice: Choice, facts: Facts) -> frozenset[str]:
    """Return plants that live on the roots of others and were put into a bed where none of these is."""
    beds: dict[str, set[int]] = {}
    for allocation in choice.allocations:
        beds.setdefault(allocation.plant, set()).add(allocation.site_id)
    company = {plant: facts.companions[facts.plants.index(plant)] for plant in beds}
    return frozenset(
        plant
        for plant, others in company.items()
        if others and not beds[plant] <= {s for other in others for s in beds.get(other, ())}
    )


def far_from_company(drawing: Drawing, facts: Facts) -> frozenset[str]:
    """Return plants that live on the roots of others and of which one is drawn out of reach of them."""
    out = set()
    for block in drawing.points:
        if others := facts.companions[facts.plants.index(block.plant)]:
            near = [one.xy for one in drawing.points if one.plant in others]
            company = np.vstack(near) if near else np.empty((0, 2))
            apart = np.linalg.norm(block.xy[:, None] - company[None], axis=2)
            if (apart.min(axis=1, initial=np.inf) > COMPANY_M).any():
                out.add(block.plant)
    return frozenset(out)


def closed_to(sites: list[BedSite], plants: Iterable[str], facts: Facts) -> list[BedSite]:
    """Return bed sites without room for some plants."""
    shut = np.isin(facts.plants, sorted(plants))
    return [replace(site, capacity=np.where(shut, 0, site.capacity)) for site in sites]


def _choose(
    job: ChoiceJob,
    shared: Shared,
    observed: ObservedCapacity,
    memo: Memo | None = None,
    rich: bool | None = None,
) -> Choice:
    settings = shared.settings
    return choose_communities(
        problem_of(job, shared, observed),
        shared.habits,
        _rules(job, shared),
        class_limit=shared.needs.class_limits[2],
        effort=settings.effort,
        seed=shared.seed,
        together=_together(job, shared),
        memo=memo,
        rich=rich,
    )


def _together(job: ChoiceJob, shared: Shared) -> Flags:
    """Return which plants (P, P) may stand in one bed of a yard."""
    return share_ground(shared.needs, shared.facts.assessed_with(job.wishes.tested))
