"""The survey as a whole: its rasters, and that order and place change nothing."""

import pickle

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from tests.support.small_layers import SOUTH, WEST, Small, frame_of, square_yards


def full(yards=None):
    made = Small(square_yards(3, 20.0) if yards is None else yards, margin=10.0)
    made.vectors = {
        "buildings": frame_of([box(WEST + 5, SOUTH + 5, WEST + 12, SOUTH + 14)], height_m=[6.0]),
        "trees": frame_of([Point(WEST + 30, SOUTH + 10)], height_m=[9.0], crown_m=[5.0], evergreen=[False]),
    }
    made.rasters = {
        "ph": lambda x, y: 6 + (x - WEST) / 60,
        "sand_pct": 40.0,
        "clay_pct": 20.0,
        "depth_cm": 80.0,
        "drainage": 5.0,
    }
    return made


def test_rasters_lie_on_the_grid_as_float32():
    made = full()
    site = made.survey()
    assert site.assessed == (
        "sun_h", "sun_afternoon_h", "ph", "drainage", "texture", "depth_cm", "available_water_mm"
    )  # fmt: skip
    for raster in (*site.rasters.values(), *site.sun_by_month.values()):
        assert raster.shape == site.grid.shape
        assert raster.dtype == np.float32
    assert sorted(site.sun_by_month) == [4, 5, 6, 7, 8, 9, 10]
    mean = np.mean([site.sun_by_month[m] for m in (5, 6, 7, 8)], axis=0)
    assert np.allclose(site.rasters["sun_h"], mean, atol=1e-4, equal_nan=True)


def test_a_site_can_be_kept_and_the_survey_repeats_itself():
    made = full()
    one, two = made.survey(), made.survey()
    assert pickle.dumps(one.rasters) == pickle.dumps(two.rasters)
    again = pickle.loads(pickle.dumps(one))
    assert again.yards.equals(two.yards)
    assert again.closed_ground.equals(two.closed_ground)


def test_progress_is_told():
    told = []
    full().survey(lambda *step: told.append(step))
    assert told[0] == ("site", 0, 4)
    assert told[-1] == ("site", 4, 4)


@settings(max_examples=5, deadline=None)
@given(order=st.permutations([0, 1, 2]))
def test_shuffling_yards_changes_nothing(order):
    made = full()
    base = made.survey().yards.set_index("yard_id")
    made.yards = made.yards.iloc[order].reset_index(drop=True)
    shuffled = made.survey().yards.set_index("yard_id").loc[base.index]
    pd.testing.assert_frame_equal(
        pd.DataFrame(base.drop(columns="geometry")), pd.DataFrame(shuffled.drop(columns="geometry"))
    )


def test_shifting_the_town_by_whole_cells_changes_nothing_but_the_sun_s_path():
    """A kilometre east the sun stands alike within 0.01 degrees; soil and areas not at all."""
    made, moved = full(), full()
    moved.yards = moved.yards.assign(geometry=moved.yards.translate(1000, 0))
    moved.vectors = {k: f.assign(geometry=f.translate(1000, 0)) for k, f in moved.vectors.items()}
    moved.rasters["ph"] = lambda x, y: 6 + (x - WEST - 1000) / 60
    one, two = made.survey(), moved.survey()
    assert np.allclose(one.yards["ph_mean"], two.yards["ph_mean"], atol=1e-5)
    assert np.allclose(one.yards["open_m2"], two.yards["open_m2"], atol=1e-4)
    assert np.allclose(one.yards["sun_h_mean"], two.yards["sun_h_mean"], atol=0.05)
