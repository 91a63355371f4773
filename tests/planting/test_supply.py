"""Prices, forms, growers' offers with their oddities, and stock that runs out."""

import math

import numpy as np
import pandas as pd
import pytest

from habitat.errors import StudyError
from habitat.planting.supply import (
    DEFAULT_PRICES,
    PACKET_M2,
    SOWN_SPACING_M,
    Offer,
    Stock,
    bought,
    choose_offer,
    price_list,
    read_offers,
)
from habitat.report.words.en import english
from tests.support.choice_yards import bed, choose, facts_of, knowledge, problem_of, settings_of


def growers(**columns):
    return pd.DataFrame(columns)


def test_growers_offers_are_read_with_their_oddities():
    table = growers(
        plant=[
            "asclepias incarnata",
            "Swamp milkweed",
            "Asclepias incarnata",
            "Lindera benzoin",
            "Plasticus novus",
            "Zizia aurea",
        ],
        form=["Plugs", "plug", "pot", "container", "plug", "bouquet"],
        price=[2.5, 2.0, 9.0, None, 1.0, 1.0],
        quantity=[100, 50, 10, None, 5, 5],
    )
    offers, notes = read_offers(table, knowledge(), DEFAULT_PRICES)
    assert offers["Asclepias incarnata"] == Offer("plug", 2.0, 150.0)
    assert offers["Lindera benzoin"] == Offer("pot", DEFAULT_PRICES["shrub", "pot"], math.inf)
    assert set(offers) == {"Asclepias incarnata", "Lindera benzoin"}
    assert len(notes) == 2
    assert "Plasticus novus" in english()(notes[0])
    assert "'bouquet' given for Zizia aurea is none of seed, plug, pot, bare root" in english()(notes[1])
    assert read_offers(None, knowledge(), DEFAULT_PRICES) == ({}, ())


def test_packets_of_seed_are_counted_as_the_plants_they_carry():
    """Ten packets at 3 each; on a triangular lattice a plant has sqrt(3) / 2 x spacing squared of ground."""
    table = growers(plant=["Zizia aurea"], form=["seed"], price=[3.0], quantity=[10])
    offer = read_offers(table, knowledge(), DEFAULT_PRICES)[0]["Zizia aurea"]
    spacing_m = max(float(knowledge().plants.loc["Zizia aurea", "spacing_m"]), SOWN_SPACING_M)
    each = PACKET_M2 / (math.sqrt(3) / 2 * spacing_m**2)
    assert offer.stock == math.floor(10 * each)
    assert offer.price == pytest.approx(3.0 / each)


@pytest.mark.parametrize("said", ["1 gallon", "#2", "quart", "4 inch pot", "10 cm"])
def test_sizes_of_pots_are_pots(said):
    table = growers(plant=["Zizia aurea"], form=[said], price=[9.0], quantity=[5])
    assert read_offers(table, knowledge(), DEFAULT_PRICES)[0]["Zizia aurea"] == Offer("pot", 9.0, 5.0)


def test_growers_price_and_form_enter_the_plan():
    plants = ("Zizia aurea", "Phlox divaricata", "Monarda fistulosa")
    facts = facts_of(plants, growers=(("Zizia aurea", Offer("pot", 1.5, 40.0)),))
    picked = {a.plant: a for a in choose(problem_of([bed(0, facts, fit=0.9)], facts)).allocations}
    assert picked["Zizia aurea"].form == "pot"
    assert picked["Zizia aurea"].cost == pytest.approx(1.5 * picked["Zizia aurea"].count)
    elsewhere = problem_of([bed(0, facts, fit=0.9)], facts, elsewhere=frozenset({"Zizia aurea"}))
    again = {a.plant: a for a in choose(elsewhere).allocations}
    assert again["Zizia aurea"].form == "plug"


def test_stock_is_a_limit_and_a_shortage_leads_to_another_host():
    plants = ("Asclepias incarnata", "Asclepias tuberosa", "Zizia aurea", "Liatris spicata")
    facts = facts_of(plants, growers=(("Asclepias incarnata", Offer("plug", 1.0, 20.0)),))
    beds = [bed(i, facts, area_m2=9.0, fit=np.array([1.0, 0.8, 0.9, 0.9])) for i in range(3)]
    full = choose(problem_of(beds, facts, budget=300.0, stock={"Asclepias incarnata": 20.0}))
    count = bought(full, {"Asclepias incarnata": 0})
    assert 12 <= count["Asclepias incarnata"] <= 20
    short = choose(problem_of(beds, facts, budget=300.0, stock={"Asclepias incarnata": 4.0}))
    instead = {a.plant: a.count for a in short.allocations}
    assert instead.get("Asclepias incarnata", 0) <= 4
    assert "Asclepias tuberosa" in instead
    assert short.habitat_m2["Danaus plexippus"] > 0
    stock = Stock({"Asclepias incarnata": 20.0})
    assert stock.take(full)
    assert stock.left["Asclepias incarnata"] == 20.0 - count["Asclepias incarnata"]
    assert not stock.take(full)
    assert stock.left["Asclepias incarnata"] == 20.0 - count["Asclepias incarnata"]
    assert stock.notes({"Asclepias incarnata": 20.0}, knowledge()) == ()
    assert stock.take(full, frozenset({"Asclepias incarnata"}))
    (note,) = stock.notes({"Asclepias incarnata": 20.0}, knowledge())
    note = english()(note)
    assert "20 swamp milkweed" in note
    assert "does not last for all 2 yards" in note
    assert "for 1 yards" in note


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


@pytest.mark.parametrize("growth", ["herb", "shrub", "tree"])
def test_what_is_larger_when_bought_costs_more(growth):
    """Common practice: seed costs less than a plug, a plug less than a potted plant, bare roots between."""
    seed, plug, bare, pot = (DEFAULT_PRICES[growth, form] for form in ("seed", "plug", "bare root", "pot"))
    assert seed < plug < pot
    assert seed < bare < pot
