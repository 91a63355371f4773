"""From a study and its plans to the corridor: names resolved, files read, sightings placed, ground mapped."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import shapely

from habitat.arrays import Floats
from habitat.connectivity.case import Terrain
from habitat.connectivity.distance.crossing import (
    CROSSING_COSTS,
    GroundMaps,
    coarsest,
    crossing_costs,
    ground_of,
)
from habitat.connectivity.distance.reach import REACHES, Reach, median_from, reaches_around
from habitat.connectivity.measures.sightings import Walks
from habitat.connectivity.score import score_corridor, weigh_corridor
from habitat.connectivity.types import Corridor, CouldBe, Movement, Neighbourhood, Weighed
from habitat.errors import HabitatError, MissingFileError, StudyError
from habitat.grid import Bounds, Grid
from habitat.ground.things import busy_roads, quiet_streets
from habitat.knowledge import Knowledge, resolve_butterflies
from habitat.knowledge.broods import brood_need
from habitat.knowledge.food import host_worth
from habitat.layers.rasters.window import read_raster
from habitat.layers.types import Layers
from habitat.pipeline.sightings import anchors_of, walks_of
from habitat.planting.types import Planting
from habitat.progress import Progress
from habitat.remarks import Remark, remark
from habitat.study.model import Study

MARGIN_M = 50.0
"""How far the map of crossing costs goes beyond all places [m], so that a path may lead round: judgement."""


@dataclass(frozen=True, slots=True)
class CorridorTask:
    """What ``score_corridor`` and ``weigh_corridor`` take, made from a study, with notes on the making."""

    town: Neighbourhood
    movements: tuple[Movement, ...]
    study: Study
    terrain: dict[str, Terrain] | None = None
    walks: Walks | None = None
    notes: tuple[Remark | str, ...] = ()

    def score(
        self,
        progress: Progress | None = None,
        habitat_draws: dict[tuple[str, str], Floats] | None = None,
        could_be: CouldBe | None = None,
    ) -> Corridor:
        """Score the corridor; its notes begin with those of the making."""
        got = score_corridor(
            self.town,
            self.movements,
            self.study.connectivity,
            seed=self.study.study.seed,
            terrain=self.terrain,
            walks=self.walks,
            habitat_draws=habitat_draws,
            could_be=could_be,
            progress=progress,
        )
        return replace(got, notes=(*self.notes, *got.notes))

    def weigh(self, progress: Progress | None = None) -> Weighed:
        """Weigh a round of planning."""
        settings = self.study.connectivity
        return weigh_corridor(self.town, self.movements, settings, terrain=self.terrain, progress=progress)


def corridor_task(
    study: Study,
    layers: Layers,
    knowledge: Knowledge,
    planting: Planting,
    butterflies: Sequence[str],
    progress: Progress | None = None,
    not_now: frozenset[str] = frozenset(),
) -> CorridorTask:
    """Make a corridor's inputs from a study's layers and plans.

    Parameters
    ----------
    study, layers
        The study and what it reads.
    knowledge
        Butterflies and their names.
    planting
        Plans with the ground that breeds under them.
    butterflies
        Scientific names, in order.
    progress
        Called with (stage in words, done, total).
    not_now
        Candidates that are not to be invited now.

    Raises
    ------
    StudyError
        If a setting names an unknown butterfly, or gives one more than one movement distance.
    HabitatError
        If a butterfly has no movement distance.
    MissingFileError, LayerError
        If the study's own crossing costs are not there or cannot be used.
    """
    results = planting.yard_results
    anchors, said = anchors_of(study, layers, knowledge)
    notes: list[Remark | str] = list(said)
    town = Neighbourhood(
        layers.yards[["yard_id", "role", "geometry"]],
        planting.breeding,
        planting.nectar_stones,
        tuple(anchors),
        {str(y): float(c) for y, c in zip(results["yard_id"], results["cost"], strict=True)},
        {str(y): int(n) for y, n in planting.plantings.groupby("yard_id")["count"].sum().items()},
        not_now,
    )
    movements = movements_of(study, knowledge, butterflies)
    terrain = None
    if study.connectivity.distance == "by ground" and len(town.yards):
        if progress is not None:
            progress("what the ground is to cross", 0, 1)
        terrain, found = terrain_of(study, layers, town, {m.group for m in movements})
        notes += found
    return CorridorTask(town, movements, study, terrain, walks_of(layers, knowledge), tuple(notes))


def planning_gain(rounds: list[dict[str, float]]) -> tuple[Remark, ...]:
    """Return what planning for the corridor brings over planning each yard by itself.

    Parameters
    ----------
    rounds
        Per round ``round`` and ``worth`` (``Weighed.worth_beside``); the first knows nothing of the corridor.
    """
    if len(rounds) < 2 or rounds[0]["worth"] <= 0.0:
        return ()
    alone, best = rounds[0]["worth"], max(r["worth"] for r in rounds)
    if best <= alone:
        return (remark("planned_as_well_apart"),)
    return (remark("planned_together", gain_share=float(best / alone - 1.0)),)


# How far each butterfly goes: the table's distances, or what the study says of them.


def movements_of(study: Study, knowledge: Knowledge, butterflies: Sequence[str]) -> tuple[Movement, ...]:
    """Return how each butterfly moves.

    The study may give its own distance as a median, a mean or the distance that 5 % exceed; low and high
    then keep their ratio to the median of the table. A longest hop given in the study holds at every reach.

    Raises
    ------
    StudyError
        If the study gives more than one of them, or names a butterfly that is not in the tables.
    HabitatError
        If neither the study nor the table has a movement distance.
    """
    weights = _by_butterfly(study, knowledge, "weights")
    return tuple(
        Movement(
            butterfly,
            str(row["common_name"]),
            reaches,
            drinks_nectar="nectar" in str(row["adult_food"]),
            group=str(row["habitat"]),
            flight_months=_flight_months(
                int(str(row["flight_start_month"])), int(str(row["flight_end_month"]))
            ),
            weight=weights.get(butterfly, 1.0),
            brood_m2=_brood_m2(knowledge, butterfly),
        )
        for butterfly, reaches in _reaches(study, knowledge, butterflies).items()
        for row in [knowledge.butterflies.loc[butterfly]]
    )


def _brood_m2(knowledge: Knowledge, butterfly: str) -> float | None:
    """Return the leaf that feeds one brood [m2]: median over the hosts that carry it, None without any."""
    leaf = [brood_need(knowledge, plant).leaf_m2 for plant in host_worth(knowledge, butterfly)]
    return float(np.median(leaf)) if leaf else None


def _reaches(study: Study, knowledge: Knowledge, butterflies: Sequence[str]) -> dict[str, dict[str, Reach]]:
    own, settings = _own_medians(study, knowledge), study.connectivity
    hops = _by_butterfly(study, knowledge, "hop_max_m")
    out = {}
    for name in butterflies:
        row = knowledge.butterflies.loc[name]
        low, median, high = (float(str(row[f"typical_movement_{r}_m"])) for r in REACHES)
        known = own.get(name, median)
        if not all(math.isfinite(v) and v > 0.0 for v in ((known,) if name in own else (low, median, high))):
            raise HabitatError(
                f"no movement distance is known for {name}",
                "connectivity",
                f'Give one in the study: median_m = {{ "{name}" = 250 }}',
            )
        out[name] = reaches_around(
            low, median, high, own_median_m=own.get(name), hop_max_m=hops.get(name), kernel=settings.kernel
        )
    return out


def _own_medians(study: Study, knowledge: Knowledge) -> dict[str, float]:
    """Return butterfly -> the median distance that the study states in one way or another [m]."""
    keys = {"median": "median_m", "mean": "mean_m", "five_percent": "five_percent_m"}
    stated = {kind: _by_butterfly(study, knowledge, key) for kind, key in keys.items()}
    out: dict[str, float] = {}
    for butterfly in dict.fromkeys(b for given in stated.values() for b in given):
        kinds = [kind for kind, given in stated.items() if butterfly in given]
        if len(kinds) > 1:
            raise StudyError(
                f"connectivity gives {butterfly} a reach in {len(kinds)} ways ({', '.join(kinds)})",
                str(study.path),
                "Keep one of median_m, mean_m and five_percent_m",
            )
        out[butterfly] = median_from(stated[kinds[0]][butterfly], kinds[0])
    return out


def _by_butterfly(study: Study, knowledge: Knowledge, key: str) -> dict[str, float]:
    """Return what a table of the section ``[connectivity]`` says, by accepted name."""
    given: dict[str, float] = getattr(study.connectivity, key)
    out = {}
    for match, value in zip(resolve_butterflies(list(given), knowledge), given.values(), strict=True):
        if match.accepted is None:
            near = f"; did you mean {' or '.join(match.suggestions)}?" if match.suggestions else ""
            raise StudyError(
                f"connectivity.{key} names {match.given!r}, which is not in the butterfly tables{near}",
                str(study.path),
                "Mend the name or leave it out; 'habitat butterflies' lists all",
            )
        out[match.accepted] = float(value)
    return out


def _flight_months(first: int, last: int) -> frozenset[int]:
    return frozenset((first - 1 + k) % 12 + 1 for k in range((last - first) % 12 + 1))


# What the ground costs to cross, by group of butterflies.


def terrain_of(
    study: Study, layers: Layers, town: Neighbourhood, groups: set[str]
) -> tuple[dict[str, Terrain], tuple[Remark, ...]]:
    """Return group of butterflies -> what the ground costs to cross, and what there is to tell about it."""
    bounds = _bounds(town)
    costs = load_crossing_costs(study)
    cell_m = coarsest(bounds, study.connectivity.ground_cell_m)
    grid = Grid.from_bounds(bounds, cell_m, layers.crs)
    ground = ground_of(ground_maps(layers, grid), grid, costs)
    return {g: Terrain(ground.cost(costs, g), grid) for g in sorted(groups)}, ground.notes


def ground_maps(layers: Layers, grid: Grid) -> GroundMaps:
    """Return the study's layers that say what the ground is, the land-cover raster read on a grid."""
    streets = layers.frame("streets")
    lined = streets if streets is not None and len(streets) else None
    raster = layers.rasters.get("landcover")
    return GroundMaps(
        yards=layers.frame("yards"),
        paving=layers.frame("paving"),
        streets=None if lined is None else quiet_streets(lined),
        busy_roads=None if lined is None else busy_roads(lined),
        water=layers.frame("water"),
        trees=layers.frame("trees"),
        buildings=layers.frame("buildings"),
        cover=layers.frame("landcover"),
        cover_code=None if raster is None else read_raster(raster, grid),
        cover_names={} if raster is None else raster.classes or {},
    )


def load_crossing_costs(study: Study) -> pd.DataFrame:
    """Return the crossing costs, the study's own table laid over the shipped one.

    Raises
    ------
    MissingFileError, LayerError
        If the study's table is not there, lacks a column, or has a cost that is not more than 0.
    """
    name = study.connectivity.crossing_costs
    if name is None:
        return CROSSING_COSTS
    path = study.resolve(name)
    if not path.is_file():
        raise MissingFileError(
            f"connectivity.crossing_costs names {name!r}, which is not there",
            str(study.path),
            "Check the path",
        )
    return crossing_costs(pd.read_csv(path), str(path))


def _bounds(town: Neighbourhood) -> Bounds:
    """Return what all yards, anchors and patches take up, with a margin [m]."""
    boxes = [f.total_bounds for f in (town.yards, town.breeding, town.nectar_stones) if len(f)]
    if town.anchors:
        boxes.append(shapely.total_bounds(np.array([a.geometry for a in town.anchors], object)))
    box = np.array(boxes)
    west, south = np.nanmin(box[:, :2], axis=0) - MARGIN_M
    east, north = np.nanmax(box[:, 2:], axis=0) + MARGIN_M
    return float(west), float(south), float(east), float(north)
