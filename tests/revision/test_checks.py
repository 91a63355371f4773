"""Breaches of rules in handwork are told by name; what a run drew is not asked again."""

from types import SimpleNamespace

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import box

from habitat.planting.settled import BY_HAND
from habitat.remarks import remark
from habitat.report.words.en import english
from habitat.revision.checks import breaches, odd_rows
from tests.revision.test_edits import CRS, YARDS, tables


def told(drawn, *, fit=None, barred=None, placeable=True):
    yards = gpd.GeoDataFrame({"yard_id": list(YARDS)}, geometry=list(YARDS.values()), crs=CRS)
    ground = yards.assign(growth_form="herb", geometry=[box(0, 0, 20, 10), box(30, 0, 50, 20)])
    site = SimpleNamespace(open_ground=ground, placeable=placeable)
    notes = breaches(drawn, yards, site, fit=fit or {}, least_fit=0.4, barred=barred or {})
    return english().each(tuple(notes))


def by_hand(drawn, *, bed=None, planting=None):
    drawn.beds[BY_HAND] = [k == bed for k in drawn.beds["bed_id"]]
    drawn.plantings[BY_HAND] = [k == planting for k in drawn.plantings["planting_id"]]
    return drawn


def test_what_keeps_all_rules_is_not_told():
    assert told(by_hand(tables(), bed="a-b1", planting="a-p01")) == []


def test_a_bed_outside_its_yard_or_on_closed_ground_is_told():
    drawn = tables()
    drawn.beds.loc[0, "geometry"] = box(18, 0, 22, 2)
    assert "50% of bed 1, changed by hand, lies outside the yard" in told(by_hand(drawn, bed="a-b1"))[0]
    assert told(by_hand(drawn)) == []
    drawn.beds.loc[0, "geometry"] = box(0, 9, 4, 13)
    assert "75% of bed 1, changed by hand, is not open ground" in told(by_hand(drawn, bed="a-b1"))[0]
    assert told(by_hand(drawn, bed="a-b1"), placeable=False) == []


@pytest.mark.parametrize(("spacing_m", "said"), [(0.5, 0), (0.7, 1)])
def test_plants_nearer_than_three_quarters_of_their_spacing_are_told(spacing_m, said):
    """The asters stand 0.5 m apart: 0.75 x 0.5 = 0.375 m is kept, 0.75 x 0.7 = 0.525 m is not."""
    drawn = by_hand(tables(), planting="a-p01")
    drawn.plantings.loc[0, "spacing_m"] = spacing_m
    lines = told(drawn)
    assert len(lines) == said
    assert all("4 Aster, changed by hand, stand closer" in line for line in lines)


def test_plants_outside_their_bed_unfit_or_barred_are_told():
    drawn = by_hand(tables(), planting="a-p02")
    drawn.beds.loc[0, "geometry"] = box(0, 0, 3.2, 2)
    why = remark("hazard_not_wanted", hazard="thorns")
    lines = told(drawn, fit={"a-p02": 0.1, "b-p01": 0.0}, barred={("a", "Ruta alba"): why})
    assert [line.split(":")[1].split(",")[0].strip() for line in lines] == ["1 Ruta", "Ruta", "Ruta"]
    assert "fit 0.10" in lines[1]


def odd(*, beds=None, plantings=None, points=None):
    drawn = tables()
    changed = {"beds": beds, "plantings": plantings, "plant_points": points}
    given = {"beds": drawn.beds, "plantings": drawn.plantings, "plant_points": drawn.points}
    for name, change in changed.items():
        given[name] = given[name] if change is None else change(given[name])
    yards = gpd.GeoDataFrame({"yard_id": list(YARDS)}, geometry=list(YARDS.values()), crs=CRS)
    kept, notes = odd_rows(given, yards)
    return {name: len(kept[name]) - len(given[name]) for name in given}, english().each(notes)


def test_rows_as_a_run_writes_them_are_not_odd():
    assert odd() == ({"beds": 0, "plantings": 0, "plant_points": 0}, [])


def again(table, **cells):
    """Return a table with its first row once more, some of its cells changed."""
    return pd.concat([table, table.iloc[[0]].assign(**cells)], ignore_index=True)


def test_a_row_that_repeats_another_is_left_out_and_one_that_differs_is_named():
    less, notes = odd(plantings=again)
    assert less == {"beds": 0, "plantings": -1, "plant_points": 0}
    assert notes == [
        "plan.gpkg, layer plantings, row 4: it repeats row 1 (planting_id a-p01): it is left out"
    ]
    less, notes = odd(plantings=lambda t: again(t, count=9), points=lambda t: again(t, height_m=2.0))
    assert set(less.values()) == {0}
    assert notes == [
        "plan.gpkg, layer plantings, row 4: a second row of planting_id a-p01, after row 1: it counts as one "
        "of its own"
    ]
    less, notes = odd(beds=lambda t: again(again(t, bed_id=None), bed_id=None))  # two new ones, no ids yet
    assert set(less.values()) == {0}
    assert notes == []


def test_rows_of_a_yard_that_is_gone_and_beds_outside_all_yards_are_named():
    def gone(table):
        return table.assign(yard_id=["zz", *table["yard_id"][1:]])

    told = odd(plantings=gone, points=lambda t: t.assign(yard_id="old"))[1]
    assert told == [
        "plan.gpkg, layer plantings, row 1: yard zz is no yard of this study: 1 row(s) of it are left out",
        "plan.gpkg, layer plant_points, row 1: yard old is no yard of this study: 10 row(s) of it are left "
        "out",
    ]
    out = odd(beds=lambda t: t.set_geometry([t.geometry[0], box(90, 90, 94, 92)], crs=CRS))[1]
    assert out == ["plan.gpkg, layer beds, row 2: it lies outside all yards"]
