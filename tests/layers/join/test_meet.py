"""Rows that lie elsewhere on the earth are found, and say nothing of the others."""

import numpy as np
import pytest
import shapely

from habitat.commands.check.account import check_study
from habitat.layers.join.meet import distance_m, distances_m
from tests.layers import builders as make
from tests.layers.crs_cases import result_of, saved


def test_yards_in_a_wrong_zone_do_not_meet_their_plants(tmp_path):
    (tmp_path / "p.csv").write_text(make.plants_text(), encoding="utf-8")
    layers = {"yards": saved(tmp_path, make.yards(), 32616), "plants": "p.csv"}
    message = check_study(make.study(tmp_path, layers))["error"]["message"]
    assert "does not meet the yards" in message
    assert "EPSG:32616" in message


def test_a_yard_far_from_the_rest_is_set_aside(tmp_path):
    shapes = {name: make.box(*c) for name, c in make.YARDS.items()}
    frame = make.yards({**shapes, "far": shapely.box(0, 0, 30, 30)}).to_crs(4326)
    result = result_of(tmp_path, frame)
    assert list(make.areas(result)) == list(make.EXPECTED)
    assert "far from the other yards" in make.notes(result)


def test_one_far_row_says_nothing_of_the_crs_of_the_others(tmp_path):
    """A slipped digit puts one of four rows far outside the area of use; the other three are right."""
    shapes = {name: make.box(*c) for name, c in make.YARDS.items()}
    frame = make.yards({**shapes, "far": make.box(900_000, 0, 900_030, 30)}).to_crs(3735)
    result = result_of(tmp_path, frame)
    assert list(make.areas(result)) == list(make.EXPECTED)
    assert "true CRS" not in make.notes(result)


def test_rows_on_another_part_of_the_earth_are_set_aside_in_any_layer(tmp_path):
    """A tree with a lost sign lies in China; one 200 km away may belong to the inventory of a state."""
    lon, lat = make.degrees(5, 5)
    rows = [f"{x},{y},6" for x, y in ((lon, lat), (-lon, lat), (lon, lat + 2), (lon, lat))]
    (tmp_path / "t.csv").write_text("\n".join(["lon,lat,height_m", *rows]), encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": saved(tmp_path, make.yards()), "trees": "t.csv"}))
    trees = result["layers"]["trees"]
    assert (trees["rows_in"], trees["used"], trees["set_aside"]) == (4, 3, 1)
    assert "row 2: set aside: it lies at longitude 82.90" in make.notes(result, "trees")


def test_many_distances_are_those_worked_out_one_by_one():
    one = np.array([-82.91, 39.89, -82.90, 39.90])
    rng = np.random.default_rng(5)
    low = rng.uniform((-180, -85), (179, 84), (300, 2))
    boxes = np.vstack(
        [np.hstack([low, low + rng.uniform(0, 1, (300, 2))]), one, one + 0.001, one + np.array([1, 0, 1, 0])]
    )
    assert distances_m(one, boxes) == pytest.approx([distance_m(one, box) for box in boxes])
    assert np.isinf(distances_m(one, np.array([[np.inf, 0, 1, 1]]))).all()
