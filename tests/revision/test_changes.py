"""What changed under plans that are kept is told for its yard, and nothing else is."""

from dataclasses import replace

import pandas as pd
import pytest
import shapely

from habitat.errors import HabitatError
from habitat.planting.settled import Settled
from habitat.planting.types import Drawn
from habitat.report.words.en import english
from habitat.revision.changes import changes_under, fit_of_plantings, refuse_unknown
from habitat.study.fitting import needs_of
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("changes"))


def settled(plan, yard="0007"):
    rows = (
        t[t["yard_id"] == yard].reset_index(drop=True) for t in (plan.beds, plan.plantings, plan.plant_points)
    )
    return Settled(Drawn(*rows), plan.yard_results[plan.yard_results["yard_id"] == yard])


def told(plan, *, site=None, stands=None, had=None, yard="0007"):
    needs = needs_of(plan.study, plan.knowledge, plan.site.assessed, plan.site.by_tests)
    kept = settled(plan, yard)
    had = fit_of_plantings(kept.drawn.points, plan.site, needs) if had is None else had
    stands = plan.existing_plants if stands is None else stands
    return changes_under(kept, site or plan.site, needs, plan.existing_plants, stands, had)


def test_where_nothing_changed_nothing_is_told(plan):
    assert [told(plan, yard=yard) for yard in plan.yard_results["yard_id"]] == [()] * len(plan.yard_results)


def test_a_plant_that_is_gone_and_one_that_came_are_named(plan):
    yard = plan.existing_plants["yard_id"].iloc[0]
    gone = plan.existing_plants.iloc[1:]
    (found,) = told(plan, stands=gone, yard=yard)
    assert found.subject.yards == (yard,)
    assert not found["came"]
    assert plan.existing_plants["name_given"].iloc[0] in english()(found)


def test_a_building_over_a_bed_is_told_with_its_share(plan):
    bed = plan.beds[plan.beds["yard_id"] == "0007"].iloc[0]
    west, south, east, north = bed.geometry.bounds
    half = bed.geometry.intersection(shapely.box(west, south, (west + east) / 2, north))
    ground = plan.site.open_ground
    less = ground.set_geometry(ground.geometry.difference(half))
    found = [n for n in told(plan, site=replace(plan.site, open_ground=less)) if n.kind == "bed_covered"]
    assert found[0]["bed"] == bed["bed_number"]
    assert found[0]["share"] == pytest.approx(half.area / bed.geometry.area, abs=0.02)


def test_a_fit_that_falls_below_the_last_class_is_told(plan):
    kept = settled(plan)
    needs = needs_of(plan.study, plan.knowledge, plan.site.assessed, plan.site.by_tests)
    fit = fit_of_plantings(kept.drawn.points, plan.site, needs)
    dark = replace(plan.site, rasters=plan.site.rasters | {"sun_h": plan.site.rasters["sun_h"] * 0.0})
    now = fit_of_plantings(kept.drawn.points, dark, needs)
    fallen = {p for p in fit if fit[p] >= 0.25 and now[p] < 0.25 - 1 / 255}
    assert fallen
    found = [n for n in told(plan, site=dark) if n.kind == "fit_fell"]
    assert len(found) == len(fallen)


def test_a_plant_of_no_table_and_rows_that_do_not_fit_are_refused(plan):
    kept = settled(plan)
    refuse_unknown(kept, plan.knowledge, "results")
    odd = kept.drawn.plantings.assign(plant="Nomen nescio")
    with pytest.raises(HabitatError, match="yard 0007 keeps a planting of 'Nomen nescio'"):
        refuse_unknown(replace(kept, drawn=replace(kept.drawn, plantings=odd)), plan.knowledge, "results")
    short = replace(kept.drawn, points=kept.drawn.points.iloc[1:])
    with pytest.raises(HabitatError, match="do not fit each other"):
        refuse_unknown(replace(kept, drawn=short), plan.knowledge, "results")


def test_two_rows_of_a_planting_are_refused_until_they_are_drawn_anew(plan):
    kept = settled(plan)
    rows = pd.concat([kept.drawn.plantings, kept.drawn.plantings.iloc[[0]]], ignore_index=True)
    twice = replace(kept, drawn=replace(kept.drawn, plantings=rows))
    key = rows["planting_id"][0]
    with pytest.raises(HabitatError, match=f"two rows are of planting {key}.*habitat redraw"):
        refuse_unknown(twice, plan.knowledge, "first")
