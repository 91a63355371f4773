"""The corridor from end to end: figures that follow from the tables, head arithmetic, odd studies."""

import itertools
import math
from dataclasses import replace

import geopandas as gpd
import networkx as nx
import numpy as np
import pytest
import shapely

from habitat.connectivity.measures import losses, tables
from habitat.connectivity.types import Weighed
from habitat.errors import HabitatError, StudyError
from habitat.report.words.en import english
from tests.connectivity.invented_town import (
    CRS_M,
    line_of_squares,
    notes,
    reasons,
    request,
    score,
    sentences,
    town,
    weigh,
)

SOME = ("Danaus plexippus", "Phyciodes tharos", "Euphydryas phaeton")
SMALL = "Euphydryas phaeton"


@pytest.fixture(scope="module")
def asked():
    yards, anchors, breeding = town(rows=8, cols=8, butterflies=SOME, crowns=4)
    costs = {y: 100.0 + k for k, y in enumerate(yards["yard_id"])}
    return request(
        yards, breeding, anchors=anchors, costs=costs, butterflies=SOME, connectivity={"invite": 4}
    )


@pytest.fixture(scope="module")
def corridor(asked):
    return score(asked)


@pytest.fixture(scope="module")
def weighed(asked):
    return weigh(asked)


@pytest.fixture(scope="module")
def gains(weighed):
    return weighed.gains


def areas(asked, butterfly, state):
    """Return place -> habitat of a state, from what was asked."""
    planning = {"today": (), "members": ("member",), "everyone": ("member", "candidate")}[state]
    role = dict(zip(asked.yards["yard_id"], asked.yards["role"], strict=True))
    rows = asked.breeding[asked.breeding["butterfly"] == butterfly]
    out = {
        r.yard_id: r.habitat_m2
        for r in rows.itertuples()
        if r.state == ("planned" if role[r.yard_id] in planning else "before")
    }
    share = asked.anchors["host_share"].fillna(asked.study.connectivity.anchor_host_share)
    for name, shape, s in zip(asked.anchors["name"], asked.anchors.geometry, share, strict=True):
        out[f"anchor: {name}"] = shape.area * s
    return out


@pytest.mark.parametrize("butterfly", SOME)
@pytest.mark.parametrize("state", ["today", "members", "everyone"])
def test_headline_follows_from_habitat_and_links(asked, corridor, butterfly, state):
    area = areas(asked, butterfly, state)
    links = corridor.links[(corridor.links["butterfly"] == butterfly) & (corridor.links["state"] == state)]
    graph = nx.Graph()
    graph.add_nodes_from(area)
    for link in links.itertuples():
        graph.add_edge(link.from_yard, link.to_yard, weight=-math.log(link.passage))
    total = sum(
        area[one] * area[two] * math.exp(-d)
        for one, reach in nx.all_pairs_dijkstra_path_length(graph)
        for two, d in reach.items()
    )
    entry = corridor.headline["butterflies"][butterfly][state]
    assert entry["equivalent_area_m2"] == pytest.approx(math.sqrt(total), rel=1e-9)
    assert entry["habitat_m2"] == pytest.approx(sum(area.values()), rel=1e-12)


@pytest.mark.parametrize("butterfly", SOME)
@pytest.mark.parametrize("reach", ["low", "median", "high"])
def test_headline_equals_a_plain_computation_from_the_shapes(asked, corridor, butterfly, reach):
    """All pairs by shapely, Floyd-Warshall in numpy, no pruning, no cut."""
    area = areas(asked, butterfly, "members")
    role = dict(zip(asked.yards["yard_id"], asked.yards["role"], strict=True))
    rows = asked.breeding[asked.breeding["butterfly"] == butterfly]
    shape = {
        r.yard_id: r.geometry
        for r in rows.itertuples()
        if r.state == ("planned" if role[r.yard_id] == "member" else "before")
    }
    shape |= {f"anchor: {n}": g for n, g in zip(asked.anchors["name"], asked.anchors.geometry, strict=True)}
    median = float(asked.knowledge.butterflies.loc[butterfly, f"typical_movement_{reach}_m"])
    names = list(area)
    place = np.array([shape[n] for n in names], object)
    d = shapely.distance(place[:, None], place[None, :])
    w = np.where(d <= -math.log(0.05) * median / math.log(2), d * math.log(2) / median, np.inf)
    for m in range(len(names)):
        w = np.minimum(w, w[:, [m]] + w[[m], :])
    a = np.array([area[n] for n in names])
    entry = corridor.headline["butterflies"][butterfly]
    entry = entry if reach == "median" else entry[f"{reach}_reach"]
    got = entry["members"]
    want = math.sqrt(a @ np.exp(-w) @ a)
    assert got["equivalent_area_m2"] <= want * (1 + 1e-9)
    assert want <= got["equivalent_area_m2"] * (1 + got["neglected_share"]) * (1 + 1e-9)


def test_scores_are_over_everyone_and_joint_is_their_mean(corridor):
    entries, joint = corridor.headline["butterflies"], corridor.headline["joint_score"]
    for kind in (None, "low_reach", "high_reach"):
        parts = [e if kind is None else e[kind] for e in entries.values()]
        for state in ("today", "members", "everyone"):
            for part in parts:
                want = part[state]["equivalent_area_m2"] / part["everyone"]["equivalent_area_m2"]
                assert part[state]["score"] == pytest.approx(want, rel=1e-12)
            mean = np.mean([part[state]["score"] for part in parts])
            assert (joint if kind is None else joint[kind])[state] == pytest.approx(mean, rel=1e-12)
    assert 0 < joint["today"] <= joint["members"] <= joint["everyone"] == pytest.approx(1.0)


def test_importance_is_the_fall_when_a_place_goes(asked, corridor):
    part = corridor.importance[corridor.importance["butterfly"] == SMALL].set_index("yard_id")
    whole = corridor.headline["butterflies"][SMALL]["members"]["equivalent_area_m2"]
    for yard in part.index[part.index.str.startswith("Y")][::7]:
        rest = asked.breeding[~((asked.breeding["yard_id"] == yard) & (asked.breeding["butterfly"] == SMALL))]
        again = request(
            asked.yards,
            rest,
            anchors=asked.anchors,
            butterflies=(SMALL,),
            connectivity={"rank_draws": 0, "invite": 0},
        )
        left = score(again).headline["butterflies"][SMALL]["members"]["equivalent_area_m2"]
        fall = part.loc[yard, ["held_m2", "arriving_m2", "passing_m2"]].sum()
        assert fall == pytest.approx(whole - left, rel=1e-6, abs=1e-9)


def test_invitations_raise_the_score_they_say(asked, corridor):
    table, steps = corridor.invitations, corridor.invitation_steps
    assert table["rank"].tolist() == [1, 2, 3, 4]
    assert steps["invited"].tolist() == [0, 1, 2, 3, 4]
    assert steps["yard_id"].tolist()[1:] == table["yard_id"].tolist()
    assert steps["joint_score"].iloc[0] == pytest.approx(
        corridor.headline["joint_score"]["members"], rel=1e-9
    )
    assert np.diff(steps["joint_score"]) * 100 == pytest.approx(table["gain_pct"].to_numpy(), abs=1e-9)
    assert steps[list(SOME)].mean(axis=1).to_numpy() == pytest.approx(
        steps["joint_score"].to_numpy(), rel=1e-9
    )
    yards = asked.yards.copy()
    yards.loc[yards["yard_id"].isin(table["yard_id"]), "role"] = "member"
    joined = score(request(yards, asked.breeding, anchors=asked.anchors, butterflies=SOME))
    assert joined.headline["joint_score"]["members"] == pytest.approx(steps["joint_score"].iloc[-1], rel=1e-6)
    assert corridor.headline["invitations"]["bound"] >= steps["joint_score"].iloc[-1] - 1e-9
    assert table["kept_share"].between(0, 1).all()


def test_reasons_name_anchors_and_butterflies_and_never_a_yard(asked, corridor):
    commons = [str(asked.knowledge.butterflies.loc[b, "common_name"]) for b in SOME]
    for reason in reasons(corridor):
        assert reason.startswith("Your yard ")
        assert any(c in reason for c in commons)
        assert not any(y in reason for y in asked.yards["yard_id"])
    assert not any(y in s for s in sentences(corridor) for y in asked.yards["yard_id"])
    assert len(set(reasons(corridor))) == len(corridor.invitations), "each door hears something else"


def test_chain_runs_from_anchor_to_anchor(corridor):
    chain = corridor.chain[(corridor.chain["butterfly"] == SMALL) & (corridor.chain["state"] == "everyone")]
    assert chain["from_yard"].iloc[0] == "anchor: Alder Wood"
    assert chain["to_yard"].iloc[-1] == "anchor: Mill Meadow"
    assert chain["from_yard"].tolist()[1:] == chain["to_yard"].tolist()[:-1]
    assert chain["weakest"].sum() == 1
    assert chain.loc[chain["weakest"], "passage"].item() == chain["passage"].min()
    assert corridor.chain["butterfly"].unique().tolist() == [SMALL], "the others cross the study in one link"
    said = english()(corridor.breaks["Danaus plexippus"]["words"])
    assert said.startswith("For the monarch the whole town is one garden")


def test_a_round_weighs_what_the_whole_corridor_says(weighed, corridor):
    entries = corridor.headline["butterflies"]
    for b in SOME:
        assert weighed.members_m2[b] == pytest.approx(entries[b]["members"]["equivalent_area_m2"], rel=1e-12)
    assert weighed.worth_beside(weighed) == pytest.approx(1.0, rel=1e-12)


def test_a_later_round_is_held_against_the_first_butterfly_by_butterfly():
    """By hand: 12 over 10, 4 over 4, and 7 where nothing was; a butterfly without ground still counts."""
    weights = {"a": 3.0, "b": 1.0, "c": 1.0, "d": 1.0}
    first = Weighed({"a": 10.0, "b": 4.0, "c": 0.0, "d": 0.0}, weights, {})
    later = Weighed({"a": 12.0, "b": 4.0, "c": 7.0, "d": 0.0}, weights, {})
    assert first.worth_beside(first) == pytest.approx((3 + 1) / 6)
    assert later.worth_beside(first) == pytest.approx((3 * 1.2 + 1 + 1) / 6)


def test_gains_average_one_over_members_and_are_there_for_all_that_may_be_planted(asked, gains):
    able = asked.yards.loc[asked.yards["role"] != "other", "yard_id"]
    members = asked.yards.loc[asked.yards["role"] == "member", "yard_id"]
    for butterfly in SOME:
        assert np.mean([gains[y, butterfly] for y in members]) == pytest.approx(1.0)
        assert min(gains[y, butterfly] for y in able) > 0.0


def test_who_else_may_be_asked_changes_no_gain_of_a_member(asked, gains, weighed):
    """Planting goes by these gains, the choice of a round by the areas: half of the candidates are gone."""
    waiting = asked.yards.index[asked.yards["role"] == "candidate"][::2]
    fewer = asked.yards.copy()
    fewer.loc[waiting, "role"] = "other"
    again = weigh(replace(asked, yards=fewer))
    got = again.gains
    assert again.members_m2 == pytest.approx(weighed.members_m2, rel=1e-9)
    for yard in asked.yards.loc[asked.yards["role"] == "member", "yard_id"]:
        for butterfly in SOME:
            assert got[yard, butterfly] == pytest.approx(gains[yard, butterfly], rel=1e-9)


def test_gain_where_ground_stands_is_the_slope(asked, corridor, gains):
    """The ratio of two yards' gains is the ratio of their finite differences."""
    members = set(asked.yards.loc[asked.yards["role"] == "member", "yard_id"])
    part = corridor.importance[corridor.importance["butterfly"] == SMALL]
    one, two = sorted(part.loc[part["yard_id"].isin(members) & (part["held_m2"] > 0), "yard_id"])[2:9:6]
    old = corridor.headline["butterflies"][SMALL]["members"]["equivalent_area_m2"]
    slope = {}
    for yard in (one, two):
        more = asked.breeding.copy()
        more.loc[(more["yard_id"] == yard) & (more["butterfly"] == SMALL), "habitat_m2"] += 1e-3
        again = request(
            asked.yards, more, anchors=asked.anchors, butterflies=(SMALL,), connectivity={"rank_draws": 0}
        )
        new = score(again).headline["butterflies"][SMALL]["members"]["equivalent_area_m2"]
        slope[yard] = (new - old) / 1e-3
    want = gains[one, SMALL] / gains[two, SMALL]
    assert slope[one] / slope[two] == pytest.approx(want, rel=1e-3)


def test_the_same_request_gives_the_same_corridor(asked, corridor):
    again = score(asked)
    assert again.headline == corridor.headline
    assert again.invitations.drop(columns="geometry").equals(corridor.invitations.drop(columns="geometry"))
    assert again.links.drop(columns="geometry").equals(corridor.links.drop(columns="geometry"))


def test_shuffled_rows_give_the_same_corridor(asked, corridor):
    mixed = request(
        asked.yards.sample(frac=1, random_state=1),
        asked.breeding.sample(frac=1, random_state=2),
        anchors=asked.anchors.iloc[::-1],
        costs=asked.costs,
        butterflies=SOME,
        connectivity={"invite": 4},
    )
    again = score(mixed)
    assert again.invitations["yard_id"].tolist() == corridor.invitations["yard_id"].tolist()
    for b in SOME:
        one, two = (c.headline["butterflies"][b]["members"]["equivalent_area_m2"] for c in (again, corridor))
        assert one == pytest.approx(two, rel=1e-12)


def test_five_yards_in_a_row_by_hand():
    """20 m squares, 30 m gaps, median 100 m: 1719.0993 m2 (E10), one chain, the middle a narrow place."""
    butterfly = "Danaus plexippus"
    yards, breeding = line_of_squares([400.0] * 5)
    settings = {"median_m": {butterfly: 100.0}, "hop_max_m": {butterfly: 120.0}}
    got = score(request(yards, breeding, butterflies=(butterfly,), connectivity=settings))
    assert got.headline["butterflies"][butterfly]["members"]["equivalent_area_m2"] == pytest.approx(
        1719.0993, abs=5e-5
    )
    members = got.links[got.links["state"] == "members"]
    assert members[["from_yard", "to_yard"]].values.tolist() == [[f"0{k}", f"0{k + 1}"] for k in range(4)]
    assert members["distance_m"].tolist() == pytest.approx([30.0] * 4)
    assert members["passage"].tolist() == pytest.approx([0.812252] * 4, abs=5e-7)
    assert members.geometry.length.tolist() == pytest.approx([30.0] * 4)
    assert got.breaks[butterfly]["bridges"][0]["yard_id"] == "02"


@pytest.mark.parametrize("key", ["median_m", "mean_m", "five_percent_m"])
def test_reach_by_any_statistic(key):
    butterfly = "Danaus plexippus"
    yards, breeding = line_of_squares([400.0] * 5)
    k = {"median_m": math.log(2), "mean_m": 1.0, "five_percent_m": -math.log(0.05)}[key] / 100.0
    got = score(request(yards, breeding, butterflies=(butterfly,), connectivity={key: {"monarch": 100.0}}))
    members = got.links[got.links["state"] == "members"]
    assert members["passage"].to_numpy() == pytest.approx(np.exp(-k * 30.0), rel=1e-9)


def test_two_statements_of_one_reach_are_refused():
    yards, breeding = line_of_squares([400.0] * 3)
    settings = {"median_m": {"monarch": 100.0}, "mean_m": {"Danaus plexippus": 120.0}}
    with pytest.raises(StudyError, match="in 2 ways"):
        score(request(yards, breeding, butterflies=("Danaus plexippus",), connectivity=settings))


def test_an_unknown_butterfly_in_a_setting_is_refused():
    yards, breeding = line_of_squares([400.0] * 3)
    with pytest.raises(StudyError, match=r"connectivity\.weights names 'Danaus plexipus'"):
        score(
            request(
                yards,
                breeding,
                butterflies=("Danaus plexippus",),
                connectivity={"weights": {"Danaus plexipus": 2.0}},
            )
        )


def test_a_butterfly_without_a_movement_distance_is_refused():
    yards, breeding = line_of_squares([400.0] * 3)
    asked = request(yards, breeding, butterflies=("Danaus plexippus",))
    asked.knowledge.butterflies.loc["Danaus plexippus", "typical_movement_median_m"] = np.nan
    with pytest.raises(HabitatError, match="no movement distance"):
        score(asked)


def test_a_stone_joins_and_holds_nothing():
    """Two yards 200 m apart, links up to 120 m: only nectar in the middle joins them."""
    butterfly = "Danaus plexippus"
    boxes = [shapely.box(x, 0, x + 20, 20) for x in (0, 110, 220)]
    yards = gpd.GeoDataFrame({"yard_id": ["a", "b", "c"], "role": ["member"] * 3}, geometry=boxes, crs=CRS_M)
    rows = [(y, butterfly, s, 10.0, boxes[k]) for k, y in ((0, "a"), (2, "c")) for s in ("before", "planned")]
    columns = ["yard_id", "butterfly", "state", "habitat_m2", "geometry"]
    breeding = gpd.GeoDataFrame(rows, columns=columns, geometry="geometry", crs=CRS_M)
    stones = gpd.GeoDataFrame(
        [("b", butterfly, "planned", boxes[1])],
        columns=["yard_id", "butterfly", "state", "geometry"],
        crs=CRS_M,
    )
    settings = {"median_m": {butterfly: 100.0}, "hop_max_m": {butterfly: 120.0}}
    got = score(request(yards, breeding, stones=stones, butterflies=(butterfly,), connectivity=settings))
    entry = got.headline["butterflies"][butterfly]
    p = 0.5 ** (90 / 100)
    assert entry["today"]["equivalent_area_m2"] == pytest.approx(math.sqrt(200))
    assert entry["members"]["equivalent_area_m2"] == pytest.approx(math.sqrt(200 + 200 * p * p))
    assert entry["members"]["stepping_stones"] == 1
    part = got.importance.set_index("yard_id").loc["b"]
    assert part["held_m2"] == part["arriving_m2"] == 0.0
    assert part["passing_m2"] == pytest.approx(math.sqrt(200 + 200 * p * p) - math.sqrt(200))


def test_a_joining_yard_keeps_what_stood():
    """The plan's ground lies at the back; a host crown in front keeps counting as part of the patch."""
    butterfly = "Danaus plexippus"
    front, back, far = shapely.box(0, 0, 2, 2), shapely.box(0, 30, 5, 35), shapely.box(0, -50, 5, -45)
    yards = gpd.GeoDataFrame(
        {"yard_id": ["a", "b"], "role": ["candidate", "member"]},
        geometry=[shapely.box(-5, -5, 10, 40), shapely.box(-5, -60, 10, -40)],
        crs=CRS_M,
    )
    columns = ["yard_id", "butterfly", "state", "habitat_m2", "geometry"]
    rows = [("a", butterfly, "before", 1.0, front), ("a", butterfly, "planned", 9.0, back)]
    rows += [("b", butterfly, s, 5.0, far) for s in ("before", "planned")]
    breeding = gpd.GeoDataFrame(rows, columns=columns, geometry="geometry", crs=CRS_M)
    got = score(
        request(yards, breeding, butterflies=(butterfly,), connectivity={"median_m": {butterfly: 40.0}})
    )
    everyone = got.links[got.links["state"] == "everyone"]
    assert everyone["distance_m"].tolist() == pytest.approx([45.0])
    assert any("already" in n for n in notes(got))
    scores = got.headline["joint_score"]
    assert scores["members"] <= scores["everyone"]


def test_links_end_where_she_breeds_and_not_at_her_nectar_of_before():
    """Nectar stood 20 m from the neighbour, hosts are planned at 45 m; two more beds touch."""
    butterfly = "Danaus plexippus"
    hosts, far, touching = shapely.box(0, 30, 5, 35), shapely.box(0, 80, 5, 85), shapely.box(2, 84, 9, 90)
    yards = gpd.GeoDataFrame(
        {"yard_id": ["a", "b", "c"], "role": "member"},
        geometry=[shapely.box(-5, -5, 10, 40), shapely.box(-5, 60, 10, 83), shapely.box(-5, 83, 10, 90)],
        crs=CRS_M,
    )
    columns = ["yard_id", "butterfly", "state", "habitat_m2", "geometry"]
    rows = [(y, butterfly, "planned", 5.0, g) for y, g in (("a", hosts), ("b", far), ("c", touching))]
    breeding = gpd.GeoDataFrame(rows, columns=columns, geometry="geometry", crs=CRS_M)
    stones = gpd.GeoDataFrame(
        {"yard_id": ["a"], "state": "before"}, geometry=[shapely.box(0, 55, 5, 60)], crs=CRS_M
    )
    reach = {"median_m": {butterfly: 40.0}}
    got = score(request(yards, breeding, butterflies=(butterfly,), stones=stones, connectivity=reach))
    links = got.links[got.links["state"] == "members"].set_index(["from_yard", "to_yard"])
    assert links["distance_m"].to_dict() == pytest.approx({("a", "b"): 45.0, ("b", "c"): 0.0})
    ground = dict(zip(breeding["yard_id"], breeding.geometry, strict=True))
    for (one, two), line in links.geometry.items():
        assert line.length == pytest.approx(links.loc[(one, two), "distance_m"], abs=0.11)
        assert shapely.distance(line.boundary.geoms[0], ground[one]) < 0.06
        assert shapely.distance(line.boundary.geoms[1], ground[two]) < 0.06


@pytest.mark.parametrize("case", ["no breeding", "no butterflies", "no anchors", "one yard"])
def test_small_and_empty_studies(case):
    yards, breeding = line_of_squares([400.0] * 3, roles=["member", "candidate", "other"])
    butterflies = ("Danaus plexippus",)
    if case == "no breeding":
        breeding = breeding.iloc[:0]
    elif case == "no butterflies":
        butterflies = ()
    elif case == "one yard":
        yards, breeding = yards.iloc[:1], breeding[breeding["yard_id"] == "00"]
    got = score(request(yards, breeding, butterflies=butterflies))
    assert set(got.headline["joint_score"]) == {"today", "members", "everyone", "low_reach", "high_reach"}
    assert got.chain.empty
    assert list(got.importance.columns[:2]) == ["yard_id", "butterfly"]
    for table, columns in (
        (got.links, {"from_yard", "to_yard", "butterfly", "distance_m", "passage", "state"}),
        (
            got.chain,
            {"butterfly", "state", "step", "from_yard", "to_yard", "distance_m", "passage", "weakest"},
        ),
        (got.invitations, {"rank", "yard_id", "gain_pct", "gain_m2", "cost", "reason", "rank_low_reach"}),
    ):
        assert columns <= set(table.columns)
        assert table.crs == yards.crs
    if case == "no breeding":
        assert any("left out of the joint score" in n for n in notes(got))


@pytest.mark.parametrize("seed", [3, 4])
def test_no_single_joining_lowers_the_score(seed):
    yards, anchors, breeding = town(rows=4, cols=5, seed=seed, butterflies=(SMALL,), crowns=3)
    quick = {"rank_draws": 0, "invite": 0}
    plain = request(yards, breeding, anchors=anchors, butterflies=(SMALL,), connectivity=quick)
    before = score(plain).headline["joint_score"]["members"]
    for yard in yards.loc[yards["role"] == "candidate", "yard_id"]:
        joined = yards.copy()
        joined.loc[joined["yard_id"] == yard, "role"] = "member"
        asked = request(joined, breeding, anchors=anchors, butterflies=(SMALL,), connectivity=quick)
        assert score(asked).headline["joint_score"]["members"] >= before - 1e-12


def test_soil_that_may_be_bad_shakes_an_invitation(asked, corridor):
    """The first to be asked has habitat in every second draw of the soil only."""
    first = corridor.invitations["yard_id"].iloc[0]
    bad = {(first, b): np.array([1.0, 0.0]) for b in SOME}
    calm = corridor.invitations.set_index("yard_id")["kept_share"]
    shaken = score(replace(asked, habitat_draws=bad)).invitations.set_index("yard_id")["kept_share"]
    assert calm[first] >= 0.9
    assert shaken[first] == pytest.approx(0.5, abs=0.11)
    good = {key: np.ones(3) for key in bad}
    same = score(replace(asked, habitat_draws=good)).invitations
    assert same["kept_share"].tolist() == corridor.invitations["kept_share"].tolist()


def test_past_the_exact_sizes_figures_are_called_estimates(monkeypatch):
    yards, anchors, breeding = town(rows=4, cols=5, butterflies=(SMALL,), crowns=3)
    asked = request(yards, breeding, anchors=anchors, butterflies=(SMALL,), connectivity={"rank_draws": 0})
    exact = score(asked)
    monkeypatch.setattr(tables, "EXACT_UP_TO", 8)
    monkeypatch.setattr(tables, "SAMPLED_SOURCES", 4)
    monkeypatch.setattr(losses, "EXACT_UP_TO", 8)
    guess = score(asked)
    told = [n for n in notes(guess) if "is an estimate from a sample of" in n]
    assert ["passing_m2" in told[0], "left after losses" in told[1], len(told)] == [True, True, 2]
    assert "passing_error_m2" in guess.importance
    assert not any("estimate" in n for n in notes(exact))
    assert guess.breaks[SMALL]["losses"]["sampled"]
    assert not exact.breaks[SMALL]["losses"]["sampled"]
    for part in ("held_m2", "arriving_m2"):
        assert guess.importance[part].to_numpy() == pytest.approx(exact.importance[part], rel=0.2)


def test_with_too_many_places_nobody_says_how_firm_the_list_is(asked, corridor, monkeypatch):
    monkeypatch.setattr("habitat.connectivity.invitations.table.FIRM_BYTES", 0.0)
    got = score(asked)
    assert "kept_share" not in got.invitations
    assert got.invitations["yard_id"].tolist() == corridor.invitations["yard_id"].tolist()
    assert "Too many breeding places to try how firm the list of invitations is." in notes(got)


def test_progress_is_told(asked):
    told = []
    score(asked, lambda what, done, total: told.append((what, done, total)))
    assert told[-1][0] == "whom to invite"
    assert all(0 <= done <= total for _, done, total in told)
    assert len({what for what, _, _ in told}) == 2 + len(SOME)
    assert all(a[1] <= b[1] or a[0] != b[0] for a, b in itertools.pairwise(told))
