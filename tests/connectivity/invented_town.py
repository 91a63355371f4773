"""An invented neighbourhood for corridor tests: yards along streets, crowns and beds in them, two anchors."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from habitat.connectivity.types import Corridor, Weighed
from habitat.grid import Grid
from habitat.knowledge import Knowledge, load_knowledge
from habitat.layers.types import Layers, VectorLayer
from habitat.pipeline.corridor import CorridorTask, corridor_task
from habitat.report.words.en import english
from habitat.study.model import Study, parse_study

CRS_M = CRS.from_epsg(32617)
BUTTERFLIES = (
    "Danaus plexippus",
    "Papilio polyxenes",
    "Phyciodes tharos",
    "Papilio troilus",
    "Euphydryas phaeton",
    "Cupido comyntas",
    "Celastrina neglecta",
    "Epargyreus clarus",
    "Chlosyne nycteis",
    "Boloria bellona",
)


def study(tmp="study.toml", **sections) -> Study:
    """Return a study with nothing but yards and the sections given."""
    from pathlib import Path

    return parse_study(
        {
            "study": {"name": "Invented", "date": "2026-03-01"},
            "layers": {"yards": {"path": "y.gpkg"}},
            **sections,
        },
        Path(tmp),
    )


def layer(name, frame) -> VectorLayer:
    aside = gpd.GeoDataFrame({"row": [], "reason": [], "attributes": []}, geometry=[], crs=CRS_M)
    return VectorLayer(name, frame, len(frame), len(frame), 0, aside, "EPSG:32617", None)


@dataclass(frozen=True)
class Town:
    """A study's worth of corridor: frames as layers and plans would bring them."""

    study: Study
    knowledge: Knowledge
    layers: Layers
    yards: gpd.GeoDataFrame
    anchors: gpd.GeoDataFrame | None
    breeding: gpd.GeoDataFrame
    nectar_stones: gpd.GeoDataFrame
    costs: dict[str, float]
    butterflies: tuple[str, ...]
    habitat_draws: dict = field(default_factory=dict)


def request(
    yards,
    breeding,
    *,
    anchors=None,
    stones=None,
    costs=None,
    butterflies=BUTTERFLIES,
    layers=None,
    **sections,
):
    """Return a town from frames; see ``town`` for how they look."""
    made = study(**sections)
    vectors = {"yards": layer("yards", yards), **{k: layer(k, v) for k, v in (layers or {}).items()}}
    grid = Grid.from_bounds(tuple(yards.total_bounds), 1.0, CRS_M)
    knowledge = load_knowledge(made.knowledge, made.folder)
    empty = gpd.GeoDataFrame({"yard_id": []}, geometry=[], crs=CRS_M)
    return Town(
        made,
        knowledge,
        Layers(CRS_M, grid, vectors, {}),
        yards,
        anchors,
        breeding,
        empty if stones is None else stones,
        costs or {},
        tuple(butterflies),
    )


def layers_of(made: Town) -> Layers:
    """Return the layers with the town's own yards and anchors."""
    vectors = {**made.layers.vectors, "yards": layer("yards", made.yards)}
    if made.anchors is not None:
        vectors["anchors"] = layer("anchors", made.anchors)
    return replace(made.layers, vectors=vectors)


def task(made: Town) -> CorridorTask:
    """Return what the corridor takes of a town, by the way that a study goes."""
    costs = pd.DataFrame({"yard_id": list(made.costs), "cost": list(made.costs.values())})
    none = pd.DataFrame({"yard_id": [], "count": []})
    plans = SimpleNamespace(
        breeding=made.breeding, nectar_stones=made.nectar_stones, yard_results=costs, plantings=none
    )
    return corridor_task(made.study, layers_of(made), made.knowledge, plans, made.butterflies)


def score(made: Town, progress=None) -> Corridor:
    """Score the corridor of a town."""
    return task(made).score(progress, habitat_draws=made.habitat_draws)


def sentences(corridor: Corridor) -> list[str]:
    """Return what a meeting hears of a corridor, in English."""
    return [english()(found) for found in corridor.sentences]


def notes(corridor: Corridor) -> list[str]:
    """Return what is told beside, in English."""
    return [english()(found) for found in corridor.notes]


def reasons(corridor: Corridor) -> list[str]:
    """Return why each yard is invited, in English."""
    return [english()(found) for found in corridor.invitations["reason"]]


def weigh(made: Town) -> Weighed:
    """Weigh the plans of a town."""
    return task(made).weigh()


def line_of_squares(habitat, gap_m=30.0, side_m=20.0, roles=None, butterfly="Danaus plexippus"):
    """Return (yards, breeding) of square yards in a row; the breeding ground fills each yard."""
    n = len(habitat)
    boxes = [shapely.box(k * (side_m + gap_m), 0, k * (side_m + gap_m) + side_m, side_m) for k in range(n)]
    ids = [f"{k:02d}" for k in range(n)]
    yards = gpd.GeoDataFrame({"yard_id": ids, "role": roles or ["member"] * n}, geometry=boxes, crs=CRS_M)
    rows = [
        {"yard_id": i, "butterfly": butterfly, "state": s, "habitat_m2": h, "geometry": b}
        for i, h, b in zip(ids, habitat, boxes, strict=True)
        for s in ("before", "planned")
        if h > 0
    ]
    return yards, gpd.GeoDataFrame(rows, geometry="geometry", crs=CRS_M)


def town(rows=15, cols=12, seed=1, butterflies=BUTTERFLIES, crowns=6):
    """Return (yards, anchors, breeding) of a town with about a quarter of candidates."""
    rng = np.random.default_rng(seed)
    boxes, ids = [], []
    for r in range(rows):
        for c in range(cols):
            x, y = c * 32.0 + 8 * (c // 4), r * 38.0 + 14 * (r // 2)
            boxes.append(shapely.box(x, y, x + rng.uniform(26, 31), y + rng.uniform(30, 37)))
            ids.append(f"Y{r:02d}{c:02d}")
    role = rng.choice(["member", "candidate", "other"], len(ids), p=[0.5, 0.22, 0.28])
    yards = gpd.GeoDataFrame({"yard_id": ids, "role": role}, geometry=boxes, crs=CRS_M)
    west, south, east, north = yards.total_bounds
    anchors = gpd.GeoDataFrame(
        {"name": ["Mill Meadow", "Alder Wood"], "host_share": [0.1, np.nan], "butterflies": "all"},
        geometry=[
            shapely.Point(west - 40, south - 20).buffer(50),
            shapely.Point(east + 40, north + 30).buffer(45),
        ],
        crs=CRS_M,
    )
    parts = []
    for butterfly in butterflies:
        for yard_id, who, box in zip(ids, role, boxes, strict=True):
            old = rng.random() < 0.25
            if not old and (who == "other" or rng.random() < 0.3):
                continue
            x0, y0, x1, y1 = box.bounds
            xy = np.column_stack([rng.uniform(x0 + 3, x1 - 3, crowns), rng.uniform(y0 + 3, y1 - 3, crowns)])
            discs = shapely.buffer(shapely.points(xy), rng.uniform(0.5, 2.5, crowns))
            before = shapely.union_all(discs[:2])
            if old:
                parts.append((yard_id, butterfly, "before", 0.4 * before.area, before))
            if who == "other":
                parts.append((yard_id, butterfly, "planned", 0.4 * before.area, before))
            else:
                whole = shapely.union_all(discs)
                parts.append((yard_id, butterfly, "planned", min(20.0, 0.8 * whole.area), whole))
    columns = ["yard_id", "butterfly", "state", "habitat_m2", "geometry"]
    breeding = gpd.GeoDataFrame(pd.DataFrame(parts, columns=columns), geometry="geometry", crs=CRS_M)
    return yards, anchors, breeding
