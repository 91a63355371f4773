"""Planting from a study and its layers: which table goes where."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import pandas as pd

from habitat.arrays import Floats
from habitat.executor import Executor
from habitat.knowledge import Knowledge, resolve_butterflies
from habitat.layers.join.people import groups_of
from habitat.layers.types import Layers
from habitat.pipeline.sightings import anchors_of
from habitat.planting.choice.facts import Facts, read_facts
from habitat.planting.doubt import habitat_draws
from habitat.planting.estimate import estimate_habitat
from habitat.planting.habitat_area import recount
from habitat.planting.nectar import neighbour_nectar
from habitat.planting.plan_yards import plan_yards, undrawn_habitat
from habitat.planting.settled import Settled
from habitat.planting.standing import existing_plants, yards_with_trees
from habitat.planting.supply import Offer, price_list, read_offers
from habitat.planting.types import Accounts, BedSite, Drawn, Planting
from habitat.progress import Progress
from habitat.remarks import Remark
from habitat.revision.earlier import Earlier
from habitat.site.types import Site
from habitat.study.fitting import errors_of
from habitat.study.model import Study
from habitat.suitability.types import Needs
from habitat.terms import CANDIDATE, MEMBER


@dataclass(frozen=True, slots=True)
class Groundwork:
    """What the stages before planting found, and what a round of planting hands to the next.

    existing : the plan's ``existing_plants`` table. wishes : butterflies to plan for, in order. yard_ids :
    yards to plan, in the order of ``Layers.yards``. weights : (yard_id, butterfly) ->
    worth of a square metre of habitat there relative to 1, from the corridor. neighbour_nectar : yard_id ->
    months with bloom within the foraging distance outside the yard. bed_sites : ``Planting.bed_sites`` of the
    round before. earlier, settled : the run that this one follows, and its plans that stay as they are.
    estimated : what ``estimate_of`` says of those who may be asked by rule; None where nobody is.
    redraw : whether that is all of them, as people edited them. asked : who is not asked this year, as
    ``Decisions.waiting`` gives it.
    """

    study: Study
    layers: Layers
    site: Site
    knowledge: Knowledge
    needs: Needs
    existing: gpd.GeoDataFrame
    wishes: tuple[str, ...]
    yard_ids: tuple[str, ...]
    weights: dict[tuple[str, str], float] = field(default_factory=dict)
    neighbour_nectar: dict[str, frozenset[int]] = field(default_factory=dict)
    bed_sites: dict[str, list[BedSite]] = field(default_factory=dict)
    earlier: Earlier | None = None
    settled: Settled | None = None
    estimated: pd.DataFrame | None = None
    redraw: bool = False
    asked: dict[str, tuple[str, str]] = field(default_factory=dict)


def plan_round(
    ground: Groundwork,
    progress: Progress | None = None,
    executor: Executor | None = None,
    only: Collection[str] | None = None,
) -> Planting:
    """Plan the yards of a study once, and count habitat, for some yards alone if told; see ``plan_yards``.

    Raises
    ------
    StudyError
        If prices, hazards or phases of the study make no sense.
    """
    study, layers = ground.study, ground.layers
    return plan_yards(
        _with_trees(layers),
        ground.site,
        ground.existing,
        knowledge=ground.knowledge,
        needs=ground.needs,
        settings=study.planting,
        wishes=ground.wishes,
        season=study.study.season,
        seed=study.study.seed,
        yard_ids=ground.yard_ids,
        keep=layers.frame("keep"),
        streets=layers.frame("streets"),
        growers=layers.frame("growers"),
        anchors=anchors_of(study, layers, ground.knowledge)[0],
        butterflies=_named(ground),
        weights=ground.weights,
        neighbour_nectar=ground.neighbour_nectar,
        bed_sites=ground.bed_sites,
        settled=ground.settled,
        order=() if ground.earlier is None else ground.earlier.carried.order,
        purses=purses_of(study, layers),
        settings_file=str(study.path),
        only=only,
        executor=executor,
        progress=progress,
    )


def recount_round(ground: Groundwork, drawn: Drawn, only: Collection[str]) -> Accounts:
    """Return the habitat of some yards as ``plan_round`` counts it where all plans are settled.

    Parameters
    ----------
    ground
        Its ``existing`` with a column ``fit``.
    drawn
        The plans of all yards.
    only
        Yards to count for.
    """
    study = ground.study
    return recount(
        _with_trees(ground.layers),
        ground.existing,
        drawn,
        tuple(dict.fromkeys([*ground.wishes, *_named(ground)])),
        knowledge=ground.knowledge,
        settings=study.planting,
        season=study.study.season,
        anchors=anchors_of(study, ground.layers, ground.knowledge)[0],
        only=only,
    )


def _with_trees(layers: Layers) -> gpd.GeoDataFrame:
    return layers.yards.assign(tree_stands=yards_with_trees(layers.yards, layers.frame("trees")))


def _named(ground: Groundwork) -> tuple[str, ...]:
    """Return the butterflies whose corridor the study asks for by name."""
    named = resolve_butterflies(ground.study.connectivity.butterflies, ground.knowledge)
    return tuple(m.accepted for m in named if m.accepted)


def corridor_butterflies(ground: Groundwork) -> tuple[str, ...]:
    """Return the butterflies whose corridor is wanted: those that the study names for it, or the wishes."""
    return _named(ground) or ground.wishes


def estimate_of(
    ground: Groundwork, yard_ids: tuple[str, ...], executor: Executor | None = None
) -> pd.DataFrame:
    """Return the habitat [m2] that a plan of each yard may bring, by wish; see ``estimate_habitat``.

    All have equal stakes: the study's own money and rules, whatever a household answered. What
    ``Groundwork.estimated`` holds is taken from there.
    """
    done = ground.estimated
    missing = yard_ids if done is None else tuple(y for y in yard_ids if y not in done.index)
    found = estimate_habitat(*_alike(ground), **_stakes(ground), yard_ids=missing, executor=executor)
    return found if done is None else pd.concat([done, found]).loc[list(yard_ids)]


def closer_estimate_of(
    ground: Groundwork, yard_ids: tuple[str, ...], executor: Executor | None = None
) -> pd.DataFrame:
    """Return the habitat [m2] that each yard chooses, its places found and trees grown: ``undrawn_habitat``.

    All have equal stakes, as in ``estimate_of``, and are looked at as if they might be asked.
    """
    return undrawn_habitat(
        *_alike(ground),
        **_stakes(ground),
        keep=ground.layers.frame("keep"),
        streets=ground.layers.frame("streets"),
        yard_ids=yard_ids,
        executor=executor,
    )


def _alike(ground: Groundwork) -> tuple[gpd.GeoDataFrame, Site, gpd.GeoDataFrame]:
    """Return the yards without what households answered, the site, and what grows there."""
    yards = ground.layers.yards
    alike = yards[["yard_id", "geometry"]].assign(
        role=CANDIDATE, tree_stands=yards_with_trees(yards, ground.layers.frame("trees"))
    )
    return alike, ground.site, ground.existing


def _stakes(ground: Groundwork) -> dict[str, Any]:
    """Return what all yards have in equal parts: tables, the study's own rules and money, growers."""
    study = ground.study
    return {
        "knowledge": ground.knowledge,
        "needs": ground.needs,
        "settings": study.planting,
        "wishes": ground.wishes,
        "season": study.study.season,
        "seed": study.study.seed,
        "growers": ground.layers.frame("growers"),
        "settings_file": str(study.path),
    }


def purses_of(study: Study, layers: Layers) -> tuple[tuple[frozenset[str], float], ...]:
    """Return the yards of each group that has money of its own, and how much."""
    of = groups_of(layers.frame("participants"), study.groups)
    return tuple(
        (frozenset(yard for yard, group in of.items() if group == name), said.budget)
        for name, said in study.groups.items()
        if said.budget is not None
    )


def nectar_around(
    ground: Groundwork, planting: Planting, only: Collection[str] | None = None
) -> dict[str, frozenset[int]]:
    """Return the months with bloom within reach outside each yard, once the members' plans are planted.

    What candidates would plant does not count: else who is one would change the plans of members. With
    ``only`` some yards alone are asked for.
    """
    reach_m = ground.study.planting.nectar_reach_m
    yards, points = ground.layers.yards, planting.plant_points
    members = yards.loc[yards["role"] == MEMBER, "yard_id"]
    sure = points[points["yard_id"].isin(members)]
    asked = yards if only is None else yards[yards["yard_id"].isin(only)]
    return neighbour_nectar(sure, ground.existing, asked, ground.knowledge, reach_m)


def draws_of(
    ground: Groundwork, planting: Planting, butterflies: tuple[str, ...]
) -> dict[tuple[str, str], Floats]:
    """Return factors on planned habitat under the maps' stated errors; see ``habitat_draws``."""
    study = ground.study
    return habitat_draws(
        planting,
        ground.layers.yards,
        ground.site,
        ground.existing,
        butterflies,
        knowledge=ground.knowledge,
        needs=ground.needs,
        settings=study.planting,
        errors=errors_of(study),
        draws=study.connectivity.rank_draws,
        seed=study.study.seed,
    )


def existing_of(layers: Layers, knowledge: Knowledge) -> tuple[gpd.GeoDataFrame, tuple[Remark, ...]]:
    """Return the plan's ``existing_plants`` table of a study's layers, and notes; see ``existing_plants``."""
    frames = {name: layers.frame(name) for name in ("plants", "trees", "keep")}
    return existing_plants(layers.yards, knowledge, **frames)


def offers_of(
    study: Study, layers: Layers, knowledge: Knowledge
) -> tuple[dict[str, Offer], tuple[Remark, ...]]:
    """Return what local growers offer by plant, and notes; see ``read_offers``."""
    return read_offers(layers.frame("growers"), knowledge, price_list(study.planting, str(study.path)))


def facts_of(study: Study, knowledge: Knowledge, needs: Needs, wishes: tuple[str, ...] = ()) -> Facts:
    """Return plants and butterflies as arrays by a study's settings, without growers; see ``read_facts``."""
    settings, season = study.planting, study.study.season
    return read_facts(knowledge, needs, wishes, settings, season, settings_file=str(study.path))
