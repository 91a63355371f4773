"""Steps: each is what ``redraw`` would make of the same edit; joins and drops; reach."""

import pytest

from habitat.errors import HabitatError
from habitat.pipeline.planting import plan_round
from habitat.what_if.steps import stepped, with_role


@pytest.fixture(scope="module")
def do(base, first):
    def take(*edits):
        state = first
        for edit in edits:
            state = stepped(base, state, edit)
        return state

    return take


def of(table, yard):
    return table[table["yard_id"] == yard]


def members(state):
    return state.found.headline["together"]["members"]


def test_plants_follow_a_bed_that_is_moved(do, first):
    bed = of(first.raw.beds, "A1")["bed_id"].iloc[0]
    after = do({"do": "move", "yard": "A1", "bed": bed, "east_m": 0.4, "north_m": 0.0})
    before, now = (p.geometry[p["bed_id"] == bed] for p in (first.drawn.points, after.drawn.points))
    # fingerprints keep the middle of a bed to a tenth of a millimetre
    assert (now.x.to_numpy() - before.x.to_numpy()).tolist() == pytest.approx([0.4] * len(before), abs=2e-4)
    assert of(after.drawn.beds, "A1").set_index("bed_id")["by_hand"][bed]
    assert not of(after.drawn.beds, "A5")["by_hand"].any()


def test_a_bed_over_the_fence_is_told_and_not_refused(do, first):
    bed = of(first.raw.beds, "A1")["bed_id"].iloc[0]
    after = do({"do": "move", "yard": "A1", "bed": bed, "east_m": 30.0, "north_m": 0.0})
    assert [n.kind for n in after.notes["A1"]].count("hand_bed_outside") == 1
    assert after.notes["A1"][0].subject.yards == ("A1",)


def test_a_count_costs_by_the_piece_and_is_drawn(do, first):
    row = of(first.raw.plantings, "A1").iloc[0]
    after = do({"do": "count", "yard": "A1", "planting": row["planting_id"], "count": int(row["count"]) + 3})
    now = after.drawn.plantings.set_index("planting_id").loc[row["planting_id"]]
    assert now["cost"] == pytest.approx(row["cost"] / row["count"] * (row["count"] + 3))
    assert (after.drawn.points["planting_id"] == row["planting_id"]).sum() == row["count"] + 3
    more = after.found.headline["cost_of_members"] - first.found.headline["cost_of_members"]
    assert more == pytest.approx(3 * row["cost"] / row["count"])


def test_striking_all_hosts_of_a_yard_takes_its_broods(do, first):
    rows = of(first.raw.plantings, "A1")
    hosts = rows.loc[rows["purpose"].str.contains("host"), "planting_id"]
    after = do(*({"do": "strike", "yard": "A1", "planting": key} for key in hosts))
    mine = of(after.accounts.yard_butterflies, "A1")
    assert (mine["habitat_m2"] == mine["habitat_before_m2"]).all()
    assert members(after)["broods"] < members(first)["broods"]


def test_a_candidate_joins_with_the_plan_that_it_has(do, first):
    after = do({"do": "join", "yard": "A3"})
    assert after.role("A3") == "member"
    assert of(after.drawn.plantings, "A3").equals(of(first.drawn.plantings, "A3"))
    assert members(after)["broods"] >= members(first)["broods"]
    cost = of(first.drawn.plantings, "A3")["cost"].sum()
    assert after.found.headline["cost_of_members"] == pytest.approx(
        first.found.headline["cost_of_members"] + cost
    )


def test_who_took_no_part_gets_the_planners_own_plan_beside_what_stands(do, base, first):
    """The planner itself, asked for that yard with all others settled, sets the same plants."""
    after = do({"do": "join", "yard": "A4"})
    layers = with_role(base.request.layers, "A4", "member")
    ids = tuple(y for y in layers.yards["yard_id"] if y in {*base.request.yard_ids, "A4"})
    from dataclasses import replace

    from habitat.pipeline.planting import nectar_around

    ready = replace(base.request, layers=layers, yard_ids=ids)
    ready = replace(ready, neighbour_nectar=nectar_around(ready, first.found.planting))
    planned = of(plan_round(ready).plantings, "A4")
    mine = of(after.drawn.plantings, "A4")
    assert len(mine)
    assert mine["plant"].tolist() == planned["plant"].tolist()
    assert mine["count"].tolist() == planned["count"].tolist()
    others = after.drawn.plantings[after.drawn.plantings["yard_id"] != "A4"]
    assert others.reset_index(drop=True).equals(first.drawn.plantings)


def test_a_member_is_dropped_and_has_its_plan_back(do, first):
    gone = do({"do": "drop", "yard": "A2"})
    assert gone.role("A2") == "other"
    assert not len(of(gone.drawn.plantings, "A2"))
    assert members(gone)["broods"] <= members(first)["broods"]
    back = do({"do": "drop", "yard": "A2"}, {"do": "join", "yard": "A2"})
    assert members(back) == pytest.approx(members(first))
    assert back.drawn.plantings.equals(first.drawn.plantings)
    assert back.new == {}


def test_all_others_keep_what_was_counted_and_the_whole_count_agrees(do, base):
    """Habitat counted anew near a change is what a count of every yard gives."""
    after = do({"do": "drop", "yard": "A2"}, {"do": "join", "yard": "A3"})
    whole = plan_round(after.request)
    for name in ("yard_butterflies", "breeding", "nectar_stones"):
        keys = [c for c in ("butterfly", "state", "yard_id") if c in getattr(whole, name)]
        one, two = (
            getattr(t, name).sort_values(keys).reset_index(drop=True) for t in (after.accounts, whole)
        )
        assert (
            one[two.columns]
            .astype(object)
            .where(one.notna(), None)
            .equals(two.astype(object).where(two.notna(), None))
        ), name


def test_reach_moves_the_corridor_alone(do, base, first):
    name = base.request.wishes[0]
    near = do({"do": "reach", "butterfly": name, "median_m": 5.0})
    far = do({"do": "reach", "butterfly": name, "median_m": 5000.0})
    areas = [
        s.found.headline["butterflies"][name]["members"]["equivalent_area_m2"] for s in (near, first, far)
    ]
    assert areas == sorted(areas)
    assert areas[0] < areas[2]
    assert members(near)["broods"] == members(first)["broods"]
    again = stepped(base, near, {"do": "reach", "butterfly": name, "median_m": None})
    assert members(again) == members(first)


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        ({"do": "join", "yard": "A1"}, "does not take part yet"),
        ({"do": "drop", "yard": "A3"}, "one that takes part"),
        ({"do": "join", "yard": "Z9"}, "no yard 'Z9'"),
        ({"do": "join"}, "no yard ''"),
        ({"do": "strike", "yard": "A6 <b>x", "planting": "x"}, "has no plan"),
        ({"do": "reach", "butterfly": "yeti", "median_m": 5}, "no butterfly"),
        ({"do": "reach", "butterfly": "MINE", "median_m": 0}, "a number from 1"),
        ({"do": "reach", "butterfly": "MINE", "median_m": "far"}, "a number from 1"),
    ],
)
def test_what_cannot_be_done_is_named(do, base, edit, said):
    if edit.get("butterfly") == "MINE":
        edit = edit | {"butterfly": base.request.wishes[0]}
    with pytest.raises(HabitatError, match=said):
        do(edit)
