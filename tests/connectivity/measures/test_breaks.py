"""Where it breaks: ways round, narrow places, groups, losses, the weakest gap and one more bed there."""

import math

import geopandas as gpd
import numpy as np
import pytest
import shapely

from habitat.connectivity.measures.breaks import flow_between
from habitat.report.words.en import english
from tests.connectivity.invented_town import CRS_M, reasons, request, score, sentences

BUTTERFLY = "Danaus plexippus"

REACH = {"median_m": {BUTTERFLY: 60.0}, "hop_max_m": {BUTTERFLY: 80.0}, "rank_draws": 0}


def study_of(spots, candidates=(), anchors=((0.0, 0.0), (300.0, 0.0)), **settings):
    """Return the corridor of 10 m squares at spots, between two square anchors."""
    boxes = [shapely.box(x, y, x + 10, y + 10) for x, y in spots]
    ids = [f"y{k}" for k in range(len(spots))]
    roles = ["candidate" if i in candidates else "member" for i in ids]
    yards = gpd.GeoDataFrame({"yard_id": ids, "role": roles}, geometry=boxes, crs=CRS_M)
    rows = [(i, BUTTERFLY, "planned", 10.0, b) for i, b in zip(ids, boxes, strict=True)]
    columns = ["yard_id", "butterfly", "state", "habitat_m2", "geometry"]
    breeding = gpd.GeoDataFrame(rows, columns=columns, geometry="geometry", crs=CRS_M)
    frame = gpd.GeoDataFrame(
        {"name": ["Mill Meadow", "Alder Wood"], "host_share": [0.1, 0.1], "butterflies": "monarch"},
        geometry=[shapely.box(x, y, x + 10, y + 10) for x, y in anchors],
        crs=CRS_M,
    )
    return score(
        request(yards, breeding, anchors=frame, butterflies=(BUTTERFLY,), connectivity={**REACH, **settings})
    )


def pair_of(corridor):
    (pair,) = corridor.breaks[BUTTERFLY]["pairs"]
    return pair


ROW = [(60.0, 0.0), (120.0, 0.0), (180.0, 0.0), (240.0, 0.0)]

LOOP = [*ROW, *((x, 140.0) for x in (0.0, 60.0, 120.0, 180.0, 240.0, 300.0)), (0.0, 70.0), (300.0, 70.0)]


def test_one_row_is_one_way_only():
    pair = pair_of(study_of(ROW))
    assert pair["redundancy"] == pytest.approx(1.0, rel=1e-9)
    assert pair["chains_sharing_no_yard"] == 1
    assert pair["narrow_places"] == ["y0", "y1", "y2", "y3"]
    assert pair["passage"] == pytest.approx(0.5 ** (5 * 50 / 60), rel=1e-9)
    assert pair["steps"] == 5
    assert [f["share"] for f in pair["flow_places"]] == pytest.approx([1.0] * 4)


def test_a_loop_gives_a_second_way():
    pair = pair_of(study_of(LOOP, hop_max_m={BUTTERFLY: 75.0}))
    assert pair["chains_sharing_no_yard"] == 2
    assert pair["narrow_places"] == []
    # Two ways side by side, the long one of 4 links of 60 m and 5 of 50 m: 1 / R adds up.
    p50, p60 = 0.5 ** (50 / 60), 0.5 ** (60 / 60)
    short, long_ = 5 / p50, 5 / p50 + 4 / p60
    assert pair["redundancy"] == pytest.approx(1 + short / long_, rel=1e-9)


def test_a_gap_is_found_and_a_candidate_who_closes_it_is_asked_first():
    corridor = study_of(ROW, candidates=("y2",))
    breaks = corridor.breaks[BUTTERFLY]
    pair = pair_of(corridor)
    assert pair["passage"] == 0.0
    assert pair["weakest"] is None
    assert breaks["groups"] == {"today": 2, "members": 2, "everyone": 1}
    assert (breaks["gap"]["from"], breaks["gap"]["to"]) == ("y1", "y3")
    assert breaks["gap"]["distance_m"] == pytest.approx(110.0)
    reason = reasons(corridor)[0]
    assert reason == "Your yard closes the gap of 110 m between Alder Wood and Mill Meadow for the monarch"
    assert "nothing joins" in " ".join(sentences(corridor))


def test_one_more_bed_is_worth_most_within_the_gap():
    corridor = study_of([*ROW, (150.0, 12.0), (178.0, 200.0)], candidates=("y2", "y4", "y5"))
    bed = corridor.breaks[BUTTERFLY]["one_more_bed"]
    best = int(np.argmax(bed["gain_m2"]))
    assert bed["yard_id"][best] in ("y2", "y4")
    assert bed["gain_m2"][best] > 0
    assert bed["bed_m2"] == 10.0
    lengths = {len(bed[k]) for k in ("x", "y", "yard_id", "gain_m2")}
    assert len(lengths) == 1
    assert set(bed["yard_id"]) <= {f"y{k}" for k in range(6)}


def test_gain_of_one_more_bed_is_that_of_planting_it():
    """A bed tried at a place adds what the same bed adds as a yard of its own."""
    corridor = study_of([*ROW[:2], ROW[3], (175.0, 0.0)], candidates=("y3",))
    bed = corridor.breaks[BUTTERFLY]["one_more_bed"]
    k = bed["yard_id"].index("y3")
    disc = shapely.Point(bed["x"][k], bed["y"][k]).buffer(1.0)
    now = corridor.headline["butterflies"][BUTTERFLY]["members"]["equivalent_area_m2"]
    boxes = [shapely.box(x, y, x + 10, y + 10) for x, y in (*ROW[:2], ROW[3])]
    shapes = [*boxes, disc, *(shapely.box(x, 0, x + 10, 10) for x in (0, 300))]
    d = shapely.distance(np.array(shapes)[:, None], np.array(shapes)[None, :])
    w = np.where(d <= 80, d * math.log(2) / 60, np.inf)
    for m in range(len(shapes)):
        w = np.minimum(w, w[:, [m]] + w[[m], :])
    area = np.full(len(shapes), 10.0)
    assert now + bed["gain_m2"][k] == pytest.approx(math.sqrt(area @ np.exp(-w) @ area), rel=1e-9)


def test_losses_fall_and_the_worst_first_fall_at_least_as_fast():
    losses = study_of(LOOP).breaks[BUTTERFLY]["losses"]
    for name in ("random_mean", "worst_first"):
        assert (np.diff([1.0, *losses[name]]) <= 1e-12).all()
    assert losses["worst_first"][0] <= losses["random_low"][0] + 1e-12
    bands = [losses[f"random_{name}"] for name in ("low", "mean", "high")]
    assert all(a <= b <= c for a, b, c in zip(*bands, strict=True))


def test_one_group_without_anchors_still_names_its_longest_needed_link():
    boxes = [shapely.box(x, 0, x + 10, 10) for x in (0, 30, 100)]
    yards = gpd.GeoDataFrame({"yard_id": ["a", "b", "c"], "role": ["member"] * 3}, geometry=boxes, crs=CRS_M)
    rows = [(i, BUTTERFLY, "planned", 5.0, b) for i, b in zip("abc", boxes, strict=True)]
    columns = ["yard_id", "butterfly", "state", "habitat_m2", "geometry"]
    breeding = gpd.GeoDataFrame(rows, columns=columns, geometry="geometry", crs=CRS_M)
    asked = request(yards, breeding, butterflies=(BUTTERFLY,), connectivity=REACH)
    gap = score(asked).breaks[BUTTERFLY]["gap"]
    assert gap == {"from": "b", "to": "c", "distance_m": pytest.approx(60.0)}


def test_a_link_across_the_whole_study_draws_no_chain():
    corridor = study_of(ROW, hop_max_m={BUTTERFLY: 5_000.0})
    breaks = corridor.breaks[BUTTERFLY]
    assert breaks["unlimited"]
    assert english()(breaks["words"]).startswith("For the monarch the whole town is one garden")
    assert corridor.chain.empty
    assert breaks["pairs"] == []
    assert "gap" not in breaks


def test_three_anchors_are_joined_by_two_chains():
    boxes = [shapely.box(x, 0, x + 10, 10) for x, _ in ROW]
    yards = gpd.GeoDataFrame({"yard_id": list("abcd"), "role": ["member"] * 4}, geometry=boxes, crs=CRS_M)
    rows = [(i, BUTTERFLY, "planned", 10.0, b) for i, b in zip("abcd", boxes, strict=True)]
    columns = ["yard_id", "butterfly", "state", "habitat_m2", "geometry"]
    breeding = gpd.GeoDataFrame(rows, columns=columns, geometry="geometry", crs=CRS_M)
    spots = [(0, 0), (300, 0), (150, 40)]
    anchors = gpd.GeoDataFrame(
        {"name": ["West", "East", "Middle"], "host_share": [0.1] * 3, "butterflies": "all"},
        geometry=[shapely.box(x, y, x + 10, y + 10) for x, y in spots],
        crs=CRS_M,
    )
    asked = request(yards, breeding, anchors=anchors, butterflies=(BUTTERFLY,), connectivity=REACH)
    corridor = score(asked)
    pairs = corridor.breaks[BUTTERFLY]["pairs"]
    assert len(pairs) == 2
    assert all("anchor: Middle" in (p["from"], p["to"]) for p in pairs)
    assert corridor.chain.query("state == 'members'")["chain"].unique().tolist() == [1, 2]


@pytest.mark.parametrize(("y", "tried"), [(80.0, True), (100.0, False)])
def test_beds_are_tried_as_far_beside_the_gap_as_three_quarters_of_its_length(y, tried):
    """The gap of 110 m between y1 and y3 lies at y = 0 to 10: 82.5 m to either side are tried (judgement)."""
    corridor = study_of([*ROW, (180.0, y)], candidates=("y2", "y4"))
    bed = corridor.breaks[BUTTERFLY]["one_more_bed"]
    assert corridor.breaks[BUTTERFLY]["gap"]["distance_m"] == pytest.approx(110.0)
    assert ("y4" in bed["yard_id"]) == tried


def test_nothing_flows_where_no_way_leads():
    """Two nodes in series carry the whole unit (Kirchhoff); a link elsewhere carries none of it."""
    ends = np.array([0, 1, 3]), np.array([1, 2, 4])
    flow = flow_between(5, ends, np.array([1.0, 0.5, 2.0]), 0, 2)
    assert flow.link.tolist() == pytest.approx([1.0, 1.0, 0.0])
    assert flow.node.tolist() == pytest.approx([1.0, 1.0, 1.0, 0.0, 0.0])
    assert flow.resistance == pytest.approx(1.0 + 2.0)
