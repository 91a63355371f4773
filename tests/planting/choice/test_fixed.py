"""Trees and tall shrubs that are chosen already: room, leaf and money that they leave to the rest."""

import dataclasses

import numpy as np
import pytest

from habitat.planting.choice.fixed import fixed_cost, left_of, money_left, whole_choice, with_fixed
from habitat.planting.choice.problem import Standing, YardWishes
from habitat.planting.types import Allocation, Choice, Grown
from habitat.remarks import remark
from tests.support.choice_yards import bed, facts_of
from tests.support.remarks import said

SHRUB, HERB, LOST = "Lindera benzoin", "Zizia aurea", "Asclepias tuberosa"
FACTS = facts_of((SHRUB, HERB, LOST))
FIXED = Allocation(3, SHRUB, "bare root", 2, 20.0, "host", ("Papilio troilus",), "because", 2)


def site(**more):
    """A bed with two of the four shrubs that it has room for, where milkweed has lost its light."""
    falls = np.array([False, False, True])
    classes = {"class_before": np.ones(3, np.uint8), "class_after": np.array([1, 1, 3], np.uint8)}
    grown = Grown(
        (FIXED,), {}, **classes, falls=falls, kept_out=falls, first=frozenset({LOST}), sun_before_h=7.0
    )
    return dataclasses.replace(bed(3, FACTS, fit=0.5, grown=grown), capacity=np.array([4, 21, 9]), **more)


def test_half_the_room_is_left_beside_half_the_shrubs():
    (left,) = left_of([site()], FACTS)
    assert left.capacity.tolist() == [2, 10, 4]
    untouched = bed(4, FACTS)
    assert left_of([untouched], FACTS) == [untouched]


def test_what_is_chosen_counts_as_standing():
    none = Standing(np.zeros(len(FACTS.meals)), np.zeros(len(FACTS.meals)))
    got = with_fixed(none, [site()], FACTS)
    b, p = FACTS.butterflies.index("Papilio troilus"), FACTS.plants.index(SHRUB)
    (meal,) = FACTS.meals_of(b)
    liked = FACTS.preference[b, p]
    assert got.fed[meal] == pytest.approx(liked * 2 / FACTS.need[p])
    assert got.leaf_m2[meal] == pytest.approx(liked * FACTS.inner_m2[p] * 2 * 0.5)
    assert got.plants == {SHRUB}
    assert got.months == FACTS.months[p]
    assert got.stems
    assert not got.bark
    assert not none.plants
    assert none.fed.sum() == 0.0


@pytest.mark.parametrize(("budget", "left"), [(50.0, 30.0), (20.0, 0.0), (15.0, 0.0)])
def test_its_money_is_spent(budget, left):
    wishes = money_left(YardWishes("Y1", budget), [site(), bed(4, FACTS)])
    assert wishes.budget == left
    assert wishes.fixed == (FIXED,)
    assert fixed_cost([site()]) == 20.0


def test_the_whole_choice_names_both_and_what_shade_keeps_out():
    rest = Allocation(1, HERB, "plug", 3, 12.0, "nectar", (), "because")
    choice = Choice("Y1", (rest,), 1.0, 2.0, {}, (remark("no_nectar", month=4, because=()),), 12.0)
    whole = whole_choice(choice, [site()], FACTS)
    assert whole.allocations == (rest, FIXED)
    assert whole.cost == 32.0
    assert said(whole.relaxed[0]) == "no nectar in April"
    assert "no butterfly milkweed in one place" in said(whole.relaxed[1])
    assert len(whole.relaxed) == 2
