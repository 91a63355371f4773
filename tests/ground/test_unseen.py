"""Obstacles that no layer tells of, by hand."""

import datetime as dt

import geopandas as gpd
import pytest
from shapely import Point, box

from habitat.ground.unseen import LIKELY, NEAR_M, OBSTACLES, mapped_long_ago, unseen

YARDS = gpd.GeoDataFrame(
    {"yard_id": list("abcdef")}, geometry=[box(100 * k, 0, 100 * k + 20, 30) for k in range(6)], crs=32617
)


def trees(*where):
    return gpd.GeoDataFrame(geometry=[Point(x, 10) for x in where], crs=32617)


def test_without_layers_nothing_is_known_anywhere():
    assert unseen(YARDS, {}) == dict.fromkeys("abcdef", OBSTACLES)
    assert unseen(YARDS, {"trees": trees()})["a"] == OBSTACLES  # an empty layer tells nothing


@pytest.mark.parametrize("with_trees", range(7))
def test_a_yard_without_what_most_others_have_is_likelier_unmapped_than_bare(with_trees):
    found = unseen(YARDS, {"trees": trees(*(100 * k + 5 for k in range(with_trees)))})
    for k, yard_id in enumerate("abcdef"):
        bare = k >= with_trees
        expected = bare and (with_trees == 0 or with_trees / 5 >= LIKELY)
        assert ("trees" in found[yard_id]) == expected


def test_a_tree_beside_the_yard_is_known_of():
    rest = [100 * k + 5 for k in range(1, 6)]
    near, far = (unseen(YARDS, {"trees": trees(20 + NEAR_M + d, *rest)})["a"] for d in (-0.5, 0.5))
    assert "trees" not in near
    assert "trees" in far


def test_a_drawing_of_one_yard_tells_nothing_of_others():
    found = unseen(YARDS, {"trees": trees(5)}, only_drawn=("trees",))
    assert ["trees" in found[y] for y in "abcdef"] == [False, True, True, True, True, True]


def test_what_a_household_told_is_not_looked_for():
    found = unseen(YARDS, {}, {"b": ("trees", "paving")})
    assert found["a"] == OBSTACLES
    assert found["b"] == tuple(name for name in OBSTACLES if name not in ("trees", "paving"))


def test_layers_are_old_after_five_years_and_only_where_somebody_said_when():
    mapped = {
        "water": dt.date(2021, 2, 28),
        "trees": dt.date(2021, 3, 2),
        "paving": None,
        "buildings": dt.date(2009, 1, 1),
    }
    assert mapped_long_ago(mapped, dt.date(2026, 3, 1)) == {"water": 2021, "buildings": 2009}
    assert mapped_long_ago(mapped, None) == {}
