"""Totals for a public audience, attacked by an outsider who subtracts what is shown."""

from dataclasses import replace

import pytest

from tests.report.small_plan import agreed, small_plan


@pytest.mark.parametrize("hidden", [1, 2, 3])
def test_totals_less_the_shown_give_no_few_hidden_yards_away(tmp_path, hidden):
    """An outsider takes what the tables show from the totals: nothing is left, unless of three or more."""
    plan = small_plan(tmp_path)
    public = agreed(plan, [k >= hidden for k in range(7)])
    counts = public.headline["counts"]
    left = counts["plants"] - public.plantings["count"].sum()
    cost = public.headline["cost"] - public.plantings["cost"].sum()
    assert (left == 0) == (hidden < 3)
    assert (abs(cost) < 1e-6) == (hidden < 3)
    table = public.yard_butterflies
    for butterfly, entry in public.headline["butterflies"].items():
        shown = table.loc[table["butterfly"] == butterfly, "habitat_m2"].sum()
        if hidden < 3:
            assert entry["everyone"]["habitat_m2"] == pytest.approx(shown)
            assert entry["members"]["score"] == round(entry["members"]["score"], 2)
            assert entry["members"]["broods"] is None
    assert (public.headline["together"]["members"]["broods"] is None) == (hidden < 3)
    told = "plants, beds and cost are those of the yards shown" in public.run_info["withheld"]
    assert told == (hidden < 3)


@pytest.mark.parametrize("hidden", [1, 2, 3])
def test_no_loss_told_of_a_shown_yard_gives_few_hidden_ones_away(tmp_path, hidden):
    """Held ground and habitat of one shown yard are all it takes to work out the equivalent area of all.

    held = E - sqrt(E^2 - a^2), solved for E: what is linked, and by the distances of the shown what the
    hidden hold. Saura and Rubio 2010, Ecography 33:523-537, for the parts.
    """
    plan = small_plan(tmp_path)
    plan = replace(plan, invitation_steps=plan.invitation_steps.assign(connected_m2=123.456))
    public = agreed(plan, [k >= hidden for k in range(7)])
    shown = public.layers.yards.loc[public.layers.yards["role"] != "block", "yard_id"]
    for butterfly in public.headline["butterflies"]:
        whole = plan.yard_butterflies
        adds = whole[
            (whole["butterfly"] == butterfly) & (whole["habitat_m2"] + whole["habitat_before_m2"] > 0)
        ]
        few = 0 < adds["yard_id"].isin(plan.yards["yard_id"][:hidden]).sum() < 3
        rows = public.yard_butterflies
        told = rows[(rows["butterfly"] == butterfly) & rows["yard_id"].isin(shown)]
        assert told[["held_m2", "arriving_m2", "passing_m2"]].isna().all(axis=None) == few
    told = any("loss of a yard" in line for line in public.run_info["withheld"])
    assert told == (hidden < 3)
    gains = public.invitations["gain_m2"]
    assert len(gains)
    assert all(gain == float(f"{gain:.1g}") for gain in gains) == (hidden < 3)
    linked = 120.0 if public.run_info["withheld"] else 123.456
    assert set(public.invitation_steps["connected_m2"]) == {linked}
