"""Kinds of one bed share moisture, reaction and light; where moisture is not known, one class of it."""

from dataclasses import replace

import numpy as np

from habitat.factors import FACTORS
from habitat.planting.communities.choose import choose_communities
from habitat.planting.communities.habits import share_ground
from habitat.planting.communities.rules import rules_of
from tests.support.choice_yards import habits_of, knowledge, needs_of, yard

DRAINAGE = FACTORS.names.index("drainage")


def beds_of(problem, **more):
    found = choose_communities(
        problem, habits_of(problem), rules_of(problem.settings), class_limit=0.25, **more
    )
    beds = {}
    for a in found.allocations:
        beds.setdefault(a.site_id, []).append(a.plant)
    return beds


def test_two_kinds_share_ground_where_their_ranges_overlap():
    """By the table's own columns, pair by pair: best ranges where a need is not known, else tolerated."""
    needs = needs_of("sun_h")
    table = knowledge().plants.loc[list(needs.plants)]
    found = share_ground(needs, ("sun_h", "ph"))
    best = table[["drainage_opt_low", "drainage_opt_high"]].to_numpy(float)
    lives = [table[[f"{n}_min{u}", f"{n}_max{u}"]].to_numpy(float) for n, u in (("ph", ""), ("sun", "_h"))]
    rng = np.random.default_rng(1)
    seen = set()
    for i, j in rng.integers(0, len(table), (400, 2)):
        apart = max(best[i, 0], best[j, 0]) > min(best[i, 1], best[j, 1])
        for ends, most in zip(lives, (99.0, 15.0), strict=True):
            high = [np.inf if ends[k, 1] >= most else ends[k, 1] for k in (i, j)]
            apart |= max(ends[i, 0], ends[j, 0]) >= min(high)
        if i != j:
            assert found[i, j] == (not apart), (table.index[i], table.index[j])
            seen.add(bool(apart))
    assert seen == {True, False}


def test_a_bed_holds_one_moisture_class_where_moisture_is_not_known():
    """One drainage class lies in the best range of every kind of a bed: none stands beside its opposite."""
    problem = yard(beds=2, area_m2=12.0, budget=400.0)
    needs = needs_of("sun_h").subset(list(problem.facts.plants))
    together = share_ground(needs, ("sun_h",))
    assert not together.all()
    beds = beds_of(problem, together=together)
    assert beds
    ends = needs.tables["ranges"][:, DRAINAGE]
    for plants in beds.values():
        mine = [problem.facts.plants.index(p) for p in plants]
        assert ends[mine, 1].max() <= ends[mine, 2].min()


def test_what_local_growers_have_comes_before_what_must_be_ordered():
    problem = yard(beds=2, area_m2=12.0, budget=400.0)
    free = {p for plants in beds_of(problem).values() for p in plants}
    local = np.array([p not in free or k % 2 == 0 for k, p in enumerate(problem.facts.plants)])
    bound = replace(problem, facts=replace(problem.facts, local=local))
    taken = {p for plants in beds_of(bound).values() for p in plants}
    gone = {p for p, here in zip(problem.facts.plants, local, strict=True) if not here}
    assert len(taken & gone) < len(free & gone)
