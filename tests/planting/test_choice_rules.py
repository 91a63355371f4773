"""What is kept out, how much of it there may be, and what the words say about it."""

import math
from dataclasses import replace

import numpy as np
import pytest

from habitat.errors import StudyError
from habitat.planting.choice.choose import choose
from habitat.planting.choice.facts import covered_per_plant_m2, drift_cover_m2
from habitat.planting.choice.problem import Standing
from habitat.planting.choice.quick import Found, improved
from habitat.planting.choice.reasons import _place_words, list_words, month_words, sun_words
from habitat.planting.supply import DEFAULT_PRICES, Offer, choose_offer, price_list
from habitat.planting.years.growth import crown_diameter_m, growth_share
from habitat.suitability.types import NO_LIMIT
from tests.support.choice_yards import (
    SEASON,
    STUDY,
    WISHES,
    bed,
    facts_of,
    knowledge,
    problem_of,
    settings_of,
)

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


def test_why_claims_no_more_than_what_was_assessed_here():
    """Where soil tests alone tell anything, a yard without one fits nothing; a sure fit below 1 is told."""
    facts = replace(facts_of(HERBS), assessed=("ph",), by_tests=("ph",))
    site = bed(0, facts, area_m2=9.0, fit=1.0)
    site = replace(site, sun_h_mean=math.nan, limiting=np.full(len(HERBS), NO_LIMIT, np.uint8))
    untested, tested = (problem_of([site], facts, tested=known) for known in ((), ("ph",)))
    assert _place_words(untested, 0) == "neither sun nor soil was assessed"
    assert _place_words(tested, 0) == "sun not assessed, all that was assessed fits"
    doubted = problem_of([replace(site, fit=np.full(len(HERBS), 0.6))], facts, tested=("ph",))
    assert _place_words(doubted, 0).startswith("sun not assessed, fit 0.60 that can be counted on")


def chosen(problem):
    return {a.plant: a for a in choose(problem).allocations}


def yard(facts=None, beds=3, area_m2=9.0, **more):
    facts = facts or facts_of(HERBS)
    return problem_of([bed(i, facts, area_m2=area_m2, fit=0.9) for i in range(beds)], facts, **more)


def test_without_hazards_milkweed_is_planned():
    assert "Asclepias incarnata" in chosen(yard())


@pytest.mark.parametrize(
    ("who", "hazard"),
    [("children", "toxic_if_eaten"), ("children", "skin_irritant"), ("pets", "toxic_to_pets")],
)
def test_hazards_are_kept_out_of_yards_where_they_matter(who, hazard):
    plants = knowledge().plants
    problem = yard(**{who: True})
    for plant in chosen(problem):
        assert hazard not in plants.loc[plant, "hazards"].split(";")
    relaxed = choose(problem).relaxed
    assert relaxed[0].startswith("no host for the monarch")
    assert f"{who} live here" in relaxed[0]


def test_hazards_named_in_the_study_are_kept_out_everywhere():
    settings = settings_of(avoid_hazards=["toxic_to_pets"])
    for plant in chosen(yard(settings=settings)):
        assert "toxic_to_pets" not in knowledge().plants.loc[plant, "hazards"]


def test_unknown_hazard_is_an_error_that_lists_the_known_ones():
    from habitat.planting.choice.facts import read_facts
    from habitat.suitability import compile_needs

    wrong = settings_of(avoid_hazards=["bitey"])
    needs = compile_needs(knowledge(), STUDY, ("sun_h",)).subset(list(HERBS))
    with pytest.raises(StudyError, match=r"bitey.*thorns"):
        read_facts(knowledge(), needs, WISHES, wrong, SEASON)


def test_spreading_plants_only_when_allowed():
    facts = facts_of(("Asclepias syriaca", "Phlox divaricata"))
    assert set(chosen(yard(facts))) == {"Phlox divaricata"}
    allowed = yard(facts, settings=settings_of(allow_spreading=True))
    assert "Asclepias syriaca" in chosen(allowed)


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
    eaten = set(knowledge().host_plants["plant"])
    sprayed = yard(sprayed=True)
    assert chosen(sprayed)
    assert not set(chosen(sprayed)) & eaten
    assert any("the yard is sprayed" in words for words in choose(sprayed).relaxed)
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
            capacity = bed(a.site_id, facts, area_m2=9.0).capacity[HERBS.index(a.plant)]
            used[a.site_id] = used.get(a.site_id, 0.0) + a.count / capacity
        assert all(share <= 1 + 1e-9 for share in used.values())


def test_what_stands_counts_and_is_not_bought_again():
    facts = facts_of(HERBS)
    enough = Standing(
        np.array([30.0, 0, 0, 0]), np.array([3.0, 0, 0, 0]), plants=frozenset({"Asclepias tuberosa"})
    )
    before, after = choose(yard(facts)), choose(yard(facts, standing=enough))
    assert any("Danaus plexippus" in a.butterflies for a in before.allocations)
    assert not any("Danaus plexippus" in a.butterflies for a in after.allocations)
    assert after.habitat_m2["Danaus plexippus"] > 0


def test_neighbours_complement_instead_of_copying():
    facts = facts_of(HERBS)
    autumn = sum(1 << m for m in (8, 9, 10))
    alone = choose(yard(facts, budget=60.0))
    beside = choose(yard(facts, budget=60.0, neighbour_months=autumn))
    assert beside.worth > alone.worth - 2.0
    assert sum(beside.habitat_m2.values()) >= sum(alone.habitat_m2.values()) - 1e-9
    assert not any("no nectar in September" in words for words in beside.relaxed)


def test_corridor_weights_steer_the_money():
    facts, heavy = facts_of(HERBS), {"Phyciodes tharos": 20.0}
    plain, steered = choose(yard(facts, budget=120.0)), choose(yard(facts, budget=120.0, weights=heavy))
    assert steered.habitat_m2["Phyciodes tharos"] > plain.habitat_m2["Phyciodes tharos"]


def test_equal_worth_goes_to_the_plant_with_wider_ranges():
    """Two hosts alike but for the width of their ranges in what was not assessed: the wider one is taken."""
    import dataclasses

    facts = facts_of(("Symphyotrichum laeve", "Symphyotrichum cordifolium"), ("Phyciodes tharos",))
    alike = {
        name: np.repeat(getattr(facts, name)[:1], 2)
        for name in ("height_m", "months", "nectar_value", "clump", "need", "cell_m2", "disc_m2", "inner_m2")
    }
    for width, name in (((0.2, 0.9), facts.plants[1]), ((0.9, 0.2), facts.plants[0])):
        twins = dataclasses.replace(facts, **alike, width=np.array(width))
        site = bed(0, facts, fit=0.8)
        site = dataclasses.replace(site, capacity=np.repeat(site.capacity[:1], 2))
        assert [a.plant for a in choose(problem_of([site], twins, budget=30.0)).allocations] == [name]


def test_infeasible_wishes_are_named_with_their_reason_in_order():
    facts = facts_of(HERBS)
    shade = [bed(0, facts, sun_h=3.0, fit=0.1)]
    told = choose(problem_of(shade, facts)).relaxed
    assert [w.split(":")[0] for w in told[:4]] == [
        "no host for the monarch",
        "no host for the black swallowtail",
        "no host for the pearl crescent",
        "no host for the spicebush swallowtail",
    ]
    assert "sun or soil here do not fit it (at most 3.0 h of sun)" in told[1]
    assert told[3].endswith("no host of it is among the plants allowed")
    months = [w for w in told if w.startswith("no nectar in")]
    assert next(w.split()[3].rstrip(":") for w in months) == "April"
    assert told[-1] == "no nectar species in fall, 3 wanted"
    poor = choose(yard(budget=10.0)).relaxed
    assert (
        "no host for the monarch: enough for a brood costs at least 48 in your currency, and 10 is there"
        in poor
    )


def test_why_says_what_a_plant_is_for_and_how_it_fits():
    allocation = chosen(yard())["Asclepias incarnata"]
    assert allocation.purpose == "host and nectar"
    assert allocation.butterflies == ("Danaus plexippus",)
    assert allocation.why == (
        "Host of the monarch; nectar in July to August; full sun (7.0 h a day) here, fit 0.90, "
        "held back most by sun."
    )


def test_words():
    assert sun_words(5.96) == "part sun (6.0 h a day)"
    assert sun_words(0.0) == "shade (0.0 h a day)"
    assert month_words(0b1000010000000) == "July and December"
    assert month_words(0) == "no month"
    assert list_words(["a"]) == "a"


def test_prices_can_be_set_by_form_and_by_growth_form():
    prices = price_list(settings_of(prices={"plug": 3.0, "shrub.pot": 40.0, "bare_root": 7.0}))
    assert prices["herb", "plug"] == 3.0 == prices["tree", "plug"]
    assert prices["shrub", "pot"] == 40.0
    assert prices["tree", "pot"] == DEFAULT_PRICES["tree", "pot"]
    assert prices["herb", "bare root"] == 7.0
    with pytest.raises(StudyError, match=r"'plugs'.*did you mean 'plug'"):
        price_list(settings_of(prices={"plugs": 3.0}))


def test_form_follows_how_a_plant_is_raised():
    assert choose_offer("shrub", "seed;container;bare_root", DEFAULT_PRICES).form == "bare root"
    assert choose_offer("herb", "seed", DEFAULT_PRICES) == Offer("seed", 0.5)
    assert choose_offer("herb", "", DEFAULT_PRICES).form == "pot"


@pytest.mark.parametrize("crown", [0.5, 0.6, 0.66, 0.69, 0.72, 1.0, 2.0])
def test_cover_inside_a_drift_is_disc_within_hexagon(crown):
    """Area of a disc within the hexagonal cell of a triangular lattice, by shapely (outside library)."""
    shapely = pytest.importorskip("shapely")
    spacing, corner = 0.6, 0.6 / math.sqrt(3)
    angles = np.arange(6) * math.pi / 3 + math.pi / 6
    cell = shapely.Polygon(np.c_[corner * np.cos(angles), corner * np.sin(angles)])
    expected = shapely.Point(0, 0).buffer(crown / 2, quad_segs=2000).intersection(cell).area
    assert covered_per_plant_m2(crown, spacing) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("ratio", [1.0, 1.2, 1.33, 1.5])
@pytest.mark.parametrize(("rows", "columns"), [(2, 5), (3, 4), (4, 5), (6, 7), (2, 12)])
def test_cover_of_a_drift_is_near_the_union_of_its_crowns(ratio, rows, columns):
    """Union of discs on a triangular lattice, by shapely; two rows are the narrowest drift."""
    import shapely

    spacing = 0.5
    points = [
        (spacing * (i + (j % 2) / 2), spacing * j * math.sqrt(0.75))
        for j in range(rows)
        for i in range(columns)
    ]
    crown = ratio * spacing
    union = shapely.union_all(shapely.buffer(shapely.points(points), crown / 2, quad_segs=64)).area
    inner = covered_per_plant_m2(crown, spacing)
    assert drift_cover_m2(len(points), math.pi / 4 * crown**2, inner) == pytest.approx(union, rel=0.06)


def test_growth_reaches_its_mature_spread_and_never_shrinks():
    for growth in ("herb", "shrub", "tree"):
        for form in ("plug", "seed"):
            shares = [growth_share(growth, age, form) for age in range(60)]
            assert shares == sorted(shares)
            assert shares[0] == 0.0
            assert shares[-1] == 1.0
    assert crown_diameter_m(0.6, "herb", 5, planted_in=5) < crown_diameter_m(0.6, "herb", 5)
    assert crown_diameter_m(0.6, "herb", 1, planted_in=2) == 0.0


def test_a_plan_that_nothing_can_better_is_kept():
    """Where each clump costs more in bound than there is to gain, the search has nothing to try."""
    problem = problem_of([bed(1, facts_of(HERBS))], facts_of(HERBS))
    none = np.zeros(problem.size, np.int64)
    best = Found(none, 1.0, 1.0, np.ones(problem.size))
    assert improved(problem, best, 1000, 1) is best
