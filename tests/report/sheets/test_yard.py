"""What the drawing of a yard shows of its ground."""

from dataclasses import replace

import geopandas as gpd
from shapely import Point, box

from habitat.report.sheets.facts import FactFinder
from habitat.report.sheets.yard import DOWNSPOUT_M, ground_drawing
from habitat.report.words.numbers import Units
from tests.report.small_plan import small_plan


def test_downspouts_of_the_yard_stand_on_it_and_in_its_legend(tmp_path):
    facts = FactFinder(small_plan(tmp_path)).of("0007")
    inside = facts.shape.representative_point()
    outlets = gpd.GeoDataFrame(geometry=[inside, Point(facts.shape.bounds[0] - 5, inside.y)])
    house = gpd.GeoDataFrame(geometry=[box(inside.x, inside.y, inside.x + 5, inside.y + 5)])
    yard = replace(facts, around={"downspouts": outlets, "buildings": house})
    drawn = ground_drawing(yard, (200.0, 200.0), Units("metric"))
    (mark,) = [m for m in drawn["marks"] if m["look"] == "downspout"]
    assert abs(mark["r"] - DOWNSPOUT_M * 1000 / drawn["ground"]) < 0.02  # [mm] at 1 to so much
    assert {"look": "downspout", "words": "outlet of a downspout"} in drawn["legend"]
