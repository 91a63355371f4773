"""One yard's work: what is chosen is what is drawn, and a soil test is sure of its soil."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from shapely import box

from habitat.planting import yard_jobs
from habitat.planting.communities.choose import wants_many_kinds
from habitat.planting.drawing.draw import Drawing, PointBlock
from habitat.planting.drawing.observed import ObservedCapacity
from habitat.planting.standing import standing_fit
from habitat.planting.yard_jobs import YardJob, _choose, far_from_company, find_sites, plan_for
from habitat.settings.suitability import SuitabilitySettings
from habitat.site.types import Site, SiteWindow
from habitat.suitability import compile_needs
from habitat.suitability.maps import map_errors
from tests.support.yards import (
    FACTS,
    KNOWLEDGE,
    PLANTS,
    SETTINGS,
    SHARED,
    existing,
    rich_yard,
    scene,
)


@pytest.mark.parametrize("seed", range(6))
def test_every_plant_chosen_is_drawn(seed):
    job = rich_yard(seed)
    choice, drawing = plan_for(job, SHARED)
    assert not drawing.dropped
    drawn = {row["planting_id"]: row["count"] for row in drawing.plantings}  # rings that join a bed have own
    assert sorted(drawn.values()) == sorted(a.count for a in choice.allocations)
    assert {block.planting_id: len(block.xy) for block in drawing.points} == drawn
    assert choice.worth <= choice.bound


def test_the_bound_is_that_of_all_the_room():
    """Room that a drawing did not find narrows the plan, not what is proven of it."""
    job = rich_yard(0)
    half = {s.site_id: 0.5 for s in job.sites}
    alone = _choose(job, SHARED, ObservedCapacity())
    tight = _choose(job, SHARED, ObservedCapacity(half, {}, half))
    assert tight.worth < alone.worth
    assert plan_for(job, SHARED)[0].bound >= alone.worth - 1e-9


def test_aims_stay_when_what_is_drawn_leaves_few_kinds(monkeypatch):
    """A worth is held against a bound with the same aims, though few kinds are left to choose from."""
    job, turns, real = rich_yard(3), [], yard_jobs.choose_communities

    def fallen(*_):
        every = {(s.site_id, p): 0.0 for s in job.sites for p in SHARED.facts.plants[12:]}
        return every if len(turns) == 1 else {}

    def choose(problem, habits, rules, **more):
        turns.append((more["rich"], wants_many_kinds(problem, rules)))
        return real(problem, habits, rules, **more)

    monkeypatch.setattr(yard_jobs, "_fallen", fallen)
    monkeypatch.setattr(yard_jobs, "choose_communities", choose)
    plan_for(job, SHARED)
    assert {now for _, now in turns} == {True, False}
    assert all(kept for kept, _ in turns)


MILKWEED, TULIP_TREE = "Asclepias syriaca", "Liriodendron tulipifera"


def test_plants_beside_a_soil_test_are_sure_of_their_soil(monkeypatch):
    """Confidence lowers a fit by the error of the map, but not in the yard whose pH was tested."""
    yard = box(500_000, 4_400_000, 500_020, 4_400_030)
    grid = scene(yard, box(500_004, 4_400_005, 500_014, 4_400_012)).window.grid
    sure = SuitabilitySettings(confidence=0.8, draws=50)
    needs = compile_needs(KNOWLEDGE, sure, ("ph",), errors=map_errors({"ph": 0.5})).subset([MILKWEED])
    best_to = KNOWLEDGE.plants.loc[MILKWEED, "ph_opt_high"]  # from here on half of all errors lower its fit
    raster = np.full(grid.shape, best_to, np.float32)
    ground = {"grid": grid, "rasters": {"ph": raster}, "sun_by_month": {}, "placeable": True}
    empty = existing([]).iloc[:0]
    site = Site(**ground, open_ground=empty, closed_ground=empty, yards=empty, tests={"ph": frozenset({"b"})})
    grown = existing([(MILKWEED, 1, 1.0, 500_010.0, 4_400_014.0)] * 2).assign(yard_id=["a", "b"])
    untested, tested = standing_fit(grown, site, needs)
    assert tested == 1.0
    assert untested < 0.9
    found, jobs = [], "habitat.planting.yard_jobs"
    monkeypatch.setattr(f"{jobs}.make_bed_sites", lambda *asked, **_: found.append(asked[2]) or [])
    shared = SimpleNamespace(needs=needs, placeable=True, settings=SETTINGS, knowledge=KNOWLEDGE)
    for yard_id in ("a", "b"):  # and so do the places for new beds
        window, known = SiteWindow(grid, {"ph": raster}), site.tested_in(yard_id)
        find_sites(YardJob(pd.Series(), empty, window, None, known), shared)
    assert found[0].low.max() < 0.9 * 255
    assert found[1].low.min() == 255


@pytest.mark.parametrize(("apart_m", "far"), [(0.5, False), (0.7, True)])
def test_a_plant_that_lives_on_the_roots_of_others_stands_beside_one_or_not_at_all(apart_m, far):
    """By hand: the first plant of the tables is said to live on the second; it must stand within 0.6 m."""
    alone = (frozenset(),) * (len(PLANTS) - 1)
    facts = replace(FACTS, companions=(frozenset({PLANTS[1]}), *alone))
    places = (np.zeros((1, 2)), np.array([[apart_m, 0.0], [9.0, 9.0]]))
    blocks = [PointBlock(f"p{k}", "b1", "Y1", PLANTS[k], k, 0.4, 0.5, xy) for k, xy in enumerate(places)]
    assert far_from_company(Drawing(points=blocks), facts) == (frozenset({PLANTS[0]}) if far else frozenset())
    assert far_from_company(Drawing(points=blocks[:1]), facts) == frozenset({PLANTS[0]})  # no company at all
    assert far_from_company(Drawing(points=blocks[1:]), facts) == frozenset()
