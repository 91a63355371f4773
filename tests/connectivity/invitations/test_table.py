"""The reach that is drawn for one try of the ranks, held against a triangular distribution of scipy."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import triang

from habitat.connectivity.distance.reach import Reach
from habitat.connectivity.invitations.table import _drawn_reach
from habitat.connectivity.types import Neighbourhood


@pytest.mark.parametrize("chance", [0.01, 0.2, 0.45, 0.6, 0.9, 0.99])
@pytest.mark.parametrize("mode", [25.0, 80.0, 380.0])
def test_a_drawn_reach_is_a_quantile_of_the_triangle_on_the_logarithm(mode, chance):
    ends = dict(zip(("low", "median", "high"), map(Reach, (20.0, mode, 400.0)), strict=True))
    low, middle, high = np.log([20.0, mode, 400.0])
    told = triang((middle - low) / (high - low), loc=low, scale=high - low).ppf(chance)
    drawn = _drawn_reach(SimpleNamespace(reaches=ends), chance)
    assert drawn.median_m == pytest.approx(np.exp(told), rel=1e-9)


def test_a_reach_that_is_known_for_sure_stays():
    same = dict.fromkeys(("low", "median", "high"), Reach(50.0, 90.0, "fat_tailed"))
    assert _drawn_reach(SimpleNamespace(reaches=same), 0.7) == Reach(50.0, 90.0, "fat_tailed")


def test_who_has_been_asked_is_no_candidate_for_the_list():
    yards = pd.DataFrame({"yard_id": ["c", "b", "a", "m"], "role": [*["candidate"] * 3, "member"]})
    assert Neighbourhood(yards, yards, yards).askable == ["a", "b", "c"]
    assert Neighbourhood(yards, yards, yards, not_now=frozenset("bm")).askable == ["a", "c"]
