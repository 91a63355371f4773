"""A plant put by hand gets the rows that the program would write for it."""

from types import SimpleNamespace

import pytest
from shapely.geometry import Point

from habitat.pipeline.plant_facts import PlantFacts
from tests.report.small_plan import PRICES, WISHES, small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"))


@pytest.fixture(scope="module")
def facts(plan):
    return PlantFacts(
        SimpleNamespace(study=plan.study, layers=plan.layers, knowledge=plan.knowledge, wishes=WISHES)
    )


def test_a_plant_is_known_by_any_of_its_names(facts):
    assert facts.plant("wild bergamot") == facts.plant("Monarda fistulosa") == "Monarda fistulosa"
    assert facts.plant("cabbage tree") is None
    assert facts.plant("") is None


def test_a_row_says_what_the_tables_say(facts, plan):
    row = facts.row("Asclepias incarnata", "plug", 4)
    plant = plan.knowledge.plants.loc["Asclepias incarnata"]
    assert row["butterflies"] == "Danaus plexippus"
    assert row["purpose"] == "host and nectar"
    assert (row["height_m"], row["crown_m"]) == (plant["height_m"], plant["spread_m"])
    assert row["cost"] == pytest.approx(4 * facts.row("Asclepias incarnata", "plug", 1)["cost"])
    assert facts.row("Cornus florida", "", 1)["layer"] == "structure"


def test_a_form_without_a_price_is_bought_as_usual(facts):
    assert facts.row("Asclepias incarnata", "by the lorry", 1)["form"] in PRICES


def test_places_are_in_yards_or_in_none(facts, plan):
    yard = plan.layers.yards.iloc[0]
    assert facts.yard_at(yard.geometry.representative_point()) == yard["yard_id"]
    assert facts.yard_at(Point(0, 0)) is None
