"""Plans for all yards: bed sites, choice, drawing, and habitat recounted from what was drawn."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import geopandas as gpd
import pandas as pd

from habitat.executor import Executor
from habitat.knowledge.tables import Knowledge
from habitat.planting.anchors import Anchor
from habitat.planting.choice.facts import read_facts
from habitat.planting.communities.habits import read_habits
from habitat.planting.communities.rules import rules_of
from habitat.planting.drawing.draw import drawn_tables, read_kinds
from habitat.planting.group import Group
from habitat.planting.habitat_area import recount
from habitat.planting.settled import Settled, in_order, turns, with_settled
from habitat.planting.sharing import by_scientific_name
from habitat.planting.supply import price_list, read_offers
from habitat.planting.tables import gather
from habitat.planting.types import BedSite, Planting
from habitat.planting.yard_jobs import (
    Shared,
    mean_latitude_deg,
)
from habitat.planting.years.phasing import check_phases
from habitat.progress import Progress
from habitat.remarks import Remark
from habitat.settings.planting import PlantingSettings
from habitat.site.types import Site
from habitat.suitability.types import Needs


def plan_yards(
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
    yard_ids: Sequence[str] | None = None,
    keep: gpd.GeoDataFrame | None = None,
    streets: gpd.GeoDataFrame | None = None,
    growers: pd.DataFrame | None = None,
    anchors: Sequence[Anchor] = (),
    butterflies: Sequence[str] = (),
    weights: Mapping[tuple[str, str], float] | None = None,
    neighbour_nectar: Mapping[str, frozenset[int]] | None = None,
    bed_sites: Mapping[str, list[BedSite]] | None = None,
    settled: Settled | None = None,
    order: Sequence[str] = (),
    purses: Sequence[tuple[frozenset[str], float]] = (),
    latitude_deg: float | None = None,
    settings_file: str = "",
    only: Collection[str] | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Planting:
    """Plan yards: bed sites, choice, drawing, and habitat recounted from what was drawn.

    Parameters
    ----------
    yards
        yard_id (text, unique), role ("member", "candidate" or another), geometry (polygons in a metric CRS);
        budget [money], max_height_m, children, pets, sprayed where they are known; tree_stands: whether a
        tree of any kind stands there (``yards_with_trees``).
    site
        What each place offers, in the same CRS: open and closed ground, factors, heights.
    existing
        As ``existing_plants`` returns it.
    knowledge, needs
        The tables, and the needs of the plants that may be chosen.
    settings
        Effort, money, heights, hazards. With ``total_budget`` the yards share one purse.
    wishes
        Butterflies to plan for, those that count first if not all can be had at the head.
    season
        First and last month [1-12] in which bloom and flight count.
    seed
        Start of the random numbers.
    yard_ids
        Yards to plan, in the order of ``yards``; left out, members and candidates.
    keep
        Shapes that stay as they are.
    streets
        Lines or polygons; they tell where the front of a house is.
    growers
        plant, form, price, quantity; the yards share what growers have, members first.
    anchors
        Habitat that is there already outside the yards.
    butterflies
        Whom to count habitat for beside the wishes.
    weights
        (yard_id, butterfly) -> worth of a square metre of habitat there relative to 1, which a missing one
        has.
    neighbour_nectar
        yard_id -> months with bloom within the foraging distance outside the yard.
    bed_sites
        Places found before, by yard, with the trees and tall shrubs chosen there (``Planting.bed_sites``).
    settled
        Plans that stay as they are: their trees shade, their plants flower and feed, their money and plants
        are spent; yards in ``yard_ids`` that they hold are not planned.
    order
        In which yards of an earlier run chose; those who came since choose after them.
    purses
        Yards that share money of their own, and how much [money]; ``total_budget`` is for all others.
    latitude_deg
        Of the yards' middle [degrees north]; worked out from their CRS if left out.
    settings_file
        Where the settings stand, for errors.
    only
        Habitat is counted for these yards alone; None counts it for all.
    executor
        Who does the work of single yards; left out, this process does.
    progress
        Called with (stage in words, yards done, yards in all).

    Returns
    -------
    Planting
        Equal for equal input and any number of processes.

    Raises
    ------
    StudyError
        If prices, hazards or phases make no sense.
    """
    check_phases(settings.phases, settings_file)
    shared, notes = read_shared(
        knowledge,
        needs,
        settings,
        wishes,
        season,
        growers=growers,
        settings_file=settings_file,
        seed=seed,
        placeable=site.placeable,
        latitude_deg=mean_latitude_deg(yards) if latitude_deg is None else latitude_deg,
    )
    able = yards.loc[yards["role"].isin(["member", "candidate"]), "yard_id"]
    planned = tuple(able if yard_ids is None else yard_ids)
    kept = frozenset[str]() if settled is None else settled.yard_ids
    group = Group(
        shared,
        executor or Executor(),
        yards,
        site,
        existing,
        keep,
        streets,
        tuple(i for i in planned if i not in kept),
        progress,
        weights or {},
        neighbour_nectar or {},
        dict(bed_sites or {}),
        turns(planned, yards.set_index("yard_id")["role"], order),
        settled,
        purses,
    )
    plans, more = group.plan_all()
    drawn = with_settled(drawn_tables([plan.drawing for plan in plans], yards.crs), settled, planned)
    accounts = recount(
        yards,
        group.existing,
        drawn,
        tuple(dict.fromkeys([*wishes, *butterflies])),
        knowledge=knowledge,
        settings=settings,
        season=season,
        anchors=anchors,
        only=only,
    )
    found = gather(plans, drawn, accounts, wishes, (*notes, *more), settled)
    return replace(found, yard_results=in_order(found.yard_results, planned), order=group.order)


def undrawn_habitat(
    yards: gpd.GeoDataFrame,
    site: Site,
    existing: gpd.GeoDataFrame,
    *,
    knowledge: Knowledge,
    needs: Needs,
    settings: PlantingSettings,
    wishes: Sequence[str],
    season: tuple[int, int],
    yard_ids: Sequence[str],
    seed: int = 0,
    keep: gpd.GeoDataFrame | None = None,
    streets: gpd.GeoDataFrame | None = None,
    growers: pd.DataFrame | None = None,
    settings_file: str = "",
    executor: Executor | None = None,
) -> pd.DataFrame:
    """Return the habitat [m2] that each yard chooses once its places are found and trees have grown.

    Of what ``plan_yards`` does, the drawing of all but trees is left out, and choosing anew by what it finds.

    Parameters
    ----------
    yards, site, existing, knowledge, needs, settings, wishes, season
        As ``plan_yards`` takes them, and so seed, keep, streets, growers and settings_file. Each yard has the
        settings' own money.
    yard_ids
        Whom to look at.
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
        latitude_deg=mean_latitude_deg(yards),
    )
    order = turns(tuple(yard_ids), yards.set_index("yard_id")["role"], ())
    ids = tuple(yard_ids)
    group = Group(
        shared, executor or Executor(), yards, site, existing, keep, streets, ids, None, order=order
    )
    rows = [choice.habitat_m2 for choice in group.choose_all()]
    return pd.DataFrame(rows, index=pd.Index(ids, name="yard_id"), columns=list(wishes), dtype=float)


def read_shared(
    knowledge: Knowledge,
    needs: Needs,
    settings: PlantingSettings,
    wishes: Sequence[str],
    season: tuple[int, int],
    *,
    growers: pd.DataFrame | None,
    settings_file: str,
    seed: int,
    placeable: bool,
    latitude_deg: float,
) -> tuple[Shared, tuple[Remark, ...]]:
    """Return what all yards share, and notes on growers' rows of no use."""
    settings = by_scientific_name(settings, knowledge)
    offers, notes = read_offers(growers, knowledge, price_list(settings, settings_file))
    facts = read_facts(
        knowledge, needs, wishes, settings, season, growers=offers, settings_file=settings_file
    )
    rules = rules_of(settings)
    habits = read_habits(knowledge.plants.loc[list(needs.plants)], rules)
    kinds = read_kinds(needs.plants, knowledge, habits.spacing_m)
    shared = Shared(settings, seed, knowledge, needs, facts, kinds, habits, rules, placeable, latitude_deg)
    return shared, notes
