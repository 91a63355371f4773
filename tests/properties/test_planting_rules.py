"""Firm rules of published planting sheets, over random yards and the yard measured by tape.

``tests/pipeline/test_run.py`` asks them of real parcels, ``tests/commands/run/test_command.py`` of the demo.
"""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
import shapely

from habitat.planting.choice.problem import Standing, YardWishes
from habitat.planting.drawing.draw import drawn_tables
from habitat.planting.yard_jobs import ChoiceJob, plan_for
from tests.support.plan_rules import broken
from tests.support.tape_yard import DRIVE, FAMILY, HOUSE, PORCH, WALK, _here, tape_yard
from tests.support.yards import FACTS, SHARED, UTM, random_yard, scene

RANDOM = range(20, 32)


def shapes(*some):
    return gpd.GeoDataFrame(geometry=list(some), crs=UTM)


def planned(one, money, **wanted):
    """Return plantings, points and beds of one yard, planned with so much money."""
    standing = Standing(np.zeros(len(FACTS.meals)), np.zeros(len(FACTS.meals)))
    wishes = replace(YardWishes("Y1", money), **wanted)
    household = {"household": wishes.household} if wanted else {}
    _, drawing = plan_for(ChoiceJob(one.yard, wishes, one.sites(**household), standing), SHARED)
    found = drawn_tables([drawing], UTM)
    return found.plantings, found.points, found.beds


@pytest.mark.parametrize("seed", RANDOM)
def test_random_yards_keep_the_rules(seed):
    yard, house = random_yard(seed)
    tables = planned(scene(yard, house), 600.0)
    assert len(tables[0]) > 2
    assert broken(*tables, buildings=None if house is None else shapes(house)) == {}


def test_the_tape_yard_keeps_the_rules_and_has_the_structure_of_a_garden():
    """Family, dog, 300 in money, one oak, walk, porch, drive and fence."""
    plantings, points, beds = planned(tape_yard(), 300.0, household=FAMILY, children=True, pets=True)
    walls, paving = shapes(_here(HOUSE), _here(PORCH)), shapes(_here(DRIVE), _here(WALK))
    assert broken(plantings, points, beds, walls, paving) == {}
    assert 0.0 < plantings["cost"].sum() <= 300.0
    assert 1 <= len(beds) <= 4
    assert beds["area_m2"].max() >= 6.0
    assert plantings["plant"].nunique() >= 5
    assert {"season", "ground"} <= set(plantings["layer"])


def test_each_rule_can_be_broken():
    """What the rules say of plans that break them: else nothing would be held."""
    rows = {
        "planting_id": ["t", "s", "f", "g"], "bed_id": ["a", "a", "b", "b"], "yard_id": "Y1",
        "plant": ["Liriodendron tulipifera", "Lindera benzoin", "Zizia aurea", "Salvia lyrata"],
        "count": [1, 1, 30, 2], "spacing_m": [6.0, 2.5, 0.4, 0.3], "purpose": "host", "layer": "season",
    }  # fmt: skip
    plantings = gpd.GeoDataFrame(rows, geometry=[None] * 4, crs=UTM)
    spots = [(2.0, 0.2), (1.0, 0.5), *((k / 10.0, 9.0) for k in range(30)), (0.0, 8.0), (3.0, 8.0)]
    numbers = np.repeat(np.arange(4), rows["count"])
    points = gpd.GeoDataFrame(
        {
            "planting_id": np.array(rows["planting_id"])[numbers], "plant": np.array(rows["plant"])[numbers],
            "height_m": np.array([30.0, 3.0, 0.7, 0.3])[numbers],
            "crown_m": np.array([12.0, 3.0, 0.4, 0.3])[numbers],
        },
        geometry=shapely.points(spots), crs=UTM,
    )  # fmt: skip
    beds = gpd.GeoDataFrame(
        {"bed_id": ["a", "b"], "growth_form": "herb", "area_m2": [9.0, 9.0]}, geometry=[None, None], crs=UTM
    )
    at_once = shapes(shapely.box(-5, -5, 5, 0))
    found = broken(
        plantings, points, beds, at_once, at_once, shapes(shapely.LineString([(0, 0), (9, 0)])), 6.0
    )
    assert found == {
        "lone herbs": 1, "trees near walls": 1, "trees near paving": 1, "shrubs near walls": 1,
        "tall under wires": 1, "plants too close": 1, "beds of one kind": 2,
    }  # fmt: skip
