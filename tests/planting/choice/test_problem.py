"""What may be planted in a yard: hazards, heights, hosts, fit, money, what stands already."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import box

from habitat.knowledge import HostStand, close_life_cycle
from habitat.planting.choice.problem import (
    SEASONS,
    Standing,
    YardWishes,
    bar_plants,
    calm_m2,
    read_standing_facts,
    standing_plants,
)
from habitat.planting.household import LOW_M, Household
from tests.support.choice_yards import (
    HERBS,
    WISHES,
    bed,
    choose,
    chosen,
    facts_of,
    knowledge,
    problem_of,
    settings_of,
    yard,
)
from tests.support.remarks import said


def milkweeds(plants):
    return {p for p in plants if p.startswith("Asclepias ")}


def test_without_hazards_milkweed_is_planned():
    assert milkweeds(chosen(yard()))


def counted(plant, who):
    """The table's word for what a plant asks for where somebody lives; "none" for plants without a row."""
    rows = knowledge().hazard_classes
    if plant in rows.index and "1" in rows.loc[plant, "class_four"]:
        return "bar"
    return rows.loc[plant, f"{who}_counted"] if plant in rows.index else "none"


@pytest.mark.parametrize("who", ["children", "pets"])
def test_the_most_poisonous_are_kept_out_where_children_or_pets_live(who):
    facts = facts_of()
    barred = [p for p in facts.plants if counted(p, who) == "bar"]
    assert barred
    told = dict(zip(facts.plants, yard(facts, **{who: True}).blocked, strict=True))
    for plant in barred:
        assert f"{who} live here" in said(told[plant])
    for plant in set(facts.plants) - set(barred):
        assert told[plant] is None or told[plant].kind != "poison_for_household"


def test_milkweed_in_a_family_yard_is_a_question_and_stands_away_from_paths():
    """It is poisonous if eaten (class 2, from memory one step stricter: ask), and the monarch's only host."""
    family = {"children": True, "pets": True}
    assert milkweeds(chosen(yard(**family)))
    facts = facts_of(HERBS)
    walk = box(-5, -5, 4, 8)
    near = [bed(0, facts, fit=0.9, people=walk), bed(1, facts, fit=0.9)]
    for allocation in choose(problem_of(near, facts, **family)).allocations:
        away = {counted(allocation.plant, who) for who in family} & {"keep_away", "ask"}
        assert allocation.site_id == 1 or not away
    only = problem_of(near[:1], facts, **family)
    assert not milkweeds(chosen(only))
    told = dict(zip(facts.plants, only.blocked, strict=True))
    assert "no bed with room lies away from paths" in said(told["Asclepias incarnata"])


def test_beside_a_walk_the_poisonous_take_the_part_of_a_bed_that_lies_away():
    """A bed 4 m deep beside a walk: class 2 may stand on its 2.5 m beyond 1.5 m, class 1 on 1 m; by hand."""
    plants = ("Asclepias incarnata", "Prunus serotina", "Symphyotrichum laeve")
    facts = facts_of(plants)
    site = bed(0, facts, area_m2=16.0, fit=0.9, people=box(-9, -2, 9, 0))
    room = calm_m2(site, facts, YardWishes(yard_id="Y1", budget=0.0, children=True))
    assert counted("Asclepias incarnata", "children") == "ask"
    assert room[0] == pytest.approx(4 * 2.5)
    assert facts.away_m[1] == 3.0  # class 1
    assert np.isinf(room[2])
    assert np.isinf(calm_m2(site, facts, YardWishes(yard_id="Y1", budget=0.0))).all()
    with_walk, alone = (
        choose(problem_of([where], facts_of(HERBS), children=True, budget=1e6))
        for where in (
            bed(0, facts_of(HERBS), area_m2=16.0, fit=0.9, people=box(-9, -2, 9, 1.5)),
            bed(0, facts_of(HERBS), area_m2=16.0, fit=0.9),
        )
    )
    away = {p for p in HERBS if counted(p, "children") in ("ask", "keep_away")}
    ground = dict(zip(facts_of(HERBS).plants, facts_of(HERBS).cell_m2, strict=True))
    taken = [
        sum(a.count * ground[a.plant] for a in plan.allocations if a.plant in away)
        for plan in (with_walk, alone)
    ]
    assert taken[0] <= 4 * 1.0 + 1e-9 < taken[1]


def test_a_household_that_wants_nothing_poisonous_gets_nothing_and_one_that_bears_all_gets_all():
    none = chosen(yard(children=True, poisonous="none"))
    assert none
    assert all(counted(plant, "children") == "none" for plant in none)
    facts = facts_of()
    free = yard(facts, children=True, pets=True, poisonous="all")
    assert all(b is None or b.kind != "poison_for_household" for b in free.blocked)


def test_hazards_named_in_the_study_are_kept_out_everywhere():
    settings = settings_of(avoid_hazards=["toxic_to_pets"])
    for plant in chosen(yard(settings=settings)):
        assert "toxic_to_pets" not in knowledge().plants.loc[plant, "hazards"]


def test_plants_that_spread_stand_where_something_holds_them():
    """Wood nettle runs; its row says that a mown edge or full sun contains it."""
    runs = knowledge().spread_classes.loc["Laportea canadensis"]
    assert (runs["grade"], runs["contained_by"]) == ("runs", "mown_edge;sun")
    facts = facts_of(("Laportea canadensis",), wishes=("Vanessa atalanta",))
    for around, settings, planted in (
        ((), settings_of(), False),
        (("paving",), settings_of(), False),
        (("mown_edge",), settings_of(), True),
        ((), settings_of(allow_spreading=True), True),
    ):
        problem = problem_of([bed(0, facts, fit=0.9, around=around)], facts, settings=settings)
        assert ("Laportea canadensis" in chosen(problem)) == planted, around
    assert "no bed with room has an edge that holds it" in said(
        problem_of([bed(0, facts, fit=0.9)], facts).blocked[0]
    )


def test_height_limits_of_yard_study_and_bed():
    plants = knowledge().plants
    for problem, top in (
        (yard(max_height_m=1.0), 1.0),
        (yard(settings=settings_of(max_height_m=0.7)), 0.7),
    ):
        assert chosen(problem)
        assert all(plants.loc[p, "height_m"] <= top for p in chosen(problem))
    facts = facts_of(HERBS)
    low = [bed(0, facts, fit=0.9, height_max_m=0.76), bed(1, facts, fit=0.9)]
    for allocation in choose(problem_of(low, facts)).allocations:
        if allocation.site_id == 0:
            assert plants.loc[allocation.plant, "height_m"] <= 0.76


def test_no_host_in_sprayed_yards_or_closed_beds():
    rows, kind = knowledge().host_plants, knowledge().butterflies["kind"]
    eaten = set(
        rows.loc[rows["butterfly"].map(kind) == "butterfly", "plant"]
    )  # moths eat nearly all that grows
    sprayed = yard(sprayed=True)
    assert chosen(sprayed)
    assert not set(chosen(sprayed)) & eaten
    assert any("the yard is sprayed" in words for words in map(said, choose(sprayed).relaxed))
    facts = facts_of(HERBS)
    beds = [bed(0, facts, fit=0.9, closed_to_hosts="busy road edge"), bed(1, facts, area_m2=3.0, fit=0.9)]
    for allocation in choose(problem_of(beds, facts)).allocations:
        assert allocation.site_id == 1 or allocation.plant not in eaten


def test_nothing_is_planted_below_the_last_suitable_class():
    facts = facts_of(HERBS)
    fit = np.where(np.arange(len(HERBS)) % 2 == 0, 0.24, 0.26)
    picked = {a.plant for a in choose(problem_of([bed(0, facts, fit=fit)], facts)).allocations}
    assert picked
    assert picked <= set(HERBS[1::2])


def test_clumps_are_full_and_hosts_feed_a_brood():
    choice = choose(yard(beds=4))
    hosts = knowledge().host_plants
    for allocation in choice.allocations:
        host = allocation.plant in set(hosts[hosts["butterfly"].isin(WISHES)]["plant"])
        assert allocation.count >= (5 if host else 3)
    milkweed = sum(a.count for a in choice.allocations if a.plant.startswith("Asclepias"))
    assert milkweed == 0 or milkweed >= 12  # ten feed a brood (milkweed_min), and a fifth to spare


def test_share_of_one_species_is_kept_beyond_its_first_clump():
    facts = facts_of(("Symphyotrichum laeve", "Monarda fistulosa", "Phlox divaricata", "Zizia aurea"))
    problem = yard(facts, beds=3, area_m2=12.0, budget=2000.0)
    counts = dict(zip(facts.plants, np.zeros(4), strict=True))
    for allocation in choose(problem).allocations:
        counts[allocation.plant] += allocation.count
    area = {p: counts[p] * facts.cell_m2[i] for i, p in enumerate(facts.plants)}
    for i, p in enumerate(facts.plants):
        first = 9 if p == "Zizia aurea" else 6  # six zizias feed a brood, five of the rest; and spares
        assert area[p] <= 0.4 * sum(area.values()) + first * facts.cell_m2[i] + 1e-9


def test_money_and_room_are_kept():
    facts = facts_of(HERBS)
    for budget in (0.0, 30.0, 100.0, 1000.0):
        choice = choose(yard(budget=budget))
        assert choice.cost <= budget + 1e-6
        used = {}
        for a in choice.allocations:
            ground = a.count * facts.cell_m2[HERBS.index(a.plant)]
            used[a.site_id] = used.get(a.site_id, 0.0) + ground
        assert all(taken <= 9.0 + 1e-9 for taken in used.values())


def test_what_stands_counts_and_is_not_bought_again():
    facts = facts_of(HERBS)
    enough = Standing(
        np.array([30.0, 0, 0, 0]), np.array([3.0, 0, 0, 0]), plants=frozenset({"Asclepias tuberosa"})
    )
    before, after = choose(yard(facts)), choose(yard(facts, standing=enough))
    assert any("Danaus plexippus" in a.butterflies for a in before.allocations)
    assert not any("Danaus plexippus" in a.butterflies for a in after.allocations)
    assert after.habitat_m2["Danaus plexippus"] > 0


def test_standing_hosts_feed_only_where_they_thrive_and_any_tree_winters():
    """Three bushes a brood (brood_needs): nine feed three; at fit 0 none."""
    azure, bush = "Celastrina neglecta", "Ceanothus americanus"
    facts = read_standing_facts(knowledge(), facts_of((*HERBS, bush), (azure,)))
    rows = pd.DataFrame({"plant": [bush], "fit": [1.0], "crown_m2": [9.0], "count": [9]})
    alive = standing_plants(rows, facts, sprayed=False)
    dead = standing_plants(rows.assign(fit=0.0), facts, sprayed=False, tree_stands=True)
    assert alive.fed.max() == pytest.approx(3.0)
    assert dead.fed.max() == dead.leaf_m2.max() == 0.0
    assert (alive.bark, dead.bark) == (False, True)


def test_hosts_that_close_a_cycle_together_are_chosen_together():
    """Summer azures eat flower buds: New Jersey tea's in June and July, wingstem's from July on; by hand."""
    azure, early, late = "Celastrina neglecta", "Ceanothus americanus", "Verbesina alternifolia"
    assert not close_life_cycle(knowledge(), azure, [HostStand(plant=early, count=50)]).leaf_share
    assert not close_life_cycle(knowledge(), azure, [HostStand(plant=late, count=50)]).leaf_share
    facts = facts_of((*HERBS, early, late), (azure,))
    sites = [bed(0, facts, area_m2=20.0, fit=0.9)]
    room = np.where(np.isin(facts.plants, (early, late)), 20, sites[0].capacity)
    sites[0] = dataclasses.replace(sites[0], capacity=room)
    plan = choose(problem_of(sites, facts, budget=1e6))
    number = {a.plant: a.count for a in plan.allocations}
    assert {early, late} <= number.keys()
    stands = [HostStand(plant=p, count=n) for p, n in number.items()]
    assert close_life_cycle(knowledge(), azure, stands).leaf_share >= 1.0
    shrubs = pd.DataFrame({"plant": [early], "fit": [1.0], "crown_m2": [9.0], "count": [9]})
    stands = standing_plants(shrubs, read_standing_facts(knowledge(), facts), sprayed=False)
    assert sorted(stands.fed) == [
        0.0,
        3.0,
    ]  # three bushes a brood (brood_needs)
    after = {a.plant for a in choose(problem_of(sites, facts, budget=1e6, standing=stands)).allocations}
    assert late in after


def test_a_moth_of_the_night_gets_flowers_of_the_night_and_else_is_told_so():
    """Brown-hooded owlet moths fly in June to September; blazing star is not recorded at night."""
    moth, aster, star = "Cucullia convexipennis", "Symphyotrichum cordifolium", "Liatris spicata"
    dark = ("Zizia aurea", "Packera obovata", "Rudbeckia hirta", aster, star)
    light = (*dark, "Pycnanthemum muticum", "Pycnanthemum tenuifolium", "Eutrochium fistulosum")
    told = {}
    for plants in (dark, light):
        facts = facts_of(plants, (moth,))
        plan = choose(problem_of([bed(0, facts, area_m2=16.0, fit=0.9)], facts, budget=1e6))
        assert aster in {a.plant for a in plan.allocations}
        told[plants] = [said(one) for one in plan.relaxed if "at night" in said(one)]
    assert any(words.startswith("no nectar at night in July") for words in told[dark])
    assert not any("in July" in words or "in August" in words for words in told[light])


def test_neighbours_complement_instead_of_copying():
    facts = facts_of(HERBS)
    autumn = sum(1 << m for m in (8, 9, 10))
    alone = choose(yard(facts, budget=60.0))
    beside = choose(yard(facts, budget=60.0, neighbour_months=autumn))
    assert beside.worth > alone.worth - 2.0
    assert sum(beside.habitat_m2.values()) >= sum(alone.habitat_m2.values()) - 1e-9
    assert not any("no nectar in September" in words for words in map(said, beside.relaxed))


def test_corridor_weights_steer_the_money():
    facts, heavy = facts_of(HERBS), {"Phyciodes tharos": 20.0}
    plain, steered = choose(yard(facts, budget=200.0)), choose(yard(facts, budget=200.0, weights=heavy))
    assert steered.habitat_m2["Phyciodes tharos"] > plain.habitat_m2["Phyciodes tharos"]


@pytest.mark.parametrize(("wish", "growth"), [("trees", "tree"), ("shrubs", "shrub"), ("vines", "vine")])
def test_growth_that_the_household_does_not_want_is_kept_out(wish, growth):
    facts = facts_of(tuple(knowledge().plants.index))
    barred = bar_plants(facts, YardWishes("Y1", 100.0, household=Household(**{wish: False})), settings_of())
    form = knowledge().plants["form"].to_numpy(str)
    for p, reason in enumerate(barred):
        unwanted = reason is not None and reason.kind == "growth_not_wanted"
        assert unwanted == (form[p] == growth)
        assert not unwanted or f"no new {wish} are wanted here" in said(reason)


@pytest.mark.parametrize("color", ["yellow", "blue", "red", "white"])
def test_colours_that_the_household_dislikes_are_kept_out_but_for_hosts_wished_for(color):
    """By the tables: every plant with such a flower, unless a butterfly that was wished for eats it."""
    facts = facts_of(tuple(knowledge().plants.index))
    home = Household(disliked_colours=frozenset({color}))
    barred = bar_plants(facts, YardWishes("Y1", 100.0, household=home), settings_of())
    flowers = knowledge().plants["flower_color"].str.split(";")
    for p, reason in enumerate(barred):
        disliked = reason is not None and reason.kind == "flower_disliked"
        assert disliked == (color in flowers.iloc[p] and not facts.host[p])
        assert not disliked or said(reason) == f"no {color} flowers are wanted here"
    kept = [p for p, names in enumerate(flowers) if color in names and facts.host[p]]
    assert color in ("red", "white") or kept  # golden Alexanders, smooth blue aster


def test_a_plan_has_no_flower_of_a_colour_that_is_disliked():
    facts = facts_of(HERBS)
    plain = chosen(yard(facts))
    pink = {name for name in plain if "purple" in knowledge().plants.loc[name, "flower_color"]}
    home = Household(disliked_colours=frozenset({"purple"}))
    without = chosen(yard(facts, household=home))
    hosts = {name for name, host in zip(facts.plants, facts.host, strict=True) if host}
    assert without.keys() & pink <= hosts
    assert without


def test_who_wants_low_plants_only_gets_none_taller():
    facts = facts_of(tuple(knowledge().plants.index))
    barred = bar_plants(facts, YardWishes("Y1", 100.0, household=Household(low_only=True)), settings_of())
    assert all(reason for p, reason in enumerate(barred) if facts.height_m[p] > LOW_M)
    assert not all(barred)


def test_seasons_are_the_meteorological_ones():
    """March to May, June to August, September to November (as the WMO has them)."""
    assert [months for _, months in SEASONS] == [(3, 4, 5), (6, 7, 8), (9, 10, 11)]
