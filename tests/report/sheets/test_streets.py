"""Streets on the drawing of a yard."""

from dataclasses import replace

import geopandas as gpd
import pytest
import shapely

from habitat.report.sheets.drawing import Paper, meets, taken_by
from habitat.report.sheets.facts import FactFinder
from habitat.report.sheets.streets import street_names
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def facts(tmp_path_factory):
    return FactFinder(small_plan(tmp_path_factory.mktemp("study"))).of("0007")


def beside(facts, *lines):
    """Return a yard of 40 m by 30 m with streets round it."""
    yard = facts.yard.copy()
    yard["geometry"] = shapely.box(0.0, 0.0, 40.0, 30.0)
    streets = gpd.GeoDataFrame(
        {"name": [name for name, _ in lines]}, geometry=[shapely.LineString(xy) for _, xy in lines]
    )
    return replace(facts, yard=yard, around={"streets": streets})


SOUTH = ("Elm Row", [(-50.0, -6.0), (90.0, -6.0)])
EAST = ("Ash Row", [(47.0, -50.0), (47.0, 90.0)])


def test_a_corner_yard_has_both_names_outside_the_edges_that_face_them(facts):
    paper = Paper((-5.0, -5.0, 45.0, 35.0), 300)
    south, east = street_names(beside(facts, SOUTH, EAST), paper, [])
    assert (south["text"], east["text"]) == ("Elm Row", "Ash Row")
    assert south["turn"] % 180 == 0
    assert abs(east["turn"]) == 90
    assert south["at"][1] > paper.place(0, 0)[1]
    assert east["at"][0] > paper.place(40, 0)[0]
    assert not meets(taken_by(south), [taken_by(east)])


def test_a_name_moves_along_the_edge_where_something_is_written(facts):
    paper = Paper((-5.0, -5.0, 45.0, 35.0), 300)
    yard = beside(facts, SOUTH)
    first = taken_by(street_names(yard, paper, [])[0])
    (moved,) = street_names(yard, paper, [first])
    assert not meets(taken_by(moved), [first])


def test_a_street_beyond_the_cut_is_told_at_the_edge_of_the_paper(facts):
    paper = Paper((10.0, 12.0, 30.0, 28.0), 200)
    (told,) = street_names(beside(facts, SOUTH), paper, [])
    assert told["text"] == "Elm Row ↓"
    assert taken_by(told)[3] <= paper.size_mm[1] + 0.2
