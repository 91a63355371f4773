"""The sun's way over a day; positions are held to published ones in tests/reference."""

import numpy as np
import pytest

from habitat.errors import ParameterError
from habitat.sun.path import Place, sun_path

OHIO = Place(39.9, -82.9)


def test_the_day_is_as_long_whatever_the_step():
    """Within one step at either end."""
    hours = [len(path.month) * path.step_h for path in (sun_path(OHIO, [6], step_minutes=m) for m in (5, 15))]
    assert hours[0] == pytest.approx(hours[1], abs=2 * 15 / 60)


def test_the_sun_is_up_and_goes_from_east_to_west():
    path = sun_path(OHIO, [3, 9])
    assert (path.elevation > 0).all()
    assert (np.sin(path.azimuth[~path.afternoon]) > 0).all()
    assert (np.sin(path.azimuth[path.afternoon]) < 0).all()


def test_azimuths_count_from_grid_north():
    """Where grid north lies 2 degrees east of true north, the sun is seen 2 degrees less far round."""
    true, turned = sun_path(OHIO, [6]), sun_path(Place(39.9, -82.9, 2.0), [6])
    off = np.degrees(true.azimuth - turned.azimuth) % 360
    assert np.allclose(off, 2.0)


def test_months_are_taken_once_and_in_order():
    path = sun_path(OHIO, [9, 4, 9])
    assert sorted(set(path.month.tolist())) == [4, 9]
    assert (np.diff(path.month) >= 0).all()
    april = path.of_months([4])
    assert set(april.month.tolist()) == {4}
    assert np.array_equal(april.elevation, sun_path(OHIO, [4]).elevation)


@pytest.mark.parametrize(("months", "step", "name"), [([0], 15, "months"), ([6], 7, "step_minutes")])
def test_what_no_clock_or_calendar_has_is_refused(months, step, name):
    with pytest.raises(ParameterError, match=name):
        sun_path(OHIO, months, step_minutes=step)
