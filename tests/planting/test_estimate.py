"""Estimates of habitat beside plans: what they may not do, and that they order unlike yards as plans do."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
import shapely
from scipy.stats import spearmanr
from shapely.affinity import translate

from habitat.grid import Grid
from habitat.ground.open_ground import open_and_closed
from habitat.planting.choice.problem import YardWishes
from habitat.planting.estimate import EstimateJob, estimate_habitat, fits_by_light, typical_sites
from habitat.planting.household import Household
from habitat.planting.plan_yards import plan_yards, read_shared
from habitat.planting.standing import existing_plants
from habitat.settings.planting import PlantingSettings
from habitat.site.types import Site
from habitat.suitability import compile_needs
from tests.support.yards import KNOWLEDGE, random_yard

WISHES = ("Danaus plexippus", "Papilio polyxenes", "Phyciodes tharos")
HOURS = (0.5, 3.0, 6.0, 9.0, 9.0, 9.0)
SIDES_M = (16.0, 16.0, 16.0, 16.0, 9.0, 4.0)
"""Yards from dark to light, then from large to small."""


def town(boxes, houses, hours, wishes, budget):
    """Return what plans and estimates take, of yards with one sun each [h]."""
    yards = gpd.GeoDataFrame(
        {"yard_id": [f"{k:02d}" for k in range(len(boxes))], "role": "member"}, geometry=boxes, crs=32617
    )
    grid = Grid.from_bounds(tuple(shapely.total_bounds([b.buffer(4.0) for b in boxes])), 1.0, yards.crs)
    sun = np.zeros(grid.shape, np.float32)
    for box, sun_h in zip(boxes, hours, strict=True):
        rows, cols = grid.window(box.buffer(4.0).bounds)
        sun[rows, cols] = sun_h
    buildings = gpd.GeoDataFrame(geometry=houses, crs=yards.crs)
    ground = open_and_closed(yards, {"buildings": buildings}, None)
    site = Site(
        grid, {"sun_h": sun}, {}, ground.open_ground, ground.closed_ground, yards, placeable=True,
        height_limits=ground.height_limits, host_limits=ground.host_limits,
    )  # fmt: skip
    needs = compile_needs(KNOWLEDGE, assessed=("sun_h",))
    shared = {
        "knowledge": KNOWLEDGE, "needs": needs, "settings": PlantingSettings(budget=budget, effort="quick"),
        "wishes": wishes, "season": (4, 10), "yard_ids": tuple(yards["yard_id"]),
    }  # fmt: skip
    return (yards, site, existing_plants(yards, KNOWLEDGE)[0]), shared


@pytest.fixture(scope="module")
def made():
    """Return what both take, of six yards without houses."""
    boxes = [shapely.box(40 * k, 0, 40 * k + s, s) for k, s in enumerate(SIDES_M)]
    return town(boxes, [], HOURS, WISHES, 120.0)


@pytest.fixture(scope="module")
def estimated(made):
    return estimate_habitat(*made[0], **made[1])


def test_random_yards_with_little_money_are_ordered_as_their_plans_are():
    """Sixteen yards with a house each, light by chance; for 60 a plan plants part of one bed or nothing.

    The plans are the other side of the check: beds found, plants drawn, habitat recounted.
    """
    made = [tuple(translate(g, 70 * k, 0) for g in random_yard(k)) for k in range(16)]
    hours = np.random.default_rng(0).uniform(0.5, 10.0, 24)[:16]
    given = town(*map(list, zip(*made, strict=True)), hours, ("Danaus plexippus",), 60.0)
    plans = plan_yards(*given[0], **given[1]).yard_butterflies.set_index("yard_id")["habitat_m2"]
    found = estimate_habitat(*given[0], **given[1]).sum(axis=1)
    assert spearmanr(found, plans[found.index]).statistic >= 0.8
    assert 0.75 * plans.sum() <= found.sum() <= 1.33 * plans.sum()


def test_no_leaf_beyond_what_is_enough_and_none_below_nothing(made, estimated):
    assert (estimated.to_numpy() >= 0.0).all()
    assert (estimated.to_numpy() <= made[1]["settings"].enough_m2).all()


def test_who_else_is_estimated_changes_nothing(made, estimated):
    two = estimate_habitat(*made[0], **{**made[1], "yard_ids": ("03", "01")})
    assert two.to_numpy() == pytest.approx(estimated.loc[["03", "01"]].to_numpy())


def test_without_open_ground_or_money_nothing_is_planted(made):
    yards, site, existing = made[0]
    shut = site.open_ground.assign(geometry=shapely.Polygon())
    for ground, settings in (
        (replace(site, open_ground=shut), made[1]["settings"]),
        (site, PlantingSettings(budget=0.0)),
    ):
        got = estimate_habitat(yards, ground, existing, **{**made[1], "settings": settings})
        assert not got.to_numpy().any()


def test_fits_come_from_dark_to_light(made):
    """A yard half of which lies in the dark: milkweed wants light."""
    yards, site, _ = made[0]
    sun = site.rasters["sun_h"].copy()
    sun[:, : site.grid.rowcol(np.array([128.0]), np.array([0.0]))[1][0]] = 0.0
    needs = made[1]["needs"]
    fits = fits_by_light(yards.geometry[3], replace(site, rasters={"sun_h": sun}), needs)
    milkweed = needs.plants.index("Asclepias syriaca")
    assert fits[0][milkweed] == 0.0
    assert fits[-1][milkweed] > 0.9


def test_light_is_looked_up_in_the_yard_itself_up_to_the_edge_of_the_grid(made):
    """The last yard lies within nine cells of the edge: it is dark, the strip west of it light."""
    yards, site, _ = made[0]
    sun = site.rasters["sun_h"].copy()
    sun[:, site.grid.rowcol(np.array([200.5]), np.array([1.0]))[1][0] :] = 0.0
    fits = fits_by_light(yards.geometry[5], replace(site, rasters={"sun_h": sun}), made[1]["needs"])
    assert max(f[made[1]["needs"].plants.index("Asclepias syriaca")] for f in fits) == 0.0


def test_a_yard_with_room_for_one_bed_has_one_and_no_vine_that_nobody_wants(made):
    """A quarter of 64 m2 is 16 m2: one bed, since two would want 24."""
    given = {k: made[1][k] for k in ("knowledge", "needs", "settings", "wishes", "season")}
    more = {"growers": None, "settings_file": "", "seed": 0, "placeable": True, "latitude_deg": 40.0}
    shared, _ = read_shared(*given.values(), **more)
    wishes = YardWishes(yard_id="00", budget=120.0, household=Household(vines=False))
    light = (np.ones(len(shared.facts.plants)),) * 8
    (bed,) = typical_sites(EstimateJob(wishes, made[0][2], 64.0, 0.0, light), shared)
    assert (bed.growth_form, bed.area_m2) == ("herb", 16.0)
