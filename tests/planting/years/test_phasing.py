"""What is planted in which year: money kept, life cycles closed early, slow hosts first."""

import dataclasses
import itertools

import numpy as np
import pytest

from habitat.errors import StudyError
from habitat.knowledge import HostStand, close_life_cycle
from habitat.planting.supply import Offer
from habitat.planting.types import Allocation
from habitat.planting.years.phasing import _leaf_by_year, check_phases, planting_years
from tests.support.choice_yards import bed, choose, facts_of, knowledge, larger, problem_of, settings_of

HERBS = (
    "Asclepias incarnata",
    "Chelone glabra",
    "Liatris spicata",
    "Phlox divaricata",
    "Solidago speciosa",
    "Symphyotrichum laeve",
    "Zizia aurea",
)


WISHED = ("Danaus plexippus", "Euphydryas phaeton", "Papilio polyxenes", "Phyciodes tharos")


SEED = Offer("seed", 0.5)


POT = Offer("pot", 12.0)


def herb_yard(phases, growers=(), plants=HERBS, wishes=WISHED):
    """One bed for each plant, and a brood's need of each; herbs are full-grown by the plan year."""
    facts = facts_of(plants, wishes, growers=growers)
    beds = [
        dataclasses.replace(site, capacity=np.where(np.arange(len(plants)) == i, site.capacity, 0))
        for i, site in enumerate(bed(i, facts, area_m2=9.0, fit=0.9) for i in range(len(plants)))
    ]
    problem = problem_of(beds, facts, budget=0.0, settings=settings_of(phases=phases))
    counts = np.where(~facts.host[problem.plant], problem.clump, facts.to_plant[problem.plant]).astype(
        np.int64
    )
    budget = float(counts @ problem.price)
    return dataclasses.replace(problem, yard=dataclasses.replace(problem.yard, budget=budget)), counts


def closed(problem, counts, years, butterfly, year):
    """Whether a life cycle is closed in a plan year, by the rules of the tables."""
    facts, table = problem.facts, knowledge()
    there = [k for k in range(problem.size) if years[k] <= year]
    names = [facts.plants[problem.plant[k]] for k in there]
    stands = [
        HostStand(
            plant=p,
            count=counts[k],
            form=problem.yard.offer(facts, problem.plant[k]).form,
            planted_year=int(years[k]),
        )
        for p, k in zip(names, there, strict=True)
    ]
    bloom = {m for k in there for m in range(1, 13) if facts.months[problem.plant[k]] >> m & 1}
    stems = any(facts.stems[problem.plant[k]] for k in there)
    places = ["host", "away_from_host", *(["leaf_litter"] if there else []), *(["on_stem"] if stems else [])]
    return close_life_cycle(
        table, butterfly, stands, nectar_months=bloom, winter_places=places, year=year, season=(4, 10)
    ).closed


def closed_years(problem, counts, years):
    """Years in which life cycles are closed, the plan year counting as much as all of them."""
    plan_year, total = problem.settings.year, 0.0
    for year in range(1, max(plan_year, len(problem.settings.phases) + 2) + 1):
        many = sum(closed(problem, counts, years, b, year) for b in problem.facts.butterflies)
        total += many * (1 + plan_year * (year == plan_year))
    return total


def within_money(problem, counts, years):
    """Whether each year's money, and what is left of the years before, pays for what is planted."""
    phases = problem.settings.phases
    cost = counts * problem.price
    money = problem.yard.budget * np.cumsum(phases) / sum(phases)
    return all(cost[years <= y].sum() <= money[y - 1] + 1e-6 for y in range(1, len(phases)))


@pytest.mark.parametrize("times", [2.0, 0.25])
def test_habitat_counts_by_the_weight_of_its_butterfly(times):
    """Worth is linear in the weights, so that as many times the weight is as many times the worth."""
    problem, counts = herb_yard([0.5, 0.5])
    plain = _leaf_by_year(problem, counts)
    assert plain.max() > 0.0
    more = dataclasses.replace(problem, weight=problem.weight * times)
    assert _leaf_by_year(more, counts) == pytest.approx(plain * times)


def test_what_is_planted_a_year_later_has_less_leaf():
    """In plan year 2 plugs of year 1 have 0.7 of their spread and those of year 2 have 0.4 (judgement)."""
    problem, counts = herb_yard([0.5, 0.5])
    early = dataclasses.replace(problem, settings=problem.settings.model_copy(update={"year": 2}))
    worth = _leaf_by_year(early, counts)
    assert worth[:, 1] == pytest.approx(worth[:, 0] * (0.4 / 0.7) ** 2)


@pytest.mark.parametrize("phases", [[0.5, 0.5], [0.3, 0.4, 0.3]])
@pytest.mark.parametrize(
    "growers", [(), (("Zizia aurea", SEED),), (("Asclepias incarnata", POT), ("Chelone glabra", POT))]
)
def test_no_other_years_close_more_life_cycles_early(phases, growers):
    """Against every fifth of all schedules that keep the money; all leaf is grown by the plan year."""
    problem, counts = herb_yard(phases, growers)
    years = planting_years(problem, counts)
    assert within_money(problem, counts, years)
    schedules = (np.array(s) for s in itertools.product(range(1, len(phases) + 1), repeat=problem.size))
    some = [s for s in schedules if within_money(problem, counts, s)][::5]
    most = max(closed_years(problem, counts, s) for s in some)
    assert most > 0
    assert closed_years(problem, counts, years) >= most - 1e-9


def test_slow_hosts_come_before_nectar_that_can_wait():
    """From seed milkweed carries no brood before its third season, whatever blooms before."""
    problem, counts = herb_yard(
        [0.2, 0.4, 0.4], (("Asclepias incarnata", Offer("seed", 4.0)),), wishes=("Danaus plexippus",)
    )
    years = planting_years(problem, counts)
    milkweed = problem.facts.plants.index("Asclepias incarnata")
    assert set(years[problem.plant == milkweed]) < {1, 2}
    assert (years[problem.plant != milkweed] == 3).any()


def phased(problem, phases):
    return dataclasses.replace(problem, settings=settings_of(phases=phases))


def test_years_keep_their_money_and_close_life_cycles_early():
    problem = larger(0, budget=200.0)
    chosen = {(a.site_id, a.plant): a.count for a in choose(problem).allocations}
    pairs = zip(problem.site, problem.plant, strict=True)
    keys = [(problem.sites[s].site_id, problem.facts.plants[p]) for s, p in pairs]
    counts = np.array([chosen.get(key, 0) for key in keys], np.int64)
    phases = [0.5, 0.3, 0.2]
    years = planting_years(phased(problem, phases), counts)
    assert ((years > 0) == (counts > 0)).all()
    cost = counts * problem.price
    spent = [cost[years <= y].sum() for y in (1, 2)]
    assert spent[0] <= 100.0 + 1e-6
    assert spent[1] <= 160.0 + 1e-6
    hosts = problem.facts.host[problem.plant] & (counts > 0)
    assert (years[hosts] == 1).any()
    assert set(planting_years(phased(problem, []), counts)[counts > 0]) == {1}
    late = choose(phased(problem, phases))
    assert {a.year for a in late.allocations} <= {1, 2, 3}
    assert len({a.year for a in late.allocations}) > 1


def test_phases_that_spend_more_than_all_are_an_error():
    check_phases([0.6, 0.4])
    with pytest.raises(StudyError, match=r"add up to 1.2"):
        check_phases([0.6, 0.6])


def planted_before(problem, counts, plant, form, year=1, cost=0.0):
    """Return a yard whose host was chosen before the rest, as trees are, and of which no more is chosen."""
    facts = problem.facts
    p = facts.plants.index(plant)
    mine = problem.plant == p
    many = int(counts[mine].sum())
    before = Allocation(0, plant, form, many, cost, "host", (), "", year=year)
    standing = dataclasses.replace(
        problem.standing, fed=problem.standing.fed + facts.meals[:, p] * many / facts.need[p]
    )
    yard = dataclasses.replace(problem.yard, fixed=(before,))
    return dataclasses.replace(problem, yard=yard, standing=standing), np.where(mine, 0, counts)


def test_money_of_what_was_chosen_before_is_gone():
    """Half of all money comes in year 1; a tree that costs as much as the rest has spent all of it."""
    problem, counts = herb_yard([0.5, 0.5])
    rest = float(counts @ problem.price)
    dear, left = planted_before(problem, counts, "Liatris spicata", "plug", cost=rest)
    cost = float(left @ dear.price)
    dear = dataclasses.replace(dear, yard=dataclasses.replace(dear.yard, budget=cost))
    years = planting_years(dear, left)
    whole = cost + rest
    assert (left * dear.price)[years == 1].sum() <= max(0.5 * whole - rest, 0.0) + 1e-6
    free = dataclasses.replace(dear, yard=dataclasses.replace(dear.yard, fixed=()))
    assert (planting_years(free, left) == 1).any()


def test_a_host_that_is_late_lets_another_butterfly_go_first():
    """Milkweed from seed carries a brood in season 3 (brood_needs), so nectar in May can wait.

    Turtlehead from pots, which carries a brood at once, cannot. Neighbours have all nectar but that of May.
    """
    plants = ("Asclepias incarnata", "Chelone glabra", "Zizia aurea")
    wishes = ("Danaus plexippus", "Euphydryas phaeton")
    problem, counts = herb_yard([0.5, 0.5], (("Chelone glabra", POT),), plants, wishes)
    problem, left = planted_before(problem, counts, "Asclepias incarnata", "seed")
    around = sum(1 << m for m in range(1, 13) if m != 5)
    yard = dataclasses.replace(problem.yard, budget=200.0, neighbour_months=around)
    problem = dataclasses.replace(
        problem, yard=yard, price=100.0 / np.maximum(counts, 1), weight=np.array([2.0, 1.0])
    )
    pots = dataclasses.replace(yard, fixed=(dataclasses.replace(yard.fixed[0], form="pot"),))
    late, early = planting_years(problem, left), planting_years(dataclasses.replace(problem, yard=pots), left)
    by_plant = [dict(zip((plants[p] for p in problem.plant), y.tolist(), strict=True)) for y in (late, early)]
    assert by_plant[0] == {"Asclepias incarnata": 0, "Chelone glabra": 1, "Zizia aurea": 2}
    assert by_plant[1] == {"Asclepias incarnata": 0, "Chelone glabra": 2, "Zizia aurea": 1}


@pytest.mark.parametrize("form", ["plug", "seed"])
def test_a_host_chosen_before_feeds_from_the_year_that_it_carries_on(form):
    """No schedule of the rest closes more life cycles, counted by the tables with the host that is there."""
    problem, counts = herb_yard([0.5, 0.5], wishes=("Danaus plexippus", "Papilio polyxenes"))
    problem, left = planted_before(problem, counts, "Asclepias incarnata", form)
    problem = dataclasses.replace(
        problem, yard=dataclasses.replace(problem.yard, budget=float(left @ problem.price))
    )
    taken = np.flatnonzero(left)
    best = 0.0
    for spread in itertools.product((1, 2), repeat=len(taken)):
        years = np.zeros(problem.size, np.int64)
        years[taken] = spread
        if within_money(problem, left, years):
            best = max(best, closed_with(problem, left, years))
    mine = closed_with(problem, left, planting_years(problem, left))
    assert best > 0
    assert mine >= best - 1e-9


def closed_with(problem, counts, years):
    """Return closed years as ``closed_years`` counts them, with what was chosen before."""
    facts, total = problem.facts, 0.0
    for year in range(1, max(problem.settings.year, len(problem.settings.phases) + 2) + 1):
        for butterfly in facts.butterflies:
            there = [k for k in range(problem.size) if 0 < years[k] <= year]
            stands = [
                HostStand(
                    plant=facts.plants[problem.plant[k]],
                    count=counts[k],
                    form=problem.yard.offer(facts, problem.plant[k]).form,
                    planted_year=int(years[k]),
                )
                for k in there
            ]
            stands += [
                HostStand(plant=a.plant, count=a.count, form=a.form, planted_year=a.year)
                for a in problem.yard.fixed
            ]
            bloom = {m for k in there for m in range(1, 13) if facts.months[problem.plant[k]] >> m & 1}
            stems = any(facts.stems[problem.plant[k]] for k in there)
            places = ["host", "away_from_host", *(["leaf_litter"] if there else [])]
            found = close_life_cycle(
                knowledge(), butterfly, stands, nectar_months=bloom, year=year, season=(4, 10),
                winter_places=[*places, *(["on_stem"] if stems else [])],
            )  # fmt: skip
            total += found.closed * (1 + problem.settings.year * (year == problem.settings.year))
    return total
