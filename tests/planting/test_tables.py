"""Tables of all yards: gap and cost of each, and yards whose drawing gives another habitat than predicted."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import box

from habitat.planting.drawing.draw import Drawing
from habitat.planting.tables import RESULT_COLUMNS, YardPlan, bed_site_table, gather, nectar_stop_table
from habitat.planting.types import Accounts, BedSite, Choice, Drawn
from habitat.remarks import remark
from habitat.report.words.en import english

MONARCH = "Danaus plexippus"

UNMET = (remark("no_nectar", month=4, because=()), remark("no_stems", because=()))


def planned(predicted_m2, drawn_m2, *, short=()):
    """Return the tables of one yard for each predicted habitat, with what its drawing gives."""
    plans = [
        YardPlan(
            Choice(
                f"Y{k}",
                (),
                8.0,
                10.0,
                {MONARCH: m2},
                UNMET,
                30.0,
            ),
            Drawing(dropped=list(short)),
            [],
        )
        for k, m2 in enumerate(predicted_m2)
    ]
    empty = gpd.GeoDataFrame({"yard_id": ["Y0", "Y0"], "cost": [12.0, 18.0]})
    habitat = pd.DataFrame(
        {"yard_id": [p.choice.yard_id for p in plans], "butterfly": MONARCH, "habitat_m2": drawn_m2}
    )
    other = pd.DataFrame({"yard_id": ["Y0"], "butterfly": ["Papilio glaucus"], "habitat_m2": [99.0]})
    accounts = Accounts(pd.concat([habitat, other]), empty, empty)
    return gather(plans, Drawn(empty, empty, empty), accounts, (MONARCH,), (remark("no_tree_shadows"),))


def test_a_row_per_yard_with_gap_cost_and_habitat_of_the_wishes():
    got = planned([20.0, 4.0], [20.0, 4.0])
    assert tuple(got.yard_results.columns) == RESULT_COLUMNS
    assert got.yard_results["gap"].tolist() == pytest.approx([0.25, 0.25])
    assert got.yard_results["cost"].tolist() == [30.0, 0.0]
    assert got.yard_results["habitat_drawn_m2"].tolist() == [20.0, 4.0]
    assert [told.kind for told in got.yard_results["relaxed"].iloc[0]] == ["no_nectar", "no_stems"]
    assert [n.kind for n in got.notes] == ["no_tree_shadows", "best_not_proven"]


def test_yards_whose_plan_may_be_far_from_the_best_are_named_the_furthest_first():
    """8 of at most 10 m2 is a quarter from the best: (10 - 8) / 8."""
    got = planned([1.0, 1.0], [1.0, 1.0])
    (told,) = [n for n in got.notes if n.kind == "best_not_proven"]
    assert told.subject.yards == ("Y0", "Y1")
    assert (told["of"], told["share"], told["most"]) == (2, 0.05, pytest.approx(0.25))
    said = english()(told)
    assert said.startswith("In 2 of 2 yards")
    assert "25% at most" in said
    assert "yard Y0, yard Y1." in said


def test_yards_more_than_a_twentieth_apart_are_counted():
    got = planned([100.0, 100.0, 100.0], [95.1, 94.9, 110.0])
    (apart,) = [n for n in got.notes if n.kind == "habitat_apart"]
    assert (apart["count"], apart["of"], apart["share"]) == (2, 3, 0.05)


def test_plantings_that_hold_fewer_plants_are_counted():
    got = planned([1.0, 1.0], [1.0, 1.0], short=["three chosen, two fit"])
    (short,) = [n for n in got.notes if n.kind == "plantings_short"]
    assert short["count"] == 2


def test_stops_are_a_row_per_yard_and_state_and_places_keep_their_numbers():
    ground = box(0, 0, 1, 1)
    stones = gpd.GeoDataFrame(
        {"yard_id": ["A", "A", "A"], "butterfly": ["Y", "X", "X"], "state": ["before", "before", "planned"]},
        geometry=[ground] * 3,
        crs=32617,
    )
    table = nectar_stop_table(stones)
    assert table[["yard_id", "state", "butterflies"]].to_numpy().tolist() == [
        ["A", "before", "X; Y"],
        ["A", "planned", "X"],
    ]
    none = np.empty(0)
    site = BedSite(3, "herb", ground, 1.0, 6.5, none, none.astype(np.uint8), none.astype(np.int64))
    (row,) = bed_site_table({"A": [site]}, 32617).itertuples()
    assert (row.yard_id, row.site_id, row.growth_form, row.area_m2, row.sun_h_mean) == (
        "A",
        3,
        "herb",
        1.0,
        6.5,
    )
    assert np.isnan(row.height_max_m)
    assert row.geometry.equals(ground)
    assert nectar_stop_table(stones.iloc[:0]).empty
    assert bed_site_table({}, 32617).empty
