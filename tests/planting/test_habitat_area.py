"""Habitat recounted from plants: head arithmetic, exact areas, rules of brood, nectar and winter."""

import math

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from shapely import Point, box

from habitat.planting.anchors import read_anchors
from habitat.planting.drawing.draw import BED_COLUMNS, PLANTING_COLUMNS, POINT_COLUMNS
from habitat.planting.habitat_area import _nectar_ground, recount
from habitat.planting.nectar import NectarMap
from habitat.planting.types import Drawn
from habitat.settings.planting import PlantingSettings
from tests.support.yards import (
    KNOWLEDGE,
    PLANTS,
    SEASON,
    SETTINGS,
    UTM,
    existing,
    random_choice,
    scene,
)

MONARCH, GLAUCUS = "Danaus plexippus", "Papilio glaucus"


MILKWEED, TULIP_TREE = "Asclepias syriaca", "Liriodendron tulipifera"


SPREAD = KNOWLEDGE.plants["spread_m"]


YARD = box(0, 0, 20, 20)


ANCHOR_HOST_SHARE = 0.1


ROW = [(2.0 + 1.5 * k, 3.0) for k in range(10)]


def frame(columns):
    data = pd.DataFrame({c: pd.Series(dtype=object) for c in columns})
    return gpd.GeoDataFrame(data, geometry="geometry", crs=UTM)


def nothing():
    return Drawn(frame(BED_COLUMNS), frame(PLANTING_COLUMNS), frame(POINT_COLUMNS))


def yards(*squares, role="member", sprayed=False):
    names = [f"Y{k}" for k in range(1, len(squares) + 1)]
    data = {"yard_id": names, "role": role, "sprayed": sprayed}
    return gpd.GeoDataFrame(data, geometry=list(squares), crs=UTM)


def planted(plant, xy, *, yard_id="Y1", fit=1.0):
    """Return a drawing of one planting in one bed."""
    ids = {"yard_id": yard_id, "bed_id": f"{yard_id}-b1"}
    both = {**ids, "planting_id": f"{yard_id}-p1", "plant": plant}
    row = {"form": "plug", "count": len(xy), "spacing_m": 0.6, "fit": fit, "year": 1}
    bed = {**ids, "geometry": shapely.MultiPoint(xy).buffer(0.7)}
    planting = {**both, **row, "geometry": shapely.MultiPoint(xy)}
    points = [{**both, "point_id": k, "geometry": Point(p)} for k, p in enumerate(xy)]
    return Drawn(*(gpd.GeoDataFrame(x, geometry="geometry", crs=UTM) for x in ([bed], [planting], points)))


def joined(one, two):
    parts = [(one.beds, two.beds), (one.plantings, two.plantings), (one.points, two.points)]
    return Drawn(
        *(gpd.GeoDataFrame(pd.concat(p, ignore_index=True), geometry="geometry", crs=UTM) for p in parts)
    )


def habitat_of(squares, grown, drawn, butterflies, settings=SETTINGS, **more):
    rules = {"knowledge": KNOWLEDGE, "settings": settings, "season": SEASON}
    return recount(squares, grown, drawn, butterflies, **rules, **more)


def count(grown, drawn, squares, butterfly=MONARCH, **planting):
    return habitat_of(squares, grown, drawn, (butterfly,), settings=PlantingSettings(**planting))


def first_row(*arguments, **options):
    return count(*arguments, **options).yard_butterflies.iloc[0]


def bloom(x=10.0):
    """Return standing nectar plants, no hosts, that bloom in every month that monarchs fly."""
    hosts = set(KNOWLEDGE.hosts_of(MONARCH)["plant"]) | set(KNOWLEDGE.hosts_of(GLAUCUS)["plant"])
    blooms = [p for p in PLANTS if KNOWLEDGE.plants.loc[p, "nectar_value"] > 0 and p not in hosts]
    return [(p, 1, 0.1, x, 10.0) for p in blooms]


def test_leaf_is_crowns_of_the_plan_year_times_fit_and_preference():
    """Ten milkweeds 1.5 m apart do not touch: 10 x pi/4 x spread^2 x fit; full spread in plan year 5."""
    disc = math.pi / 4 * float(SPREAD[MILKWEED]) ** 2
    row = first_row(existing(bloom()), planted(MILKWEED, ROW, fit=0.8), yards(YARD))
    assert row["leaf_m2"] == pytest.approx(10 * disc * 0.8)
    assert (row["nectar"], row["missing"], row["habitat_before_m2"]) == (1.0, "", 0.0)
    assert row["habitat_m2"] == pytest.approx(row["leaf_m2"])
    young = first_row(existing(bloom()), planted(MILKWEED, ROW, fit=0.8), yards(YARD), year=1)
    assert young["leaf_m2"] == pytest.approx(10 * disc * 0.8 * 0.4**2)  # judgement: 0.4 of the spread


def test_nothing_below_one_broods_need():
    got = count(existing(bloom()), planted(MILKWEED, ROW[:9]), yards(YARD))
    row = got.yard_butterflies.iloc[0]
    assert row["habitat_m2"] == 0.0
    assert row["missing"] == "host plants for only 90% of one brood"
    assert len(got.breeding) == 0
    assert set(got.nectar_stones["yard_id"]) == {"Y1"}


def bought(drawn, form, year=1):
    """Return a drawing whose plants were bought as something, and planted in a plan year."""
    return Drawn(drawn.beds, drawn.plantings.assign(form=form, year=year), drawn.points)


@pytest.mark.parametrize(
    ("form", "year", "closes"), [("pot", 1, 1), ("plug", 1, 2), ("seed", 1, 3), ("plug", 3, 4)]
)
def test_the_plan_year_from_which_a_life_cycle_closes(form, year, closes):
    """Milkweed carries a brood in season 1 from pots, 2 from plugs, 3 from seed (table brood_needs)."""
    drawn = bought(planted(MILKWEED, ROW), form, year)
    row = first_row(existing(bloom()), drawn, yards(YARD))
    assert row["closes_in_year"] == closes
    assert row["missing"] == ""
    young = first_row(existing(bloom()), drawn, yards(YARD), year=1)
    assert young["closes_in_year"] == closes
    assert young["broods"] == row["broods"] > 0, "it is told how the cycle stands once it closes"
    if closes > 1:
        assert young["missing"] == f"host plants too young to carry a brood before year {closes}"
        assert young["habitat_m2"] == 0


def test_what_stands_closes_a_life_cycle_today_and_nectar_of_a_later_phase_later():
    standing = existing([(MILKWEED, 10, 3.0, 3.0, 3.0), *bloom()])
    assert first_row(standing, nothing(), yards(YARD))["closes_in_year"] == 0
    hosts = bought(planted(MILKWEED, ROW), "pot")
    months = range(5, 11)  # monarchs fly from May on
    late = [p for p in PLANTS if KNOWLEDGE.plants.loc[p, "bloom_end_month"] >= 10][:1]
    rest = [b for b in bloom() if KNOWLEDGE.plants.loc[b[0], "bloom_end_month"] < 10]
    nectar = planted(late[0], [(9.0, 9.0)])
    nectar = Drawn(
        nectar.beds.assign(bed_id="Y1-b2"),
        nectar.plantings.assign(bed_id="Y1-b2", planting_id="Y1-p2", form="pot", year=3),
        nectar.points.assign(bed_id="Y1-b2", planting_id="Y1-p2"),
    )
    row = first_row(existing(rest), joined(hosts, nectar), yards(YARD))
    assert max(months) == 10
    assert (row["missing"], row["closes_in_year"]) == ("", 3)


def test_leaf_beyond_enough_adds_nothing():
    row = first_row(existing(bloom()), planted(MILKWEED, ROW), yards(YARD), enough_m2=1.5)
    assert row["habitat_m2"] == pytest.approx(1.5)


def test_crowns_outside_the_yard_do_not_count():
    """A standing tree on the fence gives half its crown."""
    tree = [(TULIP_TREE, 1, math.pi * 9.0, 20.0, 10.0), *bloom()]
    got = count(existing(tree), nothing(), yards(YARD), GLAUCUS)
    assert got.yard_butterflies["leaf_m2"].iloc[0] == pytest.approx(math.pi * 9.0 / 2, rel=2e-3)
    assert got.breeding.geometry.map(YARD.buffer(1e-6).covers).all()


def test_nectar_is_the_share_of_flight_months_within_reach_over_fences():
    """Neighbours' bloom counts within nectar_reach_m of the host plants, not beyond."""
    both = yards(YARD, box(20, 0, 200, 20))
    near = existing(bloom(60.0)).assign(yard_id="Y2")
    assert first_row(near, planted(MILKWEED, ROW), both)["nectar"] == 1.0
    far = first_row(existing(bloom(120.0)).assign(yard_id="Y2"), planted(MILKWEED, ROW), both)
    own, insect = KNOWLEDGE.plants.loc[MILKWEED], KNOWLEDGE.butterflies.loc[MONARCH]
    flight = set(range(max(4, insect["flight_start_month"]), min(10, insect["flight_end_month"]) + 1))
    fed = flight & set(range(own["bloom_start_month"], own["bloom_end_month"] + 1))
    assert far["nectar"] == pytest.approx(len(fed) / len(flight))
    assert "no nectar in" in far["missing"]


def test_a_candidates_plan_feeds_nobody_else():
    """Bloom that only a candidate has planned does not count for a member next door; a member's does."""
    flower = planted("Symphyotrichum novae-angliae", [(25.0, 5.0)], yard_id="Y2")
    drawn = joined(planted(MILKWEED, ROW), flower)
    squares = (YARD, box(20, 0, 40, 20))
    alone = first_row(existing(), planted(MILKWEED, ROW), yards(*squares))["nectar"]
    candidate = count(existing(), drawn, yards(*squares, role=["member", "candidate"])).yard_butterflies
    assert candidate.set_index("yard_id")["nectar"]["Y1"] == alone
    assert candidate.set_index("yard_id")["nectar"]["Y2"] > 0
    assert first_row(existing(), drawn, yards(*squares))["nectar"] > alone


def test_no_nectar_needed_by_butterflies_that_take_none():
    takes = KNOWLEDGE.butterflies["adult_food"].str.contains("nectar")
    other = KNOWLEDGE.butterflies.index[~takes][0]
    assert first_row(existing(), nothing(), yards(YARD), other)["nectar"] == 1.0


def test_winter_place_needs_a_plan_where_it_lies_in_the_litter():
    """The eastern tiger swallowtail winters in leaf litter: without a plan nobody promises to leave it."""
    tree = existing([(TULIP_TREE, 1, 12.0, 10.0, 10.0), *bloom()])
    member = first_row(tree, nothing(), yards(YARD), GLAUCUS)
    assert (member["winter"], member["habitat_before_m2"]) == (1, 0.0)
    assert member["habitat_m2"] > 0
    (other,) = count(tree, nothing(), yards(YARD, role="other"), GLAUCUS).yard_butterflies.itertuples()
    assert (other.winter, other.habitat_m2) == (0, 0.0)
    assert other.leaf_m2 > 0
    assert other.missing == "no leaf litter left under the plants"


def test_any_tree_is_bark_to_winter_in():
    """Eastern commas winter as adults under bark (table butterflies); nobody has to know the tree's name."""
    comma, nettle = "Polygonia comma", "Laportea canadensis"
    assert KNOWLEDGE.butterflies.loc[comma, "overwinter_stage"] == "adult"
    grown = existing([(nettle, 60, 20.0, 10.0, 10.0)])
    squares = yards(YARD, role="other")
    bare = first_row(grown, nothing(), squares, comma)
    treed = first_row(grown, nothing(), squares.assign(tree_stands=True), comma)
    assert (bare["winter"], bare["habitat_m2"]) == (0, 0.0)
    assert "no a tree" not in bare["missing"]
    assert treed["winter"] == 1
    assert treed["habitat_m2"] > 0


def test_a_yard_that_takes_no_part_is_told_what_stands_and_what_lacks():
    """Nine milkweeds of the ten that a brood needs (brood_needs), no nectar: all of it is told."""
    grown = existing([(MILKWEED, 9, 5.0, 10.0, 10.0)])
    row = first_row(grown, nothing(), yards(YARD, role="other"))
    assert row["leaf_m2"] == pytest.approx(5.0)
    assert row["missing"].startswith("host plants for only 90% of one brood; no nectar in ")
    assert row["habitat_m2"] == 0.0


@pytest.mark.parametrize("role", ["member", "other"])
def test_nectar_is_a_stop_with_or_without_a_host(role):
    got = count(existing(bloom()), nothing(), yards(YARD, role=role))
    assert sorted(got.nectar_stones["state"]) == ["before", "planned"]
    (row,) = got.yard_butterflies.itertuples()
    assert row.missing == "no host plant"


def test_no_cycle_closes_on_hosts_that_do_not_thrive():
    grown = existing([(MILKWEED, 20, 5.0, 10.0, 10.0), *bloom()])
    row = first_row(grown.assign(fit=[0.0, *[1.0] * (len(grown) - 1)]), nothing(), yards(YARD))
    assert (row["leaf_m2"], row["verdict"], row["broods"]) == (0.0, "will visit", 0)
    assert row["missing"] == "host plants only where they are not known to thrive"


def test_sprayed_yards_breed_nothing():
    grown = existing([(MILKWEED, 20, 5.0, 10.0, 10.0), *bloom()])
    row = first_row(grown, nothing(), yards(YARD, sprayed=True))
    assert (row["habitat_m2"], row["habitat_before_m2"], row["winter"]) == (0.0, 0.0, 0)
    assert row["missing"] == "the yard is sprayed"


def test_what_stands_breeds_before_and_after():
    grown = existing([(MILKWEED, 20, 5.0, 10.0, 10.0), *bloom()])
    got = count(grown, nothing(), yards(YARD, role="other"))
    row = got.yard_butterflies.iloc[0]
    assert row["role"] == "other"
    assert row["habitat_before_m2"] == pytest.approx(5.0)
    assert row["habitat_m2"] == pytest.approx(5.0)
    assert sorted(got.breeding["state"]) == ["before", "planned"]
    assert got.breeding.geometry.area.to_numpy() == pytest.approx([5.0, 5.0], rel=1e-3)


def test_planned_ground_covers_the_ground_before():
    grown = existing([(MILKWEED, 20, 5.0, 10.0, 10.0), *bloom()])
    ground = count(grown, planted(MILKWEED, ROW), yards(YARD)).breeding.set_index("state").geometry
    assert ground["planned"].buffer(1e-6).covers(ground["before"])
    assert ground["planned"].area < YARD.area / 4  # host crowns and beds, never the parcel


def test_anchors_count_area_times_share_for_the_butterflies_they_hold():
    anchors = gpd.GeoDataFrame(
        {
            "name": ["meadow", "wood edge", "fen", "gully"],
            "host_share": [0.2, None, 0.5, 0.5],
            "butterflies": ["Monarch; pearl crescent", "all", "pearl crescent", None],
        },
        geometry=[box(0, 0, 100, 100), *[box(0, 0, 10, 10)] * 3],
        crs=UTM,
    )
    known, _ = read_anchors(anchors, KNOWLEDGE, ANCHOR_HOST_SHARE)
    got = habitat_of(yards(YARD), existing(), nothing(), (MONARCH,), anchors=known)
    rows = got.yard_butterflies.set_index("yard_id")
    habitat, missing = rows["habitat_m2"], rows["missing"]
    assert habitat["anchor: meadow"] == pytest.approx(2000.0)
    assert habitat["anchor: wood edge"] == pytest.approx(100 * ANCHOR_HOST_SHARE)
    assert habitat["anchor: fen"] == habitat["anchor: gully"] == 0.0
    assert missing["anchor: fen"] == "not named among the butterflies that breed here"
    assert missing["anchor: gully"] == "nobody has said whether it breeds here"
    assert missing["anchor: meadow"] == ""


def test_plantings_without_places_count_by_area():
    row = planted(MILKWEED, ROW).plantings.assign(geometry=[shapely.MultiPoint()], spacing_m=5.0)
    got = first_row(existing(bloom()), Drawn(frame(BED_COLUMNS), row, frame(POINT_COLUMNS)), yards(YARD))
    assert got["leaf_m2"] == pytest.approx(10 * math.pi / 4 * float(SPREAD[MILKWEED]) ** 2)


def test_more_plants_never_lower_the_leaf():
    xy = np.random.default_rng(1).uniform(2, 18, (30, 2))
    leaf = [first_row(existing(), planted(MILKWEED, xy[:n]), yards(YARD))["leaf_m2"] for n in (10, 20, 30)]
    assert leaf == sorted(leaf)


def test_the_order_of_yards_changes_nothing():
    squares, key = yards(YARD, box(20, 0, 40, 20)), ["yard_id", "butterfly"]
    grown = existing([(MILKWEED, 20, 5.0, 10.0, 10.0), *bloom()])
    one, two = (
        count(grown, planted(MILKWEED, ROW), s).yard_butterflies.sort_values(key).reset_index(drop=True)
        for s in (squares, squares.iloc[::-1])
    )
    pd.testing.assert_frame_equal(one, two)


def test_entries_stay_in_range():
    one = scene(box(500_000, 4_400_000, 500_020, 4_400_030), None)
    sites = one.sites()
    drawn = one.draw(random_choice(sites, 3), sites)
    square = gpd.GeoDataFrame([one.yard], geometry="geometry", crs=UTM)
    everyone = tuple(KNOWLEDGE.butterflies.index)
    table = habitat_of(square, existing(), drawn, everyone).yard_butterflies
    assert len(table) == len(everyone)
    assert table["nectar"].between(0, 1).all()
    assert table["winter"].isin([0, 1]).all()
    assert (table["habitat_m2"] <= SETTINGS.enough_m2 + 1e-9).all()
    assert (table["habitat_m2"] <= table["leaf_m2"] + 1e-9).all()
    assert ((table["missing"] == "") <= (table["habitat_m2"] > 0)).all()


def test_a_yard_without_nectar_blooms_in_no_month():
    none = np.empty(0, object)
    empty = NectarMap(shapely.STRtree([]), none, np.empty(0, np.int64), none, np.empty(0, np.bool_))
    assert _nectar_ground(empty, "Y1") == (0, shapely.Polygon())
