"""A choice on the ground: what finds no place is counted, and limits what is chosen next."""

import dataclasses

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from habitat.planting.drawing.draw import DrawingBoard, draw_choice
from habitat.planting.drawing.observed import ObservedCapacity
from habitat.planting.types import Allocation, Choice
from tests.support.yards import (
    FACTS,
    KINDS,
    PLANTS,
    rich_yard,
)


def test_observed_capacity_is_what_stood():
    """Of 20 and 40 plants where each fills the site with 40 and 80, ten and 30 stand: 5/8 of the room."""
    job = rich_yard(1)
    one, two = PLANTS[0], PLANTS[1]
    capacity = np.zeros(len(PLANTS), np.int64)
    capacity[:3] = 40, 80, 9
    site = dataclasses.replace(job.sites[0], site_id=7, capacity=capacity)
    chosen = tuple(Allocation(7, p, "plug", n, 1.0, "", (), "") for p, n in ((one, 20), (two, 40)))
    choice = Choice("Y1", chosen, 0.0, 0.0, {}, (), 0.0)
    observed = ObservedCapacity().after(choice, {(7, one): 10, (7, two): 10}, [site], FACTS)
    assert observed.used_share == {7: pytest.approx(10 / 40 + 30 / 80)}
    assert observed.limit(site, FACTS).capacity[:3].tolist() == [25, 50, 5]
    assert observed.limit(dataclasses.replace(site, site_id=8), FACTS).capacity[0] == 40


def test_one_kind_that_stood_may_stand_again():
    """Two of three shrubs stood beside herbs: two may be chosen again, though 0.6 of three is one."""
    job = rich_yard(1)
    capacity = np.full(len(PLANTS), 3, np.int64)
    site = dataclasses.replace(job.sites[0], capacity=capacity)
    observed = ObservedCapacity({site.site_id: 0.6}, {(site.site_id, PLANTS[5]): 2})
    assert observed.limit(site, FACTS).capacity[[4, 5]].tolist() == [1, 2]


def test_poisonous_plants_are_drawn_so_far_from_walks_as_they_must_stand():
    job = rich_yard(2)
    site = max((s for s in job.sites if s.growth_form == "herb"), key=lambda s: s.area_m2)
    west, south, east, _ = site.polygon.bounds
    site = dataclasses.replace(site, people=box(west - 9, south - 9, (west + east) / 2 - 1.5, south + 99))
    milkweed, aster = "Asclepias incarnata", "Symphyotrichum laeve"
    chosen = tuple(Allocation(site.site_id, p, "plug", 5, 1.0, "", (), "") for p in (milkweed, aster))
    choice = Choice("Y1", chosen, 0.0, 0.0, {}, (), 0.0)
    nearest = {}
    for away in ({}, {milkweed: 1.5}):
        board = DrawingBoard(job.yard, KINDS, 39.9, away_m=away)
        drawing = draw_choice(board, [site], choice)
        assert not drawing.short
        for block in drawing.points:
            nearest[block.plant, bool(away)] = shapely.distance(shapely.points(block.xy), site.people).min()
    assert nearest[milkweed, True] >= 1.5
    assert min(nearest[milkweed, False], nearest[aster, True]) < 1.5


def test_a_drawing_counts_what_found_no_place():
    job = rich_yard(2)
    site = next(s for s in job.sites if s.growth_form == "herb")
    plant = "Symphyotrichum laeve"
    most = int(site.capacity[PLANTS.index(plant)])
    chosen = (Allocation(site.site_id, plant, "plug", 2 * most, 1.0, "", (), ""),)
    choice = Choice("Y1", chosen, 0.0, 0.0, {}, (), 0.0)
    drawing = draw_choice(DrawingBoard(job.yard, KINDS, 39.9), job.sites, choice)
    placed = sum(len(block.xy) for block in drawing.points)
    assert most <= placed < 2 * most
    assert drawing.short == {(site.site_id, plant): 2 * most - placed}
