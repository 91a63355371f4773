"""The frame of a yard's drawing: as large as fits, nothing needed left out, tapes as long as before."""

import re
from dataclasses import replace

import pytest
import shapely

from habitat.report.sheets.drawing import Paper
from habitat.report.sheets.facts import FactFinder
from habitat.report.sheets.measures import lay_out
from habitat.report.sheets.window import framed
from habitat.report.sheets.yard import yard_drawing
from habitat.report.words.numbers import Units
from tests.report.small_plan import small_plan

ROOM_MM = (180.0, 100.0)


@pytest.fixture(scope="module")
def facts(tmp_path_factory):
    return FactFinder(small_plan(tmp_path_factory.mktemp("study"))).of("0007")


def in_yard(facts, wide_m, high_m):
    """Return the yard as a rectangle round the same house and beds."""
    middle = shapely.union_all([bed.geometry for bed in facts.rows["beds"]]).centroid
    yard = facts.yard.copy()
    x, y, half_wide, half_high = middle.x, middle.y, wide_m / 2, high_m / 2
    yard["geometry"] = shapely.box(x - half_wide, y - half_high, x + half_wide, y + half_high)
    return replace(facts, yard=yard)


def test_a_deep_narrow_yard_is_turned_onto_the_wide_paper(facts):
    """40 m by 90 m in 180 mm by 100 mm: a metre takes 1.1 mm upright, 1000/500 mm lying: 1 to 500 at most."""
    deep = in_yard(facts, 40.0, 90.0)
    made = framed(deep, lay_out(deep), ROOM_MM, "metric")
    assert made.turn_deg or made.cut
    assert made.scale <= 600
    here, there = deep.rows["plant_points"], made.facts.rows["plant_points"]
    first = [p.geometry.distance(here[0].geometry) for p in here]
    assert [p.geometry.distance(there[0].geometry) for p in there] == pytest.approx(first)
    for name, point in made.layout.fixed.items():
        before = lay_out(deep).fixed[name].distance(here[0].geometry)
        assert point.distance(there[0].geometry) == pytest.approx(before)


@pytest.mark.parametrize("size_m", [(40.0, 90.0), (250.0, 200.0), (36.0, 22.0)])
def test_beds_fixed_points_and_the_frame_fit_the_paper(facts, size_m):
    yard = in_yard(facts, *size_m)
    made = framed(yard, lay_out(yard), ROOM_MM, "us")
    wide, high = Paper(made.bounds, made.scale).size_mm
    assert wide <= ROOM_MM[0] + 1e-6
    assert high <= ROOM_MM[1] + 1e-6
    seen = shapely.box(*made.bounds)
    assert all(seen.covers(bed.geometry) for bed in made.facts.rows["beds"])
    assert all(seen.covers(point) for point in made.layout.fixed.values())
    assert made.cut == (not seen.covers(made.facts.shape))


def test_a_huge_yard_is_cut_to_what_it_takes_to_find_the_beds(facts):
    yard = in_yard(facts, 250.0, 200.0)
    drawn = yard_drawing(yard, lay_out(yard), ROOM_MM, Units("metric"))
    assert drawn["cut"]
    assert int(re.search(r"1:(\d+)", drawn["scale"])[1]) <= 500  # the whole would take 1:2000


def test_a_turned_north_arrow_points_where_the_ground_does(facts):
    """A point due north of another lies on paper where the arrow points."""
    deep = in_yard(facts, 40.0, 90.0)
    made = framed(deep, lay_out(deep), (180.0, 60.0), "metric")
    drawn = yard_drawing(deep, lay_out(deep), (180.0, 60.0), Units("metric"))
    assert drawn["turn"] == -made.turn_deg
    south, north = (
        shapely.affinity.rotate(p, made.turn_deg, origin=(0, 0)) for p in map(shapely.Point, ((0, 0), (0, 1)))
    )
    arrow = shapely.affinity.rotate(shapely.Point(0, 1), -drawn["turn"], origin=(0, 0))  # clockwise on paper
    assert (north.x - south.x, north.y - south.y) == pytest.approx((arrow.x, arrow.y))
