"""Absolute figures: by hand, and what may never change them."""

import math

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.connectivity.distance.reach import Reach
from habitat.connectivity.score import score_corridor
from habitat.connectivity.types import Movement, Neighbourhood
from habitat.settings.connectivity import ConnectivitySettings
from tests.connectivity.invented_town import CRS_M

B = "monarch"
REACHES = {"low": Reach(40.0), "median": Reach(60.0), "high": Reach(90.0)}
FIGURES = ("broods", "habitat_m2", "equivalent_area_m2", "colonisations", "capacity_m2")
QUIET = ConnectivitySettings(rank_draws=0, invite=0, cut=1e-9)


def town(xy, area, broods, roles):
    """Return square yards of 20 m at places; all but those of area 0 have ground, planned where they join.

    Others have it today, and twice as much were they to join.
    """
    boxes = [shapely.box(x, y, x + 20, y + 20) for x, y in xy]
    yards = gpd.GeoDataFrame(
        {"yard_id": [f"{k:02d}" for k in range(len(xy))], "role": list(roles)}, geometry=boxes, crs=CRS_M
    )
    rows = [
        (i, state, times * a, times * b, shape)
        for i, a, b, shape, role in zip(yards["yard_id"], area, broods, boxes, roles, strict=True)
        for state, times in ((("before", 1), ("planned", 2)) if role == "other" else (("planned", 1),))
        if a > 0
    ]
    columns = ["yard_id", "state", "habitat_m2", "broods", "geometry"]
    frame = gpd.GeoDataFrame(
        {c: [r[k] for r in rows] for k, c in enumerate(columns)}, geometry="geometry", crs=CRS_M
    )
    frame = frame.assign(butterfly=B)
    return Neighbourhood(yards, frame, frame.iloc[:0])


def figures(made, state="members", invite=QUIET):
    movement = Movement(B, B, REACHES, brood_m2=2.0)
    return score_corridor(made, [movement], invite).headline["butterflies"][B][state]


def test_colonisations_by_hand():
    """Two yards 80 m apart, middle to middle, 8 m2 of ground in one, a brood on 2 m2.

    The ground is a disc of 20 x 20 / pi m2, so 80 - 20 / sqrt(pi) m are left; a yard of 400 m2 is a disc 2 x
    that radius wide. Four females leave; the other yard sees that share of them, the yard itself none.
    """
    got = figures(town([(0, 0), (80, 0)], [8.0, 0.0], [4, 0], ["member", "other"]))
    radius = 20.0 / math.sqrt(math.pi)
    far = 80.0 - radius
    passage = 0.5 ** (far / 60.0)
    want = 4.0 * passage * 2.0 * radius / (2.0 * math.pi * far)
    assert got["colonisations"] == pytest.approx(want / 2.0, rel=1e-12), "mean over both yards"
    assert got["broods"] == 4
    assert got["groups"] == 1


def test_unknown_broods_are_unknown():
    made = town([(0, 0), (80, 0)], [8.0, 3.0], [4, np.nan], ["member", "member"])
    assert figures(made)["broods"] is None
    unknown = score_corridor(made, [Movement(B, B, REACHES)], QUIET).headline
    assert unknown["butterflies"][B]["members"]["colonisations"] is None
    assert unknown["together"]["members"]["broods"] is None
    assert unknown["together"]["members"]["colonisations"] is None


@st.composite
def places(draw):
    n = draw(st.integers(2, 6))
    cell = st.tuples(st.integers(0, 5), st.integers(0, 5))
    at = draw(st.lists(cell, min_size=n, max_size=n, unique=True))
    area = draw(st.lists(st.sampled_from([0.0, 1.0, 3.5, 12.0]), min_size=n, max_size=n))
    return [(45.0 * x, 45.0 * y) for x, y in at], area, [round(a) for a in area]


@settings(max_examples=25, deadline=None)
@given(places())
def test_a_yard_that_joins_never_lowers_a_figure(made):
    """The last yard keeps its place; it has no ground, then it has a plan."""
    xy, area, broods = made
    roles = ["member"] * len(xy)
    less = figures(town(xy, [*area[:-1], 0.0], broods, roles))
    more = figures(town(xy, area, broods, roles))
    for figure in FIGURES:
        assert more[figure] >= less[figure] * (1.0 - 1e-9) - 1e-9, figure


@settings(max_examples=15, deadline=None)
@given(places(), st.integers(0, 63))
def test_who_may_be_asked_changes_nothing_of_today_and_of_members(made, asked):
    xy, area, broods = made
    settled = ["member", "other", *["other"] * (len(xy) - 2)]
    moved = [r if k < 2 or not asked >> k & 1 else "candidate" for k, r in enumerate(settled)]
    one, two = (town(xy, area, broods, roles) for roles in (settled, settled))
    two.yards["role"] = moved
    for state in ("today", "members"):
        a, b = (
            figures(one, state),
            figures(two, state, ConnectivitySettings(rank_draws=0, invite=2, cut=1e-9)),
        )
        assert {f: a[f] for f in (*FIGURES, "groups")} == pytest.approx(
            {f: b[f] for f in (*FIGURES, "groups")}
        )


def test_those_to_ask_are_those_on_the_list():
    xy, area = [(0, 0), (60, 0), (120, 0), (180, 0)], [4.0, 4.0, 1.0, 4.0]
    made = town(xy, area, [2, 2, 0, 2], ["member", "candidate", "candidate", "other"])
    got = score_corridor(
        made,
        [Movement(B, B, REACHES, brood_m2=2.0)],
        ConnectivitySettings(rank_draws=0, invite=1, cut=1e-9),
    )
    assert got.invitations["yard_id"].tolist() == ["01"]
    joined = made.yards.assign(role=["member", "member", "candidate", "other"])
    again = figures(Neighbourhood(joined, made.breeding, made.nectar_stones))
    for figure in (*FIGURES, "groups"):
        assert got.headline["butterflies"][B]["invited"][figure] == pytest.approx(again[figure], rel=1e-12)
    assert got.headline["together"]["invited"]["broods"] == again["broods"]
    assert got.invitations["gain_broods"].tolist() == [2.0]
