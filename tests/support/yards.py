"""Yards made up for planting tests: house, paths, open ground with setbacks, shade north of the house."""

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS
from shapely import box
from shapely.affinity import rotate, translate

from habitat.grid import Grid
from habitat.knowledge import load_knowledge
from habitat.planting.choice.facts import read_facts
from habitat.planting.choice.problem import Standing, YardWishes
from habitat.planting.communities.habits import read_habits
from habitat.planting.communities.rules import rules_of
from habitat.planting.drawing.draw import DrawingBoard, draw_choice, drawn_tables, read_kinds
from habitat.planting.sites.bed_sites import make_bed_sites, make_unplaced_sites
from habitat.planting.types import Allocation, Choice, YardContext
from habitat.planting.yard_jobs import ChoiceJob, Shared
from habitat.settings.knowledge import KnowledgeSettings
from habitat.settings.planting import PlantingSettings
from habitat.settings.suitability import SuitabilitySettings
from habitat.site.types import SiteWindow
from habitat.suitability import compile_needs
from habitat.suitability.types import Fit
from tests.support.choice_yards import WISHES

UTM = CRS.from_epsg(32617)
ORIGIN = (500_000.0, 4_400_000.0)
SETBACKS = {"herb": (0.3, 0.3), "shrub": (1.0, 1.0), "tree": (3.0, 6.0)}
SETTINGS, SEASON = PlantingSettings(), (4, 10)
KNOWLEDGE = load_knowledge(KnowledgeSettings())
PLANTS = tuple(KNOWLEDGE.plants.index)
KINDS = read_kinds(PLANTS, KNOWLEDGE)
NEEDS = compile_needs(KNOWLEDGE, SuitabilitySettings(), ("sun_h",))


@dataclass(frozen=True)
class Scene:
    """One yard with everything that bed sites take."""

    yard: pd.Series
    open_ground: gpd.GeoDataFrame
    fit: Fit
    window: SiteWindow
    context: YardContext

    def ground(self, form):
        """Return the open ground of a growth form."""
        return self.open_ground.set_index("growth_form").geometry[form]

    def sites(self, *, placed=True, **wanted):
        """Return the yard's bed sites; ``wanted`` are the household and the most trees."""
        find = make_bed_sites if placed else make_unplaced_sites
        return find(
            self.yard,
            self.open_ground,
            self.fit,
            NEEDS,
            self.window,
            bed_share_max=SETTINGS.bed_share_max,
            knowledge=KNOWLEDGE,
            context=self.context,
            **wanted,
        )

    def board(self):
        """Return the board to draw on."""
        return DrawingBoard(self.yard, KINDS, self.context.latitude_deg)

    def draw(self, choice, sites):
        """Draw a choice."""
        return drawn_tables([draw_choice(self.board(), sites, choice)], UTM)


def empty(*columns):
    """Return an empty layer."""
    return gpd.GeoDataFrame({c: [] for c in columns}, geometry=[], crs=UTM)


def existing(rows=()):
    """Return an ``existing_plants`` table from (plant, count, crown_m2, x, y)."""
    data = [
        {
            "row": k,
            "yard_id": "Y1",
            "plant": plant,
            "name_given": plant,
            "count": float(count),
            "crown_m2": crown,
            "butterflies": "",
            "geometry": shapely.Point(x, y),
        }
        for k, (plant, count, crown, x, y) in enumerate(rows)
    ]
    if not data:
        return empty("row", "yard_id", "plant", "name_given", "count", "crown_m2", "butterflies")
    return gpd.GeoDataFrame(data, geometry="geometry", crs=UTM)


def scene(yard, hard, *, cell_m=1.0, latitude=39.9, plants=(), sprayed=False):
    """Return a yard's scene: ``yard`` a polygon, ``hard`` the house (shade north of it) or None."""
    west, south, east, north = yard.bounds
    grid = Grid.from_bounds((west - 2, south - 2, east + 2, north + 2), cell_m, UTM)
    hard = shapely.Polygon() if hard is None else hard
    sun = np.full(grid.shape, 8.0, np.float32)
    if not hard.is_empty:
        top = hard.bounds[3]
        sun[(grid.y > top) & (grid.y < top + 6), :] = 2.5
    ground = [yard.buffer(-edge).difference(hard.buffer(wall)) for edge, wall in SETBACKS.values()]
    table = gpd.GeoDataFrame(
        {"yard_id": "Y1", "growth_form": list(SETBACKS), "open_m2": [g.area for g in ground]},
        geometry=ground,
        crs=UTM,
    )
    closed = empty("yard_id", "what", "reason", "growth_form", "setback_m")
    if not hard.is_empty:
        closed = gpd.GeoDataFrame(
            {
                "yard_id": ["Y1"],
                "what": ["building"],
                "reason": ["wall of a building"],
                "growth_form": ["herb"],
                "setback_m": [0.3],
            },
            geometry=[hard.buffer(0.3)],
            crs=UTM,
        )
    context = YardContext(
        latitude,
        closed,
        empty("yard_id", "reason", "height_max_m"),
        empty("yard_id", "reason"),
        existing(plants),
    )
    row = pd.Series({"yard_id": "Y1", "role": "member", "sprayed": sprayed, "geometry": yard})
    return Scene(row, table, fit_to_sun(sun), SiteWindow(grid, {"sun_h": sun}), context)


def fit_to_sun(sun):
    """Return fit by sun alone: trapezia from the shipped plant table."""
    table = KNOWLEDGE.plants[["sun_min_h", "sun_opt_low_h", "sun_opt_high_h", "sun_max_h"]].to_numpy(float)
    low, opt_low, opt_high, high = (table[:, k, None, None] for k in range(4))
    up = (sun - low) / np.maximum(opt_low - low, 1e-6)
    down = (high - sun) / np.maximum(high - opt_high, 1e-6)
    scaled = np.rint(np.clip(np.minimum(up, down), 0, 1) * 255).astype(np.uint8)
    return Fit(PLANTS, scaled, scaled, np.zeros(scaled.shape, np.uint8))


def random_yard(seed):
    """Return a random yard and its house: turned, four to six corners, the house inside or at an edge."""
    rng = np.random.default_rng(seed)
    wide, deep = rng.uniform(8, 40, 2)
    corners = [(0, 0), (wide, 0), (wide, deep), (0, deep)]
    if rng.random() < 0.5:
        corners[2:3] = [(wide, deep * rng.uniform(0.4, 0.9)), (wide * rng.uniform(0.4, 0.9), deep)]
    yard = shapely.Polygon(np.array(corners) + rng.normal(0, 0.8, (len(corners), 2)))
    w, d = rng.uniform(0.2, 0.6, 2) * (wide, deep)
    x, y = rng.uniform(0, 0.8, 2) * (wide - w, deep - d)
    house = box(x, y, x + w, y + d)
    turn = rng.uniform(0, 360)
    if not yard.is_valid:
        yard = yard.convex_hull
    return tuple(translate(rotate(g, turn, origin=(0, 0)), *ORIGIN) for g in (yard, house))


def random_choice(sites, seed, *, fill=0.9, kinds=4):
    """Return a choice that fills bed sites with random plants that fit, to ``fill`` of each site's room."""
    rng = np.random.default_rng(seed)
    chosen = []
    for site in sites:
        able = np.flatnonzero((site.capacity > 0) & (site.fit > 0.25))
        if not len(able):
            continue
        picked = rng.choice(able, min(kinds if site.growth_form == "herb" else 1, len(able)), replace=False)
        left = 1.0
        for p in picked:
            count = max(1, int(site.capacity[p] * fill / len(picked)))
            left -= count / site.capacity[p]
            if left < 0:
                break
            chosen.append(
                Allocation(site.site_id, PLANTS[p], "plug", count, 2.0 * count, "nectar", (), "because")
            )
    return Choice("Y1", tuple(chosen), 0.0, 0.0, {}, (), 0.0)


FACTS = read_facts(KNOWLEDGE, NEEDS, WISHES, SETTINGS, SEASON)


RULES = rules_of(SETTINGS)
HABITS = read_habits(KNOWLEDGE.plants.loc[list(NEEDS.plants)], RULES)
SHARED = Shared(SETTINGS, 7, KNOWLEDGE, NEEDS, FACTS, KINDS, HABITS, RULES, placeable=True, latitude_deg=39.9)


def rich_yard(seed):
    """A random yard with money to fill all its beds."""
    one = scene(*random_yard(seed))
    standing = Standing(np.zeros(len(FACTS.meals)), np.zeros(len(FACTS.meals)))
    return ChoiceJob(one.yard, YardWishes("Y1", 3000.0), one.sites(), standing)
