"""Reasons in words: what each plant is for, and which wishes could not be met and why."""

import dataclasses
import math
from types import SimpleNamespace

import numpy as np
import pytest

from habitat.factors import FACTORS
from habitat.knowledge.year import winter_place
from habitat.planting.choice.reasons import (
    _butterfly_missing,
    _host_reason,
    list_words,
    month_words,
    place_words,
    sun_words,
)
from habitat.suitability.held_back import HeldBack
from tests.support.choice_yards import (
    HERBS,
    bed,
    choose,
    chosen,
    facts_of,
    knowledge,
    problem_of,
    yard,
)
from tests.support.remarks import said

LIMITS = (0.75, 0.5, 0.25)
BOTH = {"sun_h", "ph", "drainage", "texture"}


def test_why_claims_no_more_than_what_was_assessed_here():
    assert place_words(HeldBack(1.0), math.nan, set(), LIMITS) == "neither sun nor soil was assessed"
    assert (
        place_words(HeldBack(1.0), math.nan, {"ph"}, LIMITS) == "sun not assessed, all that was assessed fits"
    )
    assert place_words(HeldBack(1.0), math.nan, {"sun_h"}, LIMITS).startswith("sun not known here")


def test_maps_that_may_be_wrong_are_told_of_only_where_confidence_was_asked_for():
    doubted = place_words(HeldBack(0.6, doubted=True), 7.0, BOTH, LIMITS)
    assert doubted.endswith("does fairly well even where the maps are off")
    for held in (HeldBack(0.6), HeldBack(0.6, "ph", 1.0, "too much"), HeldBack(0.9, "ph", 0.4, "too little")):
        assert "maps" not in place_words(held, 7.0, BOTH, LIMITS)


@pytest.mark.parametrize(
    ("held", "words"),
    [
        (HeldBack(0.8, "sun_h", 1.0, "too much"), "does well"),
        (HeldBack(0.6, "sun_h", 1.0, "too much"), "a little too sunny: water the first two summers"),
        (HeldBack(0.6, "sun_h", 0.3, "too much"), "a little too sunny in part of the bed: water the first"),
        (HeldBack(0.3, "drainage", 1.0, "too much"), "rather too dry: mulch, and water in dry weeks"),
        (HeldBack(0.3, "drainage", 1.0, "too little"), "rather too wet: set it a little high"),
        (HeldBack(0.6, "ph", 1.0, "too little"), "a little too acid: test the soil before you lime"),
        (
            HeldBack(0.3, "ph", 0.2, "unknown"),
            "soil pH is not known in part of the bed and counts as the worst",
        ),
        (HeldBack(0.6, "ph", 1.0, ""), "held back a little by soil pH"),
    ],
)
def test_fit_has_three_grades_with_a_reason_and_its_direction(held, words):
    assert place_words(held, 7.0, BOTH, LIMITS).startswith(f"full sun (7.0 h a day) here, {words}")


def test_every_need_has_words_for_both_directions_it_can_miss():
    for factor in FACTORS.values():
        assert bool(factor.low_words) >= bool(factor.too_little)
        assert bool(factor.high_words) >= bool(factor.too_much)


def test_infeasible_wishes_are_named_with_their_reason_in_order():
    facts = facts_of(HERBS)
    shade = [bed(0, facts, sun_h=3.0, fit=0.1)]
    told = list(map(said, choose(problem_of(shade, facts)).relaxed))
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
    poor = list(map(said, choose(yard(budget=10.0)).relaxed))
    assert "no host for the monarch: enough for a brood costs at least 48, and 10 is there" in poor


def test_of_a_host_liked_half_as_well_a_brood_takes_twice_as_many():
    """Milkweed for a brood costs 48 where the monarch likes it best (above)."""
    poor = yard(budget=10.0)
    half = dataclasses.replace(poor.facts, preference=poor.facts.preference * 0.5)
    told = said(
        _host_reason(dataclasses.replace(poor, facts=half), half.butterflies.index("Danaus plexippus"))
    )
    assert told == "enough for a brood costs at least 96, and 10 is there"


def test_why_says_what_a_plant_is_for():
    facts = facts_of(tuple(plant for plant in HERBS if plant != "Asclepias syriaca"))
    allocation = chosen(yard(facts))["Asclepias incarnata"]
    assert allocation.purpose == "host and nectar"
    assert allocation.butterflies == ("Danaus plexippus",)
    assert allocation.why == "Host of the monarch; nectar in July to August"


def test_words():
    assert sun_words(5.96) == "part sun (6.0 h a day)"
    assert sun_words(0.0) == "shade (0.0 h a day)"
    assert month_words(0b1000010000000) == "July and December"
    assert month_words(0) == "no month"
    assert list_words(["a"]) == "a"


def test_only_the_place_that_a_butterfly_winters_in_is_told_to_lack():
    """Where nothing stands and nothing is planned, by what the tables say of where it overwinters."""
    table = knowledge().butterflies
    facts = facts_of(HERBS, tuple(table.index))
    bare = problem_of([bed(0, facts)], facts)
    none = SimpleNamespace(fed=np.ones(len(facts.butterflies)), planned=np.zeros(len(facts.plants), bool))
    lacks = {
        "leaf_litter": ["no_litter"],
        "soil": ["no_litter"],
        "on_stem": ["no_stems_for"],
        "bark": ["no_bark"],
    }
    places = [winter_place(table.loc[name]) for name in facts.butterflies]
    for b, place in enumerate(places):
        assert [r.kind for r in _butterfly_missing(bare, b, none)] == lacks.get(place, []), place
    assert {"leaf_litter", "on_stem", "bark"} <= set(places)
