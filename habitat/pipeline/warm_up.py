"""Compiled loops made ready before they are needed, by a small yard and a small corridor.

A loop is compiled where it is first called, and kept on disk for later runs. On a new machine that takes the
better part of a minute, in every process that comes to it first; called on small things while files are read,
loops are compiled side by side instead. Where all are there already, that takes a second of an idle process.
"""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

import habitat.connectivity as connect
from habitat.knowledge import load_knowledge
from habitat.planting.plan_yard import plan_yard
from habitat.settings.knowledge import KnowledgeSettings
from habitat.suitability import compile_needs

PLACE = CRS.from_epsg(32617)
CORNER = np.array([337_000.0, 4_418_000.0])
"""Any place on the ground will do: this one is that of the examples."""


def warm_planting() -> None:
    """Plan a small yard with a house: places for beds, choice, drawing."""
    knowledge = load_knowledge(KnowledgeSettings(), None)
    yard, house = shapely.box(0, 0, 20, 30), shapely.box(5, 18, 15, 28)
    wishes = list(knowledge.butterflies.index[:6])
    plan_yard(
        yard,
        {"sun_h": 7.0},
        knowledge=knowledge,
        needs=compile_needs(knowledge, assessed=["sun_h"]),
        wishes=wishes,
        buildings=[house],
        latitude_deg=39.9,
    )


def warm_corridor() -> None:
    """Link some places, weigh each, and choose whom to ask."""
    rng = np.random.default_rng(0)
    spots = CORNER + rng.uniform(0.0, 900.0, (40, 2))
    patches = gpd.GeoDataFrame(geometry=shapely.buffer(shapely.points(spots), 8.0), crs=PLACE)
    area_m2 = pd.Series(rng.uniform(0.0, 40.0, len(patches)), patches.index)
    reach = connect.Reach(median_m=150.0)
    links = connect.link_patches(patches, reach.longest_m)
    passage = connect.link_passage(links, reach)
    connect.equivalent_connected_area(area_m2, links, passage)
    connect.patch_importance(area_m2, links, passage)
    connect.likeliest_chain(links, passage, 0, len(patches) - 1)
    asked = pd.Series(np.arange(len(patches)) % 5 == 0, patches.index)
    connect.choose_patches(area_m2, links, passage, asked, number=2)


JOBS: tuple[tuple[str, Callable[[], None]], ...] = (
    ("yards and beds", warm_planting),
    ("the corridor", warm_corridor),
)
"""What is made ready, in words, the longest first."""
