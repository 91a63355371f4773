"""What would hurt: yards by what is lost with them, the street that carries most, nothing of it in public."""

from dataclasses import replace

import pytest

from habitat.report.page.hurt import losses_by_yard, what_would_hurt


@pytest.fixture
def carrying(plan):
    """Give four yards on two streets losses of 6, 4, 3 and 0 m2 for one butterfly, and an anchor far more."""
    table = plan.yard_butterflies.assign(held_m2=0.0, arriving_m2=0.0, passing_m2=0.0)
    one = table["butterfly"] == "Danaus plexippus"
    for yard, held, passing in (("0007", 5.0, 1.0), ("0012", 4.0, 0.0), ("0013", 1.0, 2.0)):
        table.loc[one & (table["yard_id"] == yard), ["held_m2", "passing_m2"]] = held, passing
    table.loc[table["role"] == "anchor", "held_m2"] = 500.0
    layer = plan.layers.vectors["yards"]
    lived = ["3 Heron Lane", "5 Kiln Street", "7 Kiln Street", *["9 Kiln Street"] * 4]
    vectors = {**plan.layers.vectors, "yards": replace(layer, frame=layer.frame.assign(address=lived))}
    return replace(plan, yard_butterflies=table, layers=replace(plan.layers, vectors=vectors))


def test_yards_are_ordered_by_what_is_lost_with_them(carrying):
    found = losses_by_yard(carrying)
    assert found["yard_id"].tolist() == ["0007", "0012", "0013"]
    assert found["loss_m2"].tolist() == [6.0, 4.0, 3.0]
    assert found["passing_m2"].tolist() == [1.0, 0.0, 2.0]


def test_the_street_that_carries_most_is_said(carrying):
    """Kiln Street holds 4 + 3 m2 in two yards, Heron Lane 6 in one."""
    page = what_would_hurt(carrying)
    assert "Of all streets Kiln Street carries most: its 2 yards, one by one, come to 7.0 m²." in page
    assert page.index("0007 3 Heron Lane") < page.index("0012 5 Kiln Street")


def test_a_public_page_names_no_yard_that_would_hurt(carrying):
    public = replace(carrying, study=carrying.study.changed(report={"audience": "public"}))
    assert what_would_hurt(public) == ""


def test_nothing_to_lose_is_no_section(plan):
    table = plan.yard_butterflies.assign(held_m2=0.0, arriving_m2=0.0, passing_m2=0.0)
    assert what_would_hurt(replace(plan, yard_butterflies=table)) == ""
