"""Totals for a public audience, attacked by an outsider who subtracts what is shown."""

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
