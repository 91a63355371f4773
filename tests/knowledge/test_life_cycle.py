"""Broods, leaf, nectar and winter: when a life cycle closes, what is missing, and in which plan year."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.errors import ParameterError
from habitat.knowledge import HostStand, close_life_cycle, load_knowledge
from habitat.knowledge.life_cycle import life_cycle_by_year
from habitat.settings.knowledge import KnowledgeSettings

KNOWLEDGE = load_knowledge(KnowledgeSettings())

WHOLE_YEAR = range(1, 13)

PLACES = ("leaf_litter", "on_stem", "bark", "host", "soil")


def stand(plant, count, **more):
    return HostStand(plant=plant, count=count, **more)


def close(butterfly, *stands, **more):
    given = {"nectar_months": WHOLE_YEAR, "winter_places": PLACES} | more
    return close_life_cycle(KNOWLEDGE, butterfly, list(stands), **given)


def test_monarch_by_hand():
    # ten milkweeds feed a brood; three broods from May to October, leaves to September, grown back once
    assert close("Danaus plexippus", stand("Asclepias incarnata", 9)).missing == (
        "host plants for only 90% of one brood",
    )
    ten = close("Danaus plexippus", stand("Asclepias incarnata", 10))
    assert ten.closed
    assert (ten.broods_fed, ten.broods) == (2, 3)
    assert ten.short == ("leaf for brood 3 (August, September)",)
    assert ten.breeding == 1.0


def test_young_hosts_carry_a_brood_later():
    vines = stand("Isotrema macrophyllum", 2, form="pot", planted_year=1)  # young ones eat in a crowd
    years = life_cycle_by_year(
        KNOWLEDGE, "Battus philenor", [vines], range(1, 6), nectar_months=WHOLE_YEAR, winter_places=PLACES
    )
    assert years["closed"].tolist() == [False, False, True, True, True]
    assert years["missing"][0] == "host plants too young to carry a brood before year 3"
    assert close("Battus philenor", stand("Isotrema macrophyllum", 2)).closed  # it stands already
    assert not close("Battus philenor", stand("Isotrema macrophyllum", 1)).closed
    later = stand("Isotrema macrophyllum", 2, form="pot", planted_year=3)
    assert not close("Battus philenor", later, year=4).closed
    assert close("Battus philenor", later, year=5).closed


def test_each_missing_piece_is_named():
    found = close("Papilio polyxenes", nectar_months=(6, 7, 8), winter_places=())
    assert found.missing == (
        "no host plant",
        "no nectar in April, May, September, October",
        "no stems left standing over winter",
    )
    assert found.nectar_share == pytest.approx(3 / 7)
    assert not found.winter_kept


def test_a_few_young_hosts_are_too_few_not_absent():
    """Three seedlings of the ten that a brood needs are there, though in year 1 they carry nothing."""
    found = close("Danaus plexippus", stand("Asclepias incarnata", 3, form="seed"), year=1)
    assert found.missing == ("host plants for only 30% of one brood",)
    assert (found.leaf_share, found.breeding) == (0.0, 0.0)


def test_no_nectar_is_asked_for_where_adults_take_none():
    found = close("Lethe appalachia", stand("Carex stricta", 20), nectar_months=())
    assert found.nectar_share == 1.0
    assert found.closed


def test_migrants_need_no_winter_place():
    assert close("Danaus plexippus", stand("Asclepias incarnata", 10), winter_places=()).closed


def test_wrong_arguments():
    with pytest.raises(ParameterError, match="standing, seed, plug"):
        stand("Asclepias incarnata", 1, form="bulb")
    with pytest.raises(ParameterError, match="0 or more"):
        stand("Asclepias incarnata", -1)


butterflies = st.sampled_from(list(KNOWLEDGE.butterflies.index))


@st.composite
def situations(draw):
    butterfly = draw(butterflies)
    hosts = list(KNOWLEDGE.hosts_of(butterfly)["plant"])
    stands = [
        stand(
            draw(st.sampled_from(hosts)),
            draw(st.integers(0, 40)),
            form=draw(st.sampled_from(["plug", "standing"])),
        )
        for _ in range(draw(st.integers(0, 3)))
    ]
    months = draw(st.sets(st.integers(1, 12)))
    places = draw(st.sets(st.sampled_from(PLACES)))
    return butterfly, stands, months, places


@settings(max_examples=150, deadline=None)
@given(situations(), st.integers(1, 12), st.sampled_from(PLACES), st.integers(1, 40))
def test_more_of_anything_never_opens_a_closed_cycle(situation, month, place, count):
    butterfly, stands, months, places = situation
    before = close(butterfly, *stands, nectar_months=months, winter_places=places)
    host = KNOWLEDGE.hosts_of(butterfly)["plant"].iloc[0]
    after = close(
        butterfly, *stands, stand(host, count), nectar_months=months | {month}, winter_places=places | {place}
    )
    assert after.closed >= before.closed
    assert after.breeding >= before.breeding - 1e-12
    assert after.broods_fed >= before.broods_fed
    assert after.leaf_share >= before.leaf_share - 1e-12
    assert 0 <= before.breeding <= 1
    assert before.closed == (not before.missing)


@settings(max_examples=60, deadline=None)
@given(situations())
def test_a_later_plan_year_is_never_worse(situation):
    butterfly, stands, months, places = situation
    years = life_cycle_by_year(
        KNOWLEDGE, butterfly, stands, range(1, 7), nectar_months=months, winter_places=places
    )
    assert years["closed"].is_monotonic_increasing
    assert years["leaf_share"].is_monotonic_increasing


@settings(max_examples=60, deadline=None)
@given(situations())
def test_the_order_of_stands_changes_nothing(situation):
    butterfly, stands, months, places = situation
    one = close(butterfly, *stands, nectar_months=months, winter_places=places)
    other = close(butterfly, *reversed(stands), nectar_months=months, winter_places=places)
    assert (one.closed, one.missing, one.broods_fed) == (other.closed, other.missing, other.broods_fed)
