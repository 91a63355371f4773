"""What a yard still wants of nectar in each season, counted by hand."""

from types import SimpleNamespace

import numpy as np
import pytest

from habitat.planting.choice.builder import season_room

MONTHS = {"a": (4,), "b": (7,), "c": (7, 8), "d": (10,), "e": ()}
"""When invented plants bloom; e has no nectar."""


@pytest.mark.parametrize(
    ("standing", "wanted"),
    [("", (2, 2, 2, 3)), ("abc", (1, 0, 2, 0)), ("abcd", (1, 0, 1, 0)), ("be", (2, 1, 2, 2))],
)
def test_what_stands_is_taken_off_what_each_season_wants_and_no_less_than_none_is_left(standing, wanted):
    """Two kinds a season and three in all."""
    months = np.array([sum(1 << m for m in given) for given in MONTHS.values()], np.int64)
    problem = SimpleNamespace(
        facts=SimpleNamespace(plants=tuple(MONTHS), months=months),
        standing=SimpleNamespace(plants=frozenset(standing)),
        aims=SimpleNamespace(season_wanted=2.0, species_wanted=3.0),
    )
    assert season_room(problem) == wanted
