"""What could be: the same whoever signs up, and worked out only where it can be."""

import pytest

from habitat.knowledge import load_knowledge
from habitat.pipeline import could_be as module
from habitat.pipeline.could_be import could_be
from habitat.pipeline.planting import estimate_of
from habitat.suitability import compile_needs
from tests.support.quick_ground import MONARCH, quick_ground

SPOTS = [0, 40, 80, 160, 900]
SUN = [9.0, 4.0, 9.0, 0.5, 9.0]


@pytest.fixture(scope="module")
def tables():
    knowledge = load_knowledge()
    return knowledge, compile_needs(knowledge, assessed=("sun_h",))


def test_other_sign_ups_give_the_same(tables):
    """One town, two sheets: other members, and households that answered otherwise."""
    one = could_be(quick_ground(tables, SPOTS, ["member", *["other"] * 4], ["00"], SUN), MONARCH)
    answers = {"sprayed": [False, True, True, False, False], "budget": [20.0, 900.0, 5.0, 0.0, 10.0]}
    roles = ["other", "candidate", "member", "member", "candidate"]
    two = could_be(quick_ground(tables, SPOTS, roles, ["02", "03"], SUN, columns=answers), MONARCH)
    assert one == two
    assert one.yards == len(SPOTS)
    assert one.area_m2[MONARCH[0]] > 0.0


def test_a_yard_by_itself_is_worth_its_own_ground(tables):
    ground = quick_ground(tables, [0], ["member"], ["00"])
    found = could_be(ground, MONARCH)
    own = estimate_of(ground, ("00",)).loc["00", MONARCH[0]]
    assert found.area_m2[MONARCH[0]] == pytest.approx(own, rel=1e-9)


def test_lots_without_open_ground_are_no_part(tables):
    ground = quick_ground(tables, [0, 40], ["member", "other"], ["00"], open_m2=[200.0, 3.0])
    assert could_be(ground, MONARCH).yards == 1


def test_it_is_withheld_where_it_would_move_or_take_too_long(tables, monkeypatch):
    """Only some of those who take part are planned; nobody plans for the butterfly; too many yards."""
    ground = quick_ground(tables, [0, 40], ["member", "member"], ["00", "01"])
    some = type(ground)(
        **{f: getattr(ground, f) for f in ground.__dataclass_fields__} | {"yard_ids": ("00",)}
    )
    assert could_be(some, MONARCH) is None
    assert could_be(ground, ("Papilio polyxenes",)) is None
    monkeypatch.setattr(module, "MOST_YARDS", 1)
    assert could_be(ground, MONARCH) is None
