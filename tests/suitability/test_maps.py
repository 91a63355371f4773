"""Errors that maps state: what is understood, what is refused, what is told."""

import numpy as np
import pytest

from habitat.errors import StudyError
from habitat.suitability.maps import NormalError, draw_errors, map_errors, not_carried


def test_errors_as_the_study_states_them():
    given = {"ph": 0.4, "drainage": {"well drained": 0.8, "1": 0.5}, "sun_h": None, "surface_m": 2.0}
    found = map_errors(given)
    assert found["ph"] == NormalError(sd=0.4)
    assert set(found) == {"ph", "drainage"}
    table = found["drainage"].chance
    assert table[4].tolist() == pytest.approx([0, 0, 0, 0.1, 0.8, 0.1, 0])
    assert table[0].tolist() == pytest.approx([0.5, 0.5, 0, 0, 0, 0, 0])
    assert table[2].tolist() == [0, 0, 1, 0, 0, 0, 0]


@pytest.mark.parametrize(
    ("errors", "pattern"),
    [
        ({"ph": {"6": 0.5}}, "standard deviation"),
        ({"drainage": {"boggy": 0.5}}, "boggy"),
        ({"drainage": {"well drained": 1.5}}, "between 0 and 1"),
    ],
)
def test_errors_that_make_no_sense(errors, pattern):
    with pytest.raises(StudyError, match=pattern):
        map_errors(errors)


def test_what_no_chance_knows_of_is_told():
    told = not_carried({"surface_m": 1.0, "sand_pct": 5.0, "ph": 0.4, "zone": None})
    assert len(told) == 2
    assert "raster sand_pct states" in told[0]
    assert "raster surface_m states" in told[1]
    assert "soil texture" in told[0]


def test_draws_have_the_stated_spread_and_leave_other_factors_alone():
    """Sample mean and standard deviation of a normal: standard errors sd / sqrt(n) and sd / sqrt(2 n)."""
    count, sd = 20_000, 0.4
    drawn = draw_errors({"ph": NormalError(sd=sd)}, ("sun_h", "ph"), count, np.random.default_rng(1))
    assert (drawn.shift[:, 0] == 0).all()
    assert abs(drawn.shift[:, 1].mean()) < 4 * sd / np.sqrt(count)
    assert abs(drawn.shift[:, 1].std() - sd) < 4 * sd / np.sqrt(2 * count)
