"""In how many yards one kind stands, over the yards of the demo town."""

from types import SimpleNamespace

import pytest

from habitat.knowledge import load_knowledge
from habitat.planting.sharing import FREE_YARDS, Turns, YardShares, by_scientific_name
from habitat.planting.supply import Stock
from habitat.settings.planting import PlantingSettings

KNOWLEDGE = load_knowledge()


def test_a_kind_goes_into_no_more_yards_than_it_may():
    """At no yard of a street: half of those so far, or four."""
    shares = YardShares({"aster": 0.5, "cedar": 0.0})
    wanted, taken = {"aster", "violet"}, 0
    for turn in range(1, 40):
        if shares.hold(wanted, turn):
            shares.give(wanted)
            taken += 1
        assert taken <= max(FREE_YARDS, turn / 2)
    assert taken == 39 // 2
    assert not shares.hold({"cedar"}, 39)
    assert shares.hold({"violet"}, 39)  # what is not counted may stand anywhere


def test_a_kind_of_few_plants_counts_as_much_as_one_of_many():
    """A kind that at most a tenth may have goes into FREE_YARDS yards of ten, with one plant in each too."""
    yards = [f"y{k}" for k in range(10)]
    turns = Turns.start(Stock({}), {"aster": 0.1}, yards, set(yards))
    one = SimpleNamespace(allocations=[SimpleNamespace(plant="aster", form="plug", count=1)])
    assert [turns.take(yard, one, frozenset()) for yard in yards] == [True] * FREE_YARDS + [False] * 6


def test_who_comes_later_changes_nothing_before():
    wants = [{"aster"} if k % 3 else {"aster", "phlox"} for k in range(30)]

    def given(number):
        shares, out = YardShares({"aster": 0.5, "phlox": 0.3}), []
        for turn, kinds in enumerate(wants[:number], 1):
            mine = kinds - shares.full(turn)
            shares.give(mine)
            out.append(mine)
        return out

    assert given(30)[:17] == given(17)


def test_names_are_those_of_the_tables():
    given = PlantingSettings(caps={"eastern redcedar": 0.2, "nothing at all": 0.1}, favoured=["Purpletop"])
    named = by_scientific_name(given, KNOWLEDGE)
    assert named.caps == {"Juniperus virginiana": 0.2}
    assert named.favoured == ["Tridens flavus"]


@pytest.mark.parametrize("share", [-0.1, 1.2])
def test_a_share_is_one(share):
    with pytest.raises(ValueError, match="caps"):
        PlantingSettings(caps={"eastern redcedar": share})


def test_kinds_above_the_ground_layer_stand_in_half_of_the_yards(eight_yards, planting):
    """Of those that take part; in four yards every kind may. Others are as if each joined alone."""
    roles = eight_yards.layers.yards.set_index("yard_id")["role"]
    upper = planting.plantings[planting.plantings["layer"] != "ground"]
    upper = upper[upper["yard_id"].map(roles) == "member"]
    yards = upper.groupby("plant")["yard_id"].nunique()
    assert len(yards) > 5
    assert yards.max() <= max(FREE_YARDS, upper["yard_id"].nunique() // 2)
