"""Estimates of habitat beside plans: what they may not do, and that they order unlike yards as plans do."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
import shapely
from scipy.stats import spearmanr

from habitat.grid import Grid
from habitat.ground.open_ground import open_and_closed
from habitat.knowledge import load_knowledge
from habitat.planting.estimate import estimate_habitat, fits_by_light
from habitat.planting.plan_yards import plan_yards
from habitat.planting.standing import existing_plants
from habitat.settings.planting import PlantingSettings
from habitat.site.types import Site
from habitat.suitability import compile_needs

WISHES = ("Danaus plexippus", "Papilio polyxenes", "Phyciodes tharos")
HOURS = (0.5, 3.0, 6.0, 9.0, 9.0, 9.0)
SIDES_M = (16.0, 16.0, 16.0, 16.0, 9.0, 4.0)
"""Yards from dark to light, then from large to small."""


@pytest.fixture(scope="module")
def made():
    """Return what both take, of six yards without houses."""
    knowledge = load_knowledge()
    boxes = [shapely.box(40 * k, 0, 40 * k + s, s) for k, s in enumerate(SIDES_M)]
    yards = gpd.GeoDataFrame(
        {"yard_id": [f"{k}" for k in range(6)], "role": "member"}, geometry=boxes, crs=32617
    )
    grid = Grid.from_bounds(tuple(shapely.total_bounds([b.buffer(4.0) for b in boxes])), 1.0, yards.crs)
    sun = np.zeros(grid.shape, np.float32)
    for box, hours in zip(boxes, HOURS, strict=True):
        rows, cols = grid.window(box.buffer(4.0).bounds)
        sun[rows, cols] = hours
    none = {"buildings": yards.iloc[:0]}
    ground = open_and_closed(yards, none, None)
    site = Site(
        grid, {"sun_h": sun}, {}, ground.open_ground, ground.closed_ground, yards, placeable=True,
        height_limits=ground.height_limits, host_limits=ground.host_limits,
    )  # fmt: skip
    needs = compile_needs(knowledge, assessed=("sun_h",))
    shared = {
        "knowledge": knowledge, "needs": needs, "settings": PlantingSettings(budget=120.0, effort="quick"),
        "wishes": WISHES, "season": (4, 10), "yard_ids": tuple(yards["yard_id"]),
    }  # fmt: skip
    return (yards, site, existing_plants(yards, knowledge)[0]), shared


@pytest.fixture(scope="module")
def estimated(made):
    return estimate_habitat(*made[0], **made[1])


def test_unlike_yards_are_ordered_as_their_plans_are(made, estimated):
    """The plans are the other side of the check: beds found, plants drawn, habitat recounted."""
    plans = plan_yards(*made[0], **made[1]).yard_butterflies.groupby("yard_id")["habitat_m2"].sum()
    assert spearmanr(estimated.sum(axis=1), plans[estimated.index]).statistic >= 0.8
    assert 0.5 * plans.sum() <= estimated.to_numpy().sum() <= 2.0 * plans.sum()


def test_no_leaf_beyond_what_is_enough_and_none_below_nothing(made, estimated):
    assert (estimated.to_numpy() >= 0.0).all()
    assert (estimated.to_numpy() <= made[1]["settings"].enough_m2).all()


def test_who_else_is_estimated_changes_nothing(made, estimated):
    two = estimate_habitat(*made[0], **{**made[1], "yard_ids": ("3", "1")})
    assert two.to_numpy() == pytest.approx(estimated.loc[["3", "1"]].to_numpy())


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
