"""Plans that are settled change nothing of the rest, and who joins later changes no plan before."""

import dataclasses
import random

import geopandas as gpd
import pandas as pd
import pytest

from habitat.pipeline.planting import plan_round
from habitat.planting.plan_yards import plan_yards
from habitat.planting.settled import Settled, living_of, turns, with_settled
from habitat.planting.types import Drawn
from tests.support.plans import same

TABLES = ("beds", "plantings", "plant_points", "yard_results")


def settled(planting, ids, planted=()):
    """Settle the plans of some yards as they are in a plan."""
    beds, plantings, points, results = (
        getattr(planting, name)[getattr(planting, name)["yard_id"].isin(ids)].reset_index(drop=True)
        for name in TABLES
    )
    return Settled(Drawn(beds, plantings, points), results, frozenset(planted))


@pytest.mark.parametrize("seed", range(3))
def test_whichever_plans_are_settled_the_whole_stays_what_it_was(eight_yards, planting, seed):
    """Trees shade, stock and money are spent, habitat is counted as if the settled had been solved again."""
    chance = random.Random(seed)
    ids = chance.sample(eight_yards.yard_ids, chance.randint(1, len(eight_yards.yard_ids) - 1))
    again = plan_round(dataclasses.replace(eight_yards, settled=settled(planting, ids)))
    same(again, planting, but={"habitat_apart"})  # that tells of yards that were solved
    assert again.order == planting.order


def test_all_settled_leaves_nothing_to_solve(eight_yards, planting):
    again = plan_round(dataclasses.replace(eight_yards, settled=settled(planting, eight_yards.yard_ids)))
    for name in (*TABLES, "yard_butterflies", "breeding"):
        pd.testing.assert_frame_equal(getattr(again, name), getattr(planting, name), check_dtype=False)


def plan(ground, **more):
    study, layers = ground.study, ground.layers
    return plan_yards(
        layers.yards, ground.site, ground.existing, knowledge=ground.knowledge, needs=ground.needs,
        settings=study.planting, wishes=ground.wishes, season=study.study.season, seed=study.study.seed,
        growers=layers.frame("growers"), **more,
    )  # fmt: skip


def test_who_joins_later_changes_no_plan_before(eight_yards, planting):
    """Growers have half of what all take, and the member who would choose first comes last.

    All take part: who may be asked has what members leave, and takes nothing from anybody.
    """
    ids, late = eight_yards.yard_ids, planting.order[0]
    growers = eight_yards.layers.frame("growers")
    taken = planting.plantings.groupby("plant")["count"].sum()
    half = growers.assign(quantity=growers["plant"].map(taken).fillna(0.0) // 2)
    vectors = eight_yards.layers.vectors
    few = vectors | {"growers": dataclasses.replace(vectors["growers"], frame=half)}
    few["yards"] = dataclasses.replace(vectors["yards"], frame=eight_yards.layers.yards.assign(role="member"))
    ground = dataclasses.replace(eight_yards, layers=dataclasses.replace(eight_yards.layers, vectors=few))
    first = [yard for yard in ids if yard != late]
    before = plan(ground, yard_ids=first, bed_sites=planting.bed_sites)
    after = plan(ground, yard_ids=ids, order=before.order, bed_sites=planting.bed_sites)
    assert after.order == (*before.order, late)
    pd.testing.assert_frame_equal(without(after, late), before.plantings)
    anew = plan(ground, yard_ids=ids, bed_sites=planting.bed_sites)
    assert not without(anew, late).equals(before.plantings)  # so the stock did bite
    same(plan(ground, yard_ids=ids, order=after.order, bed_sites=planting.bed_sites), after)


def without(planting, yard_id):
    """Return the plantings of all yards but one."""
    return planting.plantings[planting.plantings["yard_id"] != yard_id].reset_index(drop=True)


def test_a_purse_pays_for_what_is_settled_first(eight_yards, planting):
    one, rest = eight_yards.yard_ids[0], eight_yards.yard_ids[1:]
    kept = settled(planting, [one])
    purse = kept.cost_of(kept.yard_ids) + 0.3 * planting.yard_results["cost"].sum()
    study = eight_yards.study.changed(planting={"total_budget": purse})
    ground = dataclasses.replace(eight_yards, study=study, bed_sites=planting.bed_sites, settled=kept)
    found = plan_round(ground)
    costs = found.yard_results.set_index("yard_id")["cost"]
    assert costs[one] == pytest.approx(kept.cost_of([one]))
    yards = eight_yards.layers.yards
    members = set(yards.loc[yards["role"] == "member", "yard_id"]) & set(rest)
    assert 0.0 < costs[list(members)].sum() <= purse - kept.cost_of(kept.yard_ids) + 1e-6
    assert costs.sum() == pytest.approx(found.plantings["cost"].sum())


def test_what_is_in_the_ground_is_bought_no_more(planting):
    yard = planting.plantings["yard_id"].iloc[0]
    counted = planting.plantings[planting.plantings["yard_id"] == yard].groupby("plant")["count"].sum()
    assert settled(planting, [yard]).taken() == {yard: (counted.to_dict(), frozenset(counted.index))}
    assert settled(planting, [yard], planted=[yard]).taken() == {yard: ({}, frozenset(counted.index))}


def test_tables_come_back_in_the_order_of_the_yards(planting):
    ids = list(planting.yard_results["yard_id"])
    some, others = settled(planting, ids[::2]), settled(planting, ids[1::2])
    whole = with_settled(others.drawn, some, ids)
    for name, table in (("beds", whole.beds), ("plantings", whole.plantings), ("plant_points", whole.points)):
        pd.testing.assert_frame_equal(table, getattr(planting, name))


def test_a_member_that_was_a_candidate_keeps_its_turn():
    roles = pd.Series({"a": "member", "b": "candidate", "c": "member"})
    assert turns(("a", "b", "c"), roles, ("b", "a")) == ("b", "a", "c")


def test_what_stood_before_any_plan_was_planted_by_none():
    standing = gpd.GeoDataFrame({"plant": ["a", "b"]}, geometry=gpd.points_from_xy([0, 1], [0, 1]), crs=32617)
    assert living_of(standing).empty
    mixed = standing.assign(planting_id=["", "Y1-p1"])
    assert living_of(mixed)["plant"].tolist() == ["b"]
