"""What setbacks are measured from."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from tests.support.remarks import said
from tests.support.small_layers import SOUTH, WEST, Small, frame_of, square_yards

ZERO = {"site": {"setbacks": {"all.all": 0.0}}}


def at(*coordinates):
    return [(WEST + x, SOUTH + y) for x, y in coordinates]


def square(x0, y0, x1, y1):
    return box(WEST + x0, SOUTH + y0, WEST + x1, SOUTH + y1)


def ground_of(sections=None, yards=None, rasters=None, **vectors):
    made = Small(square_yards(2, 20.0) if yards is None else yards, vectors=vectors, rasters=rasters or {})
    made.sections = sections or {}
    return made.ground(), made


def areas(ground, form="herb"):
    rows = ground.open_ground[ground.open_ground["growth_form"] == form]
    return rows["open_m2"].tolist()


HOUSE = [square(5, 5, 15, 15)]


def test_a_plant_without_a_crown_takes_a_clump_each():
    only = {"site": {"setbacks": {"all.all": 0.0}}}
    ground, _ = ground_of(
        only,
        buildings=frame_of([square(90, 90, 91, 91)]),
        plants=frame_of([Point(*at((10, 10))[0])], count=[4]),
    )
    assert 400 - areas(ground)[0] == pytest.approx(4 * np.pi * 0.15**2, rel=0.01)


def test_steep_ground_is_closed_by_the_terrain():
    """A bank of 45 degrees across five metres of the yard."""

    def bank(x, y):
        return np.clip(x - WEST - 8, 0, 5)

    ground, _ = ground_of(ZERO, buildings=frame_of([square(90, 90, 91, 91)]), rasters={"terrain_m": bank})
    steep = ground.closed_ground[ground.closed_ground["reason"] == "steep ground"]
    assert steep["growth_form"].tolist() == ["all"]
    assert 80 <= steep.area.sum() <= 140
    gentle = {"site": {"setbacks": {"all.all": 0.0}, "steep_deg": 50.0}}
    ground, _ = ground_of(gentle, buildings=frame_of([square(90, 90, 91, 91)]), rasters={"terrain_m": bank})
    assert areas(ground) == pytest.approx([400, 400])


def test_streets_without_a_word_on_traffic_are_told():
    ground, _ = ground_of(
        None,
        buildings=frame_of(HOUSE),
        streets=frame_of([LineString(at((-9, -9), (90, -9)))], name=["Low Lane"]),
    )
    assert any("no road counts as busy" in said(n) for n in ground.notes)
    assert ground.host_limits.empty
