"""Small yards made by hand, for tests of choosing: no layers, no drawing."""

from __future__ import annotations

import functools
import itertools
import math

import numpy as np
from hypothesis import settings
from hypothesis import strategies as st
from shapely.geometry import box

from habitat.knowledge import load_knowledge
from habitat.planting.choice.builder import bed_costs, open_before, wanted_months
from habitat.planting.choice.facts import drift_cover_m2, habitat_m2, read_facts
from habitat.planting.choice.problem import SEASONS, Standing, YardWishes, make_problem
from habitat.planting.communities.choose import choose_communities, list_columns, yard_program
from habitat.planting.communities.habits import group_sizes, read_habits
from habitat.planting.communities.rules import rules_of
from habitat.planting.types import BedSite
from habitat.settings.knowledge import KnowledgeSettings
from habitat.settings.planting import PlantingSettings
from habitat.settings.suitability import SuitabilitySettings
from habitat.suitability import compile_needs

SEASON = (4, 10)
WISHES = ("Danaus plexippus", "Papilio polyxenes", "Phyciodes tharos", "Papilio troilus")


@functools.cache
def knowledge():
    return load_knowledge(KnowledgeSettings())


def settings_of(**planting):
    return PlantingSettings(**planting)


def needs_of(*assessed):
    return compile_needs(knowledge(), SuitabilitySettings(), assessed)


@functools.cache
def facts_of(plants=None, wishes=WISHES, year=5, growers=()):
    needs = needs_of("sun_h").subset(list(plants or knowledge().plants.index))
    return read_facts(knowledge(), needs, wishes, settings_of(year=year), SEASON, growers=dict(growers))


def bed(number, facts, *, area_m2=8.0, sun_h=7.0, fit=None, form="herb", **more):
    """A bed site whose capacities follow from its area and the plants' spacing."""
    table = knowledge().plants.loc[list(facts.plants)]
    spacing = table["spacing_m"].to_numpy(float)
    many = np.floor(area_m2 / (math.sqrt(0.75) * spacing**2)).astype(np.int64)
    capacity = np.where(np.array(facts.growth) == form, many if form == "herb" else 1, 0)
    if fit is None:
        fit = np.round(np.random.default_rng(number).uniform(0.1, 1.0, len(facts.plants)), 2)
    side = math.sqrt(area_m2)
    return BedSite(
        site_id=number,
        growth_form=form,
        polygon=box(10 * number, 0, 10 * number + side, side),
        area_m2=area_m2,
        sun_h_mean=sun_h,
        fit=np.broadcast_to(np.asarray(fit, float), (len(facts.plants),)).copy(),
        limiting=np.zeros(len(facts.plants), np.uint8),
        capacity=capacity,
        **more,
    )


def problem_of(sites, facts, *, budget=250.0, settings=None, standing=None, aims=None, **yard):
    wishes = YardWishes(yard_id=yard.pop("yard_id", "Y1"), budget=budget, **yard)
    settings = settings or settings_of()
    return make_problem(wishes, sites, facts, settings, 0.25, standing=standing, aims=aims)


def habits_of(problem):
    return read_habits(knowledge().plants.loc[list(problem.facts.plants)], rules_of(problem.settings))


def choose(problem, **more):
    return choose_communities(
        problem, habits_of(problem), rules_of(problem.settings), class_limit=0.25, **more
    )


def columns_of(problem, seed=0):
    return list_columns(problem, habits_of(problem), rules_of(problem.settings), seed, 0.25)


def program_of(problem):
    return yard_program(problem, habits_of(problem), rules_of(problem.settings), class_limit=0.25)


def all_plans(problem, columns):
    """Every choice of at most one column for each place."""
    places = {}
    for column in columns:
        places.setdefault(column.site, []).append(column)
    yield from itertools.product(*([None, *mine] for mine in places.values()))


def slow_worth(problem, plan):
    """The worth of a plan in the words of its definition, one butterfly and one month at a time."""
    facts, aims, rules = problem.facts, problem.aims, rules_of(problem.settings)
    taken = [column for column in plan if column is not None]
    number, cost = {}, 0.0
    leaf = np.array(problem.standing.leaf_m2, float)
    fed = np.array(problem.standing.fed, float)
    for column in taken:
        for p in np.flatnonzero(column.counts):
            count = int(column.counts[p])
            number[int(p)] = number.get(int(p), 0) + count
            cost += count * problem.yard.offer(facts, p).price
            cover = count * facts.inner_m2[p]
            if facts.growth[p] == "herb":
                groups = group_sizes(count, rules.group_sizes, rules.repeats)
                cover = sum(
                    drift_cover_m2(n, float(facts.disc_m2[p]), float(facts.inner_m2[p])) for n in groups
                )
            leaf += cover * problem.sites[column.site].fit[p] * facts.meals[:, p]
            fed += count * facts.meals[:, p] / facts.to_plant[p]
    if cost > problem.yard.budget + 1e-6:
        return -math.inf
    if any(n > problem.yard.stock.get(facts.plants[p], math.inf) for p, n in number.items()):
        return -math.inf
    months = open_before(problem)
    for p in number:
        months |= int(facts.months[p])
    standing = problem.standing
    stems = standing.stems or any(facts.stems[p] for p in number)
    bark = standing.bark or any(facts.bark[p] for p in number)
    kept = {0: True, 1: bool(taken) or bool(standing.plants), 2: stems, 3: bark}
    leaf, fed = (
        [min(one[m] for m in facts.meals_of(b)) for b in range(len(facts.butterflies))] for one in (leaf, fed)
    )
    worth = 0.0
    for b in range(len(facts.butterflies)):
        flown = [m for m in range(1, 13) if facts.flight[b] >> m & 1]
        bloom = sum(months >> m & 1 for m in flown) / len(flown) if facts.takes_nectar[b] and flown else 1.0
        winter = kept[int(facts.winter[b])]
        worth += problem.weight[b] * habitat_m2(leaf[b], fed[b], bloom, winter, problem.settings.enough_m2)
        worth += problem.weight[b] * aims.life_cycle * (fed[b] >= 1.0 - 1e-9 and winter)
    gained = months & ~open_before(problem) & wanted_months(problem)
    worth += aims.month * sum(gained >> m & 1 for m in range(13))
    worth += _kinds_worth(problem, number)
    worth += aims.stems * (stems and not standing.stems)
    return worth - aims.money * cost - sum(bed_costs(problem)[column.site] for column in taken)


def _kinds_worth(problem, number):
    facts, aims = problem.facts, problem.aims
    nectar = {p for p in range(len(facts.plants)) if facts.months[p]}
    old = {p for p in nectar if facts.plants[p] in problem.standing.plants}
    new = {p for p in number if p in nectar} - old
    worth = aims.species * min(len(new), max(0, aims.species_wanted - len(old)))
    for _, months in SEASONS:
        mask = sum(1 << m for m in months)
        wanted = max(0, aims.season_wanted - sum(bool(facts.months[p] & mask) for p in old))
        worth += aims.season_species * min(sum(bool(facts.months[p] & mask) for p in new), wanted)
    return worth


FEW = ("Asclepias incarnata", "Zizia aurea", "Symphyotrichum laeve", "Monarda fistulosa", "Lindera benzoin")


SOME = (
    *FEW,
    "Asclepias tuberosa",
    "Symphyotrichum novae-angliae",
    "Pycnanthemum muticum",
    "Packera obovata",
    "Phlox divaricata",
    "Liatris spicata",
    "Solidago speciosa",
    "Sassafras albidum",
    "Cercis canadensis",
)


CASES = settings(max_examples=25, deadline=None, derandomize=True)


@st.composite
def small_yards(draw):
    """Two beds and a shrub spot, few plants, some standing: few enough plans to try them all."""
    facts = facts_of(FEW)
    share = st.floats(0.2, 1.0).map(lambda x: round(x, 2))
    sites = [
        bed(i, facts, area_m2=area, fit=draw(st.lists(share, min_size=5, max_size=5)))
        for i, area in enumerate((1.6, draw(st.sampled_from([0.6, 1.0]))))
    ]
    sites.append(bed(2, facts, form="shrub", fit=draw(share)))
    settings_ = settings_of(max_species_share=draw(st.sampled_from([0.4, 1.0])), clump_min=3)
    standing = Standing(
        leaf_m2=np.array([0.0, draw(st.sampled_from([0.0, 2.0])), 0.0, 0.0]),
        fed=np.array([0.0, draw(st.sampled_from([0.0, 0.5, 2.0])), 0.0, 0.0]),
        months=draw(st.sampled_from([0, 0b110000])),
    )
    weights = {b: draw(st.sampled_from([0.2, 1.0, 3.0])) for b in WISHES}
    budget = draw(st.sampled_from([0.0, 25.0, 60.0, 120.0]))
    stock = draw(st.sampled_from([{}, {"Asclepias incarnata": 6.0}]))
    return problem_of(
        sites, facts, budget=budget, settings=settings_, standing=standing, weights=weights, stock=stock
    )


def larger(seed=0, **more):
    facts = facts_of(SOME)
    rng = np.random.default_rng(seed)
    sites = [
        bed(i, facts, area_m2=float(rng.uniform(3, 10)), fit=rng.uniform(0.2, 1, len(SOME))) for i in range(4)
    ]
    sites += [bed(4, facts, form="shrub", fit=0.8), bed(5, facts, form="tree", fit=0.6)]
    return problem_of(sites, facts, **more)


THREE = ("Asclepias incarnata", "Zizia aurea", "Monarda fistulosa")


MANY = (
    *THREE,
    "Asclepias tuberosa",
    "Lindera benzoin",
    "Phlox divaricata",
    "Symphyotrichum laeve",
    "Symphyotrichum novae-angliae",
)


def street(beds, seed=1, **more):
    """Many beds of one size with fits that vary smoothly, and a few spots."""
    facts = facts_of(MANY)
    rng = np.random.default_rng(seed)
    wave = 0.75 + 0.3 * np.sin(np.arange(beds)[:, None] / 7 + rng.uniform(0, 6, len(MANY)))
    sites = [bed(i, facts, area_m2=3.0, fit=np.clip(wave[i], 0, 1)) for i in range(beds)]
    sites.append(bed(beds, facts, form="shrub", fit=0.8))
    return problem_of(sites, facts, **more)


HERBS = (
    "Asclepias incarnata",
    "Asclepias syriaca",
    "Zizia aurea",
    "Symphyotrichum laeve",
    "Symphyotrichum oblongifolium",
    "Monarda fistulosa",
    "Eutrochium fistulosum",
    "Packera obovata",
    "Phlox divaricata",
    "Pycnanthemum muticum",
    "Liatris spicata",
)


def chosen(problem):
    return {a.plant: a for a in choose(problem).allocations}


def yard(facts=None, beds=3, area_m2=9.0, **more):
    facts = facts or facts_of(HERBS)
    return problem_of([bed(i, facts, area_m2=area_m2, fit=0.9) for i in range(beds)], facts, **more)
