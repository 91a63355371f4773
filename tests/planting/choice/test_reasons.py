"""Reasons in words: what each plant is for, and which wishes could not be met and why."""

import math
from dataclasses import replace

import numpy as np

from habitat.planting.choice.reasons import _place_words, list_words, month_words, sun_words
from habitat.suitability.types import NO_LIMIT
from tests.support.choice_yards import (
    HERBS,
    bed,
    choose,
    chosen,
    facts_of,
    problem_of,
    yard,
)
from tests.support.remarks import said


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
