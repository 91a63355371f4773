"""What a yard chooses is what is drawn, also where money fills its beds."""

import dataclasses

import numpy as np
import pytest

from habitat.planting.choice.choose import choose
from habitat.planting.choice.facts import read_facts
from habitat.planting.choice.problem import Standing, YardWishes
from habitat.planting.drawing.draw import DrawingBoard, RoomFound, draw_choice
from habitat.planting.types import Allocation, Choice
from habitat.planting.yard_jobs import ChoiceJob, Shared, plan_for, problem_of
from tests.support.choice_yards import WISHES
from tests.support.yards import KINDS, KNOWLEDGE, NEEDS, PLANTS, SEASON, SETTINGS, random_yard, scene

FACTS = read_facts(KNOWLEDGE, NEEDS, WISHES, SETTINGS, SEASON)
SHARED = Shared(SETTINGS, 7, KNOWLEDGE, NEEDS, FACTS, KINDS, placeable=True, latitude_deg=39.9)


def rich_yard(seed):
    """A random yard with money to fill all its beds."""
    one = scene(*random_yard(seed))
    standing = Standing(np.zeros(len(WISHES)), np.zeros(len(WISHES)))
    return ChoiceJob(one.yard, YardWishes("Y1", 3000.0), one.sites(), standing)


@pytest.mark.parametrize("seed", range(6))
def test_every_plant_chosen_is_drawn(seed):
    job = rich_yard(seed)
    choice, drawing = plan_for(job, SHARED)
    assert not drawing.dropped
    drawn = {(row["bed_id"], row["plant"]): row["count"] for row in drawing.plantings}
    assert sorted(drawn.values()) == sorted(a.count for a in choice.allocations)
    points = {}
    for block in drawing.points:
        points[block.bed_id, block.plant] = len(block.xy)
    assert points == drawn
    assert choice.worth <= choice.bound


def test_the_bound_is_that_of_all_the_room():
    """Room that a drawing did not find narrows the plan, not what is proven of it."""
    job = rich_yard(0)
    alone = choose(problem_of(job, SHARED))
    tight = choose(problem_of(job, SHARED, RoomFound({s.site_id: 0.5 for s in job.sites})))
    assert tight.worth < alone.worth
    assert plan_for(job, SHARED)[0].bound >= alone.worth - 1e-9


def test_room_found_is_what_stood():
    """Of 20 and 40 plants where each fills the site with 40 and 80, ten and 30 stand: 5/8 of the room."""
    job = rich_yard(1)
    one, two = PLANTS[0], PLANTS[1]
    capacity = np.zeros(len(PLANTS), np.int64)
    capacity[:3] = 40, 80, 9
    site = dataclasses.replace(job.sites[0], site_id=7, capacity=capacity)
    chosen = tuple(Allocation(7, p, "plug", n, 1.0, "", (), "") for p, n in ((one, 20), (two, 40)))
    choice = Choice("Y1", chosen, 0.0, 0.0, {}, (), 0.0)
    found = RoomFound().after(choice, {(7, one): 10, (7, two): 10}, [site], FACTS)
    assert found.share == {7: pytest.approx(10 / 40 + 30 / 80)}
    assert found.less_room(site, FACTS).capacity[:3].tolist() == [25, 50, 5]
    assert found.less_room(dataclasses.replace(site, site_id=8), FACTS).capacity[0] == 40


def test_one_kind_that_stood_may_stand_again():
    """Two of three shrubs stood beside herbs: two may be chosen again, though 0.6 of three is one."""
    job = rich_yard(1)
    capacity = np.full(len(PLANTS), 3, np.int64)
    site = dataclasses.replace(job.sites[0], capacity=capacity)
    found = RoomFound({site.site_id: 0.6}, {(site.site_id, PLANTS[5]): 2})
    assert found.less_room(site, FACTS).capacity[[4, 5]].tolist() == [1, 2]


def test_a_drawing_counts_what_found_no_place():
    job = rich_yard(2)
    site = next(s for s in job.sites if s.growth_form == "herb")
    plant = "Symphyotrichum laeve"
    most = int(site.capacity[PLANTS.index(plant)])
    chosen = (Allocation(site.site_id, plant, "plug", most + 7, 1.0, "", (), ""),)
    choice = Choice("Y1", chosen, 0.0, 0.0, {}, (), 0.0)
    drawing = draw_choice(DrawingBoard(job.yard, KINDS, 39.9), job.sites, choice)
    assert drawing.short == {(site.site_id, plant): 7}
