"""Sightings and timed walks: placed, compared with the prediction, and where to look next."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from scipy.stats import mannwhitneyu

from habitat.connectivity.measures.sightings import area_under_curve, wilson
from habitat.pipeline.sightings import walks_of
from habitat.report.words.en import english
from tests.connectivity.invented_town import CRS_M, layers_of, line_of_squares, notes, request, score

BUTTERFLY = "Danaus plexippus"


def asked(rows, habitat=(0.0, 5, 10, 20, 40, 80, 160, 320)):
    """Return a request with sightings: yard number or (x, y), date, butterfly, stage, count, minutes."""
    yards, breeding = line_of_squares(list(habitat))
    middle = yards.geometry.centroid
    spots = [middle.iloc[r[0]] if isinstance(r[0], int) else shapely.Point(r[0]) for r in rows]
    columns = ["date", "butterfly", "stage", "count", "minutes"]
    frame = gpd.GeoDataFrame([r[1:] for r in rows], columns=columns, geometry=spots, crs=CRS_M)
    settings = {"median_m": {BUTTERFLY: 20.0}, "rank_draws": 0}
    return request(
        yards, breeding, butterflies=(BUTTERFLY,), layers={"sightings": frame}, connectivity=settings
    )


def walk(where, seen, stage="adult", butterfly=BUTTERFLY, date="2025-07-10", minutes=10.0):
    return (where, date, butterfly, stage, float(seen), minutes)


def test_prediction_that_orders_places_right():
    rows = [walk(k, seen=k >= 5) for k in range(8)]
    told = score(asked(rows)).breaks[BUTTERFLY]["observed"]
    assert told["auc"] is None, "eight places walked are too few"
    assert told["visited"] == 8
    assert told["seen_on_walks"] == told["predicted_of_seen"] == 3
    assert told["seen"] == ["05", "06", "07"]
    assert [t["seen_share"] for t in told["calibration"]] == pytest.approx([0.0, 1 / 3, 1.0])
    assert told["calibration"][0]["predicted_m2"] < told["calibration"][2]["predicted_m2"]
    assert told["look"] == []


@pytest.mark.parametrize(("walked", "auc"), [(29, None), (30, 1.0)])
def test_from_thirty_places_on_the_order_is_judged(walked, auc):
    """Where it was seen there is most ground; in one of the places with a sighting there is none."""
    rows = [walk(k, seen=k >= 20) for k in range(walked)]
    told = score(asked(rows, habitat=[float(k) for k in range(30)])).breaks[BUTTERFLY]["observed"]
    assert told["auc"] == auc
    none = score(asked([walk(0, 1), walk(1, 1)])).breaks[BUTTERFLY]["observed"]
    assert (none["seen_on_walks"], none["predicted_of_seen"]) == (2, 1)


@pytest.mark.parametrize("seed", range(8))
def test_area_under_curve_is_the_rank_statistic(seed):
    rng = np.random.default_rng(seed)
    score, hit = rng.integers(0, 6, 40).astype(float), rng.random(40) < 0.4
    auc, low, high = area_under_curve(score, hit)
    want = mannwhitneyu(score[hit], score[~hit]).statistic / (hit.sum() * (~hit).sum())
    assert auc == pytest.approx(want, rel=1e-12)
    assert low <= auc <= high


def test_interval_covers_the_truth_about_as_often_as_it_says():
    """Two normal scores one deviation apart: the true area is 0.7602."""
    rng = np.random.default_rng(1)
    inside = 0
    for _ in range(400):
        score = np.concatenate([rng.normal(1, 1, 40), rng.normal(0, 1, 60)])
        _, low, high = area_under_curve(score, np.arange(100) < 40)
        inside += low <= 0.7602 <= high
    assert 0.90 <= inside / 400 <= 0.98


@pytest.mark.parametrize(
    ("hits", "n", "low", "high"), [(0, 10, 0.0, 0.2775), (10, 10, 0.7225, 1.0), (5, 10, 0.2366, 0.7634)]
)
def test_wilson_interval(hits, n, low, high):
    assert wilson(hits, n) == pytest.approx((low, high), abs=5e-5)


def test_too_few_places_give_no_figure():
    told = score(asked([walk(7, 1), walk(1, 0)])).breaks[BUTTERFLY]["observed"]
    assert told["auc"] is None
    assert told["look"][0] == "06"


@pytest.mark.parametrize("stage", ["egg", "Larva", "caterpillars", "chrysalis"])
def test_breeding_is_confirmed_by_young_stages_only(stage):
    told = score(asked([walk(3, 1), walk(5, 2, stage)])).breaks[BUTTERFLY]["observed"]
    assert told["breeding_confirmed"] == ["05"]
    assert told["seen"] == ["03", "05"]


def test_a_chance_sighting_is_no_visit():
    told = score(asked([walk(3, 1, minutes=np.nan), walk(4, 0)])).breaks[BUTTERFLY]["observed"]
    assert told["visited"] == 1
    assert told["seen"] == ["03"]


def test_a_visit_outside_the_flight_time_does_not_count():
    told = score(asked([walk(4, 0, date="2025-01-20"), walk(5, 0)])).breaks[BUTTERFLY]["observed"]
    assert told["visited"] == 1


def test_a_walk_that_saw_another_butterfly_is_a_visit_without_this_one():
    told = score(asked([walk(4, 3, butterfly="pearl crescent")])).breaks[BUTTERFLY]["observed"]
    assert told["visited"] == 1
    assert told["seen"] == []


def test_what_cannot_be_placed_or_named_is_told():
    corridor = score(asked([walk((5000.0, 5000.0), 1), walk(2, 1, butterfly="blue thing")]))
    assert any("1 sighting(s) lie in no yard and no anchor" in n for n in notes(corridor))
    assert any("1 sighting(s) name a butterfly" in n for n in notes(corridor))


def test_places_by_name_go_before_coordinates():
    made = asked([walk(2, 1)])
    frame = made.layers.vectors["sightings"].frame
    frame["yard_id"] = ["06"]
    assert walks_of(layers_of(made), made.knowledge).rows["place"].tolist() == ["06"]


def test_without_sightings_nothing_is_said():
    yards, breeding = line_of_squares([5.0] * 3)
    corridor = score(request(yards, breeding, butterflies=(BUTTERFLY,)))
    assert "observed" not in corridor.breaks[BUTTERFLY]
    assert pd.DataFrame(corridor.importance).notna().all().all()


def test_blank_cells_of_a_sighting_say_nothing_and_stop_nothing():
    made = asked([walk(1, 1), walk(2, 1)])
    frame = made.layers.vectors["sightings"].frame
    frame["stage"] = pd.Series([None, "egg"], dtype="string")
    frame["butterfly"] = pd.Series([BUTTERFLY, None], dtype="string")
    told = walks_of(layers_of(made), made.knowledge)
    assert told.rows["breeding"].tolist() == [False, True]
    assert told.rows["butterfly"].isna().tolist() == [False, True]
    (note,) = map(english(), told.notes)
    assert "1 sighting(s) name a butterfly that is not in the tables" in note


def test_a_sighting_may_name_the_address_of_its_yard():
    made = asked([walk((-900.0, 0.0), 1), walk((-900.0, 0.0), 1)])
    made = replace(made, yards=made.yards.assign(address=[f"{k + 1} Kiln Street" for k in range(8)]))
    made.layers.vectors["sightings"].frame["place"] = ["4 kiln st.", "4 Mill Street"]
    assert walks_of(layers_of(made), made.knowledge).rows["place"].tolist() == ["03"]
